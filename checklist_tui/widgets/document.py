"""A sheet as a page to be read: its sections, and what can be done from it as a numbered list."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest
from typing import Final

from textual.content import Content

from checklist_tui.symbols import TONE, sign
from checklist_tui.tables import cut, filled, wrapped
from checklist_tui.widgets.grid import add_grid
from checklist_tui.widgets.plot import add_plot
from checklist_tui.widgets.reader import Page, PageMaker
from procedures.sheets import Deed, Grid, Lines, Pairs, Plot, Section, Sheet

FEW: Final = 6
"""So many deeds stand under the head; more would push away what the sheet says, and stand at its end."""
WHAT_TO_DO: Final = "What can be done here"


def sheet_page(sheet: Sheet, width: int) -> Page:
    """All of a sheet but its head."""
    page = PageMaker(width)
    few = 0 < len(sheet.deeds) <= FEW
    if few:
        add_deeds(page, sheet.deeds)
    for section in sheet.sections:
        page.blank()
        _add_section(page, section)
    if sheet.deeds and not few:
        page.blank()
        page.say(Content.styled(cut(WHAT_TO_DO, page.width), "bold $accent"))
        add_deeds(page, sheet.deeds)
    return page.page()


def deeds_page(deeds: Sequence[Deed], width: int) -> Page:
    """What can be done, alone."""
    page = PageMaker(width)
    add_deeds(page, deeds)
    return page.page()


def add_deeds(page: PageMaker, deeds: Sequence[Deed]) -> None:
    """Numbered; what may not be done now is dimmed and says why."""
    for number, deed in enumerate(deeds, 1):
        say = f"{number:>2}  {deed.say}"
        words = f"{say}  (not now: {deed.may_not})" if deed.may_not else say
        style = "$secondary" if deed.may_not else "bold"
        lines = [Content.styled(each, style) for each in _numbered(words, page.width)]
        page.entry(deed, *lines, key=str(number))


def _numbered(words: str, width: int) -> list[str]:
    number, rest = words[:4], words[4:]
    first, *more = wrapped(rest, max(1, width - 4))
    return [number + first, *("    " + each for each in more)]


def _add_section(page: PageMaker, section: Section) -> None:
    if section.title and not isinstance(section, Plot):
        page.say(*(Content.styled(each, "bold $accent") for each in wrapped(section.title, page.width)))
    match section:
        case Lines():
            _add_lines(page, section)
        case Pairs():
            _add_pairs(page, section)
        case Grid():
            add_grid(page, section.columns, section.rows, section.empty, whole=True)
        case Plot():
            add_plot(page, section)


def _add_lines(page: PageMaker, section: Lines) -> None:
    tone = sign(TONE, section.tone)
    front = f"{tone.symbol} " if tone.symbol else ""
    for each in section.lines:
        first, *more = wrapped(each, max(1, page.width - len(front)))
        page.say(Content.styled(front + first, tone.colour))
        page.say(*(Content.styled(" " * len(front) + part, tone.colour) for part in more))


def _add_pairs(page: PageMaker, section: Pairs) -> None:
    names = max((len(name) for name, _ in section.rows), default=0)
    names = min(names, max(8, page.width // 3))
    for name, value in section.rows:
        both = zip_longest(wrapped(name, names), wrapped(value, max(1, page.width - names - 2)), fillvalue="")
        page.say(*(Content.assemble((filled(left, names), "$secondary"), f"  {right}") for left, right in both))
