"""Counts: net of background, pooled over a recount, and how many are enough.

Counts follow Poisson statistics, so a count is its own variance. All counts are pulses, all times seconds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from procedures.trouble import Trouble


@dataclass(frozen=True, slots=True)
class Count:
    """Pulses counted in so many seconds. Raises Trouble for counts below zero or no time."""

    counts: int
    seconds: float

    def __post_init__(self) -> None:
        if self.counts < 0:
            raise Trouble(f"{self.counts} counts cannot be", allowed="0 or more")
        if not 0 < self.seconds < math.inf:
            raise Trouble(f"a counting time of {self.seconds} s cannot be", allowed="more than 0 s")

    @property
    def rate(self) -> float:
        """Counts per second."""
        return self.counts / self.seconds


@dataclass(frozen=True, slots=True)
class NetCount:
    """A gross count less its background: counts, their standard uncertainty, and the seconds of the gross count."""

    counts: float
    uncertainty: float
    seconds: float

    @property
    def rate(self) -> float:
        """Net counts per second."""
        return self.counts / self.seconds

    @property
    def rate_uncertainty(self) -> float:
        """Standard uncertainty of the net rate, per second."""
        return self.uncertainty / self.seconds

    def is_enough(self, minimum: float) -> bool:
        """Whether there are at least `minimum` net counts; exactly as many are enough."""
        return self.counts >= minimum


def net_count(gross: Count, background: Count) -> NetCount:
    """Net counts G − B·t_G/t_B, with standard uncertainty √(G + B·(t_G/t_B)²) (Poisson, propagation of variances)."""
    scale = gross.seconds / background.seconds
    net = gross.counts - background.counts * scale
    return NetCount(net, math.sqrt(gross.counts + background.counts * scale**2), gross.seconds)


def pooled(first: Count, recount: Count) -> Count:
    """A count and its recount taken as one longer count: neither is chosen, both are added."""
    return Count(first.counts + recount.counts, first.seconds + recount.seconds)
