"""The one drawing of a table: columns and rows as lines, cells as data, a tone as a sign, words and colour."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content

from checklist_tui import tables
from checklist_tui.symbols import TONE, sign
from checklist_tui.widgets.reader import PageMaker
from procedures.sheets import Column, Row


def add_grid(
    page: PageMaker, columns: Sequence[Column], rows: Sequence[Row], empty: str, *, whole: bool = False
) -> None:
    """Adds a table to a page. A row that opens something can be entered. `whole` rows take the lines they need."""
    if not rows:
        page.say(*(Content.styled(each, "$secondary") for each in tables.wrapped(empty, page.width)))
        return
    signs = any(sign(TONE, row.tone).symbol for row in rows)
    room = page.width - (2 if signs else 0)
    fitted = tables.fit(columns, rows, room)
    blank = "  " if signs else ""
    page.say(Content.styled(f"{blank}{tables.heading(columns, fitted, room)}", "underline $secondary"))
    for row in rows:
        tone = sign(TONE, row.tone)
        front = f"{tone.symbol or ' '} " if signs else ""
        first, *more = tables.tall(row, fitted, room) if whole else [tables.line(row, fitted, room)]
        lines = [Content.styled(each, tone.colour) for each in (front + first, *(blank + each for each in more))]
        if row.opens is not None:
            page.entry(row.opens, *lines)
        else:
            page.say(*lines)
