"""Plots as SVG: every dot in the frame and where its value belongs, lines and marks told apart without colour."""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report_samples import PLOT, figures, moments, plots, words

from procedures.reports import svg
from procedures.reports.axes import DAY, time_axis, value_axis
from procedures.sheets import Plot, PlotDot, PlotLine, PlotMark

anything = st.floats()
"""Infinite ones and those that are no number among them."""


def drawn(plot: Plot) -> ElementTree.Element:
    """The picture, read by a strict reader of XML."""
    return ElementTree.fromstring(svg.svg(plot, "plot-1"))


def places(plot: Plot) -> list[tuple[float, float]]:
    return [(float(dot.attrib["cx"]), float(dot.attrib["cy"])) for dot in drawn(plot).iter("circle")]


@given(plots(words, anything).filter(svg.drawable))
def test_every_dot_lies_in_the_frame_and_none_is_lost(plot: Plot) -> None:
    """Whatever the values: a dot outside would be a reading that nobody sees."""
    found = places(plot)
    assert len(found) == sum(math.isfinite(dot.value) for dot in plot.dots)
    assert all(svg.LEFT <= x <= svg.RIGHT and svg.TOP <= y <= svg.BOTTOM for x, y in found)


@given(plots(words, anything))
def test_what_is_no_number_is_not_drawn_and_said(plot: Plot) -> None:
    """Leaving a value out in silence would make a picture of fewer readings than there were."""
    lost = sum(not math.isfinite(dot.value) for dot in plot.dots)
    assert (f"{lost} of the values" in svg.told(plot)) == (lost > 0)
    if lost == len(plot.dots):
        assert svg.svg(plot, "plot-1") == ""
        assert svg.told(plot).startswith("There are no values to draw.")


@given(st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=8), st.floats(-1e6, 1e6))
def test_heights_are_in_proportion_to_values(values: list[float], limit: float) -> None:
    """A line through lowest and highest dot gives all others, and the limit: the scale is linear, upwards."""
    start = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
    dots = tuple(PlotDot(start + dt.timedelta(days=number), value) for number, value in enumerate(values))
    plot = Plot("x", "", dots, (PlotLine(limit, "limit"),))
    heights = [y for _, y in places(plot)]
    (line,) = [each for each in drawn(plot).iter("line") if "level" in each.get("class", "")]
    axis = value_axis([*values, limit])
    for value, y in zip([*values, limit], [*heights, float(line.attrib["y1"])], strict=True):
        wanted = svg.BOTTOM - (value - axis.low) / (axis.high - axis.low) * (svg.BOTTOM - svg.TOP)
        assert y == pytest.approx(wanted, abs=0.06)


@given(st.lists(figures, max_size=6))
def test_the_axis_of_values_holds_all_and_its_ticks_are_in_order(values: list[float]) -> None:
    """Ticks lie on the axis, apart, and are few enough to be read."""
    axis = value_axis(values)
    assert math.isfinite(axis.low)
    assert math.isfinite(axis.high)
    assert axis.low < axis.high
    assert all(axis.low <= value <= axis.high for value in values)
    ticks = [value for value, _ in axis.ticks]
    assert ticks == sorted(set(ticks))
    assert len(ticks) <= 10
    assert all(axis.low <= tick <= axis.high for tick in ticks)


@given(st.integers(-9999, 9999), st.integers(1, 9999), st.sampled_from([0.001, 0.01, 0.1, 1.0, 10.0]))
def test_what_is_written_at_a_tick_is_its_value(low: int, more: int, unit: float) -> None:
    """Rounded labels would let a limit be read off wrongly."""
    axis = value_axis([low * unit, (low + more) * unit])
    assert len(axis.ticks) >= 3
    for value, say in axis.ticks:
        assert float(say) == pytest.approx(value, rel=1e-9, abs=unit * more * 1e-9)


@given(st.lists(moments, min_size=1, max_size=6))
def test_the_axis_of_time_holds_all_moments_with_few_dates(found: list[dt.datetime]) -> None:
    """More than seven dates would run into each other."""
    axis = time_axis(found)
    assert all(axis.low <= each.timestamp() <= axis.high for each in found)
    assert 0 < len(axis.ticks) <= 7
    assert all(axis.low <= place <= axis.high for place, _ in axis.ticks)


def test_dates_stand_at_local_midnight_through_a_change_of_clocks() -> None:
    """2026-03-29 has 23 hours in Vienna (tz database; computed): a day there is shorter on paper too."""
    zone = ZoneInfo("Europe/Vienna")
    found = [dt.datetime(2026, 3, day, tzinfo=zone) for day in (27, 28, 29, 30, 31)]
    axis = time_axis(found)
    assert [say for _, say in axis.ticks] == ["2026-03-27", "2026-03-28", "2026-03-29", "2026-03-30", "2026-03-31"]
    at = [place for place, _ in axis.ticks]
    assert [(b - a) / DAY * 24 for a, b in pairwise(at)] == [24, 24, 23, 24]


def test_kinds_of_line_have_dashes_of_their_own_and_say_which() -> None:
    """Nothing is said by colour only."""
    assert len(set(svg.DASHES.values())) == 3
    levels = [each for each in drawn(PLOT).iter("line") if "level" in each.get("class", "")]
    assert {each.attrib["class"].split()[1]: each.attrib["stroke-dasharray"] for each in levels} == svg.DASHES
    assert all(any(line.say in said for said in svg.legend(PLOT)) for line in PLOT.lines)


def test_a_special_dot_has_another_shape_its_sign_and_its_words() -> None:
    """It is found in black and white, and what it is stands below."""
    special = [dot for dot in drawn(PLOT).iter("circle") if "special" in dot.attrib["class"]]
    assert len(special) == 1
    assert special[0].attrib["r"] != svg.svg(PLOT, "x").split('class="dot"')[1].split('r="')[1].split('"')[0]
    assert "*" in [text.text for text in drawn(PLOT).iter("text")]
    assert any(said.startswith("* 2026-03-10 06:00") and "beyond" in said for said in svg.legend(PLOT))


def test_no_line_joins_what_a_mark_parts() -> None:
    """Values before and after a calibration do not compare; a dot at the very moment is of the time after it."""
    start = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
    dots = tuple(PlotDot(start + dt.timedelta(days=number), 1.0) for number in range(6))
    plot = Plot("x", "", dots, (), (PlotMark(dots[4].at, "calibrated"), PlotMark(dots[2].at, "repaired")))
    joined = [each.attrib["points"].split() for each in drawn(plot).iter("polyline")]
    assert [len(points) for points in joined] == [2, 2, 2]


@given(st.lists(st.floats(0.8, 1.2), min_size=1, max_size=15))
def test_labels_of_lines_never_run_into_each_other(values: list[float]) -> None:
    """Limits that lie close together still have each their name."""
    lines = tuple(PlotLine(value, f"line {number}") for number, value in enumerate(values))
    plot = replace(PLOT, lines=lines)
    heights = sorted(
        float(text.attrib["y"]) for text in drawn(plot).iter("text") if re.match("line [0-9]", text.text or "")
    )
    assert len(heights) == len(values)
    assert all(b - a >= 12 for a, b in pairwise(heights))
    assert 0 <= heights[0] <= heights[-1] <= svg.HEIGHT


def test_the_picture_has_a_title_and_a_description() -> None:
    """Whoever does not see it hears the title, how many values from when to when, and the extremes."""
    picture = drawn(PLOT)
    assert picture.attrib["role"] == "img"
    assert picture.attrib["aria-labelledby"] == "plot-1-title plot-1-desc"
    title, desc = picture.find("title"), picture.find("desc")
    assert title is not None
    assert desc is not None
    assert (title.attrib["id"], title.text) == ("plot-1-title", PLOT.title)
    assert (desc.attrib["id"], desc.text) == ("plot-1-desc", svg.told(PLOT))
    assert svg.told(PLOT) == "10 values from 2026-03-01 to 2026-03-10: lowest 0.91, highest 1.08, newest 0.91."


@given(st.lists(st.integers(0, 400), min_size=1, max_size=6))
def test_numbers_of_marks_never_stand_on_each_other(days: list[int]) -> None:
    """A calibration and its reference readings fall on one day: each mark keeps its number."""
    start = dt.datetime(2025, 1, 1, tzinfo=dt.UTC)
    marks = tuple(PlotMark(start + dt.timedelta(days=day), f"mark on day {day}") for day in days)
    found = [text for text in drawn(replace(PLOT, marks=marks)).iter("text") if text.get("class") == "number"]
    numbers = [number for text in found for number in (text.text or "").split(",")]
    assert sorted(map(int, numbers)) == list(range(1, len(days) + 1))
    ends = [(float(text.attrib["x"]), float(text.attrib["x"]) + 7 * len(text.text or "")) for text in found]
    assert all(end < begin for (_, end), (begin, _) in pairwise(ends))
