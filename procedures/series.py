"""A series of readings of one source: mean, scatter, and how well the mean is known; and one source read against
another by turns.

Readings are figures in one unit. Uncertainties are standard uncertainties, combined as the root sum of squares
(JCGM 100:2008, the GUM, 5.1.2). What nobody here can state (how well source and instrument sit in their places, the
scatter of a background that was read once) is in none of them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction
from typing import Final

from procedures.acceptance import EQUAL_WITHIN
from procedures.trouble import Trouble
from procedures.uncertainty import Budget, combine, from_division

FEWEST: Final = 3
"""Readings of a series: the scatter of fewer says nothing. Common practice, no source; ten are wanted."""


@dataclass(frozen=True, slots=True)
class Series:
    """Repeated readings in one unit, and the background that is taken off each."""

    readings: tuple[Decimal, ...]
    background: Decimal | None = None

    def __post_init__(self) -> None:
        if len(self.readings) < FEWEST:
            raise Trouble(
                f"{len(self.readings)} readings are too few", allowed=f"at least {FEWEST}", do="Take ten readings."
            )
        if self.net_exact <= 0:
            raise Trouble("the mean less background is not above zero", do="Look at the source and its place.")

    @property
    def mean_exact(self) -> Fraction:
        """Mean of the readings as read."""
        return sum(map(Fraction, self.readings), Fraction(0)) / len(self.readings)

    @property
    def net_exact(self) -> Fraction:
        """Mean of the readings less background."""
        return self.mean_exact - Fraction(self.background or 0)

    @property
    def variance_exact(self) -> Fraction:
        """Experimental variance of the readings: Σ(x − mean)²/(n − 1) (GUM 4.2.2)."""
        mean = self.mean_exact
        return sum(((Fraction(x) - mean) ** 2 for x in self.readings), Fraction(0)) / (len(self.readings) - 1)

    @property
    def net(self) -> Decimal:
        """Mean less background, to 28 figures."""
        return decimal_of(self.net_exact)

    @property
    def stdev(self) -> float:
        """Experimental standard deviation of one reading, in the unit."""
        return math.sqrt(self.variance_exact)

    @property
    def cv(self) -> float:
        """Coefficient of variation: the standard deviation over the mean less background, as a fraction.

        Over the net mean, which is what the reference is: a background that hides a weak source makes it larger.
        """
        return self.stdev / float(self.net_exact)

    def varies_at_most(self, percent: Decimal) -> bool:
        """Whether the coefficient of variation is at most so many percent; on the limit it is. Exact."""
        return self.variance_exact * 10_000 <= (Fraction(percent) * self.net_exact) ** 2

    def parts(self, division: Decimal | None = None) -> dict[str, float | None]:
        """What the mean's uncertainty is made of, in the unit.

        scatter: s/√n (GUM 4.2.3). division, background_division: d/√12 each, of a scale read to one division d (GUM
        4.3.7): once for the mean, whose readings share it, and once for the background.
        """
        parts: dict[str, float | None] = {"scatter": self.stdev / math.sqrt(len(self.readings))}
        if division is not None:
            parts["division"] = from_division(division)
            if self.background is not None:
                parts["background_division"] = from_division(division)
        return parts

    def budget(self, division: Decimal | None = None) -> Budget:
        """The standard uncertainty of the mean less background, in the unit."""
        return combine(self.parts(division))


@dataclass(frozen=True, slots=True)
class Carried:
    """A reference reading that was carried over to another source.

    `value` is in the unit of the readings. `ratio` is new over old; `pair_cv` is the coefficient of variation of the
    ratios of single pairs. `parts` are relative standard uncertainties by name, `relative_u` their combination.
    """

    value: Decimal
    ratio: float
    pair_cv: float
    relative_u: float
    parts: Mapping[str, float]


def carried(
    expected: float,
    known: Mapping[str, float],
    old: Series,
    new: Series,
    division: Decimal | None = None,
) -> Carried:
    """The reference of a new source from readings of both by turns: expected · mean(new net)/mean(old net).

    `expected` is what the old source gives today by its own reference, in the unit; `known` are the parts of its
    relative standard uncertainty (its reference's own, its half-life's). The ratio's own is that of both means in
    quadrature, as for a quotient of independent means (GUM 5.1.6). Drift during the readings is common to both of a
    pair and makes the pairs agree better than that; where they agree worse, their scatter s/√n counts instead. Raises
    Trouble for series of different length, and for a pair whose old reading is not above background.
    """
    if len(old.readings) != len(new.readings):
        raise Trouble("both sources have to be read equally often", do="Read them by turns, pair by pair.")
    ratios = pair_ratios(old, new)
    mean = sum(ratios, Fraction(0)) / len(ratios)
    if mean <= 0:
        raise Trouble("the new source shows nothing against the old one", do="Look at the source and its place.")
    scatter = math.sqrt(sum(((each - mean) ** 2 for each in ratios), Fraction(0)) / (len(ratios) - 1))
    ratio = new.net_exact / old.net_exact
    of_means = {
        f"{name}_{part}": (u or 0.0) / float(series.net_exact)
        for name, series in (("old", old), ("new", new))
        for part, u in series.parts(division).items()
    }
    both = math.hypot(of_means["old_scatter"], of_means["new_scatter"])
    of_pairs = scatter / math.sqrt(len(ratios)) / float(mean)
    if of_pairs > both:
        del of_means["old_scatter"], of_means["new_scatter"]
        of_means["pairs"] = of_pairs
    if known.keys() & of_means.keys():
        raise ValueError("what is known of the old source goes by names of its own")
    parts = {**known, **of_means}
    return Carried(
        value=decimal_of(Fraction(expected) * ratio),
        ratio=float(ratio),
        pair_cv=scatter / float(mean),
        relative_u=combine(parts).standard,
        parts=parts,
    )


def pair_ratios(old: Series, new: Series) -> tuple[Fraction, ...]:
    """New over old, net of background, pair by pair. Raises Trouble for an old reading not above background."""
    ratios = []
    for first, second in zip(old.readings, new.readings, strict=True):
        below = Fraction(first) - Fraction(old.background or 0)
        if below <= 0:
            raise Trouble(
                f"{first:f} from the old source is not above background", do="Look at the source and its place."
            )
        ratios.append((Fraction(second) - Fraction(new.background or 0)) / below)
    return tuple(ratios)


def changed_by(ratio: float, percent: Decimal) -> bool:
    """Whether a ratio is further from 1 than so many percent; equal within 1e-9 is on the limit, and not further."""
    off = abs(Fraction(ratio) - 1)
    return off - Fraction(percent) / 100 > EQUAL_WITHIN


def decimal_of(figure: Fraction) -> Decimal:
    """A fraction as a decimal figure, rounded to 28 figures."""
    with localcontext(prec=28):
        return Decimal(figure.numerator) / Decimal(figure.denominator)
