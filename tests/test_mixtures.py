"""Mixtures of nuclides against the library that prints ICRP-107, against closed forms, and by brute sums."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from procedures.mixtures import (
    chains,
    effective_half_life,
    equilibrium,
    factor,
    factor_between,
    ingrowth,
    mixture,
    one_half_life,
    shares_after,
    single,
    time_to,
)
from procedures.nuclides import decay_factor, half_life, known_nuclides, time_to_fraction
from procedures.trouble import Trouble

YEAR = 365.2422
"""Days; the year of radioactivedecay 0.6.1 (library)."""

CALIFORNIUM = mixture([("Cf-252", Decimal("0.9")), ("Cf-250", Decimal("0.1"))])

NAMES = st.lists(st.sampled_from(["Cf-252", "Cf-250", "Cs-137", "Co-60", "Na-22", "Am-241"]), min_size=1, unique=True)


@st.composite
def _mixtures(draw: st.DrawFn) -> tuple[list[tuple[str, Decimal]], int]:
    names = draw(NAMES)
    weights = [draw(st.integers(1, 99)) for _ in names]
    return [(name, Decimal(weight)) for name, weight in zip(names, weights, strict=True)], sum(weights)


MIXTURES = _mixtures().map(lambda made: mixture([(name, weight / made[1]) for name, weight in made[0]]))
"""Any few nuclides in any shares."""

DAYS = st.floats(0, 20_000)


@pytest.mark.parametrize(
    ("name", "value", "unit"),
    [("Cf-250", "13.08", "y"), ("Ba-137m", "2.552", "min"), ("Rh-106", "29.80", "s"), ("Ga-68", "67.71", "min")],
)
def test_half_lives_of_what_mixtures_are_made_of(name: str, value: str, unit: str) -> None:
    """ICRP Publication 107 as printed by radioactivedecay 0.6.1 (library)."""
    assert (Decimal(value), unit) == (half_life(name).value, half_life(name).unit)


@pytest.mark.parametrize(
    ("years", "cf252", "cf250"),
    [
        (1, 69.25187668105976, 9.483867424833727),
        (2.645, 45.0, 8.692137337120565),
        (5, 24.276590755007913, 7.672331720286247),
        (10, 6.548365096512619, 5.8864674026110535),
    ],
)
def test_californium_falls_as_the_library_prints_it(years: float, cf252: float, cf250: float) -> None:
    """radioactivedecay 0.6.1, Cf-252 90 and Cf-250 10 at first (library): the sum, and how Cf-250 comes to count."""
    assert factor(CALIFORNIUM, years * YEAR) == pytest.approx((cf252 + cf250) / 100, rel=1e-12)
    shares = shares_after(CALIFORNIUM, years * YEAR)
    assert shares == pytest.approx((cf252 / (cf252 + cf250), cf250 / (cf252 + cf250)), rel=1e-12)


def test_californium_taken_for_pure_is_far_off_in_ten_years() -> None:
    """What the mixture is for: by Cf-252 alone 7.28 % is left, in truth 12.43 %, 71 % more (computed)."""
    pure = decay_factor(half_life("Cf-252").days, 10 * YEAR)
    assert factor(CALIFORNIUM, 10 * YEAR) / pure == pytest.approx(1.709, abs=5e-4)


@given(st.sampled_from(known_nuclides()), st.floats(0, 1e5), st.floats(0, 1e5))
def test_one_nuclide_is_the_mixture_with_a_share_of_one(name: str, first: float, more: float) -> None:
    """To the last bit: records of single nuclides must be judged again as they were."""
    days = half_life(name).days
    assert factor(single(name), more) == decay_factor(days, more)
    assert factor_between(single(name), first, first + more) == decay_factor(days, first + more - first)
    assert single(name) == mixture([(name, Decimal(1))])
    assert one_half_life(single(name)) == half_life(name)


@given(MIXTURES, st.integers(0, 20_000))
def test_the_factor_is_the_sum_of_its_parts(parts: tuple, days: int) -> None:  # type: ignore[type-arg]
    """Against a sum made apart: shares as fractions, each half taken by exp of λt."""
    brute = math.fsum(
        float(Fraction(each.share)) * math.exp(-math.log(2) / each.half_life.days * days) for each in parts
    )
    assert factor(parts, days) == pytest.approx(brute, rel=1e-12)


@given(MIXTURES, DAYS, DAYS, st.floats(-3000, 3000))
def test_going_in_two_steps_is_going_in_one(parts: tuple, one: float, two: float, first: float) -> None:  # type: ignore[type-arg]
    """A reading brought to a day between and on comes out the same, whenever the shares were stated."""
    whole = factor_between(parts, first, first + one + two)
    halfway = factor_between(parts, first, first + one) * factor_between(parts, first + one, first + one + two)
    assert halfway == pytest.approx(whole, rel=1e-9)


@given(MIXTURES, DAYS)
def test_a_mixture_falls_between_its_shortest_and_its_longest(parts: tuple, days: float) -> None:  # type: ignore[type-arg]
    """And slower and slower: what lives longer comes to count."""
    lives = [each.half_life.days for each in parts]
    left = factor(parts, days)
    assert decay_factor(min(lives), days) * (1 - 1e-12) <= left <= decay_factor(max(lives), days) * (1 + 1e-12)
    assert sum(shares_after(parts, days)) == pytest.approx(1, rel=1e-12)
    now, later = effective_half_life(parts, days, days), effective_half_life(parts, days + 3000, days + 3000)
    assert min(lives) * (1 - 1e-9) <= now <= later * (1 + 1e-9) <= max(lives) * (1 + 1e-6)


@given(MIXTURES, st.floats(1e-6, 1), st.floats(0, 10_000))
def test_time_to_a_fraction_undoes_the_factor(parts: tuple, fraction: float, first: float) -> None:  # type: ignore[type-arg]
    """The day on which a source becomes too weak is the day on which that is left."""
    days = time_to(parts, fraction, first)
    assert factor_between(parts, first, first + days) == pytest.approx(fraction, rel=1e-9)
    assert time_to(single("Co-60"), fraction) == time_to_fraction(half_life("Co-60").days, fraction)


@given(MIXTURES, st.floats(-2000, 5000), st.floats(0, 8000))
def test_the_effective_half_life_falls_as_the_mixture_does(parts: tuple, first: float, more: float) -> None:  # type: ignore[type-arg]
    """It stands in for the mixture from a reference reading to now, and for the minutes after."""
    days = effective_half_life(parts, first, first + more)
    near = 1e-9 if more >= 1 else 1e-6
    assert decay_factor(days, more) == pytest.approx(factor_between(parts, first, first + more), rel=near, abs=1e-12)


def test_the_slope_of_the_present_stands_for_minutes() -> None:
    """ln 2·f/(−f′) of the closed form, since over minutes nothing measurable is gone."""
    day = 1000.0
    rates = [(float(each.share), math.log(2) / each.half_life.days) for each in CALIFORNIUM]
    left = sum(share * math.exp(-rate * day) for share, rate in rates)
    slope = sum(share * rate * math.exp(-rate * day) for share, rate in rates)
    assert effective_half_life(CALIFORNIUM, day, day + 0.01) == pytest.approx(math.log(2) * left / slope, rel=1e-12)


# --- mothers and daughters -----------------------------------------------------------------------------------------


def test_a_daughter_in_her_mothers_source_falls_with_her() -> None:
    """radioactivedecay 0.6.1, Sr-90 and Y-90 100 each at first: 88.6584 and 88.6809 after 5 y (library)."""
    both = mixture([("Sr-90", Decimal("0.1")), ("Y-90", Decimal("0.9"))])
    assert one_half_life(both) == half_life("Sr-90")
    assert both[1].follows == "Sr-90"
    assert factor(both, 5 * YEAR) == pytest.approx(0.8865836033103591, rel=1e-9)
    assert factor(both, 5 * YEAR) == pytest.approx(0.8868088478078401, rel=3e-4)
    assert one_half_life(mixture([("Y-90", Decimal(1))])) == half_life("Y-90")


@pytest.mark.parametrize(
    ("mother", "daughter", "days", "grown"),
    [
        ("Sr-90", "Y-90", 64.10 / 24, 49.995094473131736),
        ("Sr-90", "Y-90", 10, 92.49485190325429),
        ("Sr-90", "Y-90", 30, 99.78622514057857),
        ("Sr-90", "Y-90", YEAR, 97.64595592831054),
        ("Ge-68", "Ga-68", 3 / 24, 84.14307264255424),
    ],
)
def test_ingrowth_as_the_library_prints_it(mother: str, daughter: str, days: float, grown: float) -> None:
    """radioactivedecay 0.6.1: the daughter's activity from a mother of 100, pure at first (library)."""
    found = ingrowth(half_life(mother).days, half_life(daughter).days, days)
    assert 100 * found == pytest.approx(grown, rel=1e-10)


@given(st.floats(0.01, 1e5), st.floats(0.01, 1e5), st.floats(0, 1e4), st.floats(0.01, 1))
def test_ingrowth_is_batemans_formula(mother: float, daughter: float, days: float, fraction: float) -> None:
    """b·λd/(λd − λm)·(e^(−λm·t) − e^(−λd·t)), where that form does not lose its figures (Bateman 1910, memory)."""
    assume(abs(mother / daughter - 1) > 1e-3)
    one, two = math.log(2) / mother, math.log(2) / daughter
    plain = fraction * two / (two - one) * (math.exp(-one * days) - math.exp(-two * days))
    assert ingrowth(mother, daughter, days, fraction) == pytest.approx(plain, rel=1e-6, abs=1e-9)


@given(st.floats(0.1, 1e4), st.floats(0, 5))
def test_equal_half_lives_do_not_divide_by_nought(days: float, lives: float) -> None:
    """The limit of Bateman's formula: λt·e^(−λt) (computed)."""
    rate_times = math.log(2) * lives
    assert ingrowth(days, days, lives * days) == pytest.approx(rate_times * math.exp(-rate_times), rel=1e-12)
    near = ingrowth(days, days * (1 + 1e-12), lives * days)
    assert near == pytest.approx(rate_times * math.exp(-rate_times), rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("daughter", sorted(chains()))
def test_grown_in_means_that_ingrowth_has_come_to_equilibrium(daughter: str) -> None:
    """After many of her half-lives the daughter stands to the mother as Tm/(Tm − Td), for every packaged pair."""
    chain = chains()[daughter]
    mother, own = half_life(chain.mother).days, half_life(daughter).days
    assert mother > 90 * own
    days = 40 * own
    there = ingrowth(mother, own, days, chain.fraction) / decay_factor(mother, days)
    assert there == pytest.approx(equilibrium(mother, own, chain.fraction), rel=1e-9)


# --- what is no mixture --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("parts", "says"),
    [
        ([], "0 parts"),
        ([("Cs-137", Decimal("0.1"))] * 9, "9 parts"),
        ([("Cs-137", Decimal("0.5"))], "add up to 50 %"),
        ([("Cs-137", Decimal("0.5")), ("137Cs", Decimal("0.5"))], "named twice"),
        ([("Cs-137", Decimal("1.2"))], "cannot be"),
        ([("Cs-137", Decimal("0")), ("Co-60", Decimal(1))], "cannot be"),
        ([("Cs-137", Decimal("NaN")), ("Co-60", Decimal(1))], "cannot be"),
        ([("Cs-137", Decimal("-1")), ("Co-60", Decimal(1))], "cannot be"),
        ([("Xy-1", Decimal(1))], "no nuclide"),
        ([("Cf-252", Decimal("0.9")), ("Cf-250", Decimal("0.098"))], "add up to 99.8 %"),
    ],
)
def test_what_is_no_mixture_is_said(parts: list[tuple[str, Decimal]], says: str) -> None:
    """A share left out would let a source fall faster or slower than it does."""
    with pytest.raises(Trouble, match=says):
        mixture(parts)


def test_shares_rounded_on_a_certificate_are_brought_to_the_whole() -> None:
    """99.95 % and 0.1 % are 100.05 %: nothing may begin with a factor other than 1."""
    parts = mixture([("Cf-252", Decimal("0.9995")), ("Cf-250", Decimal("0.001"))])
    assert factor(parts, 0) == pytest.approx(1, rel=1e-15)


def test_no_figure_comes_of_what_cannot_be() -> None:
    """Time running backwards, or nothing left, ends in an answer and not in a number or a traceback."""
    with pytest.raises(Trouble, match="later date comes before"):
        factor(CALIFORNIUM, -1)
    with pytest.raises(Trouble, match="no number"):
        factor(CALIFORNIUM, math.nan)
    with pytest.raises(Trouble, match="reckoned back"):
        factor_between(CALIFORNIUM, -1e7, 0)
    with pytest.raises(Trouble, match="nothing is left"):
        factor_between(CALIFORNIUM, 1e8, 1e8 + 1)
    with pytest.raises(Trouble, match="nothing is left"):
        shares_after(CALIFORNIUM, 1e8)
    with pytest.raises(Trouble, match="nothing is left"):
        effective_half_life(CALIFORNIUM, 1e8, 1e8)
    with pytest.raises(Trouble, match="outlive"):
        equilibrium(2.0, 2.0)
    with pytest.raises(Trouble):
        time_to(CALIFORNIUM, 0.0)
