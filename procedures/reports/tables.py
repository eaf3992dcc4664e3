"""Tables as CSV (RFC 4180, UTF-8), a line at a time, so that a listing of any length is written as it is read.

What a spreadsheet would take for a formula gets an apostrophe before it, and so does what begins with one already:
whoever takes one apostrophe away from the start of a cell has what was recorded.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC
from typing import Final

from procedures.reports.printed import Printed
from procedures.reports.text import shown
from procedures.sheets import Column, Grid, Listing, Plot, Row, Sheet
from procedures.trouble import Trouble

_ACTS: Final = re.compile("['=+\\-@\t\n＝＋－＠]")
_NUMBER: Final = re.compile(r"[+-]?[0-9]+([.,][0-9]+)?([eE][+-]?[0-9]+)?( ?%)?")


def guarded(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula: numbers as they are, other risky text behind an apostrophe."""
    return f"'{cell}" if _ACTS.match(cell) and not _NUMBER.fullmatch(cell) else cell


def unguarded(cell: str) -> str:
    """What `guarded` made a cell of: one apostrophe goes that stands there for no other reason."""
    bare = cell.removeprefix("'")
    return bare if bare != cell and guarded(bare) == cell else cell


def listing_csv(listing: Listing, rows: Iterable[Row], printed: Printed) -> Iterator[str]:
    """A listing as CSV: its headings, then all `rows`."""
    headings = [column.heading for column in listing.columns]
    yield _line([*headings, *_marked(printed, heading=True)])
    for row in rows:
        yield _line([*_filled(row.cells, len(headings)), *_marked(printed)])


def sheet_csv(sheet: Sheet, printed: Printed) -> Iterator[str]:
    """The tables and plots of a sheet as CSV, one after the other.

    The first cell of every line is the title of the table it is of; each table begins with a line of headings, whose
    first cell is "table". All lines have as many cells as the widest one. Raises Trouble when there is no table.
    """
    tables = [
        _plotted(section) if isinstance(section, Plot) else section
        for section in sheet.sections
        if isinstance(section, Plot | Grid)
    ]
    if not tables:
        raise Trouble(
            f"there is no table in this sheet ({sheet.name})",
            allowed="HTML or JSON, which hold all of a sheet",
            do="Ask for one of these.",
        )
    widest = max(len(table.columns) for table in tables)
    for table in tables:
        headings = [column.heading for column in table.columns]
        yield _line(["table", *_filled(headings, widest), *_marked(printed, heading=True)])
        for row in table.rows:
            cells = _filled(_filled(row.cells, len(headings)), widest)
            yield _line([table.title, *cells, *_marked(printed)])


def _plotted(plot: Plot) -> Grid:
    value = f"value, {plot.unit}" if plot.unit else "value"
    rows = tuple(Row((dot.at.astimezone(UTC).isoformat(), repr(dot.value), dot.sign, dot.say)) for dot in plot.dots)
    return Grid((Column("at, UTC"), Column(value), Column("sign"), Column("remark")), rows, plot.title)


def _filled(cells: Sequence[str], width: int) -> list[str]:
    return [*cells[:width], *[""] * (width - len(cells))]


def _marked(printed: Printed, *, heading: bool = False) -> list[str]:
    """One more cell where the records are not real, so that no line of them is ever taken for a real one."""
    if not printed.warning:
        return []
    return ["records" if heading else printed.marking]


def _line(cells: Sequence[str]) -> str:
    made = io.StringIO()
    csv.writer(made).writerow([guarded(shown(cell)) for cell in cells])
    return made.getvalue()
