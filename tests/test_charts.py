"""Control charts against published examples, and what has to hold for any readings."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from procedures.charts import (
    D2,
    D4,
    FEWEST,
    Chart,
    NoLimits,
    Scatter,
    ToleranceLimits,
    center_of,
    check_standard,
    count_chart,
    cusum,
    ewma,
    individuals,
    scatter_of,
)
from procedures.trouble import Trouble

FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
"""NIST/SEMATECH e-Handbook 6.3.2.2, individuals (quoted)."""

WEIGHTED = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, *FLOW]
"""NIST/SEMATECH e-Handbook 6.3.2.4, EWMA (quoted)."""

RESISTIVITY = [
    97.070, 97.049, 97.048, 97.084, 97.106, 97.014, 97.047, 97.078, 97.065, 97.061, 97.060, 97.102, 97.096, 97.035,
    97.114, 97.069, 97.095, 97.088, 97.079, 97.016, 97.051, 97.070, 97.065, 97.111, 97.073,
]  # fmt: skip
"""NIST check standard MPC62, e-Handbook 2.6.2, data read in NIST's repository."""

WAFERS = [16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13]
"""NIST/SEMATECH e-Handbook 6.3.3.1, c chart (read)."""

SHIFTED = [
    324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
    324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
]  # fmt: skip
"""NIST/SEMATECH e-Handbook 6.3.2.3, CUSUM about 325 with k = 0.3175 (memory)."""

VALUES = st.lists(st.floats(-1e3, 1e3).map(lambda x: round(x, 3)), min_size=2, max_size=40).filter(
    lambda values: len(set(values)) > 1
)


def known(values: Sequence[float]) -> Scatter:
    found = scatter_of(values, fewest=2)
    assert isinstance(found, Scatter)
    return found


def outs(chart: Chart) -> list[float]:
    return [point.value for point in chart.points if point.out]


# --- published


def test_individuals_of_the_handbook() -> None:
    """Mean 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159 (e-Handbook 6.3.2.2, quoted)."""
    chart = individuals(FLOW, known(FLOW))
    assert chart.center == pytest.approx(50.81)
    assert chart.scatter.mean_moving_range == pytest.approx(1.8778, abs=5e-5)
    assert (chart.lower, chart.upper) == (pytest.approx(45.8159, abs=5e-5), pytest.approx(55.8041, abs=5e-5))
    assert outs(chart) == []


def test_factors_of_two_readings() -> None:
    """d₂ = 2/√π, D₄ 3.26653, E₂ 2.65868, c₄ 0.79788 for n = 2 (computed and tables); tables print d₂ as 1.128."""
    exact = 2 / math.sqrt(math.pi)
    assert pytest.approx(exact, abs=5e-4) == D2
    assert pytest.approx(3.26653, abs=5e-6) == D4
    assert 3 / exact == pytest.approx(2.65868, abs=5e-6)
    # c₄ of two readings is that of their range in disguise: s = R/√2.
    assert exact / math.sqrt(2) == pytest.approx(0.79788, abs=5e-6)
    found = scatter_of([1.0, 2.0], fewest=2, d2=exact)
    assert isinstance(found, Scatter)
    assert 3 * found.sigma == pytest.approx(2.65868, abs=5e-6)
    assert found.largest_moving_range == pytest.approx(3.26653, abs=5e-6)


def test_ewma_of_the_handbook() -> None:
    """λ 0.3, target 50, s 2.0539, k 3 (e-Handbook 6.3.2.4, quoted; the first figure there, 50.00, is the target)."""
    published = (
        "50.60 49.52 50.56 50.18 50.16 49.21 49.75 49.85 50.26 50.33 50.11 49.36 49.52 50.05 49.38 49.92 50.73 51.23 "
        "51.94 51.99"
    )
    chart = ewma(WEIGHTED, Scatter(50, 2.0539), weight=0.3, k=3)
    assert [point.statistic for point in chart.points] == pytest.approx([float(w) for w in published.split()], abs=6e-3)
    assert (chart.lower, chart.upper) == (pytest.approx(47.4115, abs=1e-4), pytest.approx(52.5884, abs=5e-5))
    assert outs(chart) == []
    assert "steady state" in chart.limits


def test_check_standard_of_the_handbook() -> None:
    """Mean 97.06984, s 0.026798, limits 97.01453…97.12515 (computed; handbook 97.07 and 0.0268, memory): 97.014 out."""
    chart = check_standard(RESISTIVITY)
    assert chart.center == pytest.approx(97.06984, abs=5e-6)
    assert chart.scatter.sigma == pytest.approx(0.026798, abs=5e-7)
    assert (chart.lower, chart.upper) == (pytest.approx(97.01453, abs=5e-6), pytest.approx(97.12515, abs=5e-6))
    assert outs(chart) == [97.014]


def test_c_chart_of_the_handbook() -> None:
    """Mean 16, limits 28 and 4; 31 is out, 28 is on the limit and in (e-Handbook 6.3.3.1, read)."""
    chart = count_chart(WAFERS)
    assert (chart.center, chart.lower, chart.upper) == (16, 4, 28)
    assert outs(chart) == [31]


def test_cusum_of_the_handbook() -> None:
    """Upper sums 3.01 … 19.04 from the 13th reading, lower sums before it (e-Handbook 6.3.2.3, memory)."""
    chart = cusum(SHIFTED, Scatter(325, 0.635), k=0.5, h=4.1959 / 0.635)
    sums = [point.statistic for point in chart.points]
    high = [pair[0] for pair in sums if isinstance(pair, tuple)]
    low = [pair[1] for pair in sums if isinstance(pair, tuple)]
    assert high[12:] == pytest.approx([3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04], abs=0.011)
    assert low[:12] == pytest.approx([0, 0.01, 0, 0.33, 0, 0, 0.56, 0.72, 0.17, 0.25, 0.31, 0], abs=0.011)
    assert [point.out for point in chart.points] == [False] * 13 + [True] * 7


def test_twenty_checks_before_limits_mean_anything() -> None:
    """ANSI/AARST MS-QA 2019 s. 7.6 (read): nineteen give a sentence instead of limits."""
    values = [1.0, 1.1] * 10
    assert FEWEST == 20
    few = scatter_of(values[:19])
    assert isinstance(few, NoLimits)
    assert "19 of the 20" in few.say
    enough = scatter_of(values)
    assert isinstance(enough, Scatter)
    assert enough.enough
    assert not known(values[:19]).enough


def test_identical_readings_set_no_limits() -> None:
    """Limits of no width would call every later reading out, and the readings are suspect themselves."""
    found = scatter_of([1.62] * 25)
    assert isinstance(found, NoLimits)
    assert "too regular" in found.say


def test_tolerance_is_kept_apart() -> None:
    """An instrument may be in tolerance and out of control, and the other way round; on the limit is allowed."""
    tolerance = ToleranceLimits(0.8, 1.2)
    chart = individuals([1.0, 1.01] * 10 + [1.15], known([1.0, 1.01] * 10))
    assert chart.points[-1].out
    assert tolerance.holds(1.15)
    assert [tolerance.holds(x) for x in (0.799, 0.8, 1.2, 1.201)] == [False, True, True, False]
    assert ToleranceLimits(None, None).holds(1e9)


# --- for any readings


@given(VALUES, st.floats(-1e3, 1e3), st.floats(0.01, 100))
def test_another_origin_and_unit_change_nothing(values: list[float], shift: float, scale: float) -> None:
    """What is out, and what the rules say, does not hang on microroentgen or milliroentgen."""
    moved = [shift + scale * value for value in values]
    here, there = individuals(values, known(values)), individuals(moved, known(moved))
    assert there.upper == pytest.approx(shift + scale * here.upper, abs=1e-6 * (scale + abs(shift) + 1) * 1e3)
    near = any(
        abs((value - here.center) / here.scatter.sigma - line) < 1e-6 for value in values for line in range(-3, 4)
    )
    assume(not near)
    assert [point.out for point in there.points] == [point.out for point in here.points]
    assert [point.rules for point in there.points] == [point.rules for point in here.points]


@given(VALUES, st.floats(1, 100))
def test_more_scatter_never_narrows_limits(values: list[float], wider: float) -> None:
    """Every distance from the mean grows: so do the limits of each kind of chart."""
    center = center_of(values)
    apart = [center + wider * (value - center) for value in values]
    for kind in (lambda v: individuals(v, known(v)), lambda v: ewma(v, known(v)), check_standard):
        near, far = kind(values), kind(apart)
        assert far.upper - far.center >= (near.upper - near.center) * (1 - 1e-9)


@given(VALUES)
def test_limits_are_in_order(values: list[float]) -> None:
    """Lower below centre below upper, and every point there is."""
    for chart in (individuals(values, known(values)), ewma(values, known(values)), check_standard(values)):
        assert chart.lower is not None
        assert chart.lower < chart.center < chart.upper
        assert [point.value for point in chart.points] == values


@given(VALUES, st.floats(0.05, 1), st.floats(0.5, 4))
def test_exact_limits_are_inside_the_steady_ones(values: list[float], weight: float, k: float) -> None:
    """Whatever the steady limits find out, the exact ones do, and by the thirtieth point they are the same."""
    scatter = known(values)
    steady, exact = ewma(values, scatter, weight=weight, k=k), ewma(values, scatter, weight=weight, k=k, exact=True)
    assert all(other.out for one, other in zip(steady.points, exact.points, strict=True) if one.out)
    assert steady.upper == exact.upper
    assert "exact" in exact.limits


@given(st.floats(0.05, 1), st.floats(0.5, 4))
def test_exact_limits_judge_the_first_point_by_itself(weight: float, k: float) -> None:
    """z₁ − centre is λ·(x − centre) and its standard deviation λσ: the first reading is out beyond kσ, for any λ."""
    scatter = Scatter(0.0, 1.0)
    for value, out in ((1.001 * k, True), (0.999 * k, False)):
        (point,) = ewma([value], scatter, weight=weight, k=k, exact=True).points
        assert point.out == out


@given(VALUES)
def test_a_weight_of_one_is_a_chart_of_single_readings(values: list[float]) -> None:
    """λ = 1 forgets all but the newest reading: then EWMA and individuals agree."""
    scatter = known(values)
    weighted, single = ewma(values, scatter, weight=1), individuals(values, scatter)
    assert weighted.upper == pytest.approx(single.upper)
    assert [point.out for point in weighted.points] == [point.out for point in single.points]


@given(VALUES, st.floats(0, 2), st.floats(0.5, 8))
def test_a_cusum_upside_down_exchanges_its_sums(values: list[float], k: float, h: float) -> None:
    """High and low are treated alike, and never fall below nothing."""
    scatter = Scatter(0.0, 10.0)
    up, down = cusum(values, scatter, k=k, h=h), cusum([-value for value in values], scatter, k=k, h=h)
    for one, other in zip(up.points, down.points, strict=True):
        assert isinstance(one.statistic, tuple)
        assert isinstance(other.statistic, tuple)
        assert one.statistic == other.statistic[::-1]
        assert min(one.statistic) >= 0
        assert one.out == other.out


@given(st.lists(st.floats(-3, 3), min_size=2, max_size=40), st.floats(0.1, 3))
def test_a_larger_shift_is_found_no_later(noise: list[float], shift: float) -> None:
    """The upper sum only grows with every reading."""
    scatter = Scatter(0.0, 1.0)
    small = cusum(noise, scatter)
    large = cusum([one + shift for one in noise], scatter)
    for one, other in zip(small.points, large.points, strict=True):
        assert isinstance(one.statistic, tuple)
        assert isinstance(other.statistic, tuple)
        assert other.statistic[0] >= one.statistic[0] - 1e-12


@given(st.lists(st.integers(0, 10**6), min_size=1, max_size=30).filter(any))
def test_no_count_is_below_a_limit_that_is_below_nothing(counts: list[int]) -> None:
    """`lower` is left out where it would be below 0, and otherwise lies below the mean."""
    chart = count_chart(counts)
    assert (chart.lower is None) == (chart.center - 3 * math.sqrt(chart.center) <= 0)
    assert chart.upper > chart.center


# --- refusals


@pytest.mark.parametrize(
    "draw",
    [
        lambda: individuals([], Scatter(0, 1)),
        lambda: individuals([math.nan], Scatter(0, 1)),
        lambda: individuals([math.inf], Scatter(0, 1)),
        lambda: ewma([1.0], Scatter(0, 1), weight=0),
        lambda: ewma([1.0], Scatter(0, 1), weight=1.1),
        lambda: ewma([1.0], Scatter(0, 1), k=-1),
        lambda: cusum([1.0], Scatter(0, 1), k=-0.1),
        lambda: cusum([1.0], Scatter(0, 1), h=0),
        lambda: Scatter(0, 0),
        lambda: Scatter(math.nan, 1),
        lambda: Scatter(0, math.inf),
        lambda: count_chart([0, 0]),
        lambda: count_chart([1, 2], mean=-1),
        lambda: check_standard([1.0]),
        lambda: check_standard([1.0, 1.0]),
        lambda: check_standard([1.0, 2.0], confidence=1),
        lambda: center_of([]),
    ],
)
def test_what_makes_no_chart_is_refused_in_words(draw: object) -> None:
    """What is wrong and what is allowed, never a figure that means nothing."""
    with pytest.raises(Trouble) as refused:
        draw()  # type: ignore[operator]
    assert refused.value.allowed
