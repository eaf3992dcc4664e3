"""The format of a profile as a JSON Schema (draft 2020-12), made from the models that read profiles.

For editors that complete and check keys as they are typed. A schema knows a quantity as text alone: its units and
bounds stand beside it as `x-unit` and `x-bounds`. What it lets through may still be refused when it is read or proved.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final

from procedures import steps
from procedures.profile.load import MOST_REMEDIES, MOST_STEPS
from procedures.profile.schema import Head

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"

_UNTOLD: Final = "text with a unit"
"""What a quantity says of itself where its key says nothing."""

HELP: Final[Mapping[str, str]] = MappingProxyType(
    {
        "id": "By this other steps name it. Required.",
        "kind": "The kind of step. Required.",
        "say": "What the technician is told. Default: what the kind says by itself.",
        "caution": "What can hurt here. Default: none.",
        "lockout": "Reason code with which a failure locks out. Required where the kind can fail.",
        "on_fail": "Step that looks for the cause once the remedies are used up. Default: none.",
        "on_pass": 'Step a pass goes on to, forward only, or "sender-stands". Default: the next required one.',
        "only_when_sent": "Whether it is reached by on_fail alone. Default false.",
        "not_before": "How long its lockout stands at least before it can be cleared. Default: no time.",
        "remedy": "What may be done about a failure, in order. Default: nothing.",
    }
)
"""What the keys that all steps share are for."""

REMEDY_HELP: Final[Mapping[str, str]] = MappingProxyType(
    {
        "action": "What is done, from a closed list. Required.",
        "say": "What the technician is told to do. Required.",
        "repeat_from": "Step it goes back to, at or before this one. Required.",
        "attempts": "How often in a whole checkout. Default 1.",
        "caution": "What can hurt while it is done. Default: none.",
    }
)
"""What the keys of a remedy are for."""


def json_schema() -> dict[str, Any]:
    """The whole format, each kind of step among `$defs` under "step-<kind>". A new dictionary each time."""
    head = _cleaned(Head.model_json_schema())
    defs: dict[str, Any] = head.pop("$defs", {})
    names = steps.kind_names()
    for name in names:
        own = step_schema(name)
        defs |= own.pop("$defs", {})
        defs[f"step-{name}"] = own
    head["properties"]["step"] = {
        "type": "array",
        "description": "The steps of the checkout, in order. One is required.",
        "minItems": 1,
        "maxItems": MOST_STEPS,
        "items": {
            "type": "object",
            "required": ["kind"],
            "properties": {"kind": {"enum": list(names)}},
            "allOf": [
                {"if": {"properties": {"kind": {"const": name}}}, "then": {"$ref": f"#/$defs/step-{name}"}}
                for name in names
            ],
        },
    }
    return {
        "$schema": DIALECT,
        **head,
        "title": "Profile of an instrument type",
        "required": [*head["required"], "step"],
        "$defs": dict(sorted(defs.items())),
    }


def step_schema(kind: str) -> dict[str, Any]:
    """One kind of step. KeyError when there is none of that name."""
    found = steps.kind(kind)
    schema: dict[str, Any] = _cleaned(found.parameters.model_json_schema())
    for key, text in HELP.items():
        if schema["properties"][key].get("description", _UNTOLD).startswith(_UNTOLD):
            schema["properties"][key]["description"] = text
    remedy = schema["$defs"]["RemedyParameters"]
    for key, text in REMEDY_HELP.items():
        remedy["properties"][key].setdefault("description", text)
    schema["properties"]["remedy"]["maxItems"] = MOST_REMEDIES
    schema["description"] = f"{found.about} {schema.get('description', '')}".strip()
    return schema


def _cleaned(node: Any) -> Any:
    """Without what only Python knows: the null that TOML has not, and titles made from names of fields."""
    if isinstance(node, list):
        return [_cleaned(each) for each in node]
    if not isinstance(node, dict):
        return node
    rest = {key: _cleaned(value) for key, value in node.items() if key != "properties" and not _only_python(key, value)}
    if "properties" in node:
        rest["properties"] = {name: _cleaned(value) for name, value in node["properties"].items()}
    choices = [each for each in rest.pop("anyOf", ()) if each != {"type": "null"}]
    if len(choices) == 1:
        return {**choices[0], **rest}
    if not choices:
        return rest
    # Lengths of "one or a list of them" count the list, not the letters of the one.
    length = {"minLength": "minItems", "maxLength": "maxItems"}
    return {length.get(key, key): value for key, value in rest.items()} | {"anyOf": choices}


def _only_python(key: str, value: Any) -> bool:
    return (key == "title" and isinstance(value, str)) or (key == "default" and (value is None or _has_null(value)))


def _has_null(value: Any) -> bool:
    return isinstance(value, dict) and None in value.values()
