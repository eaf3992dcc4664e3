"""What a person makes of a face: a reading to half a division, a place on the battery scale, the face in words."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from procedures.asks import Reading
from procedures.practice.display import OVERLOAD
from procedures.practice.face import BatteryFace, Face, NeedleFace
from procedures.trouble import Trouble

HALF_A_DIVISION: Final = Decimal("0.5")
"""How finely a practised eye reads a needle, in divisions: common practice, no source."""

_CLEARLY_BELOW: Final = 0.25
_CLEARLY_BEYOND: Final = 0.5
"""Divisions beyond the end of a scale from which a needle is said to be there."""


def read(face: Face, part: Decimal = HALF_A_DIVISION) -> Reading:
    """The reading, as an ask for one takes it; a needle to `part` of a division.

    A dark display and a selector at the battery test have none: Trouble.
    """
    selector = face.selector
    if selector is None:
        raise Trouble("the selector is at the battery test", do="Set it to a scale.")
    if face.digits is not None:
        return _digits(face)
    needle = face.needle
    if needle is None or not needle.divisions or selector.top is None or selector.division is None:
        raise Trouble("the battery test is on", do="Let its button go.")
    at = needle.position * needle.divisions
    if at <= -_CLEARLY_BELOW:
        return Reading(selector.name, Decimal(0), selector.times, selector.unit, "below zero")
    if at >= needle.divisions + _CLEARLY_BEYOND:
        return Reading(selector.name, selector.top, selector.times, selector.unit, "pegged")
    steps = (Decimal(repr(at)) / part).quantize(Decimal(1), rounding=ROUND_HALF_UP)
    figure = min(selector.top, max(Decimal(0), steps * part * selector.division))
    return Reading(selector.name, figure, selector.times, selector.unit)


def _digits(face: Face) -> Reading:
    selector, digits = face.selector, face.digits
    assert selector is not None
    assert digits is not None
    unit = digits.unit or selector.unit
    if digits.text == "":
        return Reading(selector.name, Decimal(0), selector.times, unit, "no response")
    if digits.text == OVERLOAD:
        return Reading(selector.name, selector.top or Decimal(0), selector.times, unit, "pegged")
    figure = Decimal(digits.text)
    if figure < 0:
        return Reading(selector.name, Decimal(0), selector.times, unit, "below zero")
    return Reading(selector.name, figure, selector.times, unit)


def below_zero(face: Face) -> float:
    """How far below zero a needle rests, in divisions; 0 when it does not."""
    needle = face.needle
    return 0.0 if needle is None else max(0.0, -needle.position * needle.divisions)


def battery_place(face: Face) -> str:
    """Between which marks the needle rests at the battery test. Trouble when the test is not on."""
    battery, needle = _battery(face), face.needle
    if needle is None or not battery.places:
        raise Trouble("the battery is not shown by places")
    return battery.places[sum(needle.position >= edge for edge in battery.edges)]


def battery_figure(face: Face) -> tuple[Decimal, str]:
    """Volts or percent at the battery test, and the unit. Trouble when the test is not on."""
    battery, needle = _battery(face), face.needle
    if battery.text:
        return Decimal(battery.text), battery.unit
    if needle is None or not battery.full_volts:
        raise Trouble("the battery is not shown by a figure")
    step = Decimal(repr(battery.division)) * HALF_A_DIVISION
    volts = Decimal(repr(needle.position * battery.full_volts))
    return (volts / step).quantize(Decimal(1), rounding=ROUND_HALF_UP) * step, battery.unit


def _battery(face: Face) -> BatteryFace:
    if face.battery is None:
        raise Trouble("the battery test shows nothing", do="Put it on; if it is on, nothing works.")
    return face.battery


def in_words(face: Face) -> tuple[str, ...]:
    """The face in sentences, for a terminal that draws nothing. Nothing is said that cannot be seen or heard."""
    lines = [_indicator(face)]
    if face.battery is not None and face.battery.places:
        lines.append(f"Battery test: the needle rests {battery_place(face)}.")
    elif face.battery is not None:
        figure, unit = battery_figure(face)
        lines.append(f"Battery test: {figure:f} {unit}.")
    if face.lamps:
        lines.append(f"Lit: {', '.join(face.lamps)}.")
    if face.sounds:
        lines.append(f"It sounds: {', '.join(face.sounds)}.")
    if face.clicks >= 0.1:
        lines.append(f"Clicks: about {_about(face.clicks)} a second.")
    if face.held:
        lines.append(f"Held down: {', '.join(face.held)}.")
    if face.slide:
        lines.append(f"The slide is {face.slide}.")
    lines.append(f"In the jig: {face.source}." if face.source else "No source is near.")
    lines += face.look.remarks
    return tuple(lines)


def _about(clicks: float) -> str:
    return f"{clicks:.0f}" if clicks >= 10 else f"{clicks:.1f}"


def _indicator(face: Face) -> str:
    if face.digits is not None:
        return (
            f"The display shows {face.digits.text} {face.digits.unit}." if face.digits.text else "The display is dark."
        )
    if face.needle is None or not face.needle.figures:
        return "The needle is over the battery scale."
    return _needle(face.needle)


def _needle(needle: NeedleFace) -> str:
    """Where a needle is, told by the figures around it and not read off: reading is the trainee's part."""
    at, figures = needle.position, needle.figures
    if at < figures[0][0]:
        return f"The needle rests below {figures[0][1]}, by {-at * needle.divisions:.1f} divisions."
    if at > figures[-1][0]:
        return f"The needle is beyond {figures[-1][1]}, the end of the scale."
    below = max(figure for figure in figures if figure[0] <= at)
    divisions = (at - below[0]) * needle.divisions
    return f"The needle is {divisions:.1f} divisions above {below[1]}."
