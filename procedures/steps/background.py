"""Background: what the instrument shows with every source away, on a scale or as counts in a time.

Too high a background is first of all the place: the person moves away and reads again. If it then shows the same, it
goes with the instrument, and something on it or in it radiates.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal, localcontext
from typing import Annotated, Literal

from pydantic import Field

from procedures.asks import Wait
from procedures.facts import Facts, ScaleFacts
from procedures.findings import Finding, Number, number
from procedures.steps._exposed import Exposure
from procedures.steps._scales import Taken, division, in_unit, on_scale
from procedures.steps.base import Duration, InstrumentSpec, Level, Line, Problem, StepKind, StepParameters, seconds
from procedures.steps.common import (
    DETECTING,
    Concluding,
    Script,
    acknowledge,
    choose,
    replay,
    span,
    stow_sources,
    switched_on_first,
    with_unit,
)
from procedures.units import Quantity, kind_of

RULE = "background 1"
CODE = "background-high"


class BackgroundParameters(StepParameters):
    """On which scale background is read, how often, and how high it may be."""

    kind: Literal["background"]
    scale: Annotated[Line, Field(description="Name of the scale it is read on. Required.")]
    highest: Annotated[Level, Field(description="Highest background at which checks mean anything. Required.")]
    readings: Annotated[int, Field(ge=1, le=10, description="How many readings, or counts, 1 to 10. Default 1.")] = 1
    settle: Annotated[
        Duration | None, Field(description="Wait before the first reading, 1 s to 4 h. Default none.")
    ] = None
    count_time: Annotated[
        Duration | None, Field(description="Time of one count, 1 s to 4 h. Default: a rate is read.")
    ] = None


def _script(parameters: BackgroundParameters, facts: Facts) -> Script[Finding]:
    conclude = Concluding.of(parameters, RULE, CODE)
    scale = facts.scale(parameters.scale)
    if scale is None:
        return conclude.could_not_check(f"the profile has no scale {parameters.scale}")
    if not (yield from stow_sources()):
        return conclude.could_not_check("a source could not be put away")
    exposure = Exposure(facts, scale, parameters.count_time)
    taken = yield from _read(parameters, exposure, "background")
    found = _mean(exposure, taken)
    highest = in_unit(parameters.highest, scale)
    if found is not None and found <= highest:
        return _pass(conclude, exposure, taken, found)
    here = "off the end" if found is None else with_unit(found, exposure.unit)
    more = "Well away from sources and from other work, in another room if you can."
    yield from acknowledge("move", "It is too high here. Take the instrument to another place.", "I moved", more=more)
    moved = yield from _read(parameters, exposure, "elsewhere")
    there = _mean(exposure, moved)
    if there is not None and there <= highest:
        tell = f"Background was too high where it was checked first: {here}."
        return _pass(conclude, exposure, moved, there, tell)
    return (yield from _still_high(conclude, exposure, (*taken, *moved), here, there))


def _still_high(
    conclude: Concluding, exposure: Exposure, taken: tuple[Taken, ...], here: str, there: Decimal | None
) -> Script[Finding]:
    """High in two places: the person says whether it goes with the instrument."""
    elsewhere = "off the end" if there is None else with_unit(there, exposure.unit)
    seen = yield from choose(
        "follows",
        "It is still too high. Carry it about a little. Does it show about the same everywhere?",
        ("everywhere the same", "About the same everywhere"),
        ("changes", "It changes with the place"),
    )
    if seen == "changes":
        return conclude.could_not_check(f"background is too high here: {here}, and {elsewhere} after moving")
    say = f"It shows {here}, and {elsewhere} after moving: the reading goes with the instrument."
    return conclude.failed(say, numbers=_numbers(taken))


def _read(parameters: BackgroundParameters, exposure: Exposure, key: str) -> Script[tuple[Taken, ...]]:
    if parameters.settle is not None:
        meanwhile = "It falls to background."
        yield Wait(key=f"{key}-settle", say="Leave it alone.", seconds=seconds(parameters.settle), meanwhile=meanwhile)
    say = parameters.say or f"No source near, selector on {parameters.scale}."
    if not parameters.say and exposure.count_time is None:
        say += " Read background."
    taken: tuple[Taken, ...] = ()
    for n in range(1, parameters.readings + 1):
        one = yield from exposure.take(f"{key}-{n}", say, (n, parameters.readings) if parameters.readings > 1 else None)
        taken = (*taken, one)
    return taken


def _mean(exposure: Exposure, taken: tuple[Taken, ...]) -> Decimal | None:
    """The mean in the unit of the scale; None when a reading was off the end."""
    if any(one.reading.state == "pegged" for one in taken):
        return None
    with localcontext(prec=15):
        return sum((exposure.in_unit(one) for one in taken), Decimal(0)) / len(taken)


def _numbers(taken: tuple[Taken, ...]) -> tuple[Number, ...]:
    return tuple(number(f"reading_{n}", f"Reading {n}", one.value, one.unit) for n, one in enumerate(taken, 1))


def _pass(
    conclude: Concluding, exposure: Exposure, taken: tuple[Taken, ...], found: Decimal, tell: str = ""
) -> Finding:
    facts = [
        ("background", str(Quantity(found, exposure.unit))),
        ("background_scale", exposure.scale.selector.name),
    ]
    if exposure.count_time is not None:
        facts.append(("background_counts", str(sum(int(one.value) for one in taken))))
        facts.append(("background_seconds", repr(seconds(exposure.count_time) * len(taken))))
    numbers = (*_numbers(taken), number("background", "Background", found, exposure.unit))
    return conclude.finding(
        "warn" if tell else "pass",
        f"Background is {with_unit(found, exposure.unit)}.",
        numbers=numbers,
        tell=(tell,) if tell else (),
        facts=tuple(facts),
    )


def _check(parameters: BackgroundParameters, spec: InstrumentSpec) -> tuple[Problem, ...]:
    found = tuple(on_scale(parameters.scale, spec, highest=parameters.highest))
    scale = spec.scale(parameters.scale)
    return found if found or scale is None else tuple(_problems(parameters, scale))


def _problems(parameters: BackgroundParameters, scale: ScaleFacts) -> Iterator[Problem]:
    highest, step, unit = in_unit(parameters.highest, scale), division(scale), scale.selector.unit
    if highest >= scale.full_scale:
        yield Problem("highest", "lets any reading on the scale pass", f"below {scale.full_scale:f} {unit}")
    if step is not None and highest < step / 2:
        why = f"{parameters.highest} cannot be read on this scale"
        yield Problem("highest", why, f"at least half of {step:f} {unit}")
    if parameters.count_time is not None and kind_of(unit) != "count rate":
        yield Problem("count_time", f"scale {parameters.scale} shows {unit}, which is no count rate", "leave it out")


def _duration(parameters: BackgroundParameters) -> tuple[float, float]:
    settle = 0.0 if parameters.settle is None else seconds(parameters.settle)
    count = 0.0 if parameters.count_time is None else seconds(parameters.count_time)
    n, asks = parameters.readings, 1 if parameters.count_time is None else 2
    once = settle + n * count
    return span(1 + asks * n, 0)[0] + once, span(0, 4 + 2 * asks * n)[1] + 2 * once


KIND = StepKind(
    name="background",
    about="Background with every source away; too high, it is read again elsewhere, and the person says if it follows.",
    parameters=BackgroundParameters,
    next=replay(_script),
    rule=RULE,
    duration=_duration,
    disturbed_by=DETECTING,
    codes=(CODE,),
    provides=lambda _parameters: frozenset({"background"}),
    needs=switched_on_first,
    check=_check,
)
