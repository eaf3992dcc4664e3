"""Sheets and listings as one self-contained HTML document that prints well and fetches nothing.

A document comes in pieces, so that a listing of any length is written as it is read.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Final

from procedures.reports import style, svg
from procedures.reports.printed import Printed
from procedures.reports.text import html_text
from procedures.sheets import Column, Grid, Lines, Listing, Pairs, Plot, Row, Section, Sheet, Tone

SIGNS: Final[Mapping[Tone, tuple[str, str]]] = {"good": ("✓", "good"), "warn": ("!", "warning"), "bad": ("■", "bad")}
"""The sign that stands before a line or row that matters, and what it is called."""
MOST_LOOSE: Final = 7
"""Columns of a table that is set at full size."""
LONGEST_WORD: Final = 24
"""Characters of a word that is never broken in a table."""


def page(sheet: Sheet, printed: Printed) -> str:
    """The sheet as a whole document."""
    return "".join(sheet_pieces(sheet, printed))


def sheet_pieces(sheet: Sheet, printed: Printed) -> Iterator[str]:
    """The sheet as a document, in pieces."""
    columns = [column for section in sheet.sections if isinstance(section, Grid) for column in section.columns]
    name = sheet.name if re.fullmatch("[a-z-]{1,40}", sheet.name) else "other"
    yield from _head(sheet.title, [sheet.line], printed, columns, body=f"sheet-{name}")
    for number, section in enumerate(sheet.sections):
        # The first section stands under the head of the document, which begins a page anyway.
        yield from _section(section, number, new_page=number > 0 and number in sheet.breaks)
    yield from _foot(printed)


def listing_pieces(
    listing: Listing, rows: Iterable[Row], printed: Printed, narrowed: Sequence[str] = ()
) -> Iterator[str]:
    """A listing as a document, in pieces: everything but the `rows` comes from its first page.

    `narrowed` says, a line each, what it was narrowed by.
    """
    wide = sum(max(_least(column), len(column.heading) // 2) for column in listing.columns) > style.WIDEST_UPRIGHT
    yield from _head(listing.title, [listing.line, *narrowed], printed, listing.columns, body="listing", wide=wide)
    yield from _table(listing.columns, rows, listing.title, listing.empty, heading=False)
    yield from _foot(printed)


# --- head and foot -------------------------------------------------------------------------------------------------


def _head(
    title: str, lines: Sequence[str], printed: Printed, columns: Sequence[Column], *, body: str, wide: bool = False
) -> Iterator[str]:
    sheet = style.style(title, printed, map(_least, columns), wide=wide)
    yield '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
    yield f'<meta http-equiv="Content-Security-Policy" content="{html_text(style.policy(sheet))}">\n'
    yield '<meta name="referrer" content="no-referrer">\n'
    yield '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
    yield f"<title>{html_text(_titled(title, printed))}</title>\n<style>{sheet}</style>\n</head>\n"
    yield f'<body class="{body}">\n'
    if printed.warning:
        word = printed.warning.partition(":")[0]
        yield f'<div class="watermark" aria-hidden="true">{html_text(word)}</div>\n'
    yield "<header>\n"
    if printed.warning:
        yield f'<p class="marking">{html_text(printed.warning)}</p>\n'
    yield f"<h1>{html_text(title)}</h1>\n"
    for line in lines:
        if line:
            yield f"<p>{html_text(line)}</p>\n"
    yield "</header>\n<main>\n"


def _titled(title: str, printed: Printed) -> str:
    return f"{title}, {printed.site}{f' ({printed.marking})' if printed.warning else ''}"


def _foot(printed: Printed) -> Iterator[str]:
    station = f"{printed.station_name} ({printed.station})" if printed.station_name else printed.station
    yield "</main>\n<footer>\n"
    yield f"<p>Site {html_text(printed.site)}, station {html_text(station)}. Made {html_text(printed.when)}.</p>\n"
    yield "<p>It says how things stood at that moment: whoever relies on it later looks again.</p>\n"
    if printed.warning:
        yield f"<p>{html_text(printed.warning)}.</p>\n"
    if printed.heads:
        which = "this line: with it" if len(printed.heads) == 1 else "these lines: with any of them"
        yield (
            f"<p>Head of the records. Keep {which} <code>checklist-tui verify --head STATION:SEQ:HASH</code> shows "
            "whether records were cut off or written anew.</p>\n"
        )
        for head in printed.heads:
            yield f'<p><code class="head">{html_text(str(head))}</code></p>\n'
    yield "</footer>\n</body>\n</html>\n"


# --- sections ------------------------------------------------------------------------------------------------------


def _section(section: Section, number: int, *, new_page: bool) -> Iterator[str]:
    tone = section.tone if isinstance(section, Lines) else ""
    yield f"<section{_class('new-page' if new_page else '', tone)}>\n"
    match section:
        case Lines():
            yield from _lines(section)
        case Pairs():
            yield from _pairs(section)
        case Grid():
            yield from _table(section.columns, section.rows, section.title, section.empty)
        case Plot():
            yield from _plot(section, f"plot-{number}")
    yield "</section>\n"


def _lines(section: Lines) -> Iterator[str]:
    if section.title:
        yield f"<h2>{html_text(section.title)}</h2>\n"
    for line in section.lines:
        yield f"<p>{_sign(section.tone)}{html_text(line)}</p>\n"


def _pairs(section: Pairs) -> Iterator[str]:
    yield f'<table class="pairs">\n{_caption(section.title)}<tbody>\n'
    for name, value in section.rows:
        th = f'<th scope="row"{_class(_long(name))}>{html_text(name)}</th>'
        yield f"<tr>{th}<td{_class(_long(value))}>{html_text(value)}</td></tr>\n"
    yield "</tbody>\n</table>\n"


def _table(
    columns: Sequence[Column], rows: Iterable[Row], title: str, empty: str, *, heading: bool = True
) -> Iterator[str]:
    # The title of a listing stands in the head of the document; its table carries it for who hears it alone.
    dense = ' class="dense"' if len(columns) > MOST_LOOSE else ""
    yield f"<table{dense}>\n" if heading else f'<table{dense} aria-label="{html_text(title)}">\n'
    yield f"{_caption(title) if heading else ''}<thead>\n<tr>"
    for column in columns:
        classes = _class(f"least-{_least(column)}", "figures" if column.figures else "", _long(column.heading))
        yield f'<th scope="col"{classes}>{html_text(column.heading)}</th>'
    yield "</tr>\n</thead>\n<tbody>\n"
    none = True
    for row in rows:
        none = False
        yield _row(columns, row)
    if none:
        yield f'<tr><td colspan="{max(1, len(columns))}">{html_text(empty)}</td></tr>\n'
    yield "</tbody>\n</table>\n"


def _row(columns: Sequence[Column], row: Row) -> str:
    cells = []
    for number, column in enumerate(columns):
        text = row.cells[number] if number < len(row.cells) else ""
        classes = _class("figures" if column.figures else "", _long(text))
        if number == 0:
            cells.append(f'<th scope="row"{classes}>{_sign(row.tone)}{html_text(text)}</th>')
        else:
            cells.append(f"<td{classes}>{html_text(text)}</td>")
    return f"<tr{_class(row.tone)}>{''.join(cells)}</tr>\n"


def _plot(plot: Plot, key: str) -> Iterator[str]:
    yield f"<h2>{html_text(plot.title)}</h2>\n"
    yield svg.svg(plot, key)
    yield f"<p>{html_text(svg.told(plot))}</p>\n"
    items = [f"<li>{html_text(line)}</li>\n" for line in svg.legend(plot)]
    if items:
        yield f"<ul>\n{''.join(items)}</ul>\n"
    for note in plot.notes:
        yield f'<p class="note">{html_text(note)}</p>\n'


def _caption(title: str) -> str:
    return f"<caption><h2>{html_text(title)}</h2></caption>\n" if title else ""


def _sign(tone: Tone) -> str:
    if tone not in SIGNS:
        return ""
    sign, word = SIGNS[tone]
    return f'<span class="sign" role="img" aria-label="{word}">{sign}</span>'


def _least(column: Column) -> int:
    return max(1, min(column.least, style.WIDEST_LEAST))


def _long(text: str) -> str:
    """The class of cells whose words may be broken: only the very long ones, so that figures and words stay whole."""
    return "long" if any(len(word) > LONGEST_WORD for word in text.split()) else ""


def _class(*names: str) -> str:
    said = " ".join(name for name in names if name)
    return f' class="{said}"' if said else ""
