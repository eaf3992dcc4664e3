"""Plots as characters: nothing outside the frame, every limit named, nothing said by colour."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

import pytest
from fake_pages import drift
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from checklist_tui.plotting import DOT, UPRIGHT, plain, plot_lines
from procedures.sheets import Plot, PlotDot, PlotLine, PlotMark

BEGIN = datetime(2026, 3, 1, 6, 0, tzinfo=timezone(timedelta(hours=1)))
VALUES = st.floats(allow_nan=True, allow_infinity=True)
NAMES = st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "Z", "Cc"]), max_size=30)
TIMES = st.floats(-4000, 4000).map(lambda days: BEGIN + timedelta(days=days))
PLOTS = st.builds(
    Plot,
    NAMES,
    st.sampled_from(["", "mR/h"]),
    st.lists(st.builds(PlotDot, TIMES, VALUES, NAMES, NAMES), max_size=12).map(tuple),
    st.lists(st.builds(PlotLine, VALUES, NAMES, st.sampled_from(["allowed", "control", "centre"])), max_size=6).map(
        tuple
    ),
    st.lists(st.builds(PlotMark, TIMES, NAMES), max_size=4).map(tuple),
    st.lists(NAMES, max_size=2).map(tuple),
)


@given(PLOTS, st.integers(2, 140), st.integers(0, 30))
def test_no_line_is_wider_than_the_page(plot: Plot, width: int, height: int) -> None:
    """Whatever the values: not a number, infinite, all alike, the largest there are."""
    for row in plot_lines(plot, width, height):
        assert cell_len(plain(row)) <= width
        assert "\n" not in plain(row)


@given(
    st.lists(st.integers(0, 19), min_size=1, max_size=20, unique=True),
    st.floats(-1e6, 1e6),
    st.floats(1e-3, 1e6),
    st.integers(60, 120),
)
def test_every_dot_is_in_the_frame(days: list[int], base: float, step: float, width: int) -> None:
    """Dots far enough apart to have a cell of their own are all there, and none hides behind a line."""
    dots = tuple(PlotDot(BEGIN + timedelta(days=day), base + step * day) for day in days)
    plot = Plot("", "", dots, (PlotLine(base, "q"), PlotLine(base + step * 19, "q", "centre")))
    drawn = "".join(text for row in plot_lines(plot, width, 12) for text, kind in row if kind == "dot")
    assert drawn.count(DOT) == len(drawn) == len(dots)


@pytest.mark.parametrize("width", [60, 80, 120])
def test_limits_are_named_and_told_apart_without_colour(width: int) -> None:
    """Each level line has its name at its edge, and its kind has dashes of its own."""
    lines = [plain(each) for each in plot_lines(drift(), width, 11)]
    for name, dash in (("high", "────"), ("low", "────"), ("upper", "- - -"), ("lower", "- - -"), ("mean", "·   ")):
        assert [each for each in lines if each.endswith(name) and dash in each], name
    text = "\n".join(lines)
    assert f"{UPRIGHT} calibrated" in text
    assert "x outside its control limits" in text
    assert "It goes down by 1.3 % a month." in text
    assert "2025-11-12" in text


@given(st.lists(st.floats(0, 10), min_size=1, max_size=8), st.integers(40, 100), st.integers(5, 14))
def test_no_limit_is_without_its_name(values: list[float], width: int, height: int) -> None:
    """Many limits close together: whatever has no room at its line stands beneath with its value."""
    lines = tuple(PlotLine(value, f"limit{at}") for at, value in enumerate(values))
    plot = Plot("", "", (PlotDot(BEGIN, 5.0),), lines)
    text = "\n".join(plain(each) for each in plot_lines(plot, width, height))
    assert all(each.say in text for each in lines)


@given(st.lists(st.integers(-5, 60), min_size=1, max_size=8), st.integers(40, 100))
def test_no_mark_is_without_its_name(days: list[int], width: int) -> None:
    """Also one that lies before the first value, or beside another one."""
    marks = tuple(PlotMark(BEGIN + timedelta(days=day), f"mark{at}") for at, day in enumerate(days))
    plot = Plot("", "", (PlotDot(BEGIN, 1.0), PlotDot(BEGIN + timedelta(days=50), 2.0)), (), marks)
    text = "\n".join(plain(each) for each in plot_lines(plot, width, 8))
    assert all(each.say in text for each in marks)


def test_what_cannot_be_drawn_is_said() -> None:
    """No values, or a page too narrow for a frame: in words, with the limits."""
    limits = (PlotLine(1.2, "high"),)
    assert "No values yet." in plain(plot_lines(Plot("", "", (), limits), 60, 11)[0])
    narrow = "\n".join(plain(each) for each in plot_lines(drift(), 24, 11))
    assert "high: 1.2" in narrow
    odd = Plot("", "", (PlotDot(BEGIN, float("nan")), PlotDot(BEGIN, 1.0)))
    assert "1 values are no finite figures" in "\n".join(plain(each) for each in plot_lines(odd, 60, 11))


def test_axis_figures_are_round_and_at_their_height() -> None:
    """A value read off against the axis is the value: a dot on a tick's line is within half a line of it."""
    dots = tuple(PlotDot(BEGIN + timedelta(days=day), float(day)) for day in range(11))
    rows = [plain(each) for each in plot_lines(Plot("", "", dots), 60, 23)]
    ticks = {at: float(row.split("┤")[0]) for at, row in enumerate(rows) if "┤" in row}
    assert set(ticks.values()) >= {0.0, 5.0, 10.0}
    for at, value in ticks.items():
        assert DOT in rows[at], value
