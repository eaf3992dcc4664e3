"""The JSON Schema of profiles says what the models say, and the committed reference page is the one it gives."""

from __future__ import annotations

import re
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from procedures import steps
from procedures.profile.json_schema import HELP, REMEDY_HELP, json_schema
from procedures.profile.reference_page import reference_page
from procedures.steps.base import RemedyParameters, StepParameters

DEMOS = {
    each.name: each.read_text(encoding="utf-8")
    for each in sorted(files("demo_profiles").iterdir(), key=lambda each: each.name)
    if each.name.endswith(".toml")
}
PAGE = Path(__file__).parents[2] / "docs" / "profile-reference.md"
TYPES = {
    "string": str,
    "integer": int,
    "number": int | float,
    "boolean": bool,
    "array": list,
    "object": dict,
}
SILENT = {"title", "description", "examples", "default", "x-unit", "x-bounds", "$schema", "$defs", "then"}


def wrong(schema: dict[str, Any], value: Any, root: dict[str, Any], at: str = "") -> list[str]:
    """What a validator of JSON Schema draft 2020-12 says, for the keywords that this schema uses; from memory."""
    found: list[str] = []
    for word, told in schema.items():
        found += [
            f"{at}: {word}: {each}" if each else f"{at}: {word}" for each in _wrong(word, told, schema, value, root, at)
        ]
    return found


def _wrong(word: str, told: Any, schema: dict[str, Any], value: Any, root: dict[str, Any], at: str) -> list[str]:
    if word in SILENT:
        return []
    if word == "$ref":
        return wrong(root["$defs"][told.rpartition("/")[2]], value, root, at)
    if word == "allOf":
        return [each for one in told for each in wrong(one, value, root, at)]
    if word == "anyOf":
        return [] if any(not wrong(one, value, root, at) for one in told) else ["none of these"]
    if word == "if":
        return [] if wrong(told, value, root, at) else wrong(schema["then"], value, root, at)
    if word == "properties":
        return [each for key in told if key in value for each in wrong(told[key], value[key], root, f"{at}.{key}")]
    if word == "items":
        return [each for one in value for each in wrong(told, one, root, f"{at}[]")] if isinstance(value, list) else []
    if word == "prefixItems":
        return [each for one, rule in zip(value, told, strict=False) for each in wrong(rule, one, root, f"{at}[]")]
    size = len(value) if isinstance(value, str | list) else 0
    checks = {
        "type": lambda: isinstance(value, TYPES[told]) and (told == "boolean" or not isinstance(value, bool)),
        "required": lambda: set(told) <= set(value),
        "additionalProperties": lambda: set(value) <= set(schema["properties"]),
        "enum": lambda: value in told,
        "const": lambda: value == told,
        "pattern": lambda: re.search(told, value) is not None,
        "minLength": lambda: not isinstance(value, str) or size >= told,
        "maxLength": lambda: not isinstance(value, str) or size <= told,
        "minItems": lambda: not isinstance(value, list) or size >= told,
        "maxItems": lambda: not isinstance(value, list) or size <= told,
        "minimum": lambda: not isinstance(value, int | float) or value >= told,
        "maximum": lambda: not isinstance(value, int | float) or value <= told,
        "exclusiveMinimum": lambda: not isinstance(value, int | float) or value > told,
        "exclusiveMaximum": lambda: not isinstance(value, int | float) or value < told,
    }
    return [] if checks[word]() else [""]


@pytest.mark.parametrize("demo", DEMOS)
def test_the_schema_lets_a_good_profile_through(demo: str) -> None:
    """An editor that marks a good profile as wrong is switched off."""
    schema = json_schema()
    assert wrong(schema, tomllib.loads(DEMOS[demo]), schema) == []


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ('kind = "zero"\nscale = "x1"', 'kind = "zero"'),
        ("adjustable = true", "adjustible = true"),
        ("readings = 3", "readings = 11"),
        ("readings = 3", 'readings = "3"'),
        ('action = "fresh-cells"', 'action = "tap-it"'),
        ('kind = "window"', 'kind = "windows"'),
        ('detector = "vented ion chamber"', 'detector = "canary"'),
        ('lockout = "zero-off"', 'lockout = "Zero off"'),
        ('limits = { low = "-20 %", high', "limits = { high"),
        ("format = 1", "format = 2"),
    ],
)
def test_the_schema_refuses(was: str, now: str) -> None:
    """A missing key, an unknown one, a wrong type, a word that is on no list are seen while they are typed."""
    text = DEMOS["vented_chamber.toml"]
    assert was in text
    schema = json_schema()
    assert wrong(schema, tomllib.loads(text.replace(was, now, 1)), schema) != []


def test_one_colour_may_be_longer_than_the_list() -> None:
    """At most five colours is not at most five letters."""
    fresh = json_schema()["$defs"]["step-desiccant"]["properties"]["fresh"]
    assert (fresh["minItems"], fresh["maxItems"]) == (1, 5)
    assert "maxLength" not in fresh


def test_every_key_has_help() -> None:
    """A key without a word about it is one that people guess at."""
    schema = json_schema()
    tables = {"": schema, **schema["$defs"]}
    bare = [f"{n}.{k}" for n, table in tables.items() for k, v in table["properties"].items() if "description" not in v]
    assert bare == []
    assert set(HELP) == set(StepParameters.model_fields)
    assert set(REMEDY_HELP) == set(RemedyParameters.model_fields)


def test_no_two_tables_share_a_name() -> None:
    """Tables of kinds of step are kept by name: one must not stand in the place of another."""
    seen: dict[str, Any] = {}
    for name in steps.kind_names():
        for inner, table in steps.kind(name).parameters.model_json_schema().get("$defs", {}).items():
            assert seen.setdefault(inner, table) == table


def test_the_reference_page_is_current() -> None:
    """To write it again: save `reference_page()` in docs/profile-reference.md, as UTF-8."""
    assert reference_page() == PAGE.read_text(encoding="utf-8")


def test_the_page_names_every_key_of_every_kind() -> None:
    """A new kind of step stands in the page without anybody writing it there."""
    page = reference_page()
    for name in steps.kind_names():
        section = page.partition(f'## `kind = "{name}"`')[2].partition("\n## ")[0]
        own = set(steps.kind(name).parameters.model_fields) - set(StepParameters.model_fields)
        assert {key for key in own if f"| `{key}` |" not in section} == set()
