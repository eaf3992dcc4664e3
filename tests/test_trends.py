"""Straight lines, forecasts, and readings that are too much alike."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.trends import Alike, Crossing, Line, NoTrend, alike, fit, forecast
from procedures.trouble import Trouble

NORRIS_X = [
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0, 447.5,
    11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1,
    448.9, 0.5,
]  # fmt: skip
NORRIS_Y = [
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9,
    10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4,
    449.2, 0.2,
]  # fmt: skip
"""NIST Statistical Reference Datasets, linear regression, Norris (memory)."""


def test_a_line_of_the_reference_data() -> None:
    """Certified: intercept −0.262323073774029, slope 1.00211681802045, residual s 0.884796396144373 (memory)."""
    line = fit(NORRIS_X, NORRIS_Y)
    assert isinstance(line, Line)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert line.at(0) == pytest.approx(-0.262323073774029, rel=1e-9)
    assert line.residual == pytest.approx(0.884796396144373, rel=1e-10)


def test_a_falling_response_is_seen_before_it_fails() -> None:
    """A thousandth a day from 1.00 meets 0.80 on day 200; the scatter makes it a range about that day."""
    days = [float(day) for day in range(30)]
    noise = [0.002 if day % 2 else -0.002 for day in range(30)]
    found = forecast(days, [1 - 0.001 * d + n for d, n in zip(days, noise, strict=True)], lower=0.8, upper=1.2)
    assert isinstance(found, Crossing)
    assert found.limit == 0.8
    assert found.earliest < found.expected < found.latest
    assert found.expected == pytest.approx(200, abs=8)
    assert found.earliest > 150
    assert found.latest < 270


@given(st.lists(st.floats(-1, 1), min_size=12, max_size=12), st.floats(0.5, 3))
def test_the_days_are_where_the_confidence_limits_meet_the_limit(noise: list[float], slope: float) -> None:
    """There |line − limit| = t·s·√(1/n + (x − x̄)²/Sxx), with t 2.228 on 10 degrees (t table, memory) for 12 readings.

    The confidence limits of a line: e-Handbook 4.5.1.1 (memory).
    """
    days = [float(n) for n in range(12)]
    found = forecast(days, [slope * d + e for d, e in zip(days, noise, strict=True)], lower=None, upper=50.0)
    assert isinstance(found, Crossing)
    line = found.line
    assert line.residual**2 * 10 == pytest.approx(
        sum((slope * d + e - line.at(d)) ** 2 for d, e in zip(days, noise, strict=True)), abs=1e-9
    )
    for day in (found.earliest, found.latest):
        width = 2.228 * line.residual * math.sqrt(1 / 12 + (day - 5.5) ** 2 / 143)
        assert abs(line.at(day) - 50) == pytest.approx(width, rel=1e-3, abs=1e-6)


def test_a_rise_runs_towards_the_upper_limit() -> None:
    """Without scatter the day is certain."""
    found = forecast([0, 1, 2, 3, 4], [1.0, 1.01, 1.02, 1.03, 1.04], lower=0.8, upper=1.2)
    assert isinstance(found, Crossing)
    assert (found.limit, found.expected) == (1.2, pytest.approx(20))
    assert (found.earliest, found.latest) == (pytest.approx(20), pytest.approx(20))


@pytest.mark.parametrize(
    ("days", "values", "say"),
    [
        ([0, 1, 2, 3], [1, 2, 3, 4], "4 of at least 5"),
        ([0, 1, 2, 3, 4], [1, 1.1, 1, 1.1, 1], "no trend"),
        ([0, 1, 2, 3, 4], [1, 1, 1, 1, 1], "no trend"),
        ([5, 5, 5, 5, 5], [1, 2, 3, 4, 5], "same moment"),
        ([], [], "no trend"),
    ],
)
def test_no_date_is_made_up(days: list[float], values: list[float], say: str) -> None:
    """Where there is no trend, the answer says so and why."""
    found = forecast(days, values, lower=0.0, upper=2.0)
    assert isinstance(found, NoTrend)
    assert say in found.say


def test_a_trend_without_a_limit_ahead_of_it() -> None:
    """Rising towards nothing that is forbidden."""
    found = forecast([0, 1, 2, 3, 4], [1, 2, 3, 4, 5], lower=0.0, upper=None)
    assert isinstance(found, NoTrend)
    assert "no limit" in found.say


@given(
    st.lists(st.tuples(st.integers(0, 1000), st.floats(-5, 5)), min_size=6, max_size=40),
    st.floats(-3, 3).filter(lambda slope: abs(slope) > 0.01),
    st.floats(-1e4, 1e4),
)
def test_where_there_is_a_trend_both_dates_exist(readings: list[tuple[int, float]], slope: float, shift: float) -> None:
    """The interval is finite whenever the slope is significant, holds the likeliest day, and moves with the clock."""
    days = [float(day) for day, _ in readings]
    values = [slope * day + noise for day, noise in readings]
    found = forecast(days, values, lower=-4000.0, upper=4000.0)
    later = forecast([day + shift for day in days], values, lower=-4000.0, upper=4000.0)
    if isinstance(found, Crossing):
        slack = 1e-6 * (1 + abs(found.latest - found.earliest))
        assert math.isfinite(found.earliest)
        assert math.isfinite(found.latest)
        assert found.earliest - slack <= found.expected <= found.latest + slack
        if isinstance(later, Crossing):
            assert later.expected == pytest.approx(found.expected + shift, rel=1e-6, abs=1e-3)


@given(st.lists(st.floats(-1, 1), min_size=12, max_size=30))
def test_more_confidence_never_narrows_the_range(noise: list[float]) -> None:
    """99 % hold what 90 % hold."""
    days = [float(n) for n in range(len(noise))]
    values = [day + each for day, each in zip(days, noise, strict=True)]
    wide = forecast(days, values, lower=None, upper=100.0, confidence=0.99)
    narrow = forecast(days, values, lower=None, upper=100.0, confidence=0.90)
    assert isinstance(wide, Crossing)
    assert isinstance(narrow, Crossing)
    assert wide.earliest <= narrow.earliest + 1e-6
    assert narrow.latest <= wide.latest + 1e-6


def test_runs_of_the_same_figure() -> None:
    """Five running are reported, four are not; each run once, with its place."""
    assert alike([1, 1, 1, 1, 2]) == ()
    assert alike([3, 1, 1, 1, 1, 1, 2]) == (Alike(1, 5),)
    assert alike(["1.60"] * 6 + ["1.6"] * 5) == (Alike(0, 6), Alike(6, 5))
    assert alike([]) == ()


@given(st.lists(st.sampled_from("ab"), max_size=60), st.integers(1, 8))
def test_runs_are_runs(readings: list[str], least: int) -> None:
    """Each is long enough, of one figure, and cannot be made longer."""
    for run in alike(readings, least):
        inside = readings[run.first : run.first + run.count]
        assert len(inside) == run.count >= least
        assert len(set(inside)) == 1
        assert run.first == 0 or readings[run.first - 1] != inside[0]
        assert run.first + run.count == len(readings) or readings[run.first + run.count] != inside[0]


@pytest.mark.parametrize("confidence", [0.0, 1.0, math.nan])
def test_no_confidence_is_refused(confidence: float) -> None:
    """In words."""
    with pytest.raises(Trouble):
        forecast([0, 1, 2, 3, 4], [1, 2, 3, 4, 5], lower=0, upper=9, confidence=confidence)
