"""Calibrations: within tolerance or not, against brute fractions and the rule as it is written."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.calibration import Point, as_found_of, is_within, left_outside, percent_off, percent_shown
from procedures.trouble import Trouble

FIGURES = st.decimals("0.001", "9999", places=3)
TOLERANCES = st.decimals("0.1", "60", places=1)


def figure(text: str | None) -> Decimal | None:
    return None if text is None else Decimal(text)


def point(standard: str, found: str | None, left: str | None = None) -> Point:
    return Point("x1", Decimal(standard), figure(found), figure(left), "mR/h")


@pytest.mark.parametrize(
    ("reading", "within"),
    [("2.40", True), ("1.60", True), ("2.4001", False), ("1.5999", False), ("2.00", True), ("0", False)],
)
def test_exactly_twenty_percent_is_within(reading: str, within: bool) -> None:
    """10 CFR 35.61(b) (read): may not be used if indicated and calculated differ by MORE than 20 percent."""
    assert is_within(Decimal(reading), Decimal("2.00"), Decimal("20")) is within


@given(FIGURES, FIGURES, TOLERANCES)
def test_within_is_what_fractions_say(reading: Decimal, standard: Decimal, tolerance: Decimal) -> None:
    """An oracle without division: |reading − standard|·100 ≤ tolerance·standard, in whole thousandths of tenths."""
    read, wanted, tenths = int(reading * 1000), int(standard * 1000), int(tolerance * 10)
    assert is_within(reading, standard, tolerance) == (abs(read - wanted) * 1000 <= tenths * wanted)


@given(st.integers(1, 9999), st.integers(1, 600), st.sampled_from([-1, 1]))
def test_on_the_limit_is_within_and_a_hair_beyond_is_not(standard: int, tenths: int, side: int) -> None:
    """Where plain floats fail: the limit itself, for every standard and tolerance."""
    exact = Fraction(standard) + side * Fraction(standard * tenths, 1000)
    on = Decimal(exact.numerator) / Decimal(exact.denominator)
    assert Fraction(on) == exact
    tolerance = Decimal(tenths) / 10
    assert is_within(on, Decimal(standard), tolerance)
    assert not is_within(on + side * Decimal("1e-12"), Decimal(standard), tolerance)


@given(st.lists(st.tuples(FIGURES, st.none() | FIGURES), max_size=6), TOLERANCES)
def test_as_found_is_the_worst_of_all_points(rows: list[tuple[Decimal, Decimal | None]], tolerance: Decimal) -> None:
    """One point outside decides; "within" takes a reading on every point: what was not read was not within."""
    points = [Point("x1", standard, found, standard, "mR/h") for standard, found in rows]
    off = [None if found is None else abs(found - standard) * 100 <= tolerance * standard for standard, found in rows]
    wanted = "outside" if False in off else "within" if off and all(off) else "not recorded"
    assert as_found_of(points, tolerance) == wanted


def test_an_instrument_that_was_not_adjusted_was_left_as_found() -> None:
    """An empty cell under "as left" must not hide that it went back out of tolerance."""
    out, adjusted, fine = point("2", "3"), point("2", "3", "2.1"), point("2", "2.1")
    assert left_outside([out, adjusted, fine], Decimal(10)) == (out,)


@pytest.mark.parametrize(
    ("standard", "found", "left", "saying"),
    [
        ("0", "1", None, "nothing to compare with"),
        ("-1", "1", None, "nothing to compare with"),
        ("2", None, None, "no reading"),
        ("nan", "1", None, "no number"),
        ("2", "inf", None, "no number"),
    ],
)
def test_a_point_that_says_nothing_is_refused(standard: str, found: str | None, left: str | None, saying: str) -> None:
    """A standard of zero would make every difference infinite."""
    with pytest.raises(Trouble, match=saying):
        point(standard, found, left)


@given(FIGURES, FIGURES, st.decimals("0.1", "60", places=2))
def test_what_is_out_is_never_shown_as_on_the_limit(reading: Decimal, standard: Decimal, tolerance: Decimal) -> None:
    """20.001 % rounded to "20 %" beside the word OUTSIDE would make people doubt the program."""
    shown = Decimal(percent_shown(percent_off(reading, standard)).removesuffix(" %"))
    assert (abs(shown) > tolerance) == (not is_within(reading, standard, tolerance))
    assert abs(Fraction(shown) - percent_off(reading, standard)) < Fraction(1, 100)


@pytest.mark.parametrize(("off", "shown"), [("0", "0 %"), ("12.5", "+12.5 %"), ("-0.001", "-0.01 %"), ("20", "+20 %")])
def test_a_difference_is_said_with_its_sign(off: str, shown: str) -> None:
    """People want to know which way it is off."""
    assert percent_shown(Fraction(off)) == shown
