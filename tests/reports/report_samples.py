"""Invented sheets, listings and circumstances for the tests of reports, as examples and as Hypothesis strategies."""

from __future__ import annotations

import datetime as dt
from typing import Any

from hypothesis import strategies as st

from procedures.reports.printed import Head, Printed
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
    Sheet,
)

DAY = dt.datetime(2026, 3, 1, 6, 0, tzinfo=dt.UTC)
HEAD = Head("station-a", 17, "0123456789abcdef" * 4)


def circumstances(**changed: Any) -> Printed:
    """Those of an invented site."""
    given: dict[str, Any] = {
        "site": "Test site",
        "station": "station-a",
        "station_name": "first laptop",
        "marking": "real",
        "made": dt.datetime(2026, 6, 1, 8, 30, tzinfo=dt.timezone(dt.timedelta(hours=2))),
        "zone": "Europe/Vienna",
        "heads": (HEAD,),
    }
    return Printed(**given | changed)


PLOT = Plot(
    "Ratio to what was expected",
    "",
    tuple(
        PlotDot(DAY + dt.timedelta(days=number), 1 + (-1) ** number * number / 100, "*" if number == 9 else "", say)
        for number, say in enumerate([""] * 9 + ["beyond the control limit"])
    ),
    (
        PlotLine(1.2, "allowed up to"),
        PlotLine(0.8, "allowed from"),
        PlotLine(1.06, "usual up to", "control"),
        PlotLine(0.94, "usual from", "control"),
        PlotLine(1.0, "centre", "centre"),
    ),
    (PlotMark(DAY + dt.timedelta(days=5, hours=3), "calibrated"),),
    ("Control limits say what is usual. They are no tolerance.",),
)
LONG = Grid(
    (Column("day"), Column("reading, mR/h", figures=True), Column("remark")),
    tuple(
        Row((f"2026-03-{day:02}", f"{1 + day / 100:.2f}", "as usual"), tone="bad" if day == 7 else "")
        for day in range(1, 29)
    ),
    "Readings",
)
SHEET = Sheet(
    "sample",
    "C-101: an invented chamber",
    (
        Lines(("It is locked out.", "Do not use it."), "How it stands", "bad"),
        Pairs((("serial", "101"), ("calibration due", "2027-05-01")), "What it is"),
        LONG,
        PLOT,
    ),
    line="as it stands",
    breaks=(2, 3),
)
LISTING = Listing("things", "Invented things", LONG.columns, LONG.rows[:5], 28, line="all of them")

texts = st.text(max_size=40)
words = st.text(st.characters(exclude_categories=["C", "Zl", "Zp"]), max_size=40)
figures = st.floats(allow_nan=False, allow_infinity=False)
moments = st.datetimes(
    dt.datetime(1990, 1, 1),
    dt.datetime(2090, 1, 1),
    timezones=st.sampled_from([dt.UTC, dt.timezone(dt.timedelta(hours=-9.5))]),
)
tones = st.sampled_from(["", "good", "warn", "bad", "quiet"])


def rows_of(width: int, text: st.SearchStrategy[str]) -> st.SearchStrategy[Row]:
    deeds = st.none() | st.builds(Deed, text, st.sampled_from(["sheet", "listing"]), text, text)
    cells = st.lists(text, min_size=width, max_size=width).map(tuple)
    return st.builds(Row, cells, deeds, tones, text)


def grids(text: st.SearchStrategy[str] = texts) -> st.SearchStrategy[Grid]:
    columns = st.lists(st.builds(Column, text, st.booleans(), least=st.integers(1, 30)), min_size=1, max_size=4)
    return columns.flatmap(
        lambda made: st.builds(
            Grid, st.just(tuple(made)), st.lists(rows_of(len(made), text), max_size=4).map(tuple), text, text
        )
    )


def plots(text: st.SearchStrategy[str] = texts, value: st.SearchStrategy[float] = figures) -> st.SearchStrategy[Plot]:
    dots = st.builds(PlotDot, moments, value, st.sampled_from(["", "*", "<", "&"]), text)
    lines = st.builds(PlotLine, value, text, st.sampled_from(["allowed", "control", "centre"]))
    return st.builds(
        Plot,
        text,
        text,
        st.lists(dots, max_size=6).map(tuple),
        st.lists(lines, max_size=4).map(tuple),
        st.lists(st.builds(PlotMark, moments, text), max_size=2).map(tuple),
        st.lists(text, max_size=2).map(tuple),
    )


def sheets(text: st.SearchStrategy[str] = texts) -> st.SearchStrategy[Sheet]:
    lines = st.builds(Lines, st.lists(text, max_size=3).map(tuple), text, tones)
    pairs = st.builds(Pairs, st.lists(st.tuples(text, text), max_size=3).map(tuple), text)
    sections = st.lists(lines | pairs | grids(text) | plots(text), max_size=4).map(tuple)
    return st.builds(
        Sheet, text, text, sections, text, text, st.just(()), st.lists(st.integers(0, 5), max_size=2).map(tuple)
    )
