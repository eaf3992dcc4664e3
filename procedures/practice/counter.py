"""The pulse counter: random pulses, dead time, a ratemeter with its time constant, a scaler, and silence near too much.

Rates are pulses per second. Dead time is of the kind that is not prolonged by pulses within it (non-paralyzable):
m = n/(1 + nτ) (Knoll, Radiation Detection and Measurement, chapter 4; from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from random import Random
from typing import Final

MOST_SINGLE: Final = 30
"""Pulses of one step that are drawn one by one. Above, their number is drawn at once from a normal law."""

_HEARD_OVER: Final = 0.5
"""Seconds over which clicks are heard as a rate."""


@dataclass(frozen=True, slots=True)
class CounterModel:
    """A counter. Seconds and pulses per second.

    `per_unit` are the pulses a second at a reading of 1 in the unit of the scales. Above `silent_above` a tube no
    longer recovers between pulses and falls silent.
    """

    per_unit: float
    dead_time: float
    time_constant: float
    silent_above: float
    time_constants: tuple[tuple[str, float], ...] = ()

    def tau(self, scale: str) -> float:
        """The ratemeter's time constant on a scale, in seconds."""
        return dict(self.time_constants).get(scale, self.time_constant)


def registered(true_rate: float, dead_time: float) -> float:
    """Pulses registered a second out of `true_rate`: m = n/(1 + nτ)."""
    return true_rate / (1 + true_rate * dead_time)


def true_rate(registered_rate: float, dead_time: float) -> float:
    """The true rate behind a registered one: n = m/(1 − mτ), for mτ < 1."""
    return registered_rate / (1 - registered_rate * dead_time)


def awake(rate: float, silent_above: float) -> float:
    """The part of its pulses that a tube still gives: all of them well below `silent_above`, none far above.

    The way it falls is invented; that it falls is common practice, no source.
    """
    return 1 / (1 + (rate / silent_above) ** 6)


@dataclass(slots=True)
class Counter:
    """A counter in use. `rate` is what the ratemeter has followed, `heard` the clicks a second, `pulses` all so far."""

    random: Random
    quiet: bool = False
    rate: float = 0.0
    heard: float = 0.0
    pulses: float = 0.0
    _until_next: float = -1.0
    _blind: float = 0.0
    _begun: float = 0.0

    def advance(self, seconds: float, true: float, dead_time: float, tau: float) -> float:
        """Go on for a time at a true rate; gives the pulses registered in it.

        The ratemeter's answer is exact for pulses spread evenly over the step.
        """
        expected = registered(true, dead_time) * seconds
        if self.quiet:
            count = expected
        elif expected > MOST_SINGLE:
            # Renewal theory: dead time thins the scatter of counts, var = m·t/(1 + nτ)² (Müller 1973, from memory).
            spread = math.sqrt(expected) / (1 + true * dead_time)
            # What is left of a pulse goes into the next step, so that rounding adds no scatter of its own.
            self._begun += self.random.gauss(expected, spread)
            count = float(max(0, math.floor(self._begun)))
            self._begun -= count
        else:
            count = float(self._one_by_one(seconds, true, dead_time))
        self.pulses += count
        per_second = count / seconds
        self.rate = per_second + (self.rate - per_second) * math.exp(-seconds / tau)
        self.heard = per_second + (self.heard - per_second) * math.exp(-seconds / _HEARD_OVER)
        return count

    def _one_by_one(self, seconds: float, true: float, dead_time: float) -> int:
        """Each pulse at its own moment, so that other steps give the same pulses.

        `_until_next` is what is left of a unit exponential, used up at the true rate; `_blind` what is left of dead
        time, in seconds.
        """
        count, left = 0, seconds
        if self._until_next < 0:
            self._until_next = self.random.expovariate(1.0)
        while True:
            if self._blind > 0:
                blind = min(self._blind, left)
                self._blind -= blind
                left -= blind
                if self._blind > 0:
                    return count
            if true <= 0 or true * left < self._until_next:
                self._until_next -= true * left
                return count
            left -= self._until_next / true
            count += 1
            self._until_next = self.random.expovariate(1.0)
            self._blind = dead_time

    def stop(self) -> None:
        """Switched off: nothing is followed or heard."""
        self.rate = self.heard = 0.0
