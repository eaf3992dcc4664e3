"""The points of a certificate as they are typed, one a line: scale, standard, as found, as left, unit."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from typing import TYPE_CHECKING, Final

from procedures.answers import clean_line
from procedures.calibration import Point
from procedures.site.entries import words
from procedures.site.forms.common import Taken
from procedures.site.reference_figures import procedure_of
from procedures.trouble import Trouble
from procedures.units import READING_KINDS, canonical_unit, kind_of, read_number, units_of

if TYPE_CHECKING:
    from procedures.journal.states import InstrumentState
    from procedures.site.opening import Site

COLUMNS: Final = ("scale", "standard", "as found", "as left", "unit")
MOST_POINTS: Final = 60


def scales_said(site: Site, state: InstrumentState) -> str:
    """The scales of the profile in force with their units, "" where none is."""
    with suppress(Trouble):
        scales = procedure_of(site, state).scales
        return "Scales: " + ", ".join(f"{each.selector.name} ({each.selector.unit})" for each in scales) + "."
    return ""


def read_points(site: Site, state: InstrumentState, taken: Taken) -> tuple[Point, ...] | None:
    """The points typed in "points", one a line; None where one cannot be read, with the trouble in `taken`."""
    units: dict[str, str] = {}
    with suppress(Trouble):
        units = {each.selector.name: each.selector.unit for each in procedure_of(site, state).scales}
    try:
        return tuple(_each(taken.entered.get("points", ""), units))
    except Trouble as trouble:
        taken.troubles["points"] = trouble
        return None


def _each(text: str, units: dict[str, str]) -> Iterator[Point]:
    rows = [row for row in text.split("\n") if clean_line(row.replace("|", " "))]
    if len(rows) > MOST_POINTS:
        raise Trouble(f"{len(rows)} points are too many", allowed=f"at most {MOST_POINTS}", do="Enter the chief ones.")
    for number, row in enumerate(rows, 1):
        try:
            yield _point(row, units)
        except Trouble as trouble:
            raise Trouble(
                f"point {number}: {trouble.what}",
                allowed=trouble.allowed,
                do=trouble.do or "Take that line back, and enter it again.",
            ) from None


def _point(row: str, units: dict[str, str]) -> Point:
    cells = [clean_line(cell) for cell in row.split("|")]
    if len(cells) > len(COLUMNS):
        raise Trouble(
            f"{len(cells)} cells stand in it", allowed=" | ".join(COLUMNS), do="Take it back; enter it again."
        )
    scale, standard, found, left, unit = [*cells, *[""] * (len(COLUMNS) - len(cells))]
    scale = words("scale", scale, 60)
    unit = canonical_unit(unit or units.get(scale, ""))
    if kind_of(unit) not in READING_KINDS:
        known = ", ".join(each for kind in READING_KINDS for each in units_of(kind))
        raise Trouble(f"{unit or 'a figure without a unit'} is not what a survey instrument shows", allowed=known)
    return Point(
        scale, read_number(standard), read_number(found) if found else None, read_number(left) if left else None, unit
    )
