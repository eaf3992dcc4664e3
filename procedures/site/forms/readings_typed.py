"""What the forms for reference readings share: several readings typed one a line, the air, and words for a sum."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

from procedures.answers import LONGEST_FIGURE, clean_line
from procedures.site.entries import words
from procedures.site.forms.common import Taken
from procedures.site.reference_figures import MOST_READINGS, air_of, figure_of, part_name, procedure_of, said
from procedures.site.reference_readings import Rejected
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.asks import Selector
    from procedures.journal.states import InstrumentState
    from procedures.site.opening import Site

REJECTED: Final = " ! "
"""Stands between a rejected reading and the reason for it."""


def read_readings(entry: Taken, field: str) -> tuple[tuple[str, ...] | None, tuple[Rejected, ...]]:
    """The readings that count, as typed, and the rejected ones. Troubles go under the field, and it is None."""
    lines = [line for each in entry.entered.get(field, "").split("\n") if (line := clean_line(each))]
    try:
        if len(lines) > MOST_READINGS:
            raise Trouble(f"{len(lines)} readings are too many", allowed=f"at most {MOST_READINGS}")
        if not lines:
            raise Trouble("no reading was entered", allowed="figures, one a line", do="Read, and enter each.")
        rejected = tuple(_rejected(line) for line in lines if "!" in line)
    except Trouble as trouble:
        entry.troubles[field] = trouble
        return None, ()
    return tuple(line for line in lines if "!" not in line), rejected


def _rejected(line: str) -> Rejected:
    figure, _, why = line.partition("!")
    return Rejected(words("rejected reading", figure, LONGEST_FIGURE), words("reason why a reading was rejected", why))


def not_one(readings: Sequence[str] | None, figure: str, selector: Selector) -> None:
    """Raises Trouble for a reading that is none, naming which."""
    try:
        figure_of(selector, figure)
    except Trouble as trouble:
        number = list(readings or ()).index(figure) + 1
        raise Trouble(
            f"reading {number}: {trouble.what}", allowed=trouble.allowed, do=trouble.do or "Enter it again."
        ) from None


def read_air(site: Site, state: InstrumentState, entry: Taken) -> None:
    """Looks at "temperature" and "pressure"; what is wrong with them goes under the field it concerns."""
    temperature, pressure = entry.text("temperature"), entry.text("pressure")
    try:
        air_of(procedure_of(site, state), temperature, pressure)
    except Trouble as trouble:
        field = "pressure" if temperature and (not pressure or "pressure" in trouble.what) else "temperature"
        entry.troubles.setdefault(field, trouble)


def said_of_uncertainty(standard: float, relative: float, parts: Mapping[str, float], unit: str) -> str:
    """A standard uncertainty with its parts, in one line."""
    told = ", ".join(f"{part_name(name)} {said(value, 3)}" for name, value in parts.items())
    return f"Standard uncertainty {said(standard, 3)} {unit} ({100 * relative:.2f} %): {told}."
