"""What a face says to an ask: the answer that somebody gives who looks at it and reads as well as anybody."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any, Final

from procedures.air import pressure_at_altitude
from procedures.asks import Acknowledge, Ask, Choice, DateAsk, Place, QuantityAsk, Reading, ReadingAsk, Scan
from procedures.practice.face import Face
from procedures.practice.kit import Kit
from procedures.practice.observing import battery_figure, battery_place, below_zero, read
from procedures.profile.load import Loaded
from procedures.steps.base import seconds
from procedures.steps.common import CANNOT_SEE
from procedures.trouble import Trouble
from procedures.units import Quantity, number_in

ON_ZERO: Final = 0.5
"""Divisions from zero within which a needle is said to rest on it: half a division, as finely as it is read."""

_AGAIN: Final = re.compile(r"(-again(-\d+)?|-anew|-2)$")
_SAME: Final = 0.3
"""Part by which a background may differ between two places and still be about the same: a judgement, no source."""
_QUICKEN: Final = 1.5
_HEARD: Final = 0.1


@dataclass(frozen=True, slots=True)
class Sight:
    """A face, and what somebody who looks at it knows: type of instrument, step, and what was read before.

    `kept` are earlier readings of this checkout by the first word of their ask's key, and "clicks" those with no source
    near. `misread` is the error of a reading in divisions. `was_off`: switched off since it was said to be on.
    """

    face: Face
    kit: Kit
    step: Any
    kept: Mapping[str, float] = field(default_factory=dict)
    misread: float = 0.0
    was_off: bool = False


def steps_by_id(profile: Loaded) -> dict[str, Any]:
    """The parameters of the steps."""
    return {each.id: each for each in profile.profile.step}


def plain_key(key: str) -> str:
    """The key of an ask without what says that it is asked again."""
    return _AGAIN.sub("", key)


def seconds_of(step: Any, name: str) -> float:
    """A duration of a step in seconds, 0 when it has none."""
    value = getattr(step, name, None)
    return 0.0 if value is None else seconds(value)


def figure(face: Face) -> float | None:
    """Where the indicator is, in divisions or last digits; None when it is dark or shows no figure."""
    if face.needle is not None:
        return face.needle.position * face.needle.divisions if face.needle.divisions else None
    if face.digits is None or face.selector is None:
        return None
    try:
        return float(Decimal(face.digits.text) / (face.selector.division or 1))
    except ArithmeticError:
        return None


def answer(ask: Ask, sight: Sight) -> Any:
    """The answer, of the form that the ask takes."""
    match ask:
        case Scan():
            return ask.due
        case Acknowledge():
            return True
        case Choice():
            return _choice(ask, sight)
        case Place():
            try:
                return battery_place(sight.face)
            except Trouble:
                return ask.places[0]
        case QuantityAsk():
            return _quantity(ask, sight)
        case DateAsk():
            look = sight.face.look
            return look.due if getattr(sight.step, "label", "due") == "due" else look.calibrated
        case ReadingAsk():
            return reading(ask, sight.face, sight.misread)
    return "-"


# --- readings ------------------------------------------------------------------------------------------------------


def reading(ask: ReadingAsk, face: Face, misread: float = 0.0) -> Reading:
    """The reading of a face as the ask takes it, misread by so many divisions."""
    try:
        seen = read(_shifted(face, misread))
    except Trouble:
        # Nothing can be read: the selector is elsewhere, or the face is bare. Nothing is what is entered.
        name = ask.wanted or ask.selectors[0].name
        seen = Reading(name, Decimal(0), Decimal(1), "", "no response")
    selector = next((each for each in ask.selectors if each.name == seen.selector), ask.selectors[0])
    taken = replace(seen, selector=selector.name, times=selector.times, unit=selector.unit)
    if taken.state != "on scale" and taken.state not in ask.beyond:
        return replace(taken, figure=Decimal(0), state="on scale")
    if ask.whole and taken.figure % 1:
        return replace(taken, figure=taken.figure // 1)
    return taken


def _shifted(face: Face, divisions: float) -> Face:
    if not divisions:
        return face
    if face.needle is not None and face.needle.divisions:
        needle = replace(face.needle, position=face.needle.position + divisions / face.needle.divisions)
        return replace(face, needle=needle)
    at = figure(face)
    if at is None or face.digits is None or face.selector is None:
        return face
    moved = Decimal(max(0, round(at + divisions))) * (face.selector.division or 1)
    return replace(face, digits=replace(face.digits, text=f"{moved:f}"))


# --- figures beside the indicator ----------------------------------------------------------------------------------


def _quantity(ask: QuantityAsk, sight: Sight) -> tuple[Decimal, str]:
    face, unit = sight.face, ask.units[0]
    match plain_key(ask.key):
        case "battery":
            try:
                return battery_figure(face)
            except Trouble:
                return Decimal(0), unit
        case "temperature":
            return _rounded(face.room.temperature_c, 1), "°C"
        case "pressure":
            return _rounded(face.room.pressure_kpa, 1), "kPa"
        case "altitude":
            return _rounded(_altitude(face.room.pressure_kpa), 0), "m"
        case "humidity":
            return _rounded(face.room.humidity, 0), "%"
        case "set-point":
            at = Quantity(Decimal(repr(face.alarm_at or 0.0)).normalize(), sight.kit.model.unit)
            return at.value + 0, at.unit
    return ask.low or Decimal(0), unit


def _rounded(value: float, places: int) -> Decimal:
    return Decimal(f"{value:.{places}f}")


def _altitude(pressure: float) -> float:
    """Metres at which the standard atmosphere has this pressure in kPa, by halving."""
    low, high = -400.0, 5_000.0
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if pressure_at_altitude(middle) > pressure else (low, middle)
    return low


# --- what is chosen ------------------------------------------------------------------------------------------------


def _choice(ask: Choice, sight: Sight) -> str:
    key = plain_key(ask.key)
    seen = _SEEN[key](sight) if key in _SEEN else _by_ending(key, sight)
    values = [option.value for option in ask.options]
    if seen in values:
        return seen
    if key == "colour" and seen and "another colour" in values:
        return "another colour"
    return CANNOT_SEE if CANNOT_SEE in values else values[0]


def _by_ending(key: str, sight: Sight) -> str:
    if key.endswith("-below"):
        far = below_zero(sight.face)
        return "half a division" if far <= 0.5 else "one division" if far <= 1 else "further"
    return ""


def _in_place(sight: Sight) -> str:
    return "in place" if sight.face.source else "not in place"


def _stowed(sight: Sight) -> str:
    return "one is out" if sight.face.source else "all away"


def _adjusted(sight: Sight) -> str:
    off = figure(sight.face)
    return "on zero" if off is not None and abs(off) <= ON_ZERO else "not on zero"


def _follows(sight: Sight) -> str:
    here, there = sight.kept.get("background", 0.0), sight.kept.get("elsewhere", 0.0)
    same = _SAME * max(here, there)
    if getattr(sight.step, "count_time", None) is not None:
        # Two counts differ by chance: the spread of their difference is √(a + b) (Poisson; Knoll ch. 3, from memory).
        same = max(same, 3 * math.sqrt(here + there))
    return "everywhere the same" if abs(here - there) <= same else "changes"


def _signals(sight: Sight) -> str:
    sound, light = "alarm" in sight.face.sounds, "alarm" in sight.face.lamps
    return ("both" if light else "sound only") if sound else ("light only" if light else "nothing")


def _clicks(sight: Sight) -> str:
    now, before = sight.face.clicks, sight.kept.get("clicks", 0.0)
    return "silent" if now < _HEARD else "quicken" if now > _QUICKEN * before else "same"


_SEEN: Final[Mapping[str, Callable[[Sight], str]]] = {
    "case": lambda sight: sight.face.look.case,
    "cable": lambda sight: sight.face.look.cable or "whole",
    "outside": lambda sight: sight.face.look.outside,
    "window": lambda sight: sight.face.look.window or CANNOT_SEE,
    "colour": lambda sight: sight.face.look.desiccant or CANNOT_SEE,
    "stowed": _stowed,
    "look-back": lambda sight: "one was out" if sight.face.source else "all away",
    "seated": _in_place,
    "near": _in_place,
    "open": _in_place,
    "closed": _in_place,
    "adjust": _adjusted,
    "stayed-on": lambda sight: "was off" if sight.was_off else "on all the time",
    "soak": lambda _sight: "no",
    "pressure-from": lambda _sight: "barometer",
    "follows": _follows,
    "test-button": _signals,
    "clicks": _clicks,
    "reading-look": lambda _sight: "both right",
    "recount-look": lambda _sight: "both right",
}


def in_scale_unit(value: float, unit: str, wanted: str) -> float:
    """A value in another unit of the same kind."""
    return float(number_in(Quantity(Decimal(repr(value)), unit), wanted))
