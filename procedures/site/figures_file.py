"""A file of figures, one a line or the first column of a table, with an answer for whatever else stands in it."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from procedures.trouble import Trouble
from procedures.units import read_number, shown

LARGEST_FILE: Final = 10_000_000
"""Bytes."""

MOST_FIGURES: Final = 100_000

ALLOWED: Final = "one figure a line, or a table whose first column holds figures; a heading, empty lines, # comments"

_ONE_FIGURE: Final = re.compile(r"[+\-−]?\d+,\d+|[+\-−]?\d{1,3}(,\d{3})+(\.\d*)?")
"""What may be one figure, with a decimal comma or thousands marked, as well as columns."""


@dataclass(frozen=True, slots=True)
class Figures:
    """The figures of a file in its order, and its heading ("" for none), which is the first line without any digit."""

    values: tuple[float, ...]
    heading: str = ""


def read_figures(path: Path) -> Figures:
    """The figures in a UTF-8 file: text with one a line, or the first column between commas, semicolons or tabs.

    Raises Trouble with file and line for anything that is no figure, so that none is left out unseen.
    """
    lines = _text(path).splitlines()
    is_csv = path.suffix.lower() == ".csv"
    values: list[float] = []
    heading = ""
    for at, line in enumerate(lines, 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        if not values and not heading and not any(character.isdecimal() for character in line):
            heading = line.strip()
            continue
        where = f"{path.name}, line {at}"
        if len(values) == MOST_FIGURES:
            raise Trouble("there are too many figures", where=where, allowed=f"at most {MOST_FIGURES}")
        values.append(_figure(line, where, commas_part=is_csv or "," in heading))
    if not values:
        raise Trouble("no figure stands in this file", where=path.name, allowed=ALLOWED)
    return Figures(tuple(values), heading)


def _figure(line: str, where: str, *, commas_part: bool) -> float:
    try:
        return float(read_number(_first_column(line, commas_part=commas_part)))
    except Trouble as trouble:
        raise Trouble(trouble.what, where=where, allowed=trouble.allowed or ALLOWED, do=trouble.do) from None


def _first_column(line: str, *, commas_part: bool) -> str:
    """What stands before the first separator. A lone comma between figures is a column's end only where that is clear.

    Otherwise "49,6" would be taken for 49 without a word.
    """
    mark = next((each for each in ";\t" if each in line), ",")
    if mark not in line:
        return line
    if mark == "," and not commas_part and _ONE_FIGURE.fullmatch(line.strip()):
        raise Trouble(
            f"“{shown(line)}” may be one figure with a comma in it, or columns",
            allowed="figures without a comma; columns parted by semicolons; or a file named .csv, parted by commas",
            do="Write a decimal point, or name the file .csv.",
        )
    try:
        return next(csv.reader([line], delimiter=mark, skipinitialspace=True, strict=True))[0]
    except csv.Error:
        raise Trouble(f"“{shown(line)}” is no line of a table", allowed=ALLOWED, do="Look at its quotes.") from None


def _text(path: Path) -> str:
    allowed = "a text file that you may read"
    try:
        if path.is_dir():
            raise Trouble("this is a folder, not a file", where=str(path), allowed=allowed, do="Name a file.")
        with path.open("rb") as file:
            raw = file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise Trouble(f"it cannot be read: {why}", where=str(path), allowed=allowed, do="Look at its path.") from None
    if len(raw) > LARGEST_FILE:
        raise Trouble("this file is too large", where=path.name, allowed=f"at most {LARGEST_FILE:,} bytes")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise Trouble(
            "this is not UTF-8 text", where=f"{path.name}, line {line}", allowed="UTF-8 text", do="Save it as UTF-8."
        ) from None
