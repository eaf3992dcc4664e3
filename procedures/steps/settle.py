"""Settling: after a change of scale, place or exposure the reading still moves, and a moving reading is none."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from procedures.asks import Wait
from procedures.facts import Facts
from procedures.findings import Finding, Number, number
from procedures.routing import POWER_OFF
from procedures.settling import time_constant_from_response, wait_for_residual
from procedures.steps.base import (
    LONGEST_WAIT,
    Bounded,
    Duration,
    InstrumentSpec,
    Problem,
    StepKind,
    StepParameters,
    percent_to_ratio,
    seconds,
)
from procedures.steps.common import Concluding, Script, plain, replay, span
from procedures.trouble import Trouble
from procedures.units import Quantity

RULE = "settle 1"

Residual = Annotated[Quantity, Bounded("%", "0.01 %", "50 %", "1 %")]
Before = Annotated[Quantity, Bounded("%", "0 %", "1000 %", "50 %")]
ShortDuration = Annotated[Quantity, Bounded("s", "0.1 s", "1 h", "3 s")]


class SettleParameters(StepParameters):
    """How long the reading takes to come to rest: stated as a time, a time constant, or a response time."""

    kind: Literal["settle"]
    lasts: Annotated[Duration | None, Field(description="The time itself, 1 s to 4 h. One of three ways.")] = None
    time_constant: Annotated[
        ShortDuration | None,
        Field(description="Time constant τ, 0.1 s to 1 h: the wait is −τ·ln(residual). One of three ways."),
    ] = None
    response_time: Annotated[
        ShortDuration | None,
        Field(description="Response time as the maker states it, 0.1 s to 1 h; `to` says to what. One of three ways."),
    ] = None
    to: Annotated[
        Literal["90 % of final", "90 % of change"] | None,
        Field(description="What the response time is measured to: 90 % of the final value, or of the change."),
    ] = None
    rising_from: Annotated[
        Before | None,
        Field(
            description="For 90 % of final: the reading before the step, in % of the final one, in the maker's test. "
            "Default 0 %, a step from nothing."
        ),
    ] = None
    residual: Annotated[
        Residual | None, Field(description="Part of the change that may still be to come, 0.01 % to 50 %. Default 1 %.")
    ] = None
    meanwhile: Annotated[
        str,
        Field(max_length=200, description="What goes on inside meanwhile. Default: it moves to rest."),
    ] = "The reading is still moving towards where it will rest."


def settling_seconds(parameters: SettleParameters) -> float:
    """The seconds to wait. Trouble when the response time stated cannot be."""
    if parameters.lasts is not None:
        return seconds(parameters.lasts)
    residual = 0.01 if parameters.residual is None else float(percent_to_ratio(parameters.residual))
    return wait_for_residual(_time_constant(parameters), residual)


def _time_constant(parameters: SettleParameters) -> float:
    if parameters.time_constant is not None:
        return seconds(parameters.time_constant)
    if parameters.response_time is None:
        raise Trouble(f"step {parameters.id} states no time to settle", allowed="lasts, time_constant or response_time")
    stated = seconds(parameters.response_time)
    if parameters.to == "90 % of change":
        return time_constant_from_response(stated, of="change")
    before = Decimal(0) if parameters.rising_from is None else percent_to_ratio(parameters.rising_from)
    return time_constant_from_response(stated, of="final value", initial=float(before), final=1.0)


def _numbers(parameters: SettleParameters, due: float, waited: float) -> tuple[Number, ...]:
    numbers = (number("due", "Settling time due", due, "s"), number("waited", "Waited", waited, "s"))
    if parameters.lasts is not None:
        return numbers
    return (*numbers, number("time_constant", "Time constant", _time_constant(parameters), "s"))


def _script(parameters: SettleParameters, _facts: Facts) -> Script[Finding]:
    due = settling_seconds(parameters)
    answer = yield Wait(
        key="settle",
        say=parameters.say or "Leave it alone. It settles.",
        caution=parameters.caution,
        seconds=due,
        meanwhile=parameters.meanwhile,
    )
    numbers = _numbers(parameters, due, float(answer.value))
    return Concluding.of(parameters, RULE).passed(f"Settled for at least {plain(due)} s.", numbers=numbers)


def _check(parameters: SettleParameters, _spec: InstrumentSpec) -> tuple[Problem, ...]:
    return tuple(_problems(parameters))


def _problems(parameters: SettleParameters) -> Iterator[Problem]:
    ways = [key for key in ("lasts", "time_constant", "response_time") if getattr(parameters, key) is not None]
    if len(ways) != 1:
        found = " and ".join(ways) or "none of them"
        yield Problem("lasts", f"the time is stated by {found}", "one of: lasts, time_constant, response_time")
        return
    (way,) = ways
    if way == "response_time" and parameters.to is None:
        yield Problem("to", "is missing: response times are stated in two ways", "90 % of final, 90 % of change")
        return
    if way != "response_time" and parameters.to is not None:
        yield Problem("to", f"belongs to a response_time, and {way} is stated", "leave it out")
    if way == "lasts" and parameters.residual is not None:
        yield Problem("residual", "means nothing beside a stated time", "leave it out")
    if parameters.rising_from is not None:
        if parameters.to != "90 % of final":
            yield Problem("rising_from", "belongs to 90 % of final", "leave it out")
        elif percent_to_ratio(parameters.rising_from) >= Decimal("0.9"):
            yield Problem("rising_from", "such a step never passes 90 % of the final value", "below 90 %")
            return
    due = settling_seconds(parameters)
    if due > LONGEST_WAIT:
        yield Problem(way, f"makes a wait of {due / 3600:.1f} h", "at most 4 h")


def _duration(parameters: SettleParameters) -> tuple[float, float]:
    try:
        return span(0, 0, settling_seconds(parameters))
    except Trouble:  # the check of the parameters says what is wrong
        return span(0, 0, float(LONGEST_WAIT))


KIND = StepKind(
    name="settle",
    about="Waits until the reading has come to rest: a time, a time constant with a residual, or a response time.",
    parameters=SettleParameters,
    next=replay(_script),
    rule=RULE,
    duration=_duration,
    disturbed_by=POWER_OFF,
    can_fail=False,
    provides=lambda _parameters: frozenset({"settled"}),
    check=_check,
)
