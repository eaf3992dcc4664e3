"""The units of the trade: a closed set, by kind, with the ways they are written and what keeps the kinds apart.

Only `units` reads this. Definitions are our own, in the form pint reads: its usual table joins what the trade keeps
apart (a count with a disintegration, a gray with a sievert) and takes R for the gas constant.
"""

from __future__ import annotations

from decimal import Decimal

DAYS_IN_YEAR = Decimal("365.2422")
"""Days in a year (mean tropical, the year by which ICRP Publication 107 data are printed by radioactivedecay)."""

# Each kind, its units as they are written here, and the same unit as pint is told to take it apart.
KINDS: dict[str, dict[str, str]] = {
    "exposure rate": {"R/h": "roentgen/hour", "mR/h": "milliroentgen/hour", "µR/h": "microroentgen/hour"},
    "exposure": {"R": "roentgen", "mR": "milliroentgen", "µR": "microroentgen"},
    "dose equivalent rate": {
        "Sv/h": "sievert/hour",
        "mSv/h": "millisievert/hour",
        "µSv/h": "microsievert/hour",
        "nSv/h": "nanosievert/hour",
        "rem/h": "rem/hour",
        "mrem/h": "millirem/hour",
        "µrem/h": "microrem/hour",
    },
    "dose equivalent": {
        "Sv": "sievert",
        "mSv": "millisievert",
        "µSv": "microsievert",
        "rem": "rem",
        "mrem": "millirem",
    },
    "absorbed dose or air kerma rate": {
        "Gy/h": "gray/hour",
        "mGy/h": "milligray/hour",
        "µGy/h": "microgray/hour",
        "nGy/h": "nanogray/hour",
        "rad/h": "rad/hour",
        "mrad/h": "millirad/hour",
    },
    "absorbed dose or air kerma": {
        "Gy": "gray",
        "mGy": "milligray",
        "µGy": "microgray",
        "rad": "rad",
        "mrad": "millirad",
    },
    "count rate": {
        "cps": "count/second",
        "cpm": "count/minute",
        "kcps": "kilocount/second",
        "kcpm": "kilocount/minute",
    },
    "counts": {"counts": "count"},
    "activity": {
        "Bq": "becquerel",
        "kBq": "kilobecquerel",
        "MBq": "megabecquerel",
        "GBq": "gigabecquerel",
        "dpm": "disintegration_per_minute",
        "Ci": "curie",
        "mCi": "millicurie",
        "µCi": "microcurie",
        "nCi": "nanocurie",
    },
    "temperature": {"°C": "degree_celsius", "°F": "degree_fahrenheit", "K": "kelvin"},
    "pressure": {
        "Pa": "pascal",
        "hPa": "hectopascal",
        "kPa": "kilopascal",
        "mbar": "millibar",
        "mmHg": "millimetre_of_mercury",
        "inHg": "inch_of_mercury",
    },
    "time": {"s": "second", "min": "minute", "h": "hour", "d": "day", "y": "year"},
    "length": {"mm": "millimetre", "cm": "centimetre", "m": "metre", "km": "kilometre", "ft": "foot"},
    "voltage": {"V": "volt", "mV": "millivolt"},
    "mass per area": {"mg/cm2": "milligram/centimetre**2"},
    "mass": {"g": "gram"},
    "percentage": {"%": "percent"},
    "plain number": {"": "dimensionless"},
}

# The mercury columns are the conventional ones (13.5951 g/cm3 at 9.80665 m/s2; 1 in = 25.4 mm).
DEFINITIONS = f"""
nano- = 1e-9
micro- = 1e-6
milli- = 1e-3
centi- = 1e-2
hecto- = 1e2
kilo- = 1e3
mega- = 1e6
giga- = 1e9
second = [time]
minute = 60 * second
hour = 60 * minute
day = 24 * hour
year = {DAYS_IN_YEAR} * day
metre = [length]
foot = 0.3048 * metre
gram = [mass]
volt = [voltage]
kelvin = [temperature]; offset: 0
degree_celsius = kelvin; offset: 273.15
degree_fahrenheit = 5 / 9 * kelvin; offset: 233.15 + 200 / 9
pascal = [pressure]
bar = 100000 * pascal
millimetre_of_mercury = 133.322387415 * pascal
inch_of_mercury = 25.4 * millimetre_of_mercury
roentgen = [exposure]
gray = [absorbed_dose]
rad = 0.01 * gray
sievert = [dose_equivalent]
rem = 0.01 * sievert
becquerel = [activity]
disintegration_per_minute = becquerel / 60
curie = 37000000000 * becquerel
count = [counts]
percent = [percentage]
"""

SPELLINGS: dict[str, tuple[str, ...]] = {
    "°C": ("degC", "C", "celsius"),
    "°F": ("degF", "F", "fahrenheit"),
    "K": ("kelvin",),
    "mmHg": ("mm Hg",),
    "inHg": ("in Hg",),
    "%": ("percent",),
    "counts": ("count",),
    "cps": ("counts/s", "count/s", "c/s"),
    "cpm": ("counts/min", "count/min", "c/min"),
    "s": ("sec", "second", "seconds"),
    "min": ("minute", "minutes"),
    "h": ("hr", "hour", "hours"),
    "d": ("day", "days"),
    "y": ("a", "yr", "year", "years"),
    "mg/cm2": ("mg/cm²", "mg/cm^2"),
}
"""Further ways of writing a unit, beside its symbol, `u` for `µ` and `/hr` for `/h`."""

_BY_ENERGY = "the factor depends on the kind and energy of the radiation"
_BY_DETECTOR = "the factor depends on the detector and on the energy of the radiation"

WHY_APART: dict[frozenset[str], str] = {
    # 0.00876 Gy/R, 1.21 Sv/Gy for Cs-137 (HPS Ask the Experts 8505), 1.74 Sv/Gy for Am-241 (from memory).
    frozenset({"exposure", "dose equivalent"}): _BY_ENERGY
    + " (1 R/h of Cs-137 is about 10.6 mSv/h of H*(10), of Am-241 about 15)",
    frozenset({"exposure", "absorbed dose or air kerma"}): "exposure is charge set free in air, dose and kerma are "
    "energy in a stated material",
    frozenset({"absorbed dose or air kerma", "dose equivalent"}): _BY_ENERGY,
    frozenset({"count rate", "exposure rate"}): _BY_DETECTOR,
    frozenset({"count rate", "dose equivalent rate"}): _BY_DETECTOR,
    frozenset({"count rate", "absorbed dose or air kerma rate"}): _BY_DETECTOR,
    frozenset({"count rate", "activity"}): "a counter sees only part of the disintegrations, and an efficiency holds "
    "for one nuclide and geometry",
    frozenset({"count rate", "counts"}): "counts become a rate only with the counting time",
    frozenset({"counts", "activity"}): "counts become activity only with a counting time and an efficiency",
    frozenset({"plain number", "percentage"}): "without a percent sign 20 is twenty, not a fifth",
    frozenset({"length", "time"}): "m is metre; minutes are min",
}
"""Why no unit leads from one kind to another. Reasons for two amounts hold for their rates too."""
