"""Noise: one generator for each source of it, so that the same seed gives the same instrument whatever else is drawn.

The processes are exact in continuous time: cutting a second into steps of another size changes no law of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from random import Random


def stream(seed: int | str, name: str) -> Random:
    """The generator of one source of noise. Seeding by text goes through SHA-512 and is the same on every machine."""
    return Random(f"{seed}/{name}")


@dataclass(slots=True)
class Wander:
    """Noise with a memory of `tau` seconds and a standard deviation of 1 (Ornstein and Uhlenbeck 1930, from memory)."""

    random: Random
    value: float = 0.0

    def advance(self, seconds: float, tau: float) -> float:
        kept = math.exp(-seconds / tau)
        self.value = kept * self.value + math.sqrt(1 - kept * kept) * self.random.gauss(0.0, 1.0)
        return self.value


@dataclass(slots=True)
class Telegraph:
    """Something that comes and goes at random: a broken wire that touches now and then, a radio that is keyed.

    Mean lengths in seconds. It begins as not `on`; moments of change are drawn one after another, whatever the steps.
    """

    random: Random
    on: bool = False
    _left: float = -1.0

    def advance(self, seconds: float, mean_on: float, mean_off: float) -> bool:
        if self._left < 0:
            self._left = self.random.expovariate(1 / mean_off)
        self._left -= seconds
        while self._left < 0:
            self.on = not self.on
            self._left += self.random.expovariate(1 / (mean_on if self.on else mean_off))
        return self.on
