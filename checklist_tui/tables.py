"""Tables and paragraphs as lines of a given width: which columns stay, which are shortened, where a line is broken.

Widths are terminal cells, since a name may be written in wide characters. Pure: no screen is known here.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from rich.cells import cell_len

from procedures.sheets import Column, Row

GAP: Final = 2
"""Cells between two columns."""
_INVISIBLE: Final = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


@dataclass(frozen=True, slots=True)
class Fitted:
    """A column that stays: which one of the cells, how wide it is set, and whether to the right."""

    at: int
    width: int
    figures: bool


def one_line(text: str) -> str:
    """`text` as it can stand in one line: whatever has no width or breaks a line is a blank."""
    return "".join(" " if unicodedata.category(each) in _INVISIBLE else each for each in text)


def cut(text: str, width: int) -> str:
    """`text` in one line of at most `width` cells, with a mark where something was cut."""
    text = one_line(text)
    if cell_len(text) <= width:
        return text
    kept = ""
    for each in text:
        if cell_len(kept + each) > width - 1:
            break
        kept += each
    return f"{kept}…" if width > 0 else ""


def filled(text: str, width: int, *, right: bool = False) -> str:
    """`text` cut or filled up to exactly `width` cells, set `right` where figures stand."""
    text = cut(text, width)
    blank = " " * max(0, width - cell_len(text))
    return blank + text if right else text + blank


def wrapped(text: str, width: int, *, hang: int = 0) -> list[str]:
    """`text` broken at blanks into lines of at most `width` cells; later lines begin `hang` cells in."""
    lines: list[str] = []
    line = ""
    room = max(1, width)
    indent = " " * hang if hang + 2 <= room else ""
    for word in one_line(text).split():
        rest = word
        if line.strip() and cell_len(line) + 1 + cell_len(word) <= room:
            line = f"{line} {word}"
            continue
        if line.strip():
            lines.append(line)
        line = indent if lines else ""
        while cell_len(line + rest) > room:
            part = _fitting(rest, room - cell_len(line))
            lines.append(line + part)
            rest, line = rest[len(part) :], indent
        line += rest
    return [*lines, line] if line.strip() or not lines else lines


def _fitting(word: str, room: int) -> str:
    """As much of the beginning of `word` as fits, one character at least."""
    upto = 1
    while upto < len(word) and cell_len(word[: upto + 1]) <= room:
        upto += 1
    return word[:upto]


def fit(columns: Sequence[Column], rows: Sequence[Row], width: int) -> tuple[Fitted, ...]:
    """Which columns stand in `width` cells, and how wide.

    Figures are never shortened while another column can give way. Columns with the highest `gives_way` go first.
    """
    natural = [_natural(at, column, rows) for at, column in enumerate(columns)]
    least = [
        wide if column.figures else min(wide, max(1, column.least))
        for wide, column in zip(natural, columns, strict=True)
    ]
    staying = list(range(len(columns)))
    while len(staying) > 1 and sum(least[at] for at in staying) + GAP * (len(staying) - 1) > width:
        gone = max(staying, key=lambda at: (columns[at].gives_way, at))
        if not columns[gone].gives_way:
            break
        staying.remove(gone)
    room = max(0, width - GAP * (len(staying) - 1))
    widths = _shared([natural[at] for at in staying], [least[at] for at in staying], room)
    return tuple(Fitted(at, wide, columns[at].figures) for at, wide in zip(staying, widths, strict=True))


def _natural(at: int, column: Column, rows: Sequence[Row]) -> int:
    cells = (cell_len(one_line(row.cells[at])) for row in rows if at < len(row.cells))
    return max(1, cell_len(one_line(column.heading)), *cells) if rows else max(1, cell_len(column.heading))


def _shared(natural: list[int], least: list[int], room: int) -> list[int]:
    """Widths that fill no more than `room`: the widest give first, none below its least while that is enough."""
    widths = list(natural)
    for floor in (least, [1] * len(widths)):
        while sum(widths) > room:
            widest = max(range(len(widths)), key=lambda at: widths[at] - floor[at])
            if widths[widest] <= floor[widest]:
                break
            widths[widest] -= 1
    return widths


def heading(columns: Sequence[Column], fitted: Sequence[Fitted], width: int) -> str:
    """The line of headings."""
    return _line([column.heading for column in columns], fitted, width)


def line(row: Row, fitted: Sequence[Fitted], width: int) -> str:
    """One row as a line of at most `width` cells."""
    return _line(row.cells, fitted, width)


def tall(row: Row, fitted: Sequence[Fitted], width: int) -> list[str]:
    """One row as as many lines as its longest cell takes: nothing of it is cut but what does not fit at all."""
    cells = [wrapped(row.cells[each.at], each.width) if each.at < len(row.cells) else [""] for each in fitted]
    columns = [Fitted(at, each.width, each.figures) for at, each in enumerate(fitted)]
    depth = max(map(len, cells), default=1)
    return [_line([cell[at] if at < len(cell) else "" for cell in cells], columns, width) for at in range(depth)]


def _line(cells: Sequence[str], fitted: Sequence[Fitted], width: int) -> str:
    parts = [filled(cells[each.at] if each.at < len(cells) else "", each.width, right=each.figures) for each in fitted]
    return cut((" " * GAP).join(parts).rstrip(), width)
