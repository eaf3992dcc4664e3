"""From readings to a verdict: what was to be expected, how sure it is, and the numbers a finding keeps. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal, localcontext

from procedures.acceptance import Bound, Guarded, Limits, Simple, Verdict, expected_reading, judge
from procedures.facts import ReferenceFacts, SourceFacts
from procedures.findings import Number, number
from procedures.source_decay import decayed
from procedures.steps.common import plain
from procedures.trouble import Trouble
from procedures.uncertainty import Budget, combine, from_division, from_relative, from_scatter
from procedures.units import Quantity, number_in

UNSTATED_HALF_LIFE = 0.01
"""Relative standard uncertainty taken for a half-life whose source states none. Evaluations of the nuclides in use
differ by less (Cs-137: 30.1671 y in ICRP-107, 30.05 y in DDEP, the latter from memory: 0.4 %)."""


@dataclass(frozen=True, slots=True)
class Expected:
    """What a good instrument shows now, in `unit`, and what it was worked out from."""

    value: float
    unit: str
    reference: Decimal
    reference_u: float
    half_life_u: float
    days: float
    decay: float
    half_life_days: float

    def parts(self) -> dict[str, float | None]:
        """Its own parts of the uncertainty, in `unit`."""
        return {
            "reference": from_relative(self.value, self.reference_u),
            "half_life": from_relative(self.value, self.half_life_u),
        }

    def numbers(self) -> tuple[Number, ...]:
        return (
            number("expected", "Expected", self.value, self.unit),
            number("reference", "Reference reading", self.reference, self.unit),
            number("elapsed", "Time since the reference reading", self.days, "d"),
            number("half_life", "Half-life", self.half_life_days, "d"),
            number("decay", "Left after decay", self.decay),
        )


def expect(
    source: SourceFacts, reference: ReferenceFacts, unit: str, at: datetime, conditions: float = 1.0
) -> Expected:
    """R₀ times what is left of the source at a moment, in `unit`; `conditions` brings R₀ to stated air.

    Trouble when `at` is before the reference reading, which puts the clock in doubt.
    """
    since = decayed(source, reference.at, at)
    value = number_in(Quantity(reference.value, reference.unit), unit)
    known = source.half_life_relative_u
    return Expected(
        value=expected_reading(value, since.left, conditions),
        unit=unit,
        reference=value,
        reference_u=reference.relative_u,
        half_life_u=since.sensitivity * (UNSTATED_HALF_LIFE if known is None else known),
        days=since.days,
        decay=since.left,
        half_life_days=since.half_life_days,
    )


def limits_about(low: Quantity, high: Quantity, warn: Quantity | None, expected: float, unit: str) -> Limits:
    """Acceptance limits about an expected figure in `unit`.

    Shares are of what is expected; a level of the scale becomes its distance from what is expected. Trouble when what
    is expected lies outside them itself, as when a source has decayed out of the range written on the instrument.
    """
    return Limits(_bound(low, expected, unit), _bound(high, expected, unit), _share(warn))


def _bound(limit: Quantity, expected: float, unit: str) -> Bound:
    if limit.unit == "%":
        return Bound(limit.value / 100, relative=True)
    with localcontext(prec=60):
        return Bound(number_in(limit, unit) - Decimal(expected), relative=False)


def _share(warn: Quantity | None) -> Bound | None:
    return None if warn is None else Bound(warn.value / 100, relative=True)


@dataclass(frozen=True, slots=True)
class Observed:
    """What was observed, net of background, in the unit of the scale; `parts` are its parts of the uncertainty."""

    value: Decimal
    unit: str
    readings: tuple[Decimal, ...]
    background: Decimal | None
    parts: dict[str, float | None]

    def numbers(self) -> tuple[Number, ...]:
        rows = [number(f"reading_{n}", f"Reading {n}", each, self.unit) for n, each in enumerate(self.readings, 1)]
        if self.background is not None:
            rows.append(number("background", "Background taken off", self.background, self.unit))
        return (*rows, number("observed", "Observed", self.value, self.unit))


def reading_parts(readings: tuple[Decimal, ...], division: Decimal | None) -> dict[str, float | None]:
    """Parts of the uncertainty of a mean of readings: the division once, the scatter over √n."""
    parts: dict[str, float | None] = {}
    if division is not None:
        parts["division"] = from_division(division)
    scatter = from_scatter(readings)
    if scatter is not None:
        parts["scatter"] = scatter
    return parts


def corrected(figure: Decimal, factor: float) -> Decimal:
    """A figure times a computed factor, to 50 figures, so that rounding decides nothing."""
    with localcontext(prec=50):
        return figure * Decimal(factor)


@dataclass(frozen=True, slots=True)
class Judged:
    """The comparison of what was observed with what was expected."""

    verdict: Verdict
    observed: Observed
    expected: Expected
    budget: Budget

    @property
    def words(self) -> str:
        """How it reads against what was expected."""
        ratio = self.verdict.ratio or 0.0
        unit = self.expected.unit
        seen = f"Observed {plain(self.observed.value)} {unit}, expected {plain(self.expected.value)} {unit}"
        return f"{seen}: {off(ratio)}."

    def numbers(self) -> tuple[Number, ...]:
        verdict, unit = self.verdict, self.expected.unit
        rows = [
            *self.observed.numbers(),
            *self.expected.numbers(),
            number("low", "Lowest allowed", verdict.lower, unit),
            number("high", "Highest allowed", verdict.upper, unit),
            number("ratio", "Observed over expected", verdict.ratio or 0.0),
            number("margin", "Margin to the limit used", verdict.margin, unit),
            number("uncertainty", "Standard uncertainty", self.budget.standard, unit),
        ]
        if verdict.rule == "guarded":
            rows.append(number("accept_low", "Lowest accepted, drawn in", verdict.accept_lower, unit))
            rows.append(number("accept_high", "Highest accepted, drawn in", verdict.accept_upper, unit))
        if verdict.chance_outside is not None:
            rows.append(number("chance_outside", "Chance that it is outside the limits", verdict.chance_outside))
        rows += [number(f"u_{name}", f"From {name.replace('_', '-')}", u, unit) for name, u in self.budget.parts]
        return tuple(rows)


def off(ratio: float) -> str:
    """A ratio as people say it: "31 % low", "as expected"."""
    percent = 100 * (ratio - 1)
    if abs(percent) < 0.05:
        return "as expected"
    return f"{plain(abs(percent), 2)} % {'low' if percent < 0 else 'high'}"


def compare(
    observed: Observed, expected: Expected, limits: Limits, false_accept: float | None = None
) -> tuple[Judged, str]:
    """The comparison by the simple rule, or by the guarded one where a chance of a wrong pass is stated.

    The text says why the guarded rule could not be used ("" when it could): then the comparison is the simple one, of
    which only a failure may be believed.
    """
    budget = combine({**observed.parts, **expected.parts()})
    rule = Simple() if false_accept is None else Guarded(false_accept)
    trouble = ""
    try:
        verdict = judge(observed.value, expected.value, limits, rule, standard_uncertainty=budget.standard)
    except Trouble as refused:
        if false_accept is None:
            raise
        trouble = refused.what
        verdict = judge(observed.value, expected.value, limits, Simple(), standard_uncertainty=budget.standard)
    return Judged(verdict, observed, expected, budget), trouble
