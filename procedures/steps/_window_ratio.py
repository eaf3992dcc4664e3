"""Open over closed reading of a window with a slide, against the same ratio of the reference readings.

A window that lost its shield, or a slide that does not close, changes the ratio where neither reading alone is far off.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal, localcontext
from typing import Annotated, Final

from pydantic import Field

from procedures.acceptance import Bound, Limits, Simple, judge
from procedures.facts import Facts, ReferenceFacts, ScaleFacts, SourceFacts
from procedures.findings import Finding, Number, number
from procedures.steps._exposed import Dead, Exposure, take_readings
from procedures.steps._judging import expect, off
from procedures.steps._scales import Taken
from procedures.steps._sources import (
    background_of,
    in_place,
    put_back,
    still_out,
    take_out,
    why_no_reference,
    why_no_source,
)
from procedures.steps.base import Bounded, Identifier, InstrumentSpec, Line, Problem, Strict
from procedures.steps.common import Concluding, Script, plain
from procedures.trouble import Trouble
from procedures.units import Quantity

RATIO_OUT: Final = "window-ratio-out"
FRAGILE: Final = "The window is thin. Nothing touches it."

OPEN: Final = "open"
CLOSED: Final = "closed"
"""Names of the two geometries, as the reference readings have them."""

Share = Annotated[Quantity, Bounded("%", "-99 %", "1000 %", "-20 %")]


class RatioTable(Strict):
    """Open over closed reading, against the same ratio of the reference readings "open" and "closed"."""

    scale: Annotated[Line, Field(description="Name of the scale both are read on. Required.")]
    source: Annotated[Identifier, Field(description="Role of the check source. Required.")]
    low: Annotated[Share, Field(description="Lowest allowed, off the reference ratio, below 0 %. Required.")]
    high: Annotated[Share, Field(description="Highest allowed, off the reference ratio, above 0 %. Required.")]


@dataclass(frozen=True, slots=True)
class _Pair:
    """What the ratio is judged by."""

    source: SourceFacts
    scale: ScaleFacts
    closed: ReferenceFacts
    opened: ReferenceFacts
    background: Decimal


def _pair(table: RatioTable, facts: Facts) -> _Pair | str:
    """The pair, or why there is none, in words."""
    source, scale = facts.source(table.source), facts.scale(table.scale)
    if scale is None:
        return f"the profile has no scale {table.scale}"
    missing = why_no_source(source, table.source)
    if source is None or missing:
        return missing
    closed, opened = (facts.reference(source.id, table.scale, geometry) for geometry in (CLOSED, OPEN))
    missing = why_no_reference(closed, source, facts, scale, CLOSED)
    missing = missing or why_no_reference(opened, source, facts, scale, OPEN)
    if closed is None or opened is None or missing:
        return missing
    try:
        background = background_of(facts, scale)
    except Trouble as trouble:
        return trouble.what
    return _Pair(source, scale, closed, opened, Decimal(0) if background is None else background.value)


def compare_ratio(conclude: Concluding, table: RatioTable, facts: Facts) -> Script[tuple[Number, ...] | Finding]:
    """Reads closed and open beside the source: the numbers of a ratio that is right, or the finding that ends it."""
    pair = _pair(table, facts)
    if isinstance(pair, str):
        return conclude.could_not_check(pair)
    label, out = pair.source.label, (still_out(pair.source),)
    yield from take_out(pair.source, facts)
    exposure = Exposure(facts, pair.scale)
    taken: list[Taken] = []
    for geometry in (CLOSED, OPEN):
        say = f"Source {label} as the procedure says, slide or cap {geometry}."
        if not (yield from in_place(geometry, say, caution=FRAGILE)):
            return conclude.could_not_check(f"source {label} could not be placed with the slide {geometry}", carry=out)
        one = yield from take_readings(exposure, label, f"{geometry}-reading", 1)
        if isinstance(one, Dead):
            say = f"With source {label} in place and the slide {geometry} it reads {one.taken[-1].text}."
            return conclude.failed(say, code=RATIO_OUT, carry=out)
        taken += one
    judged = _judge_ratio(conclude, table, pair, taken)
    if isinstance(judged, Finding):
        return judged
    yield from put_back(pair.source)
    return judged


def _judge_ratio(
    conclude: Concluding, table: RatioTable, pair: _Pair, taken: list[Taken]
) -> tuple[Number, ...] | Finding:
    """Both references decay to the same moment; of two taken on one day the decay cancels."""
    closed, opened = (one.value - pair.background for one in taken)
    out, unit, at = (still_out(pair.source),), pair.scale.selector.unit, taken[-1].at
    if closed <= 0 or opened <= 0:
        say = f"With source {pair.source.label} in place it reads no more than background."
        return conclude.failed(say, code=RATIO_OUT, carry=out)
    try:
        expected_closed = expect(pair.source, pair.closed, unit, at).value
        expected_open = expect(pair.source, pair.opened, unit, at).value
        with localcontext(prec=50):
            observed = opened / closed
        limits = Limits(Bound(table.low.value / 100, relative=True), Bound(table.high.value / 100, relative=True))
        verdict = judge(observed, expected_open / expected_closed, limits, Simple())
    except Trouble as trouble:
        return conclude.could_not_check(trouble.what, carry=out)
    numbers = (
        number("closed", "Closed, net", closed, unit),
        number("open", "Open, net", opened, unit),
        number("ratio", "Open over closed", float(observed)),
        number("expected_ratio", "Expected", expected_open / expected_closed),
        number("ratio_low", "Lowest allowed", verdict.lower),
        number("ratio_high", "Highest allowed", verdict.upper),
    )
    if not verdict.passed:
        say = f"Open over closed is {off(verdict.ratio or 0.0)}: {plain(float(observed))}."
        return conclude.failed(say, code=RATIO_OUT, numbers=numbers, carry=out)
    return numbers


def ratio_problems(table: RatioTable | None, spec: InstrumentSpec) -> Iterator[Problem]:
    """What is wrong with the table on this type of instrument."""
    if table is None:
        return
    if spec.scale(table.scale) is None:
        known = ", ".join(each.selector.name for each in spec.scales)
        yield Problem("ratio.scale", f"there is no scale {table.scale!r} in this profile", known)
    if table.low.value >= 0:
        yield Problem("ratio.low", f"{table.low} would fail a ratio that has not changed", "below 0 %")
    if table.high.value <= 0:
        yield Problem("ratio.high", f"{table.high} would fail a ratio that has not changed", "above 0 %")
