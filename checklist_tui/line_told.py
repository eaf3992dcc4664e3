"""Sheets, listings and plots as lines to be read or heard: every value in words, nothing drawn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from procedures.sheets import Deed, Grid, Lines, Listing, Pairs, Plot, Row, Section, Sheet, Tone

TONES: Final[dict[Tone, str]] = {"": "", "quiet": "", "good": "", "warn": "! ", "bad": "!! "}
"""What stands before a line that matters, since nothing has a colour here."""


class Openable:
    """The numbers that lead on from what was told: rows first, then what can be done."""

    def __init__(self, before: Sequence[Deed] = ()) -> None:
        """`before` are those of the same page as it was told the last time."""
        self.deeds: list[Deed] = []
        self._before = tuple(before)

    def number(self, deed: Deed | None) -> str:
        """The number that opens this, as it stands before a line; "" for what opens nothing."""
        if deed is None:
            return ""
        self.deeds.append(deed)
        return f"{len(self.deeds)}. "

    def at(self, text: str) -> Deed | None:
        """What a typed number opens."""
        place = int(text) if text.isascii() and text.isdigit() and len(text) <= 6 else 0
        return self.deeds[place - 1] if 0 < place <= len(self.deeds) else None

    def was_another(self, deed: Deed) -> bool:
        """Whether its number stood before something else the last time: whoever remembers that means the other."""
        at = self.deeds.index(deed)
        if at >= len(self._before):
            return False
        old = self._before[at]
        return (old.goes, old.name, old.about) != (deed.goes, deed.name, deed.about)


def sheet_lines(sheet: Sheet, opens: Openable) -> Iterator[str]:
    """A sheet from its title to what can be done from it."""
    yield from ("", sheet.title)
    if sheet.line:
        yield sheet.line
    for section in sheet.sections:
        yield from _section(section, opens)
    yield from deed_lines(sheet.deeds, opens)


def listing_head(listing: Listing) -> Iterator[str]:
    """The title of a listing, and what its columns are."""
    yield from ("", listing.title)
    if listing.line:
        yield listing.line
    if not listing.rows:
        yield listing.empty


def row_line(headings: Sequence[str], row: Row, opens: Openable) -> str:
    """A row with the heading before each of its cells but the first: what is heard has no columns."""
    first, *rest = row.cells or ("",)
    said = [f"{heading} {cell}" for heading, cell in zip(headings[1:], rest, strict=False) if cell]
    return f"{opens.number(row.opens)}{TONES[row.tone]}{'; '.join([first, *said])}"


def deed_lines(deeds: Sequence[Deed], opens: Openable) -> Iterator[str]:
    """What can be done, numbered; what cannot, with the reason and no number."""
    if deeds:
        yield ""
    for deed in deeds:
        yield f"{deed.say}: not now: {deed.may_not}" if deed.may_not else f"{opens.number(deed)}{deed.say}"


def _section(section: Section, opens: Openable) -> Iterator[str]:
    if section.title:
        yield from ("", f"{section.title}:")
    match section:
        case Lines():
            yield from (f"{TONES[section.tone]}{line}" for line in section.lines)
        case Pairs():
            yield from (f"{name}: {value}" for name, value in section.rows)
        case Grid():
            headings = [column.heading for column in section.columns]
            yield from (row_line(headings, row, opens) for row in section.rows)
            if not section.rows:
                yield section.empty
        case Plot():
            yield from _plot(section)


def _plot(plot: Plot) -> Iterator[str]:
    unit = f" {plot.unit}" if plot.unit else ""
    if not plot.dots:
        yield "No values."
    else:
        first, last = plot.dots[0], plot.dots[-1]
        least, most = (edge(plot.dots, key=lambda dot: dot.value).value for edge in (min, max))
        count = len(plot.dots)
        yield f"{count} {'value' if count == 1 else 'values'}, {first.at:%Y-%m-%d} to {last.at:%Y-%m-%d}."
        yield f"Lowest {least:.4g}{unit}, highest {most:.4g}{unit}, newest {last.value:.4g}{unit}."
    yield from (f"{line.say}: {line.value:.4g}{unit}" for line in plot.lines)
    yield from (f"{mark.at:%Y-%m-%d}: {mark.say}" for mark in plot.marks)
    yield from (f"{dot.at:%Y-%m-%d %H:%M}: {dot.value:.4g}{unit}, {dot.say}" for dot in plot.dots if dot.say)
    yield from plot.notes
