"""Half-lives and decay against printed values, textbook exercises and by property."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.data import table
from procedures.nuclides import (
    HalfLife,
    decay_factor,
    decayed,
    elapsed_days,
    half_life,
    half_life_share,
    known_nuclides,
    time_to_fraction,
)
from procedures.trouble import Trouble

YEAR = 365.2422
"""Days; the year of radioactivedecay 0.6.1 (library)."""

ICRP_107 = (
    "H-3 12.32 y, C-14 5700 y, Na-22 2.6019 y, Cl-36 3.01e5 y, Mn-54 312.12 d, Fe-55 2.737 y, Co-57 271.74 d, "
    "Co-60 5.2713 y, Ni-63 100.1 y, Ge-68 270.95 d, Kr-85 10.756 y, Sr-90 28.79 y, Y-90 64.10 h, Tc-99 2.111e5 y, "
    "Ru-106 373.59 d, Cd-109 461.4 d, I-129 1.57e7 y, Ba-133 10.52 y, Cs-137 30.1671 y, Pm-147 2.6234 y, "
    "Eu-152 13.537 y, Eu-154 8.593 y, Tl-204 3.78 y, Bi-207 32.9 y, Pb-210 22.20 y, Ra-226 1600 y, "
    "Th-230 7.538e4 y, Th-232 1.405e10 y, U-235 7.04e8 y, U-238 4.468e9 y, Pu-238 87.7 y, Pu-239 24110 y, "
    "Am-241 432.2 y, Cm-244 18.10 y, Cf-252 2.645 y"
)
"""ICRP Publication 107 as printed by radioactivedecay 0.6.1 (library)."""

DDEP = {
    "Cs-137": (30.05, 0.08),
    "Co-60": (5.2711, 0.0008),
    "Am-241": (432.6, 0.6),
    "Ba-133": (10.539, 0.006),
    "Na-22": (2.6029, 0.0008),
    "Sr-90": (28.80, 0.07),
    "Ra-226": (1600, 7),
}
"""Years, with standard uncertainty: Decay Data Evaluation Project (memory)."""


@pytest.mark.parametrize("row", ICRP_107.split(", "))
def test_half_lives_are_those_of_icrp_107(row: str) -> None:
    """A wrong half-life makes every later verdict on that source wrong."""
    name, value, unit = row.split()
    found = half_life(name)
    assert Decimal(value) == found.value
    assert unit == found.unit
    assert float(value) * {"y": YEAR, "d": 1.0, "h": 1 / 24}[unit] == pytest.approx(found.days, rel=1e-12)
    assert "ICRP" in found.source


def test_every_row_of_the_table_says_its_source_and_uncertainty_or_that_it_is_unknown() -> None:
    """A figure without a source cannot be defended before an inspector."""
    data = table("nuclides")
    for row in data["nuclide"]:
        assert row["source"] in data["sources"]
        if row["uncertainty"] == "unknown":
            assert half_life(row["name"]).relative_uncertainty is None
        else:
            assert row["uncertainty_source"] in data["sources"]
            assert Decimal(row["uncertainty"]) > 0
    assert len(known_nuclides()) == len(data["nuclide"]) >= 35


@pytest.mark.parametrize(("name", "other"), DDEP.items())
def test_uncertainties_cover_a_second_evaluation(name: str, other: tuple[float, float]) -> None:
    """Where two evaluations differ the stated uncertainty spans the difference, and is no smaller than either says."""
    value, uncertainty = other
    ours = half_life(name)
    assert ours.relative_uncertainty is not None
    stated = ours.relative_uncertainty * float(ours.value)
    assert stated >= max(uncertainty, abs(value - float(ours.value))) - 1e-9


@pytest.mark.parametrize("typed", ["Cs-137", "cs137", "Cs 137", "CS-137", "137Cs", "137-cs", " ¹³⁷Cs ", "cs\u2013137"])
def test_nuclides_are_read_as_people_type_them(typed: str) -> None:
    """Labels of sources are printed in all these ways."""
    assert half_life(typed).nuclide == "Cs-137"


@pytest.mark.parametrize(
    ("typed", "near"), [("Cs-173", "Cs-137"), ("Co-06", "Co-60"), ("Tc-99m", "Tc-99"), ("Am 214", "Am-241")]
)
def test_a_nuclide_not_known_names_the_nearest(typed: str, near: str) -> None:
    """Tc-99m lives six hours and Tc-99 two hundred thousand years: the near miss is named, never taken."""
    with pytest.raises(Trouble) as trouble:
        half_life(typed)
    assert near in trouble.value.do


@pytest.mark.parametrize(
    ("name", "years", "left"),
    [
        ("Cs-137", 1, 97.728503),
        ("Cs-137", 5, 89.146899),
        ("Cs-137", 10, 79.471697),
        ("Co-60", 1, 87.678406),
        ("Co-60", 5, 51.815922),
        ("Na-22", 3, 44.968804),
        ("Cf-252", 1, 76.946530),
    ],
)
def test_decay_from_a_hundred_as_the_library_prints_it(name: str, years: int, left: float) -> None:
    """radioactivedecay 0.6.1 with ICRP-107 data (library)."""
    assert decayed(100, half_life(name).days, years * YEAR) == pytest.approx(left, abs=5e-7)


def test_decay_of_molybdenum_as_the_library_documents_it() -> None:
    """radioactivedecay README: Mo-99 2.0 Bq after 20.0 h, T½ = 65.94 h (read)."""
    assert decayed(2.0, 65.94 / 24, 20.0 / 24) == pytest.approx(1.6207863893776937, rel=1e-14)


def test_decay_over_whole_half_lives_from_textbooks() -> None:
    """Textbook exercises: Co-60, T½ = 5.3 y, 26.5 y → 1/32; 10 mCi, T½ = 12 h, 4 d → 10·0.5⁸ (read)."""
    assert decay_factor(5.3 * YEAR, 26.5 * YEAR) == pytest.approx(1 / 32, rel=1e-12)
    assert decayed(Decimal(10), 0.5, 4) == pytest.approx(10 * 0.5**8, rel=1e-12)


def test_the_time_to_a_fraction_is_by_the_decay_constant_and_not_by_one_over_the_half_life() -> None:
    """Co-60 (T½ = 5.27 y) reaches 35 % in 7.9818 y (computed); a printed answer of 6.004 y takes 1/T for λ."""
    assert time_to_fraction(5.27, 0.35) == pytest.approx(7.9818, abs=5e-5)
    assert time_to_fraction(5.27, 0.35) != pytest.approx(6.004, abs=0.1)


def test_a_yearly_loss_gives_the_half_life() -> None:
    """12.3 % lost a year → T½ ≈ 5.27 y (read), exactly 5.2812 y (computed)."""
    assert decay_factor(5.2812, 1) == pytest.approx(1 - 0.123, abs=1e-6)


@pytest.mark.parametrize(
    ("name", "days"),
    [("Co-57", 87.5), ("Na-22", 0.838 * YEAR), ("Co-60", 1.697 * YEAR), ("Cs-137", 9.712 * YEAR)],
)
def test_when_a_whole_twenty_per_cent_is_gone(name: str, days: float) -> None:
    """Without decay correction a ±20 % check fails a good instrument from then on (computed)."""
    assert time_to_fraction(half_life(name).days, 0.8) == pytest.approx(days, rel=1e-3)


def test_caesium_moves_little_between_evaluations() -> None:
    """Over 10 years by less than 0.13 % between ICRP-107 and DDEP (computed; DDEP value from memory)."""
    ours = decay_factor(half_life("Cs-137").days, 10 * YEAR)
    theirs = decay_factor(30.05 * YEAR, 10 * YEAR)
    assert abs(theirs / ours - 1) < 0.0013


@given(st.floats(0.1, 1e6), st.floats(0, 1e5))
def test_the_half_lifes_share_is_the_slope_of_the_decay(days: float, elapsed: float) -> None:
    """The propagation formula agrees with moving the half-life by a hair and looking."""
    hair = 1e-6
    found = half_life_share(HalfLife("X", Decimal(1), "d", days, hair, ""), elapsed)
    moved = elapsed / days * math.log(2) * (1 - 1 / (1 + hair))
    assert found == pytest.approx(moved, rel=1e-5)


def test_an_unknown_uncertainty_is_not_taken_for_none() -> None:
    """Unknown is passed on as unknown, save where no time has passed."""
    assert half_life_share(half_life("Co-57"), 100) is None
    assert half_life_share(half_life("Co-57"), 0) == 0.0


@given(st.floats(1e-3, 1e12), st.floats(0, 1e6), st.floats(0, 1e6))
def test_decay_in_two_steps_is_decay_in_one(days: float, first: float, then: float) -> None:
    """A source brought to an intermediate date and on comes out the same."""
    whole = decay_factor(days, first + then)
    assert decay_factor(days, first) * decay_factor(days, then) == pytest.approx(whole, rel=1e-9, abs=1e-300)
    assert 0 <= whole <= 1


@given(st.floats(1e-3, 1e12), st.floats(1e-6, 1))
def test_time_to_fraction_undoes_decay(days: float, fraction: float) -> None:
    """The two formulae are each other's inverse."""
    assert decay_factor(days, time_to_fraction(days, fraction)) == pytest.approx(fraction, rel=1e-9)


def test_days_between_moments_follow_the_zone_and_not_the_face_of_the_clock() -> None:
    """A source moved across zones, or a summer time, must not shift its decay by hours."""
    noon = datetime(2026, 3, 1, 12, tzinfo=UTC)
    same_moment_east = noon.astimezone(timezone(timedelta(hours=9)))
    assert elapsed_days(noon, same_moment_east) == 0
    assert elapsed_days(date(2026, 3, 1), noon) == 0.5
    assert elapsed_days(noon, date(2026, 3, 1)) == -0.5


def test_what_cannot_be_is_refused() -> None:
    """Time running backwards, or a figure that is none, ends in an answer and not in a number."""
    for days, elapsed in [(1.0, -1e-9), (1.0, math.nan), (1.0, math.inf), (0.0, 1.0), (-1.0, 1.0), (math.nan, 1.0)]:
        with pytest.raises(Trouble):
            decay_factor(days, elapsed)
    for fraction in (0.0, 1.1, -0.5, math.nan):
        with pytest.raises(Trouble):
            time_to_fraction(1.0, fraction)
    with pytest.raises(Trouble, match="time zone"):
        elapsed_days(datetime(2026, 3, 1), date(2026, 3, 2))


@given(st.text(max_size=20))
def test_any_text_is_a_nuclide_or_trouble(text: str) -> None:
    """Whatever stands on a label gets an answer."""
    try:
        found = half_life(text).nuclide
    except Trouble:
        return
    assert found in known_nuclides()
