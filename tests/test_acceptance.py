"""Acceptance: limits to the last figure, guarded rules by their stated chance, and what is refused."""

from __future__ import annotations

import math
from decimal import Decimal, localcontext
from statistics import NormalDist

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from procedures.acceptance import (
    Bound,
    Guarded,
    Limits,
    Simple,
    agree,
    chance_outside,
    expected_reading,
    guard_band,
    judge,
    mean_reading,
    spread,
)
from procedures.trouble import Trouble

D = Decimal
TWENTY = Limits(Bound(D("-0.2"), relative=True), Bound(D("0.2"), relative=True), Bound(D("0.1"), relative=True))
FIGURES = [D(n) / 100 for n in range(1, 1000)]
"""0.01 to 9.99: what a scale of two or three figures can show."""


def test_every_reading_exactly_on_a_twenty_per_cent_limit_passes() -> None:
    """10 CFR 35.61(b) fails more than 20 % (read): exactly 20 % passes, both sides, 1,998 readings.

    The comparison in plain floats fails 587 of them (computed), which is why figures stay decimal.
    """
    on_limits = [(figure * factor, figure) for figure in FIGURES for factor in (D("0.8"), D("1.2"))]
    assert len(on_limits) == 1998
    assert sum(not 0.8 <= float(seen) / float(wanted) <= 1.2 for seen, wanted in on_limits) == 587
    for seen, wanted in on_limits:
        assert judge(seen, wanted, TWENTY, Simple(), exact=True).passed
        assert judge(seen, float(wanted), TWENTY, Simple()).passed


@given(st.sampled_from(FIGURES), st.sampled_from([D("0.8"), D("1.2")]), st.integers(3, 40))
def test_the_least_figure_beyond_an_exact_limit_fails(wanted: Decimal, factor: Decimal, places: int) -> None:
    """Exact means exact: no allowance hides behind the figures shown."""
    with localcontext(prec=60):
        beyond = wanted * factor + D(1).scaleb(-places) * (1 if factor > 1 else -1)
    assert not judge(beyond, wanted, TWENTY, Simple(), exact=True).passed


@pytest.mark.parametrize(("beyond", "passes"), [(1e-10, True), (1e-8, False)])
def test_computed_figures_are_equal_within_a_thousand_millionth(beyond: float, passes: bool) -> None:
    """The last figures of a computed decay are noise, and noise must not lock out; but it is a thousand millionth."""
    for limit, sign in ((1.2, 1), (0.8, -1)):
        seen = D(1.64 * limit * (1 + sign * beyond))
        assert judge(seen, 1.64, TWENTY, Simple()).passed is passes


@given(
    seen=st.decimals("0.001", "9.999", places=3),
    wanted=st.decimals("0.001", "9.999", places=3),
    low=st.decimals("-0.99", "0", places=2),
    high=st.decimals("0", "2", places=2),
)
def test_relative_limits_are_what_fractions_say(seen: Decimal, wanted: Decimal, low: Decimal, high: Decimal) -> None:
    """Against the rule written apart, in whole thousandths."""
    limits = Limits(Bound(low, relative=True), Bound(high, relative=True))
    s, w, lo, hi = int(seen * 1000), int(wanted * 1000), int(low * 100), int(high * 100)
    assert judge(seen, wanted, limits, Simple(), exact=True).passed is (w * (100 + lo) <= s * 100 <= w * (100 + hi))


def test_each_side_has_its_own_kind_of_limit() -> None:
    """−20 % below and 0.3 above, in the unit of the reading."""
    limits = Limits(Bound(D("-0.2"), relative=True), Bound(D("0.3"), relative=False))
    verdict = judge(D("2.3"), D(2), limits, Simple(), exact=True)
    assert (verdict.lower, verdict.upper) == (1.6, 2.3)
    assert verdict.passed
    assert verdict.margin == 0
    assert not judge(D("2.31"), D(2), limits, Simple(), exact=True).passed


def test_the_numbers_of_a_verdict() -> None:
    """1.61 where 1.64 is expected: 98 %, between 1.312 and 1.968 (computed)."""
    verdict = judge(D("1.61"), D("1.64"), TWENTY, Simple(), standard_uncertainty=0.05, exact=True)
    assert verdict.passed
    assert not verdict.warned
    assert verdict.ratio == pytest.approx(0.981707, abs=1e-6)
    assert (verdict.lower, verdict.upper) == (1.312, 1.968)
    assert (verdict.accept_lower, verdict.accept_upper) == (1.312, 1.968)
    assert verdict.margin == pytest.approx(0.298)
    assert verdict.chance_outside is not None
    assert verdict.chance_outside < 1e-8
    assert (verdict.rule, verdict.version) == ("simple", "1")


def test_the_warning_band_tells_of_a_pass_near_its_limit() -> None:
    """On the band is still quiet; beyond it is a pass to be told of; a fail is no warning."""
    heard = {seen: judge(D(seen), D(2), TWENTY, Simple(), exact=True) for seen in ("2.2", "2.21", "1.79", "2.41")}
    assert [(v.passed, v.warned) for v in heard.values()] == [(True, False), (True, True), (True, True), (False, False)]


@pytest.mark.parametrize(
    ("observed", "u", "inside"), [(1.15, 0.03, 0.952210), (1.20, 0.03, 0.500000), (1.00, 0.08, 0.987581)]
)
def test_chance_inside_limits(observed: float, u: float, inside: float) -> None:
    """±20 % of ratio, chance inside 0.8…1.2 (computed)."""
    assert 1 - chance_outside(observed, 0.8, 1.2, u) == pytest.approx(inside, abs=5e-7)


@pytest.mark.parametrize(("guard", "chance"), [(1.645, 0.05), (2.0, 0.02275)])
def test_guard_band_of_ilac_g8(guard: float, chance: float) -> None:
    """ILAC-G8:09/2019 4.2.2, acceptance limit = tolerance limit − guard (read); 1.645 u → 5 %, 2 u → 2.275 %."""
    assert guard_band(chance, 0.01, 0.4) == pytest.approx(guard * 0.01, rel=3e-4)


def test_the_resistor_of_jcgm_106() -> None:
    """JCGM 106:2012: tolerance 1499.80…1500.20, u 0.04, acceptance 1499.82…1500.18, prior 1500, 0.12 (quoted).

    Conformance 0.90, consumer's risk 0.01, producer's risk 0.07 (memory).
    """
    limits = Limits(Bound(D("-0.20"), relative=False), Bound(D("0.20"), relative=False))
    half_u = 1 - NormalDist().cdf(0.5)
    verdict = judge(D(1500), D(1500), limits, Guarded(half_u), standard_uncertainty=0.04)
    assert verdict.accept_lower == pytest.approx(1499.82, abs=1e-6)
    assert verdict.accept_upper == pytest.approx(1500.18, abs=1e-6)
    assert 1 - chance_outside(1500, 1499.8, 1500.2, 0.12) == pytest.approx(0.90, abs=5e-3)
    prior, step = NormalDist(1500, 0.12), 0.0005
    consumer = producer = 0.0
    for n in range(-2000, 2001):
        true = 1500 + (n + 0.5) * step
        accepted = 1 - chance_outside(true, verdict.accept_lower, verdict.accept_upper, 0.04)
        if 1499.8 <= true <= 1500.2:
            producer += prior.pdf(true) * step * (1 - accepted)
        else:
            consumer += prior.pdf(true) * step * accepted
    assert consumer == pytest.approx(0.01, abs=5e-3)
    assert producer == pytest.approx(0.07, abs=5e-3)


@given(
    seen=st.decimals("0.5", "1.5", places=3),
    u=st.floats(1e-4, 0.3),
    false_accept=st.floats(1e-4, 0.49, exclude_min=True),
)
def test_a_guarded_pass_is_wrong_with_at_most_the_stated_chance(seen: Decimal, u: float, false_accept: float) -> None:
    """Both limits together, also where an uncertainty as wide as the limits reaches the far one; else refused."""
    try:
        verdict = judge(seen, 1.0, TWENTY, Guarded(false_accept), standard_uncertainty=u)
    except Trouble:
        assert chance_outside(1.0, 0.8, 1.2, u) > false_accept * (1 - 1e-6)
        return
    chance = verdict.chance_outside
    assert chance is not None
    assume(abs(chance / false_accept - 1) > 1e-5)
    assert verdict.passed is (chance < false_accept)
    assert not verdict.passed or judge(seen, 1.0, TWENTY, Simple()).passed


def test_a_guarded_rule_needs_an_uncertainty_and_room() -> None:
    """No uncertainty, or one that leaves no reading to pass: said, not guessed."""
    with pytest.raises(Trouble, match="needs the uncertainty"):
        judge(D(1), D(1), TWENTY, Guarded(0.05), exact=True)
    with pytest.raises(Trouble, match="no reading can pass"):
        judge(D(1), D(1), TWENTY, Guarded(0.05), standard_uncertainty=0.13, exact=True)
    for chance in (0.0, 0.5, 1.0, -0.1, math.nan):
        with pytest.raises(Trouble):
            Guarded(chance)


def test_limits_that_make_no_sense_are_refused() -> None:
    """A forgotten minus, or a low limit a dead instrument would keep, is found when it is written."""
    fifth, none = Bound(D("0.2"), relative=True), Bound(D(0), relative=True)
    with pytest.raises(Trouble, match="outside the limits"):
        Limits(fifth, fifth)
    with pytest.raises(Trouble, match="outside the limits"):
        Limits(none, Bound(D("-0.2"), relative=True))
    with pytest.raises(Trouble, match="does not respond"):
        Limits(Bound(D(-1), relative=True), fifth)
    with pytest.raises(Trouble, match="warning"):
        Limits(none, fifth, Bound(D("-0.1"), relative=True))
    for value in ("NaN", "Infinity"):
        with pytest.raises(Trouble):
            Bound(D(value), relative=True)
    with pytest.raises(Trouble, match="does not respond"):
        judge(D("0.2"), D("0.2"), Limits(Bound(D("-0.3"), relative=False), fifth), Simple(), exact=True)


@pytest.mark.parametrize(
    ("seen", "wanted", "u"),
    [
        (D("NaN"), 1.0, None),
        (D("Infinity"), 1.0, None),
        (D(1), math.nan, None),
        (D(1), math.inf, None),
        (D(1), 0.0, None),
        (D(1), -1.0, None),
        (D(1), 1.0, math.nan),
        (D(1), 1.0, -0.1),
    ],
)
def test_figures_that_are_none_get_no_verdict(seen: Decimal, wanted: float, u: float | None) -> None:
    """NaN compares false with everything, in a pass's favour or against: it must not reach a comparison."""
    with pytest.raises(Trouble):
        judge(seen, wanted, TWENTY, Simple(), standard_uncertainty=u)


def test_a_computed_figure_is_never_called_exact() -> None:
    """The caller who says so has a bug, and finds out."""
    with pytest.raises(ValueError, match="float"):
        judge(D(1), 1.0, TWENTY, Simple(), exact=True)


def test_no_response_fails() -> None:
    """Zero, or a needle below it, is an observation and fails every check with a source."""
    for seen in ("0", "-0.05"):
        assert not judge(D(seen), D("1.64"), TWENTY, Simple(), exact=True).passed


def test_expected_reading_is_decayed_from_the_reference() -> None:
    """1.66 mR/h of Cs-137 (30.1671 y, library) after 10 years: 79.471697 % (library) is left."""
    assert expected_reading(D("1.66"), 0.79471697) == pytest.approx(1.31923017)
    assert expected_reading(D("1.66"), 0.5, conditions=1.02) == pytest.approx(0.8466)
    for reference, decay in ((D(0), 1.0), (D(-1), 1.0), (D(1), 0.0), (D(1), math.nan)):
        with pytest.raises(Trouble):
            expected_reading(reference, decay)


def test_a_mean_on_the_limit_passes() -> None:
    """Three readings about an exact limit: their mean is that limit, and no division may move it."""
    mean = mean_reading([D("1.31"), D("1.312"), D("1.314")])
    assert mean == D("1.312")
    assert judge(mean, D("1.64"), TWENTY, Simple(), exact=True).passed
    assert mean_reading([D("1.7"), D("1.6")], background=D("0.05")) == D("1.60")


@given(st.lists(st.decimals("0.1", "9.9", places=1), min_size=1, max_size=6))
def test_spread_is_the_range_over_the_mean(readings: list[Decimal]) -> None:
    """On the limit agrees: the spread's own size, taken as an absolute limit, always does."""
    width = max(readings) - min(readings)
    assert spread(readings) == pytest.approx(float(width) * len(readings) / float(sum(readings)))
    assert agree(readings, Bound(width, relative=False))
    assert not agree(readings, Bound(width - D("0.001"), relative=False))


def test_spread_on_a_ten_per_cent_limit_agrees() -> None:
    """1.9, 2.0, 2.1: a range of 0.2 about 2.0 is 10 % exactly (computed)."""
    ten = Bound(D("0.1"), relative=True)
    assert agree([D("1.9"), D("2.0"), D("2.1")], ten)
    assert not agree([D("1.89"), D("2.0"), D("2.11")], ten)
    assert spread([D("1.62")]) == 0
    assert spread([D(-1), D(1)]) is None
    assert not agree([D(-1), D(1)], ten)
    for call in (spread, mean_reading):
        with pytest.raises(Trouble):
            call([])
    with pytest.raises(Trouble):
        agree([D("NaN")], ten)
