"""Standard uncertainty of a response check: its parts, and their root sum of squares (JCGM 100:2008, the GUM).

All parts are standard uncertainties in the unit of the reading.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from statistics import stdev

from procedures.trouble import Trouble


@dataclass(frozen=True, slots=True)
class Budget:
    """The parts by name, their combination, and the names of parts that nobody could state."""

    standard: float
    parts: tuple[tuple[str, float], ...]
    unknown: tuple[str, ...]


def combine(parts: Mapping[str, float | None]) -> Budget:
    """Combine independent standard uncertainties in one unit: root sum of squares (GUM 5.1.2).

    A part that is None is unknown: it is left out of the sum and named. Raises Trouble for a part that cannot be.
    """
    for name, part in parts.items():
        if part is not None and not 0 <= part < math.inf:
            raise Trouble(f"a standard uncertainty of {part} from {name} cannot be", allowed="zero or above")
    known = tuple((name, part) for name, part in parts.items() if part is not None)
    unknown = tuple(name for name, part in parts.items() if part is None)
    return Budget(math.hypot(*(part for _, part in known)), known, unknown)


def from_division(division: Decimal | float) -> float:
    """Of a scale read to one division d: uniform within it, d/√12 (GUM 4.3.7).

    It enters once, not over √n: the same needle between the same marks is misread the same way each time.
    """
    return float(division) / math.sqrt(12)


def from_scatter(readings: Sequence[Decimal]) -> float | None:
    """Of the mean of repeated readings: s/√n (GUM 4.2.3). None for a single reading, which shows no scatter.

    For counts give either this or the counting statistics, the larger one: scatter holds the counting statistics.
    """
    return stdev(map(float, readings)) / math.sqrt(len(readings)) if len(readings) > 1 else None


def from_relative(value: Decimal | float, relative: float | None) -> float | None:
    """Of a value known to a fraction of itself: the reference reading's, the half-life's. None stays unknown."""
    return None if relative is None else abs(float(value)) * relative
