"""The reference page of the profile format, in Markdown: every key with type, unit, default, limits and help.

Made from the JSON Schema, and so from the models that read profiles. It computes the page and writes no
file: `docs/profile-reference.md` holds what it gave, and a test says when the two differ.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from procedures import steps
from procedures.profile.json_schema import HELP, json_schema

HEADER: Final = ("Key", "Type", "Unit", "Default", "Limits", "What it is")

_OPENING: Final = """\
# Every key of a profile

Made from the models that read profiles; don't edit it by hand. Quantities are text with a unit, such as `"8 s"`.
Unknown keys are errors. A profile that says all this rightly is still refused unless it can be proved.

"See there" in the column of defaults points to the last column, which says what holds when the key is left out.
"""

_TABLES: Final = (
    ("[instrument]", "Instrument"),
    ("[instrument.operating]", "Operating"),
    ("[[instrument.scale]]", "Scale"),
    ("[ready]", "Ready"),
    ("[[reason]]", "Reason"),
    ("[[return]]", "ReturnQuestion"),
)

_TYPES: Final = {
    "string": "text",
    "integer": "whole number",
    "number": "number",
    "boolean": "true or false",
    "array": "list",
    "object": "table",
}

_BOUNDS: Final = (
    ("minimum", "at least {}"),
    ("exclusiveMinimum", "more than {}"),
    ("maximum", "at most {}"),
    ("exclusiveMaximum", "less than {}"),
    ("minLength", "at least {} characters"),
    ("maxLength", "at most {} characters"),
    ("minItems", "at least {} of them"),
    ("maxItems", "at most {} of them"),
)


def reference_page() -> str:
    """The whole page. It ends with a line break."""
    schema = json_schema()
    defs: Mapping[str, Any] = schema["$defs"]
    shared = _any_kind(defs["step-battery"])
    parts = [_OPENING, _section("The profile", schema), *(_section(f"`{t}`", defs[n]) for t, n in _TABLES)]
    parts.append("## `[[step]]`\n\nKeys that every kind of step has.\n\n" + _table(shared, only=set(HELP)))
    parts.append(_section("`[[step.remedy]]`", defs["RemedyParameters"]))
    shown = {name for _, name in _TABLES} | {"RemedyParameters"}
    for kind in steps.kind_names():
        own = defs[f"step-{kind}"]
        about = " ".join(own["description"].split())
        parts.append(f'## `kind = "{kind}"`\n\n{about}\n\n' + (_table(own, but=_shared(own, shared)) or _NO_KEYS))
        for key, name in _inner(own):
            if name not in shown:
                parts.append(f"### `{key}` of {kind}\n\n" + _about(defs[name]) + _table(defs[name]))
    return "\n".join(parts)


_NO_KEYS: Final = "It has no keys of its own.\n"


def _any_kind(step: Mapping[str, Any]) -> Mapping[str, Any]:
    """A step of whatever kind, made from one that adds nothing to the keys that all share."""
    kind = {"enum": list(steps.kind_names()), "description": HELP["kind"]}
    return {**step, "properties": {**step["properties"], "kind": kind}}


def _shared(step: Mapping[str, Any], shared: Mapping[str, Any]) -> set[str]:
    """The keys told with the common ones. Where a kind is stricter with one of them, it stands with the kind."""
    own, common = step["properties"], shared["properties"]
    return {key for key in HELP if key == "kind" or own[key] == common[key]}


def _section(title: str, schema: Mapping[str, Any]) -> str:
    return f"## {title}\n\n" + _about(schema) + _table(schema)


def _about(schema: Mapping[str, Any]) -> str:
    text = " ".join(str(schema.get("description", "")).partition("\n\n")[0].split())
    return f"{text}\n\n" if text else ""


def _table(schema: Mapping[str, Any], *, only: Iterable[str] = (), but: Iterable[str] = ()) -> str:
    keys: Mapping[str, Any] = schema["properties"]
    wanted = [key for key in keys if (key in only if only else key not in but)]
    rows = [_row(key, keys[key], key in schema.get("required", ())) for key in wanted]
    if not rows:
        return ""
    lines = [HEADER, tuple("---" for _ in HEADER), *rows]
    return "".join(f"| {' | '.join(cells)} |\n" for cells in lines)


def _row(key: str, value: Mapping[str, Any], required: bool) -> tuple[str, ...]:
    text = str(value.get("description", ""))
    help_text = re.sub(r" *\bRequired\.$", "", text)
    cells = (f"`{key}`", _type(value), _unit(value), _default(value, text, required), _limits(value), help_text)
    return tuple(" ".join(cell.split()).replace("|", "\\|") for cell in cells)


def _type(value: Mapping[str, Any]) -> str:
    if "x-unit" in value:
        return "quantity"
    if "enum" in value:
        return "one word of a list"
    if "const" in value:
        return f"always `{json.dumps(value['const'], ensure_ascii=False)}`"
    if "anyOf" in value:
        return " or ".join(dict.fromkeys(_type(each) for each in value["anyOf"]))
    if "$ref" in value:
        return "table"
    if value.get("type") == "array":
        inner = value.get("items") or (value.get("prefixItems") or [{}])[0]
        return "list of tables" if "$ref" in inner or inner.get("type") == "object" else f"list: {_type(inner)}"
    return _TYPES[str(value.get("type"))]


def _parts(value: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    """A value and what it is made of, once each."""
    yield value
    inner = value.get("items")
    yield from value.get("anyOf", ())
    if isinstance(inner, Mapping):
        yield inner
    yield from value.get("prefixItems", ())[:1]


def _unit(value: Mapping[str, Any]) -> str:
    return ", ".join(dict.fromkeys(str(each["x-unit"]) for each in _parts(value) if "x-unit" in each))


def _default(value: Mapping[str, Any], text: str, required: bool) -> str:
    if required:
        return "required"
    found = value.get("default")
    if isinstance(found, bool | int | float) or (isinstance(found, str | list) and found):
        return f"`{json.dumps(found, ensure_ascii=False)}`"
    return "see there" if "Default" in text else "none"


def _limits(value: Mapping[str, Any]) -> str:
    told = []
    for each in _parts(value):
        if "enum" in each:
            told.append(", ".join(f"`{json.dumps(word, ensure_ascii=False)}`" for word in each["enum"]))
        if "prefixItems" in each:
            told.append(f"{len(each['prefixItems'])} of them")
        else:
            told += [words.format(each[name]) for name, words in _BOUNDS if name in each]
        if "pattern" in each:
            told.append("lower-case words joined by hyphens")
        if each.get("x-bounds"):
            told.append(str(each["x-bounds"]))
    return "; ".join(dict.fromkeys(told)).replace("at least 1 characters", "not empty")


def _inner(schema: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """The tables inside a step: their key and the name of what they hold."""
    for key, value in schema["properties"].items():
        for each in _parts(value):
            if "$ref" in each:
                yield key, str(each["$ref"]).rpartition("/")[2]
