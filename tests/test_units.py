"""Quantities as people type them, checked against published conversions and by property."""

from __future__ import annotations

import subprocess
import sys
from decimal import Decimal
from fractions import Fraction
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.trouble import Trouble
from procedures.unit_table import KINDS, SPELLINGS
from procedures.units import (
    Quantity,
    canonical_unit,
    convert,
    kind_of,
    number_in,
    read_number,
    read_quantity,
    shown,
    units_of,
)

ALL_UNITS = [unit for units in KINDS.values() for unit in units]
ONE_OF_EACH_KIND = [next(iter(units)) for units in KINDS.values()]
UNITS_IN_PAIRS = [(a, b) for units in KINDS.values() for a in units for b in units]
FIGURES = st.decimals(
    min_value=Decimal(-10) ** 9, max_value=Decimal(10) ** 9, places=6, allow_nan=False, allow_infinity=False
)


@pytest.mark.parametrize(
    ("given_text", "unit", "answer", "source"),
    [
        ("1 mrem/h", "µSv/h", "10", "1 rem = 0.01 Sv; read"),
        ("1 µCi", "Bq", "37000", "1 Ci = 3.7e10 Bq; read"),
        ("6000 cpm", "cps", "100", "60 s in a minute; read"),
        ("60 dpm", "Bq", "1", "1 Bq is one disintegration a second; read"),
        ("1 Gy", "rad", "100", "1 rad = 0.01 Gy; from memory"),
        ("1 inHg", "Pa", "3386.388640341", "25.4 × 133.322387415 Pa; from memory"),
        ("760 mmHg", "hPa", "1013.250144354", "conventional millimetre of mercury 133.322387415 Pa; from memory"),
        ("1013.25 hPa", "kPa", "101.325", "standard atmosphere, ISO 2533:1975"),
        ("1 mbar", "hPa", "1", "the same by definition"),
        ("32 °F", "°C", "0", "freezing point; from memory"),
        ("-40 °C", "°F", "-40", "where both scales meet; from memory"),
        ("22 °C", "K", "295.15", "273.15 K at 0 °C; read"),
        ("1 y", "d", "365.2422", "year of radioactivedecay 0.6.1; library"),
        ("1 d", "min", "1440", "by definition"),
        ("1 ft", "cm", "30.48", "international foot; from memory"),
        ("0.5 kcpm", "cpm", "500", "by definition"),
    ],
)
def test_published_conversions_come_out_to_the_last_figure(
    given_text: str, unit: str, answer: str, source: str
) -> None:
    """A wrong factor makes a wrong verdict, and a figure lost in rounding moves a reading off its limit."""
    assert Decimal(answer) == number_in(read_quantity(given_text), unit), source


@pytest.mark.parametrize(
    ("typed", "value", "unit"),
    [
        ("1.62 mR/h", "1.62", "mR/h"),
        ("1,62mR/hr", "1.62", "mR/h"),
        ("  3 uSv / hour ", "3", "µSv/h"),
        ("3 \N{MICRO SIGN}Sv/h", "3", "µSv/h"),
        ("3 \N{GREEK SMALL LETTER MU}Sv/h", "3", "µSv/h"),
        ("3 USV/H", "3", "µSv/h"),
        ("\N{MINUS SIGN}0.05 mR/h", "-0.05", "mR/h"),
        ("+.5 V", "0.5", "V"),
        ("20 deg C", "20", "°C"),
        ("20\N{MASCULINE ORDINAL INDICATOR}C", "20", "°C"),
        ("70 degF", "70", "°F"),
        ("30 in Hg", "30", "inHg"),
        ("-20%", "-20", "%"),
        ("7 mg/cm²", "7", "mg/cm2"),
        ("1.5e3 counts", "1500", "counts"),
        ("0,125 mR/h", "0.125", "mR/h"),
        ("1234,567 cpm", "1234.567", "cpm"),
        ("600 CPM", "600", "cpm"),
        ("2 KBQ", "2", "kBq"),
        ("8 sec", "8", "s"),
        ("3", "3", ""),
    ],
)
def test_quantities_are_read_as_people_type_them(typed: str, value: str, unit: str) -> None:
    """Keyboards differ in micro signs, commas and spaces; the meaning does not."""
    assert Quantity(Decimal(value), unit) == read_quantity(typed)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("MSv", "mSv"),
        ("MR/h", "mR/h"),
        ("mbq", "MBq"),
        ("MRem/h", "mrem/h"),
        ("mmSv/h", "mSv/h"),
        ("mR/hh", "mR/h"),
        ("uSvh", "µSv/h"),
        ("cpn", "cpm"),
        ("degX", "°C"),
        ("\N{GREEK CAPITAL LETTER MU}Sv", "Sv"),
    ],
)
def test_a_mistyped_unit_is_refused_and_the_nearest_named(typed: str, says: str) -> None:
    """M for m is a thousand million times off, so it is never guessed; the way out is shown."""
    with pytest.raises(Trouble) as trouble:
        read_quantity(f"5 {typed}")
    assert says in trouble.value.do


@pytest.mark.parametrize(
    "typed",
    [
        "", " ", "nan", "-nan", "inf", "Infinity", "1e400", "1e-400", "9e31", "1e", "1,234", "12,500", "1,234.5",
        "1.234,5", "1,234,567", "1.2.3", "1 234", "1_000", "1'000", "５", "٣", "²", "0x10", "--1", "1-", "5.", ".", ",",
        "1/2", "1" * 81, "one", "1\x002",
    ],
)  # fmt: skip
def test_a_figure_with_two_meanings_or_none_is_refused(typed: str) -> None:
    """1,234 cpm is background or a spill, by the country of the reader: the program asks instead of choosing."""
    with pytest.raises(Trouble):
        read_number(typed)


def test_figures_are_kept_as_typed() -> None:
    """The nought in 1.60 says how finely the scale was read, so the record keeps it."""
    assert str(read_quantity("1.60 mR/h")) == "1.60 mR/h"
    assert str(read_quantity("1e3 cpm")) == "1000 cpm"
    assert str(read_quantity("-0 mR/h")) == "0 mR/h"
    assert str(read_quantity("0.0000001 Sv/h")) == "0.0000001 Sv/h"


def test_another_kind_than_wanted_names_both_kinds_and_the_units_allowed() -> None:
    """Somebody who types m for minutes has to see what the program took it for."""
    with pytest.raises(Trouble) as trouble:
        read_quantity("5 m", like="s")
    assert "length" in trouble.value.what
    assert "time" in trouble.value.what
    assert "min" in trouble.value.allowed


def test_a_unit_left_out_is_not_made_up() -> None:
    """A bare 20 may be 20 % or twenty times: a percentage needs its sign."""
    for wanted in ("%", "mR/h", "s"):
        with pytest.raises(Trouble, match="unit is missing"):
            read_quantity("20", like=wanted)
    assert Quantity(Decimal(20), "") == read_quantity("20", like="")


@pytest.mark.parametrize(
    ("ours", "theirs", "why"),
    [
        ("R/h", "mSv/h", "energy"),
        ("mR", "mGy", "material"),
        ("Gy/h", "Sv/h", "energy"),
        ("cps", "Bq", "efficiency"),
        ("cpm", "dpm", "efficiency"),
        ("counts", "cpm", "counting time"),
        ("cpm", "mR/h", "detector"),
        ("mR", "mR/h", "time"),
        ("", "%", "percent sign"),
    ],
)
def test_the_reason_is_stated_where_no_unit_leads_across(ours: str, theirs: str, why: str) -> None:
    """Converting R to Sv or cps to Bq needs a coefficient that somebody answers for: the message says which."""
    with pytest.raises(Trouble, match=why):
        convert(Quantity(Decimal(1), ours), theirs)


def test_the_coefficients_named_in_the_reason_are_the_published_ones() -> None:
    """1 R = 2.58e-4 C/kg, 33.97 J/C (note, read); 1.21 Sv/Gy for Cs-137 (HPS 8505, read), 1.74 Am-241 (memory)."""
    gray_in_roentgen = 2.58e-4 * 33.97
    assert gray_in_roentgen == pytest.approx(0.00876, abs=5e-6)
    with pytest.raises(Trouble) as trouble:
        convert(Quantity(Decimal(1), "R/h"), "mSv/h")
    assert f"Cs-137 is about {1000 * gray_in_roentgen * 1.21:.1f} mSv/h" in trouble.value.what
    assert f"Am-241 about {1000 * gray_in_roentgen * 1.74:.0f}" in trouble.value.what


@pytest.mark.parametrize(("ours", "theirs"), list(permutations(ONE_OF_EACH_KIND, 2)))
def test_no_kind_converts_into_another(ours: str, theirs: str) -> None:
    """Dimensions are kept apart by the definitions, not by the kinds' names alone: pint refuses each pair too."""
    from pint import DimensionalityError

    from procedures.units import _registry

    with pytest.raises(Trouble):
        convert(Quantity(Decimal(1), ours), theirs)
    with pytest.raises(DimensionalityError):
        _registry().convert(Fraction(1), KINDS[kind_of(ours)][ours], KINDS[kind_of(theirs)][theirs])


@given(value=FIGURES, pair=st.sampled_from(UNITS_IN_PAIRS))
def test_there_and_back_is_the_same(value: Decimal, pair: tuple[str, str]) -> None:
    """Within a kind nothing is lost on the way, whatever the unit."""
    ours, theirs = pair
    back = number_in(convert(Quantity(value, ours), theirs), ours)
    assert abs(back - value) <= abs(value) * Decimal("1e-30") + Decimal("1e-27")


@given(value=FIGURES, unit=st.sampled_from(ALL_UNITS))
def test_what_is_written_reads_back(value: Decimal, unit: str) -> None:
    """Records hold quantities as text: reading one gives what was recorded."""
    quantity = Quantity(value, unit)
    assert quantity == read_quantity(str(quantity))


@given(value=FIGURES, pair=st.sampled_from(UNITS_IN_PAIRS))
def test_what_was_converted_reads_back(value: Decimal, pair: tuple[str, str]) -> None:
    """A converted figure has many places; they fit the reader's limits, and no exponent is lost."""
    quantity = convert(Quantity(value, pair[0]), pair[1])
    assert quantity == read_quantity(str(quantity))


@given(text=st.one_of(st.text(), st.from_regex(r"[0-9.,eE+\- ]{1,12}[a-zA-Zµ/%° ]{0,8}", fullmatch=True)))
def test_any_text_gives_a_quantity_or_trouble(text: str) -> None:
    """Whatever is typed, scanned or pasted gets an answer, and never a number that is none."""
    try:
        answer: Quantity | Trouble = read_quantity(text)
    except Trouble as trouble:
        answer = trouble
    if isinstance(answer, Quantity):
        assert answer.value.is_finite()
        assert answer.unit in ALL_UNITS
    else:
        assert answer.what.isprintable()


@given(text=st.text(max_size=30), unit=st.sampled_from(ALL_UNITS))
def test_a_wanted_kind_is_what_one_gets(text: str, unit: str) -> None:
    """A caller who asks for a kind need not look again."""
    try:
        quantity = read_quantity(f"1.5 {text}", like=unit)
    except Trouble:
        return
    assert kind_of(quantity.unit) == kind_of(unit)


def test_no_two_units_differ_by_case_alone() -> None:
    """A slip of case is mended only because it cannot mean anything else."""
    meanings: dict[str, set[str]] = {}
    for unit in filter(None, ALL_UNITS):
        for spelling in (unit, *SPELLINGS.get(unit, ())):
            meanings.setdefault(spelling.lower(), set()).add(unit)
    assert {spelling: units for spelling, units in meanings.items() if len(units) > 1} == {}


@pytest.mark.parametrize("unit", ALL_UNITS)
def test_each_unit_is_its_own_spelling_and_known_to_its_kind(unit: str) -> None:
    """The table, the spellings and pint's definitions name the same units."""
    assert unit == canonical_unit(unit)
    assert unit in units_of(kind_of(unit))
    first = units_of(kind_of(unit))[0]
    assert number_in(Quantity(Decimal(1), unit), first) is not None


def test_a_value_that_is_no_number_makes_no_quantity() -> None:
    """NaN compares false with every limit, so it must not get as far as a comparison."""
    for value in ("NaN", "Infinity", "-Infinity", "sNaN"):
        with pytest.raises(Trouble):
            Quantity(Decimal(value), "mR/h")
    with pytest.raises(Trouble):
        Quantity(Decimal(1), "usv/h")
    with pytest.raises(Trouble):
        units_of("luminosity")


def test_what_is_shown_back_fits_one_line() -> None:
    """A pasted page or a control character must not upset the screen that repeats it."""
    assert len(shown("x" * 10_000)) == 40
    assert shown("a\x1b[2J\nb").isprintable()


def test_pint_is_loaded_only_when_a_unit_is_converted() -> None:
    """Loading pint costs more time than the rest of the core: reading a quantity must not pay for it."""
    program = (
        "import sys, procedures.units as u\n"
        "q = u.read_quantity('1.62 mR/h', like='R/h')\n"
        "assert 'pint' not in sys.modules\n"
        "u.convert(q, 'µR/h')\n"
        "assert 'pint' in sys.modules\n"
    )
    subprocess.run([sys.executable, "-X", "utf8", "-c", program], check=True)
