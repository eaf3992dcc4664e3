"""What the models refuse, in words for the writer of a profile: which key, what was found, what is allowed."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from procedures.profile.errors import ProfileError, as_written, listed, nearest
from procedures.profile.schema import Head
from procedures.profile.spots import Part, Point, Spot

_TYPES: Final = {
    "string_type": "text in quotes",
    "int_type": "a whole number",
    "float_type": "a number",
    "decimal_type": "a number",
    "bool_type": "true or false",
    "tuple_type": "a list in brackets",
    "model_type": "a table",
    "dict_type": "a table",
    "model_attributes_type": "a table",
    "date_type": "a date",
}

MISSING: Final = "this key is missing"

_PATTERNS: Final = {
    "^[a-z][a-z0-9]*(-[a-z0-9]+)*": ("lower-case words joined by hyphens", '"zero-off"'),
}

_BOUNDS: Final = {
    "greater_than_equal": ("ge", "at least {}"),
    "greater_than": ("gt", "more than {}"),
    "less_than_equal": ("le", "at most {}"),
    "less_than": ("lt", "less than {}"),
}


@dataclass(frozen=True, slots=True)
class Page:
    """The file as it was read: its name, its values as plain lists and tables, and where each key stands."""

    file: str
    data: Mapping[str, Any]
    root: Spot

    def error(self, keys: Sequence[Part], message: str, *, at: str = "value", **rest: str) -> ProfileError:
        """A mistake at the path `keys`; `at` is "key" or "value"."""
        line, column = self.point(keys, at)
        return ProfileError(message=message, file=self.file, line=line, column=column, key=self.name(keys), **rest)

    def point(self, path: Sequence[Part], at: str = "value") -> Point:
        spot = self.root.find(path)
        return spot.key if at == "key" or spot.value == (0, 0) else spot.value

    def name(self, path: Sequence[Part]) -> str:
        """A path in words: elements of lists by their id, name or code where they have one, else counted from 1."""
        text = ""
        value: Any = self.data
        for part in path:
            value = _inside(value, part)
            if isinstance(part, int):
                own = next((value[k] for k in ("id", "name", "code") if isinstance(value, dict) and k in value), None)
                text += f"[{own if isinstance(own, str) and own.isprintable() else part + 1}]"
            else:
                text += f".{part}" if text else part
        return text


def _inside(value: Any, part: Part) -> Any:
    try:
        return value[part]
    except (KeyError, IndexError, TypeError):
        return None


def told(page: Page, error: ValidationError, model: type[BaseModel], base: tuple[Part, ...]) -> Iterator[ProfileError]:
    """Each refusal in words. `base` is the path of the table that the model read."""
    table = page.data if not base else _at(page.data, base)
    for row in error.errors(include_url=False):
        path = _path(table, row["loc"], keep_last=row["type"] == "missing")
        one = _told_one(page, dict(row), model, base, path)
        if one is not None:
            yield one


def _at(value: Any, path: Sequence[Part]) -> Any:
    for part in path:
        value = _inside(value, part)
    return value


def _path(table: Any, loc: Sequence[Part], *, keep_last: bool) -> tuple[Part, ...]:
    """Where a refusal points: the models name branches of a choice too, which the file knows nothing of."""
    path: list[Part] = []
    value = table
    for place, part in enumerate(loc):
        has = part in value if isinstance(value, dict) else isinstance(part, int) and isinstance(value, list)
        if has:
            path.append(part)
            value = _inside(value, part)
        elif keep_last and place == len(loc) - 1:
            path.append(part)
    return tuple(path)


def _told_one(
    page: Page, row: dict[str, Any], model: type[BaseModel], base: tuple[Part, ...], path: tuple[Part, ...]
) -> ProfileError | None:
    kind, context = str(row["type"]), row.get("ctx", {})
    full = (*base, *path)
    found = as_written(_at(page.data, full))
    if kind == "missing":
        return _missing(page, model, base, path)
    if kind == "extra_forbidden":
        return _unknown(page, model, base, path)
    if kind in ("too_short", "too_long"):
        return _length(page, full, context, kind)
    if kind == "literal_error":
        return _choice(page, full, found, str(context.get("expected", "")))
    if isinstance(context.get("key"), str):
        full = (*full, context["key"])
        found = as_written(_at(page.data, full))
    allowed, example = _allowed(kind, context)
    message = "this is of the wrong kind" if kind in _TYPES else str(row["msg"])
    if kind in _BOUNDS or kind in ("string_too_long", "string_too_short", "string_pattern_mismatch"):
        message = "this is not allowed here"
    message = message.removeprefix("Value error, ").removeprefix("Input should be ")
    example = example or example_of(field_at(model, path))
    if example and isinstance(full[-1], str):
        example = f"{full[-1]} = {example}"
    return page.error(full, message, found=found, allowed=allowed, example=example)


def _allowed(kind: str, context: Mapping[str, Any]) -> tuple[str, str]:
    if kind in _TYPES:
        return _TYPES[kind], ""
    if kind in _BOUNDS:
        name, words = _BOUNDS[kind]
        return words.format(context.get(name)), ""
    if kind == "string_too_long":
        return f"at most {context['max_length']} characters", ""
    if kind == "string_too_short":
        return f"at least {context['min_length']} character{'' if context['min_length'] == 1 else 's'}", ""
    if kind == "string_pattern_mismatch":
        pattern = str(context.get("pattern", ""))
        return next((words for start, words in _PATTERNS.items() if pattern.startswith(start)), (pattern, ""))
    return str(context.get("allowed", "")), str(context.get("example", ""))


def _missing(page: Page, model: type[BaseModel], base: tuple[Part, ...], path: tuple[Part, ...]) -> ProfileError:
    name = path[-1]
    if isinstance(name, int):
        few = (*base, *path[:-1])
        return page.error(few, "a value is missing in this list", found=as_written(_at(page.data, few)))
    field = field_at(model, path)
    words = (field.description or "").removesuffix("Required.").strip(" .") if field else ""
    line, column = page.point((*base, *path[:-1]), "key")
    return ProfileError(
        message=MISSING,
        file=page.file,
        line=line,
        column=column,
        key=page.name((*base, *path)),
        allowed=words[:1].lower() + words[1:],
        example=_line_for(str(name), field),
    )


def _line_for(name: str, field: FieldInfo | None) -> str:
    """How a missing key is written: `name = value`, or the head of a table."""
    example = example_of(field)
    if example:
        return f"{name} = {example}"
    return f"[{name}]" if field is not None and models_in(field.annotation) else ""


def _unknown(page: Page, model: type[BaseModel], base: tuple[Part, ...], path: tuple[Part, ...]) -> ProfileError:
    name = str(path[-1]) if path else ""
    known = sorted({key for each in models_at(model, path[:-1]) for key in each.model_fields})
    if issubclass(model, Head) and len(path) == 1:
        known.append("step")  # steps are read apart, each by its kind
    near = nearest(name, known)
    message = f"there is no such key; did you mean {near}?" if near else "there is no such key"
    return page.error((*base, *path), message, at="key", found=name, allowed=", ".join(known))


def _length(page: Page, full: tuple[Part, ...], context: Mapping[str, Any], kind: str) -> ProfileError | None:
    value = _at(page.data, full)
    length = len(value) if isinstance(value, list | str | dict) else 0
    least, most = context.get("min_length"), context.get("max_length")
    if kind == "too_short" and isinstance(least, int) and length >= least:
        return None  # its elements were refused one by one already
    allowed = f"at least {least}" if kind == "too_short" else f"at most {most}"
    message = "there are too few of these" if kind == "too_short" else "there are too many of these"
    return page.error(full, message, found=str(length), allowed=allowed)


def _choice(page: Page, full: tuple[Part, ...], found: str, expected: str) -> ProfileError:
    names = re.findall(r"'([^']*)'", expected)
    if not names:
        return page.error(full, "this is not one of what is allowed", found=found, allowed=expected)
    value = _at(page.data, full)
    near = nearest(value, names) if isinstance(value, str) else ""
    message = f"this is not known; did you mean {near}?" if near else "this is not known"
    return page.error(full, message, found=found, allowed=listed(names))


def models_in(annotation: Any) -> tuple[type[BaseModel], ...]:
    """The models that a field's annotation may hold, however they are wrapped."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return (annotation,)
    return tuple(model for part in get_args(annotation) for model in models_in(part))


def models_at(model: type[BaseModel], path: Sequence[Part]) -> tuple[type[BaseModel], ...]:
    """The models that may read the table at `path` below a table read by `model`."""
    models: tuple[type[BaseModel], ...] = (model,)
    for part in path:
        if isinstance(part, int):
            continue
        fields = [each.model_fields[part] for each in models if part in each.model_fields]
        models = tuple(found for field in fields for found in models_in(field.annotation))
    return models


def field_at(model: type[BaseModel], path: Sequence[Part]) -> FieldInfo | None:
    names = [part for part in path if isinstance(part, str)]
    if not names:
        return None
    return next((m.model_fields[names[-1]] for m in models_at(model, names[:-1]) if names[-1] in m.model_fields), None)


def example_of(field: FieldInfo | None) -> str:
    """An example of a field's value as TOML writes it, or ""."""
    if field is None:
        return ""
    examples = field.examples or [
        example
        for each in field.metadata
        if (example := getattr(each, "shown", "") or getattr(each, "example", "")) and isinstance(example, str)
    ]
    if examples:
        return json.dumps(examples[0], ensure_ascii=False)
    if field.default is not None and isinstance(field.default, str | int | float | bool) and field.default != "":
        return json.dumps(field.default, ensure_ascii=False)
    return ""
