"""The needle: it has inertia, it overshoots a little, and it can stick."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class NeedleModel:
    """A needle. `period` in seconds is that of its swing without damping, `damping` a part of critical, below 1.

    `low_stop` and `high_stop` are where it cannot go on, as fractions of the scale.
    """

    period: float
    damping: float
    low_stop: float = -0.05
    high_stop: float = 1.05


@dataclass(slots=True)
class Needle:
    """A needle in use: its position as a fraction of the scale, and its speed per second."""

    model: NeedleModel
    position: float = 0.0
    speed: float = 0.0

    def advance(self, seconds: float, target: float, *, slow: float = 1.0, sticks: float = 0.0) -> None:
        """Follow a target for a time. Second order, damped, exact for a target that stays.

        `slow` multiplies the period. `sticks` is how far, in fractions of the scale, the target must be away before a
        needle at rest comes free, and within which a slow one is caught again.
        """
        aim = min(max(target, self.model.low_stop), self.model.high_stop)
        away = self.position - aim
        if sticks and abs(away) <= sticks and abs(self.speed) * self.model.period < sticks:
            self.speed = 0.0
            return
        natural = 2 * math.pi / (self.model.period * slow)
        damping = self.model.damping * natural
        swing = natural * math.sqrt(1 - self.model.damping**2)
        fade = math.exp(-damping * seconds)
        c, s = math.cos(swing * seconds), math.sin(swing * seconds)
        push = (self.speed + damping * away) / swing
        self.position = aim + fade * (away * c + push * s)
        self.speed = fade * (self.speed * c - (damping * push + swing * away) * s)
        if not self.model.low_stop <= self.position <= self.model.high_stop:
            self.position = min(max(self.position, self.model.low_stop), self.model.high_stop)
            self.speed = 0.0
