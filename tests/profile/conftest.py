"""Kinds of step made up for the tests of profiles, so that these tests hold whatever the real kinds come to say."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal

import pytest
from pydantic import Field

from procedures import steps
from procedures.asks import Acknowledge
from procedures.steps.base import Duration, Need, Percent, Problem, StepKind, StepParameters, Strict, seconds


class Limits(Strict):
    low: Percent
    high: Percent


class LookParameters(StepParameters):
    kind: Literal["look"]
    good: tuple[str, ...] = ()


class ScanParameters(StepParameters):
    kind: Literal["scan"]


class RestParameters(StepParameters):
    kind: Literal["rest"]
    lasts: Annotated[Duration, Field(examples=["8 s"], description="How long. Required.")]


class ZeroParameters(StepParameters):
    kind: Literal["zero"]
    scale: str


class ResponseParameters(StepParameters):
    kind: Literal["response"]
    scale: str
    limits: Limits
    readings: Annotated[int, Field(ge=1, le=9)] = 3


def _next(parameters: Any, _facts: Any, _answers: Any) -> Acknowledge:
    return Acknowledge(key="done", say=parameters.say)


def _look_tags(parameters: LookParameters) -> frozenset[str]:
    return frozenset({"window"}) if "window" in parameters.good else frozenset()


def _scale_known(parameters: Any, spec: Any) -> tuple[Problem, ...]:
    if spec.scale(parameters.scale) is None:
        return (Problem("scale", "there is no such scale", ", ".join(s.selector.name for s in spec.scales)),)
    return ()


def _response_needs(parameters: ResponseParameters, spec: Any) -> tuple[Need, ...]:
    needs = (
        [Need(frozenset({f"zero:{parameters.scale}"}), "the zero is settled on this scale")] if spec.needs_zero else []
    )
    if spec.has_window:
        needs.append(Need(frozenset({"window"}), "the window was looked at"))
    return tuple(needs)


KINDS: dict[str, StepKind[Any]] = {
    "look": StepKind(
        name="look",
        about="Something looked at.",
        parameters=LookParameters,
        next=_next,
        rule="look 1",
        duration=lambda _p: (1, 60),
        disturbed_by=frozenset({"case-opened", "detector-cleaned", "fresh-cells"}),
        provides=_look_tags,
    ),
    "scan": StepKind(
        name="scan",
        about="Which instrument this is.",
        parameters=ScanParameters,
        next=_next,
        rule="scan 1",
        duration=lambda _p: (1, 60),
        can_fail=False,
        provides=lambda _p: frozenset({"identity"}),
    ),
    "rest": StepKind(
        name="rest",
        about="Time that must pass.",
        parameters=RestParameters,
        next=_next,
        rule="rest 1",
        duration=lambda p: (seconds(p.lasts), seconds(p.lasts) + 60),
        can_fail=False,
    ),
    "zero": StepKind(
        name="zero",
        about="The needle at zero.",
        parameters=ZeroParameters,
        next=_next,
        rule="zero 1",
        duration=lambda _p: (10, 120),
        disturbed_by=frozenset({"fresh-cells", "desiccant-changed", "controls-set"}),
        provides=lambda p: frozenset({f"zero:{p.scale}"}),
        check=_scale_known,
    ),
    "response": StepKind(
        name="response",
        about="The check source.",
        parameters=ResponseParameters,
        next=_next,
        rule="response 1",
        duration=lambda _p: (30, 300),
        disturbed_by=frozenset({"fresh-cells", "desiccant-changed", "source-reseated"}),
        needs=_response_needs,
        check=_scale_known,
    ),
}


@pytest.fixture(scope="class")
def kinds_of_the_tests() -> Iterator[None]:
    """Puts these kinds in the place of the real ones."""
    patch = pytest.MonkeyPatch()
    patch.setattr(steps, "kind", lambda name: KINDS[name])
    patch.setattr(steps, "kind_names", lambda: tuple(sorted(KINDS)))
    yield
    patch.undo()


GOOD = """\
format = 1
id = "vented-chamber"
title = "Vented ion chamber, needle"
revision = 1

[instrument]
detector = "vented ion chamber"
measures = ["photon exposure rate"]
not_for = ["neutron"]
air_density = "none"
operating = { temperature = ["-10 degC", "45 degC"], soak = "20 min" }

[[instrument.scale]]
name = "x1"
full_scale = "3 mR/h"
division = "0.1 mR/h"
multiplier = 1
shown_by = "source"

[[instrument.scale]]
name = "x10"
full_scale = "30 mR/h"
division = "1 mR/h"
multiplier = 10
shown_by = "nothing"

[ready]
lasts = "12 h"
longest_pause = "20 min"

[[step]]
id = "label"
kind = "scan"

[[step]]
id = "battery"
kind = "look"
say = "Where does the needle rest?"
lockout = "battery-low"
  [[step.remedy]]
  action = "fresh-cells"
  say = "Fit fresh cells."
  repeat_from = "battery"

[[step]]
id = "warm-up"
kind = "rest"
lasts = "2 min"

[[step]]
id = "window"
kind = "look"
good = [
  "window",
]
lockout = "window-damaged"

[[step]]
id = "zero"
kind = "zero"
scale = "x1"
on_fail = "desiccant"
lockout = "zero-off"

[[step]]
id = "response"
kind = "response"
scale = "x1"
limits = { low = "20 %", high = "20 %" }
on_fail = "desiccant"
lockout = "response-out"

[[step]]
id = "desiccant"
kind = "look"
only_when_sent = true
on_pass = "sender-stands"
lockout = "desiccant-spent"
not_before = "24 h"

[[reason]]
code = "window-damaged"
say = "The window is torn."
do = "Send it to be repaired."
"""


@pytest.fixture(scope="session")
def good() -> str:
    """The text of a profile without a mistake."""
    return GOOD
