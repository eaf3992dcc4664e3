"""The tables of an inventory: which there are, what their cells may be, and how a file becomes rows.

Whatever stands in a file comes out as rows or as what is wrong with it, each by its line and column.
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
from procedures.site import people
from procedures.trouble import Trouble

LARGEST_FILE: Final = 20_000_000
LONGEST_CELL: Final = 300

COLUMNS: Final[Mapping[str, tuple[str, ...]]] = {
    "people": ("label", "name", "initials", "roles", "trained_until"),
    "jigs": ("label",),
    "sources": ("label", "serial", "nuclide", "activity", "activity_on", "emits", "strength"),
    "instruments": ("label", "serial", "type", "profile", "detector", "cable"),
    "bindings": ("instrument", "role", "source", "jig"),
}
"""The files, in the order in which they are taken in, each with its columns."""

MAY_BE_EMPTY: Final = frozenset({"trained_until", "emits", "strength", "detector", "cable", "jig", "serial"})

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
                rows.append(Row(line, dict(zip(names, cells, strict=True))))
    except csv.Error as fault:
        refuse(file, end + 1, "", f"this is no table from here on ({fault})")
    if names is None:
        refuse(file, 1, "", f"there is no heading; wanted: {', '.join(columns)}")
    return rows


def _columns_fit(refuse: Refuse, file: str, line: int, names: Sequence[str], columns: Sequence[str]) -> bool:
    faults = [(column, "this column is missing") for column in columns if column not in names]
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
            return _READERS.get(column, str)(line)
        except Trouble as trouble:
            why = trouble.what + (f"; allowed: {trouble.allowed}" if trouble.allowed else "")
    refuse(file, row.line, column, why)
    return None


def _day(text: str) -> str:
    try:
        if date.fromisoformat(text).isoformat() == text:
            return text
    except ValueError:
        pass
    raise Trouble("it is no date", allowed="year-month-day such as 2031-05-06")


def _day_or_none(text: str) -> str | None:
    return _day(text) if text else None


def _roles(text: str) -> list[str]:
    return list(people.draft(label="-", name="-", initials="-", roles=text.replace(",", " ").split()).body["roles"])


def _initials(text: str) -> str:
    return str(people.draft(label="-", name="-", initials=text, roles=["lead"]).body["initials"])


def _name(text: str) -> str:
    return str(people.draft(label="-", name=text, initials="-", roles=["lead"]).body["name"])


def _nuclide(text: str) -> str:
    from procedures.nuclides import half_life

    return half_life(text).nuclide


def _activity(text: str) -> str:
    from procedures.units import read_quantity

    found = read_quantity(text, like="Bq")
    if found.value <= 0:
        raise Trouble("it is no activity of a source", allowed="more than 0 Bq")
    return str(found)


def _strength(text: str) -> str:
    if text not in ("", "strong"):
        raise Trouble("it is not known", allowed="strong, or nothing")
    return text


_READERS: Final[Mapping[str, Callable[[str], Any]]] = {
    "name": _name,
    "initials": _initials,
    "roles": _roles,
    "trained_until": _day_or_none,
    "nuclide": _nuclide,
    "activity": _activity,
    "activity_on": _day,
    "strength": _strength,
}
