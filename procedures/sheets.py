"""What people read and fill in besides a checkout: sheets, listings and forms, as values that every front end draws.

A *sheet* is a document about one thing (an instrument, a checkout, a day). A *listing* is a page of rows to search and
open. A *form* asks for some fields at once. The core decides what stands in them and who may do what; a screen, line
mode and the printed reports draw the same values and know none of what they are about.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from procedures.asks import Option
from procedures.trouble import Trouble

Tone = Literal["", "good", "warn", "bad", "quiet"]
"""How much a line matters. Words say it too: a tone is never the only thing that says it."""

Goes = Literal["form", "sheet", "listing", "checkout"]


@dataclass(frozen=True, slots=True)
class Deed:
    """Something that can be done from here: opens the form, sheet or listing `name` about `about`.

    `about` is "", an id, or several joined by commas. `may_not` says why this person may not do it now, "" if they may:
    such a deed is shown, dimmed, with the reason.
    """

    say: str
    goes: Goes
    name: str
    about: str = ""
    may_not: str = ""


@dataclass(frozen=True, slots=True)
class Lines:
    """Sentences, one a line."""

    lines: tuple[str, ...]
    title: str = ""
    tone: Tone = ""


@dataclass(frozen=True, slots=True)
class Pairs:
    """Names and what they are: "due" → "2027-03-12"."""

    rows: tuple[tuple[str, str], ...]
    title: str = ""


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table. Where there is no room, columns with the highest `gives_way` go first; 0 always stands."""

    heading: str
    figures: bool = False
    """Figures are set right-aligned."""
    gives_way: int = 0
    least: int = 6
    """Characters below which it is no use."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row; `opens` is what Enter on it opens, `tone` how much it matters, `key` tells it from others."""

    cells: tuple[str, ...]
    opens: Deed | None = None
    tone: Tone = ""
    key: str = ""


@dataclass(frozen=True, slots=True)
class Grid:
    """A table inside a sheet. `empty` is said where there are no rows."""

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    title: str = ""
    empty: str = "none"


@dataclass(frozen=True, slots=True)
class PlotMark:
    """A moment after which earlier points do not compare with later ones."""

    at: datetime
    say: str


@dataclass(frozen=True, slots=True)
class PlotLine:
    """A level line: a tolerance limit, a control limit, a centre. `dashes` tells kinds apart without colour."""

    value: float
    say: str
    kind: Literal["allowed", "control", "centre"] = "allowed"


@dataclass(frozen=True, slots=True)
class PlotDot:
    """One value at a time. `sign` is "" or one character that says what is special about it; `say` says it in words."""

    at: datetime
    value: float
    sign: str = ""
    say: str = ""


@dataclass(frozen=True, slots=True)
class Plot:
    """Values over time, drawn in the terminal and as SVG. Times are in the site's zone. `unit` is "" for a ratio."""

    title: str
    unit: str
    dots: tuple[PlotDot, ...]
    lines: tuple[PlotLine, ...] = ()
    marks: tuple[PlotMark, ...] = ()
    notes: tuple[str, ...] = ()


Section = Lines | Pairs | Grid | Plot


@dataclass(frozen=True, slots=True)
class Sheet:
    """A document about one thing. `name` and `about` open it again. `line` stands under the title.

    `breaks` are indexes of sections that begin a new page on paper.
    """

    name: str
    title: str
    sections: tuple[Section, ...]
    about: str = ""
    line: str = ""
    deeds: tuple[Deed, ...] = ()
    breaks: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Filter:
    """One thing a listing can be narrowed by. `options` is empty for free text."""

    id: str
    say: str
    options: tuple[Option, ...] = ()
    example: str = ""


@dataclass(frozen=True, slots=True)
class Listing:
    """One page of a listing: `rows` from `offset`, of `total` in all; `filters` it knows besides a search."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    total: int
    offset: int = 0
    about: str = ""
    line: str = ""
    deeds: tuple[Deed, ...] = ()
    filters: tuple[Filter, ...] = ()
    empty: str = "Nothing fits this."


@dataclass(frozen=True, slots=True)
class Query:
    """What a listing is asked: a search text, filters by their id, and which page."""

    search: str = ""
    filters: Mapping[str, str] = field(default_factory=dict)
    limit: int = 50
    offset: int = 0


FieldKind = Literal["text", "choice", "date", "figure", "scan", "yes-no", "secret", "readings", "rows"]


@dataclass(frozen=True, slots=True)
class FormField:
    """One field of a form.

    text: one line. choice: one of `options`. date: "2026-11-25". figure: a number, in `unit` or with its own. scan: a
    label, scanned or typed. yes-no: "yes" or "no". secret: a PIN, never shown. readings: several figures, one a line of
    the value; a rejected one ends in " ! why" and stays. rows: one a line of the value, cells joined by " | ", named by
    `columns`.

    `value` is what stands in it to begin with. `more` is a quiet line that helps. `fixed` fields show, and cannot be
    changed.
    """

    id: str
    say: str
    kind: FieldKind = "text"
    value: str = ""
    needed: bool = True
    more: str = ""
    example: str = ""
    unit: str = ""
    options: tuple[Option, ...] = ()
    columns: tuple[str, ...] = ()
    wanted: int = 0
    """How many readings are wanted, 0 for any number."""
    fixed: bool = False
    reads: Callable[[str], str] | None = field(default=None, compare=False, repr=False)
    """Reads one of several readings when it is entered: what it comes to, in words. Raises Trouble for what is none."""


@dataclass(frozen=True, slots=True)
class Form:
    """A form, or one page of it. `instruction` is the one thing to do; `says` are lines to know before.

    `keep` is what the last button says. `pages` is how many pages there are by now: what was entered on one may decide
    what the next one asks. A `dangerous` form asks once more before it is kept.
    """

    name: str
    title: str
    instruction: str
    fields: tuple[FormField, ...]
    about: str = ""
    says: tuple[str, ...] = ()
    caution: str = ""
    keep: str = "Keep this"
    page: int = 1
    pages: int = 1
    dangerous: str = ""


@dataclass(frozen=True, slots=True)
class Look:
    """What comes of what was entered, before anything is kept: `lines` to read, `troubles` by the field's id."""

    lines: tuple[str, ...] = ()
    troubles: Mapping[str, Trouble] = field(default_factory=dict)
    tone: Tone = ""


@dataclass(frozen=True, slots=True)
class Done:
    """A form was kept: what was done, what to do now, and what to open next (None: back to where it was opened)."""

    what: str
    do: str = ""
    opens: Deed | None = None
