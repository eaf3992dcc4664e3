"""The electrometer of an ion chamber: what it adds of its own to the current it measures.

All figures are referred to the input and stand in the unit of the scales, because that is what a person sees; the
closed set of units has no ampere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ZeroModel:
    """Zero of an electrometer. Levels in the unit of the scales, seconds, °C.

    `warm_up` is how far off it is when just switched on, fading with `warms`; `kick` the charge that letting the zero
    button go throws in, fading with `kick_fades`. `knob` is what one turn moves (0: none). `auto_after` are the seconds
    after which an instrument that sets its own zero does so (0: it does not).
    """

    offset: float = 0.0
    warm_up: float = 0.0
    warms: float = 1.0
    per_degree: float = 0.0
    at_degrees: float = 20.0
    kick: float = 0.0
    kick_fades: float = 1.0
    knob: float = 0.0
    button: bool = False
    auto_after: float = 0.0


@dataclass(frozen=True, slots=True)
class DesiccantModel:
    """Desiccant and what damp does: `leakage` is the false reading, in the unit of the scales, of a chamber all damp.

    `turning_at` and `spent_at` are the dampness (0 to 1) at which the gel changes colour; `dries` is the time constant
    with which fresh gel dries a chamber.
    """

    leakage: float
    turning_at: float
    spent_at: float
    dries: float
    fresh: str
    turning: str
    spent: str

    def colour(self, damp: float) -> str:
        """The gel as seen, at a dampness."""
        return self.spent if damp >= self.spent_at else self.turning if damp >= self.turning_at else self.fresh


def leakage(model: DesiccantModel | None, damp: float) -> float:
    """The false reading that damp makes: it rises with the fourth power of the dampness (an invented curve)."""
    return 0.0 if model is None else model.leakage * damp**4


def offset(model: ZeroModel, seconds_on: float, temperature_c: float) -> float:
    """What it shows with its input shorted and no knob turned, so many seconds after it was switched on."""
    warming = model.warm_up * math.exp(-seconds_on / model.warms)
    return model.offset + warming + model.per_degree * (temperature_c - model.at_degrees)


@dataclass(slots=True)
class Electrometer:
    """An electrometer in use: the current as it has been followed so far, and what is left of the last kick."""

    model: ZeroModel
    followed: float = 0.0
    kick: float = 0.0
    knob: float = 0.0
    shorted: bool = False
    auto: float = 0.0

    def advance(self, seconds: float, current: float, tau: float, kick_slow: float = 1.0) -> None:
        """First-order response with `tau` to the current, or to nothing while the zero button is down; exact."""
        aim = 0.0 if self.shorted else current
        self.followed = aim + (self.followed - aim) * math.exp(-seconds / tau)
        if self.kick:
            self.kick *= math.exp(-seconds / (self.model.kick_fades * kick_slow))

    def press(self) -> None:
        self.shorted, self.kick = True, 0.0

    def let_go(self) -> None:
        self.shorted, self.kick = False, self.model.kick

    def set_itself(self, seconds_on: float, temperature_c: float) -> None:
        """What an instrument without a zero control does some seconds after it was switched on."""
        self.auto = -offset(self.model, seconds_on, temperature_c)

    def shown(self, seconds_on: float, temperature_c: float, extra: float, *, knob_works: bool = True) -> float:
        """The reading, in the unit of the scales; `extra` is what faults and noise add."""
        knob = self.model.knob * self.knob if knob_works else 0.0
        own = offset(self.model, seconds_on, temperature_c) + self.auto + knob
        return self.followed + own + self.kick + extra
