"""Repeated counts and detection limits against published figures."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.counts import count_statistics, detection_limit_brodsky, detection_limit_currie
from procedures.distributions import chi_square_upper
from procedures.trouble import Trouble

FIFTY = (
    "1200 1156 1181 1249 1151 1184 1143 1184 1144 1156 1176 1217 1086 1170 1187 1109 1162 1138 1160 1202 1213 1178 "
    "1260 1148 1199 1195 1219 1200 1142 1158 1211 1161 1138 1108 1196 1158 1165 1119 1122 1191 1225 1158 1164 1218 "
    "1167 1170 1213 1197 1177 1182"
)
"""50 one-minute counts of a Geiger-Mueller counter, student laboratory report (read)."""

COUNTS = st.lists(st.integers(0, 10**6), min_size=2, max_size=40).filter(any)


def test_fifty_counts_give_the_reported_figures() -> None:
    """Mean, s, √mean and reliability factor as reported (read); χ² and p are computed from the formula."""
    found = count_statistics([int(word) for word in FIFTY.split()])
    assert found.count == 50
    assert found.mean == pytest.approx(1174.14)
    assert found.stdev == pytest.approx(35.50798, abs=5e-6)
    assert math.sqrt(found.mean) == pytest.approx(34.26572632)
    assert found.reliability_factor == pytest.approx(1.036, abs=5e-4)
    assert found.chi_square == pytest.approx(52.6173, abs=5e-5)
    assert found.degrees == 49
    assert found.p == pytest.approx(0.33586, abs=5e-6)
    assert found.scattering == "as expected"


def test_fifteen_counts_that_agree_too_well() -> None:
    """χ² 4.66 of 15 counts → p 0.99 (Tsoulfanidis p. 59, read): 14 degrees, and too regular is a fault as well."""
    assert chi_square_upper(4.66, 14) == pytest.approx(0.99, abs=5e-3)
    pair = [1000 - 18, 1000 + 18]
    counts = [*pair * 7, 1000]
    found = count_statistics(counts)
    assert found.chi_square == pytest.approx(14 * 324 / 1000)
    assert (found.degrees, found.scattering) == (14, "too regular")


def test_counts_that_scatter_too_much() -> None:
    """Two states of a bad cable: far more scatter than √mean."""
    assert count_statistics([1000, 1200] * 5).scattering == "too much scatter"


def test_identical_counts_are_too_regular() -> None:
    """Figures that nobody read, or a counter that stands still."""
    found = count_statistics([500] * 10)
    assert (found.chi_square, found.p, found.scattering) == (0, 1, "too regular")


def test_detection_limits() -> None:
    """B = 300 → 83.25 by Currie's 2.71 + 4.65 σ_B and 83.54 by Brodsky's 3 + 4.65 √B (ORAU read, figures computed)."""
    assert detection_limit_currie(math.sqrt(300)) == pytest.approx(83.25, abs=5e-3)
    assert detection_limit_brodsky(300) == pytest.approx(83.54, abs=5e-3)


@given(st.floats(0, 1e9), st.floats(0, 1e9))
def test_more_background_hides_more(one: float, other: float) -> None:
    """Order is kept, and nothing can be seen below the limit of an empty background."""
    low, high = sorted((one, other))
    assert 3 <= detection_limit_brodsky(low) <= detection_limit_brodsky(high)
    assert 2.71 <= detection_limit_currie(low) <= detection_limit_currie(high)


@given(COUNTS, st.randoms())
def test_the_order_of_counts_does_not_matter(counts: list[int], chance: object) -> None:
    """The test knows scatter only; drift is for charts."""
    mixed = list(counts)
    chance.shuffle(mixed)  # type: ignore[attr-defined]
    assert count_statistics(mixed).p == pytest.approx(count_statistics(counts).p, rel=1e-9, abs=1e-12)


@given(COUNTS)
def test_chi_square_is_the_reliability_factor_squared(counts: list[int]) -> None:
    """χ² = (n − 1)·(s/√mean)², whatever the counts."""
    found = count_statistics(counts)
    assert found.chi_square == pytest.approx(found.degrees * found.reliability_factor**2, rel=1e-9)
    assert 0 <= found.p <= 1


@given(COUNTS, st.integers(1, 1000))
def test_counts_further_apart_are_never_called_more_regular(counts: list[int], step: int) -> None:
    """The highest raised and the lowest lowered by the same: the mean stays, p falls."""
    ordered = [one + 1000 for one in sorted(counts)]
    apart = [ordered[0] - step, *ordered[1:-1], ordered[-1] + step]
    assert count_statistics(apart).p <= count_statistics(ordered).p
    assert count_statistics(apart).reliability_factor > count_statistics(ordered).reliability_factor


@pytest.mark.parametrize("counts", [[], [5], [0, 0, 0], [1, -1], [10**16, 5]])
def test_counts_that_say_nothing_are_refused(counts: list[int]) -> None:
    """In words."""
    with pytest.raises(Trouble) as refused:
        count_statistics(counts)
    assert refused.value.allowed


@pytest.mark.parametrize("size", [-1.0, math.nan, math.inf])
def test_a_background_that_cannot_be_is_refused(size: float) -> None:
    """Before the root is taken."""
    with pytest.raises(Trouble):
        detection_limit_currie(size)
    with pytest.raises(Trouble):
        detection_limit_brodsky(size)
