"""The controls: all that a person can do to an instrument on the bench, and where each stands."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from procedures.practice.face import BATTERY
from procedures.practice.model import Model
from procedures.trouble import Trouble

AWAY: Final = "away"
"""No source is in its jig."""

_WORDS: Final[Mapping[str, tuple[str, ...]]] = {
    "power": ("on", "off"),
    "battery": ("down", "up"),
    "zero": ("down", "up"),
    "light": ("on", "off"),
    "speaker": ("on", "off"),
    "slide": ("open", "closed"),
    "cover": ("covered", "room", "bright"),
    "place": ("bench", "elsewhere"),
    "test": ("down", "up"),
    "case": ("shut", "open"),
    "tap": ("once",),
    "seat": ("again",),
    "reset": ("press",),
}

_NUMBERS: Final[Mapping[str, tuple[float, float, str]]] = {
    "zero-knob": (-10, 10, "turns from the middle"),
    "further": (-100, 10_000, "millimetres further than the jig holds it"),
    "count": (1, 14_400, "seconds"),
    "alarm": (0, 1e9, "a level in the unit of the scales"),
}


@dataclass(slots=True)
class Controls:
    """Where each control stands."""

    power: bool = False
    selector: str = ""
    battery: bool = False
    zero: bool = False
    light: bool = False
    speaker: bool = True
    slide_open: bool = False
    cover: str = "room"
    place: str = "bench"
    test: bool = False
    case_open: bool = False
    source: str = AWAY
    further: float = 0.0

    @property
    def testing_battery(self) -> bool:
        return self.battery or self.selector == BATTERY


def controls_of(model: Model) -> Mapping[str, tuple[str, ...]]:
    """The controls that a model has, each with the words it takes; no words: it takes a number."""
    labels, parts = model.labels, model.parts
    there = {
        "battery": not model.battery.on_selector,
        "zero": "zero button" in labels,
        "light": parts.light,
        "speaker": parts.speaker,
        "slide": parts.slide,
        "test": parts.alarm is not None,
        "zero-knob": "zero knob" in labels,
        "count": parts.scaler,
        "alarm": parts.alarm is not None,
    }
    found = {name: words for name, words in _WORDS.items() if there.get(name, True)}
    found |= {name: () for name in _NUMBERS if there.get(name, True)}
    selector = tuple(each.selector.name for each in model.scales)
    found["selector"] = (*selector, BATTERY) if model.battery.on_selector else selector
    found["source"] = (AWAY, *(each.role for each in model.sources))
    return found


def understood(model: Model, control: str, value: str | float) -> str | float:
    """A value that this control takes. Raises Trouble for a control or a value that there is not."""
    there = controls_of(model)
    if control not in there:
        raise Trouble(f"this instrument has no control “{control}”", allowed=", ".join(sorted(there)))
    words = there[control]
    if words:
        if value not in words:
            raise Trouble(f"{control} cannot be “{value}”", allowed=", ".join(words))
        return value
    low, high, what = _NUMBERS[control]
    if isinstance(value, str) or not math.isfinite(value) or not low <= value <= high:
        raise Trouble(f"{control} cannot be {value}", allowed=f"{low:g} to {high:g} {what}")
    return float(value)
