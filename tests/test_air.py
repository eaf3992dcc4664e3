"""Air density and the standard atmosphere, against printed values and by property."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.air import AAPM, IAEA, density_factor, pressure_at_altitude, reference_air
from procedures.trouble import Trouble


@pytest.mark.parametrize(
    ("temperature", "pressure", "factor", "within"), [(22, 101.33, 1.0, 1e-12), (25, 102.66, 0.997, 1e-3)]
)
def test_factor_at_aapm_reference(temperature: float, pressure: float, factor: float, within: float) -> None:
    """Unit tests of a medical physics library, reference 22 °C and 101.33 kPa (read)."""
    assert density_factor(temperature, pressure, AAPM) == pytest.approx(factor, abs=within)


@pytest.mark.parametrize(
    ("temperature", "pressure", "factor"),
    [(0, 101.325, 0.931776), (40, 101.325, 1.068224), (20, 83.427577, 1.214526), (20, 101.325, 1.0)],
)
def test_factor_at_iaea_reference(temperature: float, pressure: float, factor: float) -> None:
    """k = (273.15+T)/(273.15+T₀)·P₀/P at 20 °C and 101.325 kPa (formula of the practice; computed)."""
    assert density_factor(temperature, pressure, IAEA) == pytest.approx(factor, abs=5e-7)


def test_the_two_practices_differ_as_their_references_do() -> None:
    """Which practice is meant has to be stated: their temperatures alone differ by 1.006822 (computed).

    With the pressures, 101.325 and 101.33 kPa, the factors differ by 1.006773 (computed).
    """
    at_aapm_pressure = replace(IAEA, pressure_kpa=AAPM.pressure_kpa)
    factor = density_factor(20, 100, AAPM)
    assert density_factor(20, 100, at_aapm_pressure) / factor == pytest.approx(1.006822, abs=5e-7)
    assert density_factor(20, 100, IAEA) / factor == pytest.approx(1.006773, abs=5e-7)


@pytest.mark.parametrize(
    ("metres", "mbar"),
    [
        (0, 1013.25),
        (200, 989.453),
        (500, 954.608),
        (1000, 898.746),
        (2000, 794.952),
        (3000, 701.085),
        (4000, 616.402),
        (5000, 540.199),
    ],
)
def test_standard_atmosphere_by_geopotential_altitude(metres: float, mbar: float) -> None:
    """ISO 2533:1975 table 5, geopotential altitude (read in a transcription)."""
    assert 10 * pressure_at_altitude(metres) == pytest.approx(mbar, abs=6e-4)


def test_standard_atmosphere_at_the_tropopause() -> None:
    """An engineering library's documentation prints 2.2632e4 Pa at 11000 m (read)."""
    assert 1000 * pressure_at_altitude(11_000) == pytest.approx(2.2632e4, abs=0.5)


def test_standard_atmosphere_in_the_isothermal_layer() -> None:
    """54.749 hPa at 20 km geopotential, from the table of the standard atmosphere (memory)."""
    assert 10 * pressure_at_altitude(20_000) == pytest.approx(54.749, abs=1e-3)


@given(st.floats(-500, 20_000), st.floats(-500, 20_000))
def test_pressure_falls_with_altitude(one: float, other: float) -> None:
    """Also across the tropopause, where the two formulae meet."""
    low, high = sorted((one, other))
    assert pressure_at_altitude(high) <= pressure_at_altitude(low)


@given(st.floats(-60, 70), st.floats(5, 120))
def test_the_factor_brings_any_reading_to_reference(temperature: float, pressure: float) -> None:
    """The number of air molecules in the chamber goes as P/T: factor times that is the reference's, always."""
    air = pressure / (temperature + 273.15)
    expected = 101.325 / 293.15
    assert air * density_factor(Decimal(temperature), Decimal(pressure), IAEA) == pytest.approx(expected, rel=1e-12)


def test_air_that_cannot_be_is_refused() -> None:
    """1013 typed for 101.3 would make a factor of a tenth, and a silent one."""
    for temperature, pressure in [(20, 1013.25), (20, 0), (20, 4.9), (293.15, 101), (-61, 101), (math.nan, 101)]:
        with pytest.raises(Trouble):
            density_factor(temperature, pressure, IAEA)
    with pytest.raises(Trouble):
        density_factor(20, math.nan, IAEA)
    for metres in (-501, 20_001, math.nan, math.inf):
        with pytest.raises(Trouble):
            pressure_at_altitude(metres)


def test_a_practice_is_found_by_name_or_refused() -> None:
    """The site's setting is text; a slip in it must not fall back on some reference."""
    assert reference_air(" IAEA ") is IAEA
    with pytest.raises(Trouble):
        reference_air("sea level")
