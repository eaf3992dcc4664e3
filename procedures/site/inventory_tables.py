"""The tables of an inventory: which there are, what their cells may be, and how a file becomes rows.

Whatever stands in a file comes out as rows or as what is wrong with it, each by its line and column. The apostrophe
that keeps a spreadsheet from taking a cell for a formula is put before it on the way out, and taken away on the way in.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, Final

from procedures.answers import LONGEST_SCAN, clean_line
from procedures.reports.tables import unguarded
from procedures.site import source_facts
from procedures.site.describing import ROLES, read_fields
from procedures.trouble import Trouble

LARGEST_FILE: Final = 20_000_000
LONGEST_CELL: Final = 300

COLUMNS: Final[Mapping[str, tuple[str, ...]]] = {
    "people": ("label", "name", "initials", "roles", "trained_until"),
    "jigs": ("label",),
    "sources": (
        "label",
        "serial",
        "nuclide",
        "activity",
        "activity_on",
        "emits",
        "strength",
        "certified_as",
        "components",
        "model",
        "uncertainty",
        "leak_test_exempt",
        "leak_test_exempt_note",
    ),
    "instruments": ("label", "serial", "type", "profile", "detector", "cable"),
    "bindings": ("instrument", "role", "source", "jig"),
}
"""The files, in the order in which they are taken in, each with its columns."""

MAY_BE_MISSING: Final = frozenset(source_facts.FIELDS)
"""Columns that a file need not have: what they say is kept only where something is said."""

MAY_BE_EMPTY: Final = MAY_BE_MISSING | {"trained_until", "emits", "strength", "detector", "cable", "jig", "serial"}

SCANNED: Final = frozenset({"label", "detector", "cable"})

SORTS: Final = {"people": "person", "jigs": "jig", "sources": "source", "instruments": "instrument"}


@dataclass(frozen=True, slots=True)
class BadRow:
    """One thing wrong: in which file, on which line (from 1; 0 for the whole file), in which column, and why."""

    file: str
    line: int
    column: str
    why: str

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}" if self.line else self.file
        return f"{place}: {f'{self.column}: ' if self.column else ''}{self.why}"


class BadRows(Trouble):
    """Tables that nothing was taken from, with everything that is wrong in them."""

    def __init__(self, rows: Iterable[BadRow]) -> None:
        self.rows = tuple(rows)
        count = len(self.rows)
        super().__init__(
            str(self.rows[0]) if count == 1 else f"{count} things are wrong in these tables",
            do="Put right what is listed, then take them in again. Nothing was taken.",
        )

    def lines(self) -> tuple[str, ...]:
        return (*(str(row) for row in self.rows), f"Do: {self.do}")


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table: its number and its cells by column."""

    line: int
    cells: Mapping[str, str]


Refuse = Callable[[str, int, str, str], None]
"""Takes what is wrong: file, line, column, why."""


def read_table(refuse: Refuse, path: Path, name: str) -> list[Row]:
    """The rows of one table, as far as they can be read at all."""
    try:
        if not path.is_file():
            # A pipe would be waited for without end.
            refuse(path.name, 0, "", "this is a folder, a pipe or a device, and no file")
            return []
        with path.open("rb") as file:
            raw = file.read(LARGEST_FILE + 1)
        if len(raw) > LARGEST_FILE:
            refuse(path.name, 0, "", f"this file is larger than {LARGEST_FILE:,} bytes")
            return []
        text = raw.decode("utf-8-sig")
    except OSError as fault:
        refuse(path.name, 0, "", f"this file cannot be read ({fault.strerror})")
        return []
    except UnicodeDecodeError as fault:
        line = raw[: fault.start].count(b"\n") + 1
        refuse(path.name, line, "", "this text is not UTF-8: save it again as UTF-8")
        return []
    return _rows(refuse, path.name, COLUMNS[name], text)


def _rows(refuse: Refuse, file: str, columns: Sequence[str], text: str) -> list[Row]:
    head = text.split("\n", 1)[0]
    # Where a comma parts decimals, spreadsheets part columns with a semicolon.
    parts = ";" if ";" in head and "," not in head else ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=parts, strict=True)
    rows: list[Row] = []
    names: list[str] | None = None
    end = 0
    try:
        for cells in reader:
            line, end = end + 1, reader.line_num
            if not any(cell.strip() for cell in cells):
                continue
            if names is None:
                names = [cell.strip().casefold() for cell in cells]
                if not _columns_fit(refuse, file, line, names, columns):
                    return []
            elif len(cells) != len(names):
                refuse(file, line, "", f"{len(cells)} cells, and there are {len(names)} columns")
            else:
                rows.append(Row(line, dict(zip(names, map(unguarded, cells), strict=True))))
    except csv.Error as fault:
        refuse(file, end + 1, "", f"this is no table from here on ({fault})")
    if names is None:
        refuse(file, 1, "", f"there is no heading; wanted: {', '.join(columns)}")
    return rows


def _columns_fit(refuse: Refuse, file: str, line: int, names: Sequence[str], columns: Sequence[str]) -> bool:
    faults = [(column, "this column is missing") for column in columns if column not in {*names, *MAY_BE_MISSING}]
    faults += [(name[:40], "there is no such column") for name in names if name not in columns]
    faults += [(name, "this column is there twice") for name in columns if names.count(name) > 1]
    for column, why in faults:
        refuse(file, line, column, f"{why}; wanted: {', '.join(columns)}")
    return not faults


def read_cell(refuse: Refuse, name: str, row: Row, column: str) -> Any:
    """The value of one cell, or None after it was refused."""
    cell = row.cells[column]
    line = clean_line(cell)
    file = f"{name}.csv"
    why = ""
    if line != " ".join(cell.split()):
        why = "it holds characters that cannot be seen"
    elif not line and column not in MAY_BE_EMPTY:
        why = "it is empty"
    elif len(line) > (longest := LONGEST_SCAN if column in SCANNED else LONGEST_CELL):
        why = f"it is longer than {longest} characters"
    if not why:
        try:
            return _value(name, column, line, clean_line(row.cells.get("certified_as", "")))
        except Trouble as trouble:
            why = trouble.what + (f"; allowed: {trouble.allowed}" if trouble.allowed else "")
    refuse(file, row.line, column, why)
    return None


def _value(name: str, column: str, line: str, certified_as: str) -> Any:
    """What the journal keeps of a cell. Cells of `bindings`, and labels, are looked at where they are used."""
    if name == "bindings" or column == "label":
        return line
    if column == "activity":
        # What cannot be a way to certify is refused in its own column.
        known = certified_as if certified_as in source_facts.CERTIFIED_AS else "activity"
        return source_facts.certified_value(known, line)
    value = _SPELT[column](line) if column in _SPELT else line
    return read_fields(SORTS[name], {column: value})[column]


def _day(text: str) -> date:
    # Of the forms that ISO 8601 knows the one that cannot be misread.
    try:
        if date.fromisoformat(text).isoformat() == text:
            return date.fromisoformat(text)
    except ValueError:
        pass
    raise Trouble("it is no date", allowed="year-month-day such as 2031-05-06")


def _components(text: str) -> list[dict[str, str]]:
    rows = [row.split() for row in text.split("+") if row.strip()]
    if any(len(row) != 2 for row in rows):
        raise Trouble("these are no components", allowed="each nuclide and its share, such as Am-241 0.6 + Cs-137 0.4")
    return [{"nuclide": nuclide, "share": share} for nuclide, share in rows]


def spelt(column: str, value: Any) -> str:
    """What the journal keeps, as a cell."""
    if column == "components":
        return " + ".join(f"{each['nuclide']} {each['share']}" for each in value or ())
    if column == "roles":
        return " ".join(role for role in ROLES if role in value)
    return "" if value is None else clean_line(str(value))


_SPELT: Final[Mapping[str, Callable[[str], Any]]] = {
    "roles": lambda text: text.replace(",", " ").split(),
    "trained_until": lambda text: _day(text) if text else None,
    "activity_on": _day,
    "components": _components,
}
"""How a cell is split before its value is read."""
