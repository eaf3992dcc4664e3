"""The window: looked at, tried for light leaks, and, with a slide, its open and closed readings against each other.

Windows are thin. Nothing touches them, not a finger and not a cloth.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Final, Literal

from pydantic import Field

from procedures.facts import Facts
from procedures.findings import AsFound, Finding, Number, number
from procedures.steps._scales import chance_beyond, division, in_unit, on_scale, read_scale
from procedures.steps._window_ratio import FRAGILE, RATIO_OUT, RatioTable, compare_ratio, ratio_problems
from procedures.steps.base import InstrumentSpec, Level, LimitChance, Line, Need, Problem, StepKind, StepParameters
from procedures.steps.common import (
    CANNOT_SEE,
    IDENTIFIED,
    IS_ON,
    Concluding,
    Script,
    acknowledge,
    choose,
    replay,
    span,
)
from procedures.units import Quantity

RULE = "window 1"
CODE = "window-damaged"
LIGHT_LEAK: Final = "light-leak"

_KEYS: Final = {"scale": "light_scale", "within": "light_within"}


class WindowParameters(StepParameters):
    """How the window is looked at, and what is tried with it."""

    kind: Literal["window"]
    dimpled: Annotated[
        Literal["fail", "warn"],
        Field(description="Whether a dimpled window fails, or passes with a warning to the lead. Default fail."),
    ] = "fail"
    light_scale: Annotated[
        Line | None, Field(description="Scale on which it is tried for light leaks. Default: not tried.")
    ] = None
    light_within: Annotated[
        Level | None, Field(description="How much the reading may move in bright light. Required with light_scale.")
    ] = None
    ratio: Annotated[RatioTable | None, Field(description="Open and closed readings compared. Default: not.")] = None


def _script(parameters: WindowParameters, facts: Facts) -> Script[Finding]:
    conclude = Concluding.of(parameters, RULE, CODE)
    seen = yield from _look(parameters)
    if seen == CANNOT_SEE:
        return conclude.could_not_check("the window cannot be seen")
    good = seen == "whole" or (seen == "dimpled" and parameters.dimpled == "warn")
    outcome: Literal["pass", "warn", "fail"] = "fail" if not good else "pass" if seen == "whole" else "warn"
    as_found = AsFound(outcome, f"Window as found: {seen}.") if facts.first_visit else None
    if outcome == "fail":
        return conclude.failed(f"Window: {seen}.", as_found=as_found)
    numbers: tuple[Number, ...] = ()
    if parameters.light_scale is not None and parameters.light_within is not None:
        leak = yield from _light_leak(conclude, parameters.light_scale, parameters.light_within, facts)
        if isinstance(leak, Finding):
            return leak
        numbers += leak
    if parameters.ratio is not None:
        ratio = yield from compare_ratio(conclude, parameters.ratio, facts)
        if isinstance(ratio, Finding):
            return ratio
        numbers += ratio
    tell = (f"Window: {seen}.",) if outcome == "warn" else ()
    return conclude.finding(outcome, f"Window: {seen}.", numbers=numbers, as_found=as_found, tell=tell)


def _look(parameters: WindowParameters) -> Script[str]:
    return (
        yield from choose(
            "window",
            parameters.say or "No source near. Open the slide or cap and look at the window. What do you see?",
            ("whole", "Whole, smooth and clean"),
            ("dimpled", "Dimpled or wrinkled"),
            ("torn or holed", "Torn or holed"),
            ("dirty", "Dirty or stained"),
            ("loose", "Its frame or grid is loose or bent"),
            (CANNOT_SEE, "I cannot see it"),
            caution=parameters.caution or FRAGILE,
        )
    )


# --- light leaks


def _light_leak(
    conclude: Concluding, name: str, within: Quantity, facts: Facts
) -> Script[tuple[Number, ...] | Finding]:
    """Reads covered, then in bright light: a window that lets light in moves the reading of a light-sensitive tube."""
    scale = facts.scale(name)
    if scale is None:
        return conclude.could_not_check(f"the profile has no scale {name}")
    yield from acknowledge("cover", "No source near. Cover the window without touching it.", "Covered", caution=FRAGILE)
    dark = yield from read_scale(facts, scale, "dark", f"Selector on {name}. Read it covered.")
    say = "Take the cover away and hold the window towards bright light: the sky, or a strong lamp a hand away."
    yield from acknowledge("bright", say, "In bright light", caution=FRAGILE)
    bright = yield from read_scale(facts, scale, "bright-reading", "Read it in bright light.")
    numbers = (
        number("dark", "Reading covered", dark.value, dark.unit),
        number("bright", "Reading in bright light", bright.value, bright.unit),
    )
    moved = abs(bright.value - dark.value)
    pegged = "pegged" in (dark.reading.state, bright.reading.state)
    if pegged or moved > in_unit(within, scale):
        say = f"The reading moves in bright light: {dark.text} covered, {bright.text} in light."
        return conclude.failed(say, code=LIGHT_LEAK, numbers=numbers)
    return numbers


# --- what the proof is told


def _check(parameters: WindowParameters, spec: InstrumentSpec) -> tuple[Problem, ...]:
    return (*_light_problems(parameters, spec), *ratio_problems(parameters.ratio, spec))


def _light_problems(parameters: WindowParameters, spec: InstrumentSpec) -> Iterator[Problem]:
    name, within = parameters.light_scale, parameters.light_within
    if (name is None) != (within is None):
        missing = "light_scale" if name is None else "light_within"
        yield Problem(missing, "is missing: a leak is a change on a scale", "both of light_scale and light_within")
    if name is None or within is None:
        return
    wrong = [Problem(_KEYS[each.key], each.message, each.allowed) for each in on_scale(name, spec, within=within)]
    yield from wrong
    scale = spec.scale(name)
    if wrong or scale is None:
        return
    step = division(scale)
    if step is not None and in_unit(within, scale) < step / 2:
        yield Problem("light_within", f"{within} cannot be read on this scale", f"at least half of {step:f}")


def _needs(parameters: WindowParameters, _spec: InstrumentSpec) -> tuple[Need, ...]:
    if parameters.ratio is not None:
        return (IS_ON, IDENTIFIED)
    return (IS_ON,) if parameters.light_scale is not None else ()


def _limits(parameters: WindowParameters, spec: InstrumentSpec) -> tuple[LimitChance, ...]:
    scale = spec.scale(parameters.light_scale) if parameters.light_scale is not None else None
    if scale is None or parameters.light_within is None:
        return ()
    chance, assumed = chance_beyond(scale, None, parameters.light_within, change=True)
    return (LimitChance(f"light within {parameters.light_within}", chance, f"no leak; {assumed}, both times"),)


KIND = StepKind(
    name="window",
    about="The window as seen, without touching it; light leaks; and the ratio of open to closed readings.",
    parameters=WindowParameters,
    next=replay(_script),
    rule=RULE,
    duration=lambda _parameters: span(1, 20),
    disturbed_by=frozenset({"detector-cleaned", "case-opened", "detector-changed", "repaired"}),
    codes=(CODE, LIGHT_LEAK, RATIO_OUT),
    provides=lambda _parameters: frozenset({"window"}),
    needs=_needs,
    check=_check,
    limits=_limits,
)
