"""The bench calculator through the command line, against published values."""

from __future__ import annotations

import json
from typing import Any

import pytest

from checklist_tui.cli import main


def compute(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    """The JSON answer of one calculation, which must succeed and be the only thing on standard output."""
    assert main(["compute", *words, "--json"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    answer: dict[str, Any] = json.loads(out)
    return answer


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """What is said of a refused calculation: exit 2, words on standard error, nothing on standard output."""
    assert main(["compute", *words]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    return err


# The ICRP-107 values of check-values as printed by radioactivedecay 0.6.1 (library), from 100.
DECAYS = [
    ("Cs-137", 5, 89.146899),
    ("Co-60", 1, 87.678406),
    ("Na-22", 3, 44.968804),
    ("Cf-252", 1, 76.946530),
]


@pytest.mark.parametrize(("nuclide", "years", "left"), DECAYS)
def test_decay_gives_what_the_library_prints(
    capsys: pytest.CaptureFixture[str], nuclide: str, years: int, left: float
) -> None:
    """What is left of 100 Bq after whole years of 365.2422 days: radioactivedecay 0.6.1, ICRP-107 (library)."""
    from datetime import UTC, datetime, timedelta

    since = datetime(2020, 3, 1, tzinfo=UTC)
    until = since + timedelta(days=365.2422 * years)
    words = ("--nuclide", nuclide, "--value", "100 Bq", "--from", since.isoformat(), "--to", until.isoformat())
    answer = compute(capsys, "decay", *words)
    assert answer["result"]["unit"] == "Bq"
    assert answer["result"]["value"] == pytest.approx(left, rel=2e-7)


def test_decay_names_half_life_time_and_source(capsys: pytest.CaptureFixture[str]) -> None:
    """Six years from 2020-03-01 are 2191 days (calendar, two leap days); Cs-137 has 30.1671 y in ICRP-107 (library)."""
    words = ("--nuclide", "Cs-137", "--value", "4.00 mR/h", "--from", "2020-03-01", "--to", "2026-03-01")
    answer = compute(capsys, "decay", *words)
    assert answer["elapsed"] == {"value": 2191.0, "unit": "d"}
    assert answer["half_life"] == {"value": 30.1671, "unit": "y"}
    assert answer["result"]["unit"] == "mR/h"
    assert answer["result"]["value"] == pytest.approx(4 * 2 ** (-2191 / (30.1671 * 365.2422)), rel=1e-9)
    assert "ICRP" in answer["source"]


# Reference 22 °C and 101.33 kPa: unit tests of a medical physics library (read). Reference 20 °C and 101.325 kPa
# (IAEA practice, memory): computed from k = (273.15+T)/(273.15+T0)·P0/P.
FACTORS = [
    ("22 degC", "101.33 kPa", ("22 degC", "101.33 kPa"), 1.0, 1e-9),
    ("25 degC", "102.66 kPa", ("22 degC", "101.33 kPa"), 0.997, 1e-3),
    ("0 degC", "101.325 kPa", None, 0.931776, 1e-6),
    ("40 °C", "1013.25 hPa", None, 1.068224, 1e-6),
    ("20 C", "83.427577 kPa", None, 1.214526, 1e-6),
]


@pytest.mark.parametrize(("temperature", "pressure", "reference", "factor", "within"), FACTORS)
def test_air_density(
    capsys: pytest.CaptureFixture[str],
    temperature: str,
    pressure: str,
    reference: tuple[str, str] | None,
    factor: float,
    within: float,
) -> None:
    """Density factors of two practices; the source of each row stands above the table."""
    words = ["--temperature", temperature, "--pressure", pressure]
    if reference:
        words += ["--reference-temperature", reference[0], "--reference-pressure", reference[1]]
    assert compute(capsys, "air-density", *words)["factor"] == pytest.approx(factor, abs=within)


# ISO 2533:1975 table 5, geopotential altitude (read in a transcription), mbar; 11 km from MathWorks atmosisa (read).
PRESSURES = [("0 m", 1013.25), ("500 m", 954.608), ("1000 m", 898.746), ("2 km", 794.952), ("11000 m", 226.32)]


@pytest.mark.parametrize(("altitude", "mbar"), PRESSURES)
def test_standard_atmosphere(capsys: pytest.CaptureFixture[str], altitude: str, mbar: float) -> None:
    """The pressure printed by ISO 2533:1975, by geopotential altitude."""
    answer = compute(capsys, "pressure", "--altitude", altitude)
    assert answer["pressure"]["unit"] == "kPa"
    assert answer["pressure"]["value"] * 10 == pytest.approx(mbar, abs=2e-3)


@pytest.mark.parametrize(("residual", "constants"), [("10 %", 2.302585), ("1 %", 4.605170), ("0.01", 4.605170)])
def test_settle(capsys: pytest.CaptureFixture[str], residual: str, constants: float) -> None:
    """90 % after 2.302585 τ and 99 % after 4.605170 τ, from 1 − e^(−t/τ) (computed)."""
    answer = compute(capsys, "settle", "--time-constant", "3 s", "--residual", residual)
    assert answer["wait"]["unit"] == "s"
    assert answer["wait"]["value"] == pytest.approx(3 * constants, rel=1e-6)


# ±20 % of the ratio, chance inside 0.8…1.2 (computed from the normal distribution).
CHANCES = [("1.15", "0.03", 0.952210), ("1.20", "0.03", 0.500000), ("1.00", "0.08", 0.987581)]


@pytest.mark.parametrize(("observed", "u", "inside"), CHANCES)
def test_acceptance_says_the_chance_of_being_outside(
    capsys: pytest.CaptureFixture[str], observed: str, u: str, inside: float
) -> None:
    """A reading on the limit passes the simple rule (10 CFR 35.61(b), "more than 20 %", read) at even odds."""
    words = ("--reading", observed, "--expected", "1.00", "--tolerance", "20 %", "--standard-uncertainty", u)
    answer = compute(capsys, "acceptance", *words)
    assert answer["verdict"] == "pass"
    assert answer["chance_outside"] == pytest.approx(1 - inside, abs=1e-6)
    assert (answer["lower"]["value"], answer["upper"]["value"]) == (0.8, 1.2)


def test_guarded_acceptance_draws_the_limits_in(capsys: pytest.CaptureFixture[str]) -> None:
    """One-sided normal, 5 %: the guard is 1.645 u (ILAC-G8:09/2019 4.2.2 read, factor computed)."""
    words = ("--reading", "1.16 mR/h", "--expected", "1.00 mR/h", "--tolerance", "20 %")
    answer = compute(capsys, "acceptance", *words, "--standard-uncertainty", "3 %", "--false-accept", "0.05")
    assert answer["verdict"] == "fail"
    assert answer["accept_upper"]["value"] == pytest.approx(1.2 - 1.645 * 0.03, abs=1e-4)
    assert answer["accept_lower"]["value"] == pytest.approx(0.8 + 1.645 * 0.03, abs=1e-4)
    assert answer["upper"] == {"value": 1.2, "unit": "mR/h"}


def test_a_failed_verdict_is_an_answer_and_no_error(capsys: pytest.CaptureFixture[str]) -> None:
    """31 % low fails, the exit code stays 0: the calculation succeeded. Without uncertainty no chance is claimed."""
    words = ("--reading", "1.13 mR/h", "--expected", "1.64 mR/h", "--tolerance", "20 %")
    answer = compute(capsys, "acceptance", *words)
    assert answer["verdict"] == "fail"
    assert answer["chance_outside"] is None


CONVERSIONS = [
    ("6000 cpm", "cps", 100.0),
    ("1 mrem/h", "uSv/h", 10.0),
    ("1 µCi", "Bq", 37000.0),
    ("-40 degF", "degC", -40.0),
]


@pytest.mark.parametrize(("value", "unit", "result"), CONVERSIONS)
def test_convert(capsys: pytest.CaptureFixture[str], value: str, unit: str, result: float) -> None:
    """Definitions of the units: 1 Ci = 3.7e10 Bq, 1 rem = 0.01 Sv, 60 s in a minute; −40 is where °F meets °C."""
    assert compute(capsys, "convert", "--value", value, "--to", unit)["result"]["value"] == result


@pytest.mark.parametrize(
    ("value", "unit"), [("1 mR/h", "uSv/h"), ("100 cps", "Bq"), ("1 Gy/h", "Sv/h"), ("1 m", "s"), ("-1", "cps")]
)
def test_unlike_quantities_are_refused_with_the_reason(
    capsys: pytest.CaptureFixture[str], value: str, unit: str
) -> None:
    """Exposure, kerma, dose equivalent, activity and counts never turn into each other by a change of unit."""
    err = refused(capsys, "convert", "--value", value, "--to", unit)
    assert "Allowed: " in err
    assert main(["compute", "convert", "--value", value, "--to", unit, "--json"]) == 2
    (error,) = json.loads(capsys.readouterr().out)["errors"]
    assert error["message"]


@pytest.mark.parametrize("altitude", ["-100 m", "-100m", "-1e2 m", "−100 m", "-0.1 km"])
def test_values_below_zero_are_not_taken_for_options(capsys: pytest.CaptureFixture[str], altitude: str) -> None:
    """A minus sign before a figure is a sign: 100 m below the sea all five ways."""
    answer = compute(capsys, "pressure", "--altitude", altitude)
    assert answer["pressure"]["value"] == pytest.approx(102.532, abs=1e-3)  # ISO 2533 formula (computed)


@pytest.mark.parametrize(
    ("words", "wrong"),
    [
        (("pressure", "--altitude", "21 km"), "altitude"),
        (("pressure", "--altitude", "-501 m"), "altitude"),
        (("pressure", "--altitude", ""), "--altitude"),
        (("settle", "--time-constant", "3 s", "--residual", "150 %"), "residual"),
        (("settle", "--time-constant", "3 m", "--residual", "1 %"), "minutes are min"),
        (("decay", "--nuclide", "Xx-1", "--value", "1 Bq", "--from", "2020-01-01", "--to", "2021-01-01"), "--nuclide"),
        (("decay", "--nuclide", "Cs-137", "--value", "20 degC", "--from", "2020-01-01", "--to", "2021-01-01"), "decay"),
        (("decay", "--nuclide", "Cs-137", "--value", "1 Bq", "--from", "1.2.2020", "--to", "2021-01-01"), "--from"),
        (("decay", "--nuclide", "Cs-137", "--value", "1 Bq", "--from", "2021-01-01", "--to", "2020-01-01"), "later"),
        (("acceptance", "--reading", "1", "--expected", "1", "--tolerance", "-20 %"), "--tolerance"),
        (("acceptance", "--reading", "1", "--expected", "0", "--tolerance", "20 %"), "expected"),
        (("acceptance", "--reading", "1", "--expected", "1", "--tolerance", "20 %", "--false-accept", "0.05"), "unc"),
        (("convert", "--value", "1 MSv", "--to", "Sv"), "M is mega"),
        (("convert", "--value", "\x1b[2J", "--to", "Sv"), "cannot be read"),
    ],
)
def test_bad_input_is_explained(capsys: pytest.CaptureFixture[str], words: tuple[str, ...], wrong: str) -> None:
    """Whatever is typed gets words in a few lines, without control characters."""
    err = refused(capsys, *words)
    assert wrong in err
    assert "\x1b" not in err
    assert len(err.splitlines()) <= 4
