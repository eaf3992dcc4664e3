"""From the state of a simulated instrument to its face: what is printed, what is seen, what is heard."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cache
from typing import Final

from procedures.asks import Selector
from procedures.facts import ScaleFacts
from procedures.practice.controls import AWAY, Controls
from procedures.practice.effects import Effects
from procedures.practice.face import BATTERY, BatteryFace, Look, NeedleFace
from procedures.practice.model import Model

CALIBRATED_FOR: Final = timedelta(days=365)
"""From a calibration to the next: calibrate every 12 months (10 CFR 35.61, read)."""

_MOST_FIGURES: Final = 7


@cache
def figures(top: Decimal) -> tuple[tuple[float, str], ...]:
    """The figures printed on a scale from 0 to `top`: by 1, 2 or 5, so that there are few enough to be read."""
    power = Decimal(10) ** (top.adjusted() - 1)
    step = next(s * p for p in (power, power * 10) for s in map(Decimal, (1, 2, 5)) if top / (s * p) < _MOST_FIGURES)
    count = int(top / step)
    return tuple((float(n * step / top), f"{(n * step).normalize():f}") for n in range(count + 1))


def divisions(selector: Selector) -> int:
    """How many divisions a scale has."""
    assert selector.top is not None
    assert selector.division is not None
    return int(selector.top / selector.division)


@dataclass(frozen=True, slots=True)
class Heard:
    """What comes from the instrument beside its indicator."""

    lamps: tuple[str, ...]
    sounds: tuple[str, ...]
    clicks: float
    pulses: int


def needle_face(scale: ScaleFacts | None, position: float) -> NeedleFace:
    """The needle over the scale that is selected; with none it is over a bare one of marked places."""
    if scale is None or scale.selector.top is None:
        return NeedleFace(position, (), 0)
    return NeedleFace(position, figures(scale.selector.top), divisions(scale.selector))


def battery_face(model: Model, volts: float) -> BatteryFace:
    """What the battery test shows; a needle's own place is told by the needle."""
    battery = model.battery
    if model.needle is not None and battery.reads == "places":
        return BatteryFace(battery.places, tuple(edge / battery.full for edge in battery.edges))
    if model.needle is not None and battery.reads == "volts":
        return BatteryFace(full_volts=battery.full, division=battery.division, unit="V")
    if battery.reads == "percent":
        return BatteryFace(text=f"{math.floor(battery.percent(volts) + 0.5)}", unit="%", division=1.0)
    step = Decimal(repr(battery.division))
    shown = (Decimal(repr(volts)) / step).quantize(Decimal(1)) * step
    return BatteryFace(text=f"{shown:f}", unit="V", division=battery.division)


def look_of(model: Model, effects: Effects, controls: Controls, gel_damp: float, calibrated: datetime) -> Look:
    """What is seen by somebody who looks now: a window only when no slide is before it."""
    parts = model.parts
    label: date | None = None if effects.label else calibrated.date()
    window = effects.window if parts.window and (controls.slide_open or not parts.slide) else ""
    return Look(
        case=effects.case,
        cable=effects.cable if parts.cable else "",
        window=window,
        desiccant=model.desiccant.colour(gel_damp) if model.desiccant is not None else "",
        outside=effects.outside,
        calibrated=label,
        due=label + CALIBRATED_FOR if label is not None else None,
        remarks=effects.remarks,
    )


def held_of(controls: Controls) -> tuple[str, ...]:
    """The buttons kept down."""
    down = {"battery": controls.battery, "zero": controls.zero, "test": controls.test}
    return tuple(name for name, held in down.items() if held)


def slide_of(model: Model, controls: Controls) -> str:
    if not model.parts.slide:
        return ""
    return "open" if controls.slide_open else "closed"


def selector_of(model: Model, controls: Controls) -> Selector | None:
    """The position of the selector; None at the battery test."""
    if controls.selector == BATTERY:
        return None
    return model.scale(controls.selector).selector


def source_of(controls: Controls) -> str:
    return "" if controls.source == AWAY else controls.source
