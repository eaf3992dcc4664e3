"""Readings on a scale: taking one, what it says near zero, and what the proof must know of the scale."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from statistics import NormalDist
from typing import Any

from procedures.asks import Reading, ReadingAsk
from procedures.facts import Facts, ScaleFacts
from procedures.steps.base import InstrumentSpec, Problem
from procedures.steps.common import LOOK_AT_SCALE, Script, choose
from procedures.units import Quantity, kind_of, number_in


@dataclass(frozen=True, slots=True)
class Taken:
    """A reading as it was taken on a scale: in parts, as a figure in the unit of that scale, and when."""

    reading: Reading
    value: Decimal
    unit: str
    at: datetime

    @property
    def text(self) -> str:
        beyond = {"pegged": "off the end of the scale", "no response": "no response"}.get(self.reading.state)
        return beyond or f"{self.value:f} {self.unit}"


def read_scale(facts: Facts, scale: ScaleFacts, key: str, say: str, **rest: Any) -> Script[Taken]:
    """A reading on `scale`, asked again for as long as it was read with the selector elsewhere."""
    rest = {"look": LOOK_AT_SCALE} | rest
    wanted = scale.selector.name
    ask = ReadingAsk(key=key, say=say, selectors=tuple(s.selector for s in facts.scales), wanted=wanted, **rest)
    count = 1
    while True:
        answer = yield ask
        reading: Reading = answer.value
        if reading.selector == wanted:
            return Taken(reading, reading.value, reading.unit, answer.at)
        count += 1
        notice = f"That was read on {reading.selector}. Set the selector to {wanted}, let it settle, and read again."
        ask = replace(ask, key=f"{key}-again-{count}", notice=notice)


def from_zero(taken: Taken, scale: ScaleFacts, key: str) -> Script[Decimal | None]:
    """The signed size of a reading near zero in the unit of its scale; None when it cannot be said.

    A needle below the last mark has no figure to read, so its distance is asked for in divisions and taken at its
    most.
    """
    if taken.reading.state == "pegged":
        return None
    if taken.reading.state != "below zero" or taken.value != 0:
        return taken.value
    step = division(scale)
    if step is None:
        return None
    far = yield from choose(
        key,
        "How far below zero does the needle rest?",
        ("half a division", "Up to half a division"),
        ("one division", "Up to one division"),
        ("further", "Further, or on the stop"),
        look=LOOK_AT_SCALE,
    )
    return {"half a division": -step / 2, "one division": -step}.get(far)


def in_unit(quantity: Quantity, scale: ScaleFacts) -> Decimal:
    """A quantity in the unit of a scale. Trouble when it is of another kind."""
    return number_in(quantity, scale.selector.unit)


def division(scale: ScaleFacts) -> Decimal | None:
    """The smallest division of a scale, in its unit after multiplying; None for a display that states none."""
    return None if scale.selector.division is None else scale.selector.division * scale.selector.times


def on_scale(parameters_scale: str, spec: InstrumentSpec, **levels: Quantity | None) -> Iterator[Problem]:
    """Problems of a step that reads on a scale: an unknown scale, or levels of another kind than it shows."""
    scale = spec.scale(parameters_scale)
    if scale is None:
        known = ", ".join(each.selector.name for each in spec.scales)
        yield Problem("scale", f"there is no scale {parameters_scale!r} in this profile", known)
        return
    unit = scale.selector.unit
    for key, level in levels.items():
        if level is not None and level.unit != "%" and kind_of(level.unit) != kind_of(unit):
            yield Problem(key, f"{level} is another kind of quantity than scale {parameters_scale} shows", unit)


def chance_beyond(scale: ScaleFacts, declared: Quantity | None, limit: Quantity, *, change: bool) -> tuple[float, str]:
    """The chance that a healthy reading of nothing is beyond ±`limit`, and what was assumed.

    With a declared scatter it is normal. Without one it is read to the nearest division, uniform within half of one
    (GUM 4.3.7), so the `change` between two readings is triangular within one.
    """
    most = float(in_unit(limit, scale))
    if declared is not None:
        sigma = float(in_unit(declared, scale)) * (math.sqrt(2) if change else 1)
        chance = 2 * NormalDist().cdf(-most / sigma) if sigma > 0 else 0.0
        return chance, f"scatter of {declared} as declared"
    step = division(scale)
    if step is None:
        return 0.0, "no scatter, since neither scatter nor division is stated"
    share = most / float(step) if change else 2 * most / float(step)
    inside = max(0.0, 1 - share)
    return inside**2 if change else inside, "no scatter but that of reading to the nearest division"
