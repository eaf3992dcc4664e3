"""One thing in which an instrument was compared with what is allowed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

INSIDE_SHARE: Final = 0.25
"""Part of the tolerance that counts as near its limit at most, seen from inside."""


@dataclass(frozen=True, slots=True)
class Measure:
    """One comparison. `size`, `low`, `high` and `error` are in `unit` ("" for a ratio or something merely seen).

    `error` is what a practised person may misread: half a division. `low` or `high` may be infinite.
    """

    name: str
    say: str
    size: float
    low: float
    high: float
    unit: str = ""
    error: float = 0.0

    @property
    def margin(self) -> float:
        """How far inside the limits it is; negative beyond them."""
        return min(self.size - self.low, self.high - self.size)

    @property
    def beyond(self) -> bool:
        return self.margin < 0

    @property
    def near(self) -> bool:
        """Whether a reading error may carry it over the limit."""
        if self.beyond:
            return -self.margin <= self.error
        return self.margin < min(self.error, INSIDE_SHARE * self._tolerance())

    def _tolerance(self) -> float:
        """Half of the width between the limits; with one limit alone, its distance from nothing."""
        width = self.high - self.low
        return width / 2 if math.isfinite(width) else abs(self.high if math.isfinite(self.high) else self.low)


def seen(name: str, say: str, *, good: bool, size: float = 1.0) -> Measure:
    """Something that is there or is not: beyond by its whole size, or right."""
    return Measure(name, say, 0.0 if good else size, 0.0, 0.0)
