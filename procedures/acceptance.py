"""Acceptance of a response: what reading was to be expected, between which limits, and the verdict on the one observed.

Comparisons are made on exact fractions. Where the inputs are as they were typed nothing is rounded and nothing allowed
for; where decay or density made the expected reading, equal within 1e-9 counts as equal. A reading on a limit passes.

Uncertainties come from `uncertainty`, counts from `counting`. A reading accepted here does not replace a calibration.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction
from statistics import NormalDist

from procedures.trouble import Trouble

VERSION = "1"
"""Version of the rules in this module. A changed rule gets a new version and the old one stays."""

EQUAL_WITHIN = Fraction(1, 10**9)
"""Relative difference within which two inexact figures count as equal."""

_STANDARD = NormalDist()


@dataclass(frozen=True, slots=True)
class Bound:
    """How far a reading may be from the expected one: a fraction of it (`relative`) or an amount in its unit."""

    amount: Decimal
    relative: bool

    def __post_init__(self) -> None:
        if not self.amount.is_finite():
            raise Trouble(f"a limit of {self.amount} cannot be compared with")

    def at(self, expected: Fraction) -> Fraction:
        """The distance from an expected reading, in its unit."""
        amount = Fraction(self.amount)
        return amount * expected if self.relative else amount


@dataclass(frozen=True, slots=True)
class Limits:
    """Acceptance limits about the expected reading, each side its own; `warn` is the band, either way, to be told of.

    `low` is zero or below, `high` and `warn` zero or above: −20 %, +20 %, 10 %. Raises Trouble otherwise, and for a
    low limit that no reading could fall short of.
    """

    low: Bound
    high: Bound
    warn: Bound | None = None

    def __post_init__(self) -> None:
        if self.low.amount > 0 or self.high.amount < 0:
            raise Trouble(
                "the expected reading itself is outside the limits",
                allowed="a low limit of zero or below, a high limit of zero or above",
                do="Write for example low −20 % and high 20 %.",
            )
        if self.low.relative and self.low.amount <= -1:
            raise Trouble(
                "the low limit would pass an instrument that does not respond", allowed="a low limit above −100 %"
            )
        if self.warn is not None and self.warn.amount < 0:
            raise Trouble("the warning band is below zero", allowed="zero or above, for example 10 %")


@dataclass(frozen=True, slots=True)
class Simple:
    """Simple acceptance: the limits as they are (ILAC-G8:09/2019, 4.2.1)."""


@dataclass(frozen=True, slots=True)
class Guarded:
    """Guarded acceptance: limits drawn in until a wrong pass has at most this chance (ILAC-G8:09/2019, 4.2.2)."""

    false_accept: float

    def __post_init__(self) -> None:
        if not 0 < self.false_accept < 0.5:
            raise Trouble(
                f"a chance of {self.false_accept} for a wrong pass draws no limit in",
                allowed="above 0 and below 0.5",
                do="Write 0.05 for 5 %.",
            )


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the comparison found. Limits and `margin` are in the reading's unit, `ratio` is observed over expected.

    `lower` and `upper` are the limits, `accept_lower` and `accept_upper` those a reading had to keep (drawn in by a
    guarded rule). `margin` is the distance to the nearer of these, negative outside. `chance_outside` is the chance
    that the true response is beyond `lower` or `upper`, None without an uncertainty. `warned` is told only of a pass.
    """

    passed: bool
    warned: bool
    ratio: float | None
    lower: float
    upper: float
    accept_lower: float
    accept_upper: float
    margin: float
    chance_outside: float | None
    rule: str
    version: str = VERSION


def expected_reading(reference: Decimal | float, decay_factor: float, conditions: float = 1.0) -> float:
    """The reading to expect now: R₀·2^(−Δt/T½), in the unit of the reference reading R₀ (net of background).

    `decay_factor` comes from `nuclides.decay_factor`; `conditions` brings R₀ to other air than its own where a chamber
    is vented and not compensated. Raises Trouble unless the answer is a number above zero.
    """
    expected = float(reference) * decay_factor * conditions
    if not (expected > 0 and math.isfinite(expected)):
        raise Trouble(
            f"the expected reading comes to {expected:g}, and nothing can be compared with that",
            allowed="a reference reading above zero, of a source that has not died away",
            do="Take a new reference reading with a source that still serves.",
        )
    return expected


def mean_reading(readings: Sequence[Decimal], background: Decimal = Decimal(0)) -> Decimal:
    """Mean of the readings less background, in their unit, to 50 figures. Raises Trouble for no readings."""
    _want_readings(readings)
    with localcontext(prec=50):
        return sum(readings, Decimal(0)) / len(readings) - background


def spread(readings: Sequence[Decimal]) -> float | None:
    """Largest less smallest reading, over the size of their mean as read (before background); None for a mean of 0."""
    _want_readings(readings)
    mean = abs(_mean(readings))
    return float(_range(readings) / mean) if mean else None


def agree(readings: Sequence[Decimal], within: Bound) -> bool:
    """Whether largest less smallest reading is within a spread limit: of the size of their mean, or absolute.

    Exact: a spread on the limit agrees. Raises Trouble for no readings.
    """
    _want_readings(readings)
    return _range(readings) <= within.at(abs(_mean(readings)))


def judge(
    observed: Decimal,
    expected: Decimal | float,
    limits: Limits,
    rule: Simple | Guarded,
    *,
    standard_uncertainty: float | None = None,
    exact: bool = False,
) -> Verdict:
    """Compare an observed reading with the expected one; both, and `standard_uncertainty`, in one unit.

    `exact` says that both figures are as typed, and compares without any allowance. Raises Trouble when there is
    nothing to compare with: figures that are none, limits that leave no reading to pass or would pass a dead
    instrument, a guarded rule without an uncertainty.
    """
    if exact and isinstance(expected, float):
        raise ValueError("an expected reading that is a float was computed and is not exact")
    seen, wanted = _fraction("observed", observed), _fraction("expected", expected)
    u = _usable(standard_uncertainty)
    lower, upper = _window(wanted, limits)
    guard = Fraction(0)
    if isinstance(rule, Guarded):
        guard = Fraction(guard_band(rule.false_accept, u, float(upper - lower)))
    least, most = lower + guard, upper - guard
    allowance = Fraction(0) if exact and not guard else EQUAL_WITHIN
    passed = _at_most(least, seen, allowance) and _at_most(seen, most, allowance)
    quiet = limits.warn is None or _at_most(abs(seen - wanted), limits.warn.at(wanted), allowance)
    return Verdict(
        passed=passed,
        warned=passed and not quiet,
        ratio=float(seen / wanted) if wanted else None,
        lower=float(lower),
        upper=float(upper),
        accept_lower=float(least),
        accept_upper=float(most),
        margin=float(min(seen - least, most - seen)),
        chance_outside=None if u is None else chance_outside(float(seen), float(lower), float(upper), u),
        rule="guarded" if isinstance(rule, Guarded) else "simple",
    )


def chance_outside(observed: float, lower: float, upper: float, standard_uncertainty: float) -> float:
    """The chance that the true value is below `lower` or above `upper`: normal about `observed`, all in one unit.

    Without any uncertainty it is 0 or 1.
    """
    if standard_uncertainty == 0:
        return 0.0 if lower <= observed <= upper else 1.0
    below = _STANDARD.cdf((lower - observed) / standard_uncertainty)
    above = _STANDARD.cdf((observed - upper) / standard_uncertainty)
    return min(1.0, below + above)


def guard_band(false_accept: float, standard_uncertainty: float | None, width: float) -> float:
    """How far each limit is drawn in, in the unit of the uncertainty; `width` is the distance between the limits.

    z·u with the one-sided normal z (1.645 u for 5 %, ILAC-G8:09/2019). Where the limits are so close that the far one
    adds to the chance, it is drawn in further, so that a wrong pass never has more than the stated chance. Raises
    Trouble when no reading is left that could pass, or when there is no uncertainty to go by.
    """
    if standard_uncertainty is None:
        raise Trouble(
            "a guarded rule needs the uncertainty of the reading, and a part of it is unknown",
            do="Use the simple rule, or state the uncertainty that is missing.",
        )

    def chance(guard: float) -> float:
        return chance_outside(guard, 0.0, width, standard_uncertainty)

    guard, most = -_STANDARD.inv_cdf(false_accept) * standard_uncertainty, width / 2
    if guard > most or chance(most) > false_accept:
        raise Trouble(
            f"with a standard uncertainty of {standard_uncertainty:.3g} no reading can pass: the limits meet",
            allowed="an uncertainty that is small against the distance between the limits",
            do="Take more readings, widen the limits, or use the simple rule.",
        )
    if chance(guard) <= false_accept * (1 + 1e-9):
        return guard
    for _ in range(60):
        between = (guard + most) / 2
        guard, most = (guard, between) if chance(between) <= false_accept else (between, most)
    return most


def _window(expected: Fraction, limits: Limits) -> tuple[Fraction, Fraction]:
    """The limits about an expected reading, in its unit; refused where they judge nothing."""
    lower, upper = expected + limits.low.at(expected), expected + limits.high.at(expected)
    if (limits.low.relative or limits.high.relative) and expected <= 0:
        raise Trouble(f"limits relative to an expected reading of {float(expected):g} leave nothing to compare with")
    if expected > 0 >= lower:
        raise Trouble(
            "the low limit would pass an instrument that does not respond",
            allowed=f"a low limit nearer to the expected {float(expected):g}",
        )
    return lower, upper


def _fraction(what: str, figure: Decimal | float) -> Fraction:
    if not math.isfinite(figure):
        raise Trouble(f"the {what} reading {figure} is no number that can be compared")
    return Fraction(figure)


def _usable(standard_uncertainty: float | None) -> float | None:
    if standard_uncertainty is not None and not 0 <= standard_uncertainty < math.inf:
        raise Trouble(f"a standard uncertainty of {standard_uncertainty} cannot be", allowed="zero or above")
    return standard_uncertainty


def _at_most(less: Fraction, more: Fraction, allowance: Fraction) -> bool:
    return less <= more or less - more <= allowance * max(abs(less), abs(more))


def _want_readings(readings: Sequence[Decimal]) -> None:
    if not readings:
        raise Trouble("there is no reading", allowed="one reading or more")
    for reading in readings:
        _fraction("observed", reading)


def _mean(readings: Sequence[Decimal]) -> Fraction:
    return sum(map(Fraction, readings), Fraction(0)) / len(readings)


def _range(readings: Sequence[Decimal]) -> Fraction:
    return Fraction(max(readings)) - Fraction(min(readings))
