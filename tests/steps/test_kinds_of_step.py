"""What holds of every kind of step, and of the script that each is written as."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from typing import Any

import pytest
from pydantic import BaseModel

from procedures.asks import Acknowledge, Answer
from procedures.reasons import KNOWN, reason
from procedures.routing import ACTIONS
from procedures.steps import kind, kind_names
from procedures.steps.base import StepParameters
from procedures.trouble import Trouble

KINDS = kind_names()


def test_the_kinds_there_are() -> None:
    """The registry finds one kind a file, and helper modules are none."""
    assert set(KINDS) == {
        "acknowledge",
        "alarm",
        "background",
        "battery",
        "desiccant",
        "environment",
        "look-over",
        "response",
        "settle",
        "timed-wait",
        "warm-up",
        "window",
        "zero",
    }


@pytest.mark.parametrize("name", KINDS)
def test_a_kind_is_whole(name: str) -> None:
    """Names, rule and words are there, and what disturbs it is a known action: the proof and the docs rely on it."""
    found = kind(name)
    assert found.name == name
    assert found.parameters.model_fields["kind"].annotation.__args__ == (name,)
    assert found.rule.rsplit(" ", 1)[0] == name
    assert found.about.endswith(".")
    assert found.disturbed_by <= set(ACTIONS)
    assert bool(found.codes) == found.can_fail


@pytest.mark.parametrize("name", KINDS)
def test_every_parameter_of_its_own_is_described(name: str) -> None:
    """An editor form and a reference page are made from the descriptions, defaults among them."""

    def undescribed(model: type[BaseModel]) -> list[str]:
        own = {key: field for key, field in model.model_fields.items() if key not in StepParameters.model_fields}
        return [key for key, field in own.items() if not field.description]

    assert undescribed(kind(name).parameters) == []
    for definition in kind(name).parameters.model_json_schema().get("$defs", {}).values():
        if definition["title"] != "RemedyParameters":
            assert all(part.get("description") for part in definition["properties"].values()), definition["title"]


@pytest.mark.parametrize("name", KINDS)
def test_every_reason_code_has_words(name: str) -> None:
    """Whoever finds the tag on the shelf reads words, not a code."""
    assert set(kind(name).codes) <= set(KNOWN)
    for code in kind(name).codes:
        assert reason(code).say.endswith(".")
        assert reason(code).do


def test_an_unknown_reason_code_gets_words_that_are_safe() -> None:
    """A code of another program, or a damaged one, still says: out of service."""
    unknown = reason("from-the-future")
    assert "from-the-future" in unknown.say
    assert "out-of-service" in unknown.do
    assert reason("gel-wet", {"gel-wet": ("The gel is wet.", "")}).say == "The gel is wet."


def test_naming_the_kinds_loads_none_of_them() -> None:
    """The program paints first and loads pydantic when a profile is read; reasons are shown before that."""
    look = (
        "import sys, procedures.steps as s, procedures.reasons; s.kind_names();"
        "print([m for m in ('pydantic', 'pint', 'procedures.steps.base') if m in sys.modules])"
    )
    shown = subprocess.run([sys.executable, "-c", look], capture_output=True, text=True, check=True)
    assert shown.stdout.strip() == "[]"


@pytest.mark.parametrize(
    ("key", "value"),
    [("done", "yes"), ("done", False), ("done", 1), ("other", True)],
)
def test_what_is_no_answer_to_the_ask_comes_to_no_finding(bench: Any, key: str, value: object) -> None:
    """Answers that are not what this step was told must not pass it: it refuses instead."""
    parameters = bench.parameters("acknowledge", say="Read the permit.")
    step, facts = kind("acknowledge"), bench.facts()
    assert isinstance(step.next(parameters, facts, ()), Acknowledge)
    with pytest.raises(Trouble):
        step.next(parameters, facts, (Answer(key, value, facts.opened),))


def test_answers_after_the_finding_are_refused(bench: Any) -> None:
    """A record that goes on after its own end is no record of this step."""
    parameters, facts = bench.parameters("acknowledge", say="Read the permit."), bench.facts()
    answer = Answer("done", True, facts.opened)
    with pytest.raises(Trouble):
        kind("acknowledge").next(parameters, facts, (answer, answer))


@pytest.mark.parametrize(
    "change", [{"figure": "3.1"}, {"times": "2"}, {"unit": "R/h"}, {"selector": "x100"}, {"figure": "NaN"}]
)
def test_a_reading_that_the_scale_cannot_give_is_refused(bench: Any, change: dict[str, str]) -> None:
    """Beyond the end of the scale, multiplied otherwise, in another unit: not a reading of this instrument."""
    from decimal import Decimal

    parts = {key: Decimal(value) if key in ("figure", "times") else value for key, value in change.items()}
    parameters = bench.parameters("zero", scale="x1", within="0.05 mR/h")
    facts = bench.facts(first_visit=False)
    stowed = Answer("stowed", "all away", facts.opened)
    reading = replace(bench.read("0"), **parts)
    with pytest.raises(Trouble):
        kind("zero").next(parameters, facts, (stowed, Answer("zero", reading, facts.opened)))


@pytest.mark.parametrize("value", ["blue ", None, True, ["blue"], {"is": "blue"}])
def test_an_observation_that_was_not_offered_is_refused(bench: Any, value: object) -> None:
    """Whatever a damaged record holds in its place, it is trouble in words and never a traceback."""
    parameters = bench.parameters("desiccant", fresh="blue", spent="pink")
    with pytest.raises(Trouble):
        kind("desiccant").next(parameters, bench.facts(), (Answer("colour", value, bench.facts().opened),))
