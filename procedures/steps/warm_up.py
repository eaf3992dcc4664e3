"""Warm-up: an instrument that was just switched on reads anything. The time counts from switching on."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from procedures.asks import SWITCHED_ON, Acknowledge, Wait
from procedures.facts import Facts
from procedures.findings import Finding, number
from procedures.routing import POWER_OFF
from procedures.steps.base import Duration, StepKind, StepParameters, seconds
from procedures.steps.common import Concluding, Script, choose, replay, span, switch_on

RULE = "warm-up 1"


class WarmUpParameters(StepParameters):
    """How long the instrument must have been on."""

    kind: Literal["warm-up"]
    since_on: Annotated[Duration, Field(description="Time since it was switched on, 1 s to 4 h. Required.")]
    meanwhile: Annotated[
        str,
        Field(max_length=200, description="What goes on inside meanwhile. Default: it comes to rest."),
    ] = "The high voltage and the circuits come to rest."


def _script(parameters: WarmUpParameters, facts: Facts) -> Script[Finding]:
    if facts.first_visit or SWITCHED_ON not in facts.marks:
        yield from switch_on(facts)
    else:
        yield from _on_again()
    answer = yield Wait(
        key="warm-up",
        say=parameters.say or "Leave it on. It warms up.",
        caution=parameters.caution,
        seconds=seconds(parameters.since_on),
        since=SWITCHED_ON,
        meanwhile=parameters.meanwhile,
    )
    waited = number("since_on", "On for", float(answer.value), "s")
    return Concluding.of(parameters, RULE).passed(f"On for at least {parameters.since_on}.", numbers=(waited,))


def _on_again() -> Script[None]:
    """A remedy may have switched it off since; then the moment known is no longer the one that counts."""
    stayed = yield from choose(
        "stayed-on",
        "Was the instrument off at any time since it was first switched on?",
        ("on all the time", "It was on all the time"),
        ("was off", "It was off, if only for a moment"),
    )
    if stayed == "was off":
        say = "Switch the instrument on. If it is on, switch it off and on again."
        yield Acknowledge(key=f"{SWITCHED_ON}-again", say=say, done="It was switched on just now", mark=SWITCHED_ON)


KIND = StepKind(
    name="warm-up",
    about="Waits until the instrument has been on for long enough, counted from switching on.",
    parameters=WarmUpParameters,
    next=replay(_script),
    rule=RULE,
    duration=lambda parameters: (0.0, span(0, 2, seconds(parameters.since_on))[1]),
    disturbed_by=POWER_OFF,
    can_fail=False,
    provides=lambda _parameters: frozenset({"switched-on", "warm-up"}),
)
