"""Trends: whether readings move along a straight line, when that line would meet a limit, and readings too alike.

A forecast is a warning to look closer, never a permission to go on until then.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Final

from procedures.distributions import student_t_quantile
from procedures.trouble import Trouble

FEWEST_FOR_A_TREND: Final = 5
"""Readings before a straight line is worth anybody's attention. Common practice, no source."""

ALIKE_FROM: Final = 5
"""Readings running that are the same to the last figure before they are reported. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line through readings by least squares: `center` + `slope`·(x − `mid`), x in days.

    `residual` is the standard deviation about it, `spread` the sum of squared distances from `mid`.
    """

    mid: float
    center: float
    slope: float
    residual: float
    spread: float
    count: int

    def at(self, x: float) -> float:
        return self.center + self.slope * (x - self.mid)


@dataclass(frozen=True, slots=True)
class NoTrend:
    """Why no date can be given, in words."""

    say: str


@dataclass(frozen=True, slots=True)
class Crossing:
    """When the line would meet `limit`, in days as the readings' times are: most likely, and between which days.

    The days are where the limits of confidence of the line meet it. `earliest` may be before the last reading.
    """

    limit: float
    earliest: float
    expected: float
    latest: float
    line: Line
    confidence: float


def fit(days: Sequence[float], values: Sequence[float]) -> Line | NoTrend:
    """The least-squares line of `values` over `days`. No line through fewer than three readings, or through one day."""
    if len(days) != len(values):
        raise ValueError("as many days as values are wanted")
    if len(days) < 3:
        return NoTrend(f"{len(days)} readings show no trend")
    mid, center = fmean(days), fmean(values)
    spread = math.fsum((x - mid) ** 2 for x in days)
    if not spread > 0:
        return NoTrend("all readings are of the same moment")
    slope = math.fsum((x - mid) * (y - center) for x, y in zip(days, values, strict=True)) / spread
    squares = math.fsum((y - center - slope * (x - mid)) ** 2 for x, y in zip(days, values, strict=True))
    return Line(mid, center, slope, math.sqrt(squares / (len(days) - 2)), spread, len(days))


def forecast(
    days: Sequence[float],
    values: Sequence[float],
    *,
    lower: float | None,
    upper: float | None,
    confidence: float = 0.95,
    fewest: int = FEWEST_FOR_A_TREND,
) -> Crossing | NoTrend:
    """When a straight line through the readings would meet the limit that it runs towards, or why that cannot be said.

    There is a trend when the slope differs from 0 at the two-sided `confidence` (Student's t on n − 2 degrees). Then
    the days are those at which the confidence limits of the line meet the limit (inverse regression, Fieller 1954),
    and both exist.
    """
    if not 0 < confidence < 1:
        raise Trouble(f"a confidence of {confidence} cannot be", allowed="above 0 and below 1", do="Write 0.95.")
    if len(days) < fewest:
        return NoTrend(f"no trend can be told yet: {len(days)} of at least {fewest} readings")
    line = fit(days, values)
    if isinstance(line, NoTrend):
        return line
    unsure = student_t_quantile((1 + confidence) / 2, line.count - 2) * line.residual
    if not abs(line.slope) * math.sqrt(line.spread) > unsure:
        return NoTrend("no trend: the readings scatter more than they move")
    limit = upper if line.slope > 0 else lower
    if limit is None:
        return NoTrend("a trend, but no limit on the side to which it runs")
    earliest, latest = _confident(line, limit, unsure)
    return Crossing(limit, earliest, line.mid + (limit - line.center) / line.slope, latest, line, confidence)


def _confident(line: Line, limit: float, unsure: float) -> tuple[float, float]:
    """The two x at which (line − limit)² = unsure²·(1/n + (x − mid)²/spread)."""
    off = limit - line.center
    a = line.slope**2 - unsure**2 / line.spread
    b = line.slope * off
    c = off**2 - unsure**2 / line.count
    root = math.sqrt(max(0.0, b * b - a * c))
    return line.mid + (b - root) / a, line.mid + (b + root) / a


@dataclass(frozen=True, slots=True)
class Alike:
    """A run of readings that are the same to the last figure: where it begins (from 0) and how many there are."""

    first: int
    count: int


def alike(readings: Sequence[Hashable], at_least: int = ALIKE_FROM) -> tuple[Alike, ...]:
    """Every run of `at_least` readings or more that are equal. Instruments scatter: such readings may be made up."""
    runs: list[Alike] = []
    first = 0
    for at in range(1, len(readings) + 1):
        if at == len(readings) or readings[at] != readings[first]:
            if at - first >= at_least:
                runs.append(Alike(first, at - first))
            first = at
    return tuple(runs)
