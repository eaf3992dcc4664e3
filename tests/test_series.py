"""Series of readings: mean, scatter and uncertainty against published and hand-worked figures; references carried."""

from __future__ import annotations

import math
import statistics
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.series import Series, carried, changed_by
from procedures.trouble import Trouble

CHECK_STANDARD = (
    "97.070 97.049 97.048 97.084 97.106 97.014 97.047 97.078 97.065 97.061 97.060 97.102 97.096 97.035 97.114 97.069 "
    "97.095 97.088 97.079 97.016 97.051 97.070 97.065 97.111 97.073"
)
"""NIST check standard MPC62, NIST/SEMATECH e-Handbook 2.6.2, data read in NIST's repository."""

COUNTS = (
    "1200 1156 1181 1249 1151 1184 1143 1184 1144 1156 1176 1217 1086 1170 1187 1109 1162 1138 1160 1202 "
    "1213 1178 1260 1148 1199 1195 1219 1200 1142 1158 1211 1161 1138 1108 1196 1158 1165 1119 1122 1191 "
    "1225 1158 1164 1218 1167 1170 1213 1197 1177 1182"
)
"""50 one-minute GM counts, a student laboratory report (read)."""

FIGURES = st.decimals("0.5", "50", places=2)
SERIES = st.lists(FIGURES, min_size=3, max_size=12)


def series(text: str, background: str | None = None) -> Series:
    return Series(tuple(map(Decimal, text.split())), None if background is None else Decimal(background))


@pytest.mark.parametrize(("text", "mean", "s"), [(CHECK_STANDARD, 97.06984, 0.026798), (COUNTS, 1174.14, 35.50798)])
def test_mean_and_standard_deviation_of_published_data(text: str, mean: float, s: float) -> None:
    """MPC62: computed, the handbook prints 97.07 and 0.0268 (memory). Counts: 1174.14 and 35.50798 (computed)."""
    found = series(text)
    assert float(found.net) == pytest.approx(mean, abs=1e-9)
    assert found.stdev == pytest.approx(s, rel=2e-5)


def test_the_uncertainty_of_a_mean_worked_by_hand() -> None:
    """GUM 4.2.3, 4.3.7, 5.1.2 by hand: s = 0.05, s/√3 = 0.028868; division 0.1: 0.1/√12 = 0.028868; both 0.040825.

    With a background read on the same scale once more 0.028868: √3·0.028868 = 0.05.
    """
    plain = series("1.60 1.65 1.70")
    assert plain.stdev == pytest.approx(0.05)
    assert plain.budget().standard == pytest.approx(0.0288675, abs=1e-7)
    assert plain.budget(Decimal("0.1")).standard == pytest.approx(0.0408248, abs=1e-7)
    assert series("1.60 1.65 1.70", "0.05").budget(Decimal("0.1")).standard == pytest.approx(0.05, abs=1e-12)


@given(SERIES, st.none() | st.decimals("-0.2", "0.4", places=2))
def test_figures_are_those_of_the_standard_library(readings: list[Decimal], background: Decimal | None) -> None:
    """Mean, s and their quotient, from another implementation."""
    found = Series(tuple(readings), background)
    assert float(found.net) == pytest.approx(statistics.fmean(readings) - float(background or 0), rel=1e-9)
    assert found.stdev == pytest.approx(statistics.stdev(map(float, readings)), rel=1e-7, abs=1e-9)
    assert found.cv == pytest.approx(found.stdev / float(found.net_exact))


def test_scatter_exactly_on_the_limit_is_taken() -> None:
    """90, 100, 110: s = 10, mean 100, so a coefficient of variation of 10 % to the last figure."""
    found = series("90 100 110")
    assert found.varies_at_most(Decimal(10))
    assert not found.varies_at_most(Decimal("9.999999"))
    assert not series("90 100 110", "1").varies_at_most(Decimal(10))


@pytest.mark.parametrize(
    ("text", "background", "saying"),
    [("1 2", None, "too few"), ("1 1 1", "1", "not above zero"), ("0 0 0", None, "not above zero")],
)
def test_a_series_that_shows_nothing_is_refused(text: str, background: str | None, saying: str) -> None:
    """Two readings have no scatter worth the name; nothing above background is no response."""
    with pytest.raises(Trouble, match=saying):
        series(text, background)


@pytest.mark.parametrize(
    ("ratio", "percent", "changed"),
    [(1.2, "20", False), (0.8, "20", False), (1.2000001, "20", True), (0.79, "20", True), (1.0, "0", False)],
)
def test_a_ratio_on_the_limit_has_not_changed_too_much(ratio: float, percent: str, changed: bool) -> None:
    """1.2 is not a fifth more in floats; equal within 1e-9 counts as on the limit."""
    assert changed_by(ratio, Decimal(percent)) is changed


# --- carried over --------------------------------------------------------------------------------------------------


def test_a_reference_carried_over_by_hand() -> None:
    """Old 9, 10, 11 and new 18, 20, 22, expected 5: ratio 2, value 10; all pairs agree, so both scatters count.

    Each s/√3/mean = 0.1/√3 = 0.057735; both 0.081650; with 3 % of the old reference and 1 % of the half-life, in
    quadrature √(0.00666667 + 0.0009 + 0.0001) = 0.0875595.
    """
    found = carried(5.0, {"reference": 0.03, "half_life": 0.01}, series("9 10 11"), series("18 20 22"))
    assert (found.value, found.ratio, found.pair_cv) == (Decimal(10), 2.0, 0.0)
    assert found.relative_u == pytest.approx(0.0875595, abs=1e-7)


def test_pairs_that_agree_worse_than_the_means_count_instead() -> None:
    """Old 9, 10, 11 and new 22, 20, 18: what moved one moved the other against it, and that is not averaged away.

    Ratios 22/9, 2, 18/11: mean 2.026936, s 0.404713, s/√3/mean = 0.115278, more than both scatters' 0.081650.
    """
    found = carried(5.0, {}, series("9 10 11"), series("22 20 18"))
    assert found.parts == {"pairs": pytest.approx(0.115278, abs=1e-6)}
    assert found.relative_u == pytest.approx(0.115278, abs=1e-6)


@given(st.data(), st.floats(0.2, 5), st.integers(3, 10))
def test_there_and_back_again_is_where_it_began(data: st.DataObject, times: float, n: int) -> None:
    """Old to new to old, each read afresh and off by up to 2 %: it returns within four of the uncertainties it claims.

    A uniform error within ±2 % has a standard deviation of 1.16 %, and here all readings of a series may share it.
    """

    def read(level: float) -> Series:
        shares = data.draw(st.lists(st.floats(-0.02, 0.02), min_size=n, max_size=n))
        return Series(tuple(Decimal(str(round(100 * level * (1 + share), 3))) for share in shares))

    there = carried(7.0, {"reference": 0.02}, read(1), read(times), Decimal(2))
    back = carried(float(there.value), {"reference": there.relative_u}, read(times), read(1), Decimal(2))
    assert back.relative_u >= there.relative_u >= 0.02
    assert abs(float(back.value) / 7 - 1) <= 4 * math.hypot(back.relative_u, 0.0116)


@given(SERIES)
def test_the_same_readings_swapped_come_back_exactly(readings: list[Decimal]) -> None:
    """Without scatter between the two there is nothing to lose but the last figure."""
    old, new = Series(tuple(readings)), Series(tuple(3 * each for each in readings))
    there = carried(2.0, {}, old, new)
    assert float(carried(float(there.value), {}, new, old).value) == pytest.approx(2.0, rel=1e-12)
    assert there.ratio == pytest.approx(3.0)


def test_what_cannot_be_carried_is_refused() -> None:
    """Pairs, and an old source that shows itself in each."""
    with pytest.raises(Trouble, match="equally often"):
        carried(1.0, {}, series("9 10 11"), series("9 10 11 12"))
    with pytest.raises(Trouble, match="not above background"):
        carried(1.0, {}, series("1 10 11", "1"), series("9 10 11"))
