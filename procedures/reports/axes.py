"""The two axes of a plot: from where to where they go, and which round values and dates stand on them."""

from __future__ import annotations

import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, tzinfo
from itertools import pairwise
from typing import Final

DAY: Final = 86400.0
MOST_DAYS: Final = 6
"""Dates that have room on the axis."""
_AROUND: Final = 0.06
"""Part of the range that is left free at either end."""
_LARGEST: Final = sys.float_info.max


@dataclass(frozen=True, slots=True)
class Axis:
    """From `low` to `high`, finite and apart; `ticks` are values between them with what they are called."""

    low: float
    high: float
    ticks: tuple[tuple[float, str], ...]

    def part(self, value: float) -> float:
        """Where a value lies: 0 at `low`, 1 at `high`, never outside."""
        # Halves first: the difference of two numbers near the largest there is would be infinite.
        where = (value / 2 - self.low / 2) / (self.high / 2 - self.low / 2)
        return min(1.0, max(0.0, where))


def value_axis(values: Sequence[float], wanted: int = 8) -> Axis:
    """An axis that holds all of these finite values, with three to some `wanted` round ones on it."""
    least, most = (min(values), max(values)) if values else (0.0, 1.0)
    around = (most / 2 - least / 2) * 2 * _AROUND
    if not math.isfinite(around) or around <= abs(most) * 1e-12:
        around = abs(most) * 0.1 or 1.0
    low, high = max(least - around, -_LARGEST), min(most + around, _LARGEST)
    return Axis(low, high, _round_ticks(low, high, wanted))


def _round_ticks(low: float, high: float, wanted: int) -> tuple[tuple[float, str], ...]:
    rough = high / wanted - low / wanted
    power = math.floor(math.log10(rough))
    if power < -300:
        return ((low, f"{low:.3g}"), (high, f"{high:.3g}"))
    step = next((factor * 10.0**power for factor in (1, 2, 5) if factor * 10.0**power >= rough), 10.0 ** (power + 1))
    first, last = math.ceil(low / step), math.floor(high / step)
    plain = step > 1e-5 and max(abs(low), abs(high)) < 1e7
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    return tuple(
        (number * step, f"{number * step:.{places}f}" if plain else f"{number * step:.4g}")
        for number in range(first, min(last, first + 3 * wanted) + 1)
        if low <= number * step <= high
    )


def seconds(moment: datetime) -> float:
    """A moment as a place on the time axis: seconds, through every change of clocks."""
    return moment.timestamp()


def time_axis(moments: Sequence[datetime]) -> Axis:
    """An axis that holds all of these moments, with local midnights on it, or times of day where there are few days."""
    if not moments:
        return Axis(0.0, 1.0, ())
    places = [seconds(each) for each in moments]
    least, most = min(places), max(places)
    around = (most - least) * _AROUND / 2 or DAY / 2
    low, high = least - around, most + around
    zone = moments[0].tzinfo or UTC
    return Axis(low, high, _days(low, high, zone) if high - low >= 4 * DAY else _times(low, high, zone))


def _days(low: float, high: float, zone: tzinfo) -> tuple[tuple[float, str], ...]:
    first, last = (datetime.fromtimestamp(edge, zone).toordinal() for edge in (low, high))
    step = max(1, math.ceil((last - first) / MOST_DAYS))
    days = (date.fromordinal(number) for number in range(first, last + 1, step))
    ticks = ((datetime.combine(day, time(), zone).timestamp(), day.isoformat()) for day in days)
    return tuple((place, say) for place, say in ticks if low <= place <= high)


def _times(low: float, high: float, zone: tzinfo) -> tuple[tuple[float, str], ...]:
    places = [low + (high - low) * number / 4 for number in range(5)]
    said = [f"{datetime.fromtimestamp(place, zone):%m-%d %H:%M}" for place in places]
    new = [True, *(one != other for one, other in pairwise(said))]
    return tuple((place, say) for place, say, is_new in zip(places, said, new, strict=True) if is_new)
