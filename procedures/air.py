"""Air density: what temperature and pressure do to the reading of a vented ion chamber.

A vented chamber holds less air when it is warm or high up, and reads low. Sealed chambers get no correction. Practices
differ in the reference conditions they bring a reading to, so a reference is always named.

A weather service's pressure is reduced to sea level and is not the pressure at the instrument.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

from procedures.trouble import Trouble
from procedures.units import shown

ZERO_CELSIUS_K = 273.15

COLDEST_C, WARMEST_C = -60.0, 70.0
"""Air temperatures in °C taken for possible where instruments are used: common practice, no source."""

LOWEST_KPA, HIGHEST_KPA = 5.0, 120.0
"""Station pressures in kPa taken for possible, from 20 km up to a deep mine: common practice, no source."""


@dataclass(frozen=True, slots=True)
class ReferenceAir:
    """Reference conditions to which a reading is brought: °C and kPa, and whose practice they are."""

    name: str
    temperature_c: float
    pressure_kpa: float
    source: str


IAEA = ReferenceAir("iaea", 20.0, 101.325, "IAEA practice, 20 °C and 101.325 kPa (from memory)")
AAPM = ReferenceAir("aapm", 22.0, 101.33, "AAPM practice, 22 °C and 101.33 kPa (quoted)")
PRACTICES = {practice.name: practice for practice in (IAEA, AAPM)}


def reference_air(name: str) -> ReferenceAir:
    """The reference conditions of a named practice, as a site sets them. Raises Trouble for an unknown name."""
    practice = PRACTICES.get(name.strip().lower())
    if practice is None:
        raise Trouble(f"“{shown(name)}” is no air reference", allowed=", ".join(PRACTICES))
    return practice


def density_factor(temperature_c: float | Decimal, pressure_kpa: float | Decimal, reference: ReferenceAir) -> float:
    """The factor k by which the reading of a vented chamber is multiplied to bring it to reference conditions.

    k = (273.15 + T)/(273.15 + T₀) · P₀/P, with T in °C and P in kPa at the instrument. Raises Trouble for air that
    cannot be.
    """
    temperature, pressure = float(temperature_c), float(pressure_kpa)
    if not COLDEST_C <= temperature <= WARMEST_C:
        raise Trouble(
            f"an air temperature of {temperature:g} °C cannot be used",
            allowed=f"{COLDEST_C:g} °C to {WARMEST_C:g} °C",
            do="Read the thermometer beside the instrument again, and look at its unit.",
        )
    if not LOWEST_KPA <= pressure <= HIGHEST_KPA:
        raise Trouble(
            f"an air pressure of {pressure:g} kPa cannot be used",
            allowed=f"{LOWEST_KPA:g} kPa to {HIGHEST_KPA:g} kPa",
            do="Read the barometer beside the instrument again, and look at its unit.",
        )
    warmth = (ZERO_CELSIUS_K + temperature) / (ZERO_CELSIUS_K + reference.temperature_c)
    return warmth * reference.pressure_kpa / pressure


# ISO 2533:1975, clause 2: constants of the standard atmosphere, by geopotential altitude.
_GRAVITY = 9.80665  # m/s²
_GAS_CONSTANT = 287.05287  # J/(K·kg), dry air
_SEA_LEVEL_K = 288.15
_SEA_LEVEL_KPA = 101.325
_LAPSE = -0.0065  # K/m, up to the tropopause
_TROPOPAUSE_M = 11_000.0
_TROPOPAUSE_K = _SEA_LEVEL_K + _LAPSE * _TROPOPAUSE_M

LOWEST_M, HIGHEST_M = -500.0, 20_000.0
"""Geopotential altitudes in metres between which `pressure_at_altitude` answers."""


def pressure_at_altitude(metres: float) -> float:
    """Pressure in kPa of the ISO 2533:1975 standard atmosphere at a geopotential altitude in metres.

    A stand-in where there is no barometer: weather moves the true pressure by some 3 %. By geometric altitude the
    pressure at 1000 m is 898.763 hPa, by geopotential altitude 898.746 hPa. Raises Trouble outside −500 m to 20 km.
    """
    if not LOWEST_M <= metres <= HIGHEST_M:
        raise Trouble(
            f"an altitude of {metres:g} m cannot be used",
            allowed=f"{LOWEST_M:g} m to {HIGHEST_M:g} m above sea level",
            do="Type the altitude of the place in metres.",
        )
    below = min(metres, _TROPOPAUSE_M)
    power = -_GRAVITY / (_LAPSE * _GAS_CONSTANT)
    pressure = _SEA_LEVEL_KPA * ((_SEA_LEVEL_K + _LAPSE * below) / _SEA_LEVEL_K) ** power
    return float(pressure * math.exp(-_GRAVITY * (metres - below) / (_GAS_CONSTANT * _TROPOPAUSE_K)))
