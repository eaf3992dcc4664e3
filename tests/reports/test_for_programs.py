"""CSV and JSON for other programs: what goes out comes in again, and no cell is taken for a formula."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report_samples import HEAD, LISTING, LONG, PLOT, SHEET, circumstances, grids, sheets, texts, words

from procedures.reports import objects, tables
from procedures.reports.text import shown
from procedures.sheets import (
    Column,
    Deed,
    Grid,
    Lines,
    Listing,
    Pairs,
    Plot,
    PlotDot,
    PlotLine,
    PlotMark,
    Row,
    Section,
    Sheet,
)
from procedures.trouble import Trouble


def read_csv(pieces: list[str]) -> list[list[str]]:
    """What a reader of CSV finds, with the guarding apostrophe taken away again."""
    lines = csv.reader(io.StringIO("".join(pieces), newline=""), strict=True)
    return [[cell[1:] if cell.startswith("'") else cell for cell in line] for line in lines]


# --- CSV -----------------------------------------------------------------------------------------------------------


@given(grids(words))
def test_a_listing_comes_in_again_as_it_went_out(grid: Grid) -> None:
    """Commas, quotation marks, any script."""
    listing = Listing("x", "x", grid.columns, grid.rows, len(grid.rows))
    found = read_csv(list(tables.listing_csv(listing, grid.rows, circumstances())))
    assert found == [[column.heading for column in grid.columns], *(list(row.cells) for row in grid.rows)]


@given(grids(texts))
def test_csv_is_as_rfc_4180_says(grid: Grid) -> None:
    """RFC 4180, section 2 (memory): lines end with CRLF, all have as many fields, quotes inside quotes are doubled.

    Only control characters, which would act in a terminal, are not as they were.
    """
    listing = Listing("x", "x", grid.columns, grid.rows, len(grid.rows))
    pieces = list(tables.listing_csv(listing, grid.rows, circumstances()))
    assert all(piece.endswith("\r\n") for piece in pieces)
    found = read_csv(pieces)
    assert {len(line) for line in found} == {len(grid.columns)}
    assert found[1:] == [[shown(cell) for cell in row.cells] for row in grid.rows]


@given(st.text(max_size=20) | st.from_regex(r"[=+@'\t-].{0,9}", fullmatch=True))
def test_no_cell_is_a_formula_and_what_was_recorded_is_found_again(cell: str) -> None:
    """A label such as =1+1 is a label. (That =, +, -, @, tab, line end begin a formula: common practice, no source.)"""
    made = tables.guarded(cell)
    assert made[:1] not in tuple("=+-@\t\n") or re.fullmatch(r"[+-][0-9.,eE+%  -]+", made)
    assert (made[1:] if made.startswith("'") else made) == cell


@pytest.mark.parametrize("figure", ["-1", "+2.5", "-0,5", "-1e-3", "-12 %"])
def test_figures_stay_figures(figure: str) -> None:
    """A negative background must not become text."""
    assert tables.guarded(figure) == figure


@pytest.mark.parametrize("text", ["-1+cmd", "--1", "=1", "-1\n=2", "+", "-", "@x", "＝1"])
def test_what_only_looks_like_a_figure_is_guarded(text: str) -> None:
    """Figures are whole: nothing follows them."""
    assert tables.guarded(text) == f"'{text}"


def test_tables_of_a_sheet_follow_each_other_with_their_titles() -> None:
    """All lines are as wide as the widest table; a plot is a table of its values."""
    found = read_csv(list(tables.sheet_csv(SHEET, circumstances())))
    assert {len(line) for line in found} == {5}
    assert found[0] == ["table", "day", "reading, mR/h", "remark", ""]
    assert found[1] == ["Readings", "2026-03-01", "1.01", "as usual", ""]
    assert found[29] == ["table", "at, UTC", "value", "sign", "remark"]
    values = [(dt.datetime.fromisoformat(line[1]), float(line[2]), line[3]) for line in found[30:]]
    assert values == [(dot.at, dot.value, dot.sign) for dot in PLOT.dots]


def test_a_sheet_without_tables_says_so() -> None:
    """An empty file would look like an empty table."""
    with pytest.raises(Trouble) as refused:
        list(tables.sheet_csv(Sheet("x", "x", (Lines(("A",)),)), circumstances()))
    assert refused.value.allowed
    assert refused.value.do


def test_every_line_of_a_demo_says_that_it_is_none() -> None:
    """Lines of a table are copied into others; the marking goes with each."""
    for pieces in (
        tables.listing_csv(LISTING, LONG.rows, circumstances(marking="demo")),
        tables.sheet_csv(SHEET, circumstances(marking="demo")),
    ):
        assert {line[-1] for line in read_csv(list(pieces))} == {"records", "demo"}


# --- JSON ----------------------------------------------------------------------------------------------------------


def row_of(found: dict[str, Any]) -> Row:
    opens = found["opens"]
    deed = Deed("", opens["goes"], opens["name"], opens["about"]) if opens else None
    return Row(tuple(found["cells"]), deed, found["tone"], found["key"])


def columns_of(found: list[dict[str, Any]]) -> tuple[Column, ...]:
    return tuple(Column(each["heading"], each["figures"]) for each in found)


def section_of(found: dict[str, Any]) -> Section:
    """The section that a JSON object is of, by the keys that docs/records.md lists."""
    at = dt.datetime.fromisoformat
    if found["kind"] == "lines":
        return Lines(tuple(found["lines"]), found["title"], found["tone"])
    if found["kind"] == "pairs":
        return Pairs(tuple((each["name"], each["value"]) for each in found["rows"]), found["title"])
    if found["kind"] == "grid":
        rows = tuple(map(row_of, found["rows"]))
        return Grid(columns_of(found["columns"]), rows, found["title"], found["empty"])
    return Plot(
        found["title"],
        found["unit"],
        tuple(PlotDot(at(each["at"]), each["value"], each["sign"], each["say"]) for each in found["dots"]),
        tuple(PlotLine(each["value"], each["say"], each["kind"]) for each in found["lines"]),
        tuple(PlotMark(at(each["at"]), each["say"]) for each in found["marks"]),
        tuple(found["notes"]),
    )


def bare_row(row: Row) -> Row:
    opens = row.opens
    return Row(row.cells, Deed("", opens.goes, opens.name, opens.about) if opens else None, row.tone, row.key)


def bare(section: Section) -> Section:
    """Without what is of use on a screen alone: words of deeds, widths of columns."""
    if not isinstance(section, Grid):
        return section
    columns = tuple(Column(each.heading, each.figures) for each in section.columns)
    return Grid(columns, tuple(map(bare_row, section.rows)), section.title, section.empty)


@given(sheets(st.text(st.characters(exclude_categories=["Cs"]), max_size=40)))
def test_a_sheet_comes_in_again_as_it_went_out(sheet: Sheet) -> None:
    """Every text as it was, every value to its last figure, every moment."""
    text = "".join(objects.sheet_json(sheet, circumstances()))
    assert text.isascii()
    found = json.loads(text)
    assert found["ok"] is True
    assert (found["sheet"], found["about"], found["title"], found["line"]) == (
        sheet.name,
        sheet.about,
        sheet.title,
        sheet.line,
    )
    assert tuple(map(section_of, found["sections"])) == tuple(map(bare, sheet.sections))
    assert tuple(found["breaks"]) == sheet.breaks


@given(grids(texts), st.dictionaries(texts, texts, max_size=2))
def test_a_listing_is_one_object_with_a_row_a_line(grid: Grid, narrowed: dict[str, str]) -> None:
    """Half characters, which strict readers refuse, are the only thing that is replaced."""
    listing = Listing("x", "x", grid.columns, (), 99)
    text = "".join(objects.listing_json(listing, grid.rows, circumstances(), narrowed))
    found = json.loads(text)
    assert len(text.splitlines()) == 2 + len(grid.rows)
    assert found["total"] == 99
    assert [len(row["cells"]) for row in found["rows"]] == [len(row.cells) for row in grid.rows]
    assert not re.search(r"\\ud[89a-f](?![0-9a-f]{2}\\ud[c-f])", re.sub(r"\\ud[89ab]..\\ud[c-f]..", "", text))


def test_values_that_are_no_numbers_are_null() -> None:
    """JSON has no infinity (RFC 8259, section 6; memory)."""
    at = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
    plot = Plot("x", "", (PlotDot(at, float("nan")), PlotDot(at, float("inf"))), (PlotLine(float("-inf"), "x"),))
    found = json.loads("".join(objects.sheet_json(Sheet("x", "x", (plot,)), circumstances())))
    assert [dot["value"] for dot in found["sections"][0]["dots"]] == [None, None]
    assert found["sections"][0]["lines"][0]["value"] is None


def test_the_circumstances_are_in_both() -> None:
    """Site, station, marking, when, and the heads that verify takes. Moments are UTC in ISO 8601."""
    sheet = json.loads("".join(objects.sheet_json(SHEET, circumstances(marking="practice"))))
    listing = json.loads("".join(objects.listing_json(LISTING, LONG.rows, circumstances(marking="practice"), {})))
    assert sheet["printed"] == listing["printed"]
    assert sheet["printed"] == {
        "site": "Test site",
        "station": "station-a",
        "station_name": "first laptop",
        "marking": "practice",
        "made": "2026-06-01T06:30:00+00:00",
        "zone": "Europe/Vienna",
        "heads": [{"station": "station-a", "seq": 17, "hash": HEAD.hash}],
    }
