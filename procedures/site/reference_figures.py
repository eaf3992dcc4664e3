"""Figures of a reference reading as they are typed, read by the scale and the rules of the profile in force."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from procedures.air import density_factor, reference_air
from procedures.answers import clean_line, understand
from procedures.asks import Reading, ReadingAsk
from procedures.series import Series
from procedures.trouble import Trouble
from procedures.units import number_in, read_number, read_quantity, shown

if TYPE_CHECKING:
    from procedures.asks import Selector
    from procedures.journal.states import InstrumentState
    from procedures.procedure import Procedure
    from procedures.site.opening import Site

MOST_READINGS: Final = 100

Air = tuple[Decimal | None, Decimal | None]
"""Temperature in °C and pressure in kPa at the instrument; None where they were not taken."""


def setting(settings: Mapping[str, str], name: str) -> Decimal:
    """A setting of the site that is a number of zero or more. Raises Trouble for anything else."""
    said = settings.get(name, "").strip()
    if not re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,6})?", said):
        raise Trouble(
            f"the site's setting {name} is no number: {shown(said) or 'nothing'}",
            allowed="a number of zero or more",
            do="Ask the site lead to put the settings right.",
        )
    return Decimal(said)


def procedure_of(site: Site, state: InstrumentState) -> Procedure:
    """The procedure in force for an instrument. Raises Trouble when there is none."""
    from procedures.site.profiles import procedure_for

    return procedure_for(site, str(state.fields.get("profile", "")))


def selector_of(procedure: Procedure, scale: str) -> Selector:
    """The selector position of a scale. Raises Trouble for one that the profile does not have."""
    for each in procedure.scales:
        if each.selector.name == scale:
            return each.selector
    raise Trouble(
        f"the profile has no scale {shown(scale) or 'of that name'}",
        allowed=", ".join(each.selector.name for each in procedure.scales),
        do="Choose the position the selector stands on.",
    )


def figure_of(selector: Selector, text: str, *, below_zero: bool = False) -> Decimal:
    """A figure as the scale prints it, multiplied to the reading in the selector's unit. Raises Trouble.

    A needle off the end, or one that does not move, is no reading to go by.
    """
    ask = ReadingAsk(
        key="reading", say="", selectors=(selector,), wanted=selector.name, beyond=("below zero",) if below_zero else ()
    )
    value, _ = understand(ask, text)
    assert isinstance(value, Reading)
    return value.value


def series_of(selector: Selector, readings: Sequence[str], background: str) -> Series:
    """The readings in the selector's unit, with their background. Raises Trouble, naming the reading."""
    if len(readings) > MOST_READINGS:
        raise Trouble(
            f"{len(readings)} readings are too many", allowed=f"at most {MOST_READINGS}", do="Take fewer readings."
        )
    taken = []
    for number, text in enumerate(readings, 1):
        try:
            taken.append(figure_of(selector, text))
        except Trouble as trouble:
            raise Trouble(
                f"reading {number}: {trouble.what}", allowed=trouble.allowed, do=trouble.do or "Enter it again."
            ) from None
    off = figure_of(selector, background, below_zero=True) if clean_line(background) else None
    return Series(tuple(taken), off)


def air_of(procedure: Procedure, temperature_c: str, pressure_kpa: str) -> Air:
    """Temperature in °C and pressure in kPa, where the profile has the program correct for the density of air.

    Elsewhere they are kept where they are given. Raises Trouble where they are missing, or no air that can be.
    """
    given = (clean_line(temperature_c), clean_line(pressure_kpa))
    if not all(given):
        if procedure.air_density == "correct":
            raise Trouble(
                "temperature and pressure at the instrument are missing",
                allowed="both: this chamber is corrected for the density of air",
                do="Read thermometer and barometer beside the instrument.",
            )
        if any(given):
            raise Trouble("of temperature and pressure one is missing", allowed="both, or neither", do="Enter both.")
        return (None, None)
    temperature, pressure = _in(given[0], "°C"), _in(given[1], "kPa")
    density_factor(temperature, pressure, reference_air("iaea"))
    return (temperature, pressure)


def _in(text: str, unit: str) -> Decimal:
    try:
        return read_number(text)
    except Trouble:
        return number_in(read_quantity(text, like=unit), unit)


def said(figure: float | Decimal | Fraction, digits: int = 4) -> str:
    """A figure to so many figures that count, without a power of ten where people read it: 1.653, 0.0210, 12400."""
    value = Decimal(repr(float(figure)))
    if value == 0:
        return "0"
    places = digits - 1 - value.adjusted()
    return f"{round(value, places):f}" if places <= 0 else f"{value:.{places}f}"


_PART_NAMES: Final[Mapping[str, str]] = {
    "scatter": "scatter of the mean",
    "division": "division of the scale",
    "background_division": "division, of background",
    "reference": "the old reference's own",
    "half_life": "half-life",
    "old_scatter": "scatter, old source",
    "new_scatter": "scatter, new source",
    "pairs": "scatter of the pairs",
    "old_division": "division, old source",
    "new_division": "division, new source",
    "old_background_division": "division of background, old source",
    "new_background_division": "division of background, new source",
}


def part_name(name: str) -> str:
    """A part of an uncertainty as people read it."""
    return _PART_NAMES.get(name, name.replace("_", " "))
