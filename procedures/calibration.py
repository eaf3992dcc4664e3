"""Calibrations: whether an instrument read within tolerance at the points of its certificate.

Comparisons are made on exact fractions of the figures as they were typed; a difference exactly on the tolerance is
within (10 CFR 35.61(b): an instrument may not be used if indicated and calculated values differ by *more* than 20 %).
This is the tolerance of a calibration. It is not the limit of the daily check with a source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final, Literal

from procedures.trouble import Trouble

AsFound = Literal["within", "outside", "not recorded"]

AS_FOUND: Final[tuple[AsFound, ...]] = ("within", "outside", "not recorded")

MOST_PERCENT: Final = Decimal(100)


@dataclass(frozen=True, slots=True)
class Point:
    """One point of a calibration: a scale, what the standard gave, and what the instrument read, all in `unit`.

    `as_found` is before, `as_left` after adjusting; None where the certificate gives none. An instrument that was not
    adjusted was left as it was found. Raises Trouble unless there is a standard above zero and a reading.
    """

    scale: str
    standard: Decimal
    as_found: Decimal | None
    as_left: Decimal | None
    unit: str

    def __post_init__(self) -> None:
        figures = [each for each in (self.standard, self.as_found, self.as_left) if each is not None]
        if not all(each.is_finite() for each in figures):
            raise Trouble("a figure of the calibration is no number", where=self.scale)
        if self.standard <= 0:
            raise Trouble(
                f"a standard of {self.standard:f} {self.unit} is nothing to compare with",
                where=self.scale,
                allowed="above zero",
                do="Enter what the standard gave at this point.",
            )
        if self.as_found is None and self.as_left is None:
            raise Trouble(
                f"the point at {self.standard:f} {self.unit} has no reading",
                where=self.scale,
                allowed="a reading as found, as left, or both",
                do="Enter what the instrument read, or take the line out.",
            )

    @property
    def left(self) -> Decimal:
        """What it read when it was given back."""
        left = self.as_found if self.as_left is None else self.as_left
        assert left is not None
        return left


def percent_off(reading: Decimal, standard: Decimal) -> Fraction:
    """How far a reading is from the standard's value, in percent of the latter, exactly: (reading − standard)/standard.

    `standard` is above zero, both are in one unit.
    """
    return 100 * (Fraction(reading) / Fraction(standard) - 1)


def is_within(reading: Decimal, standard: Decimal, tolerance: Decimal) -> bool:
    """Whether a reading differs by no more than `tolerance` percent of the standard's value; on the limit it does not.

    10 CFR 35.61(b). Exact.
    """
    return abs(percent_off(reading, standard)) <= Fraction(tolerance)


def as_found_of(points: Sequence[Point], tolerance: Decimal) -> AsFound:
    """What an instrument was found to be, before it was adjusted, over all points of its certificate.

    One point outside is enough for "outside". "within" needs a reading as found on every point.
    """
    found = [point for point in points if point.as_found is not None]
    if any(not is_within(point.as_found, point.standard, tolerance) for point in found if point.as_found is not None):
        return "outside"
    return "within" if points and len(found) == len(points) else "not recorded"


def left_outside(points: Sequence[Point], tolerance: Decimal) -> tuple[Point, ...]:
    """The points at which the instrument was given back out of tolerance."""
    return tuple(point for point in points if not is_within(point.left, point.standard, tolerance))


def percent_shown(off: Fraction, places: int = 2) -> str:
    """A difference in percent as people read it: "+3.25 %".

    Rounded for showing only, and then away from zero: one that is out of tolerance is never shown as on the limit.
    """
    shift = 10**places
    scaled = abs(off) * shift
    whole = -(-scaled.numerator // scaled.denominator)
    figure = Decimal(whole).scaleb(-places)
    sign = "" if not whole else "-" if off < 0 else "+"
    text = f"{figure:f}"
    return f"{sign}{text.rstrip('0').rstrip('.') if '.' in text else text} %"
