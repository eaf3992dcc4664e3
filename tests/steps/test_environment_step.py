"""The environment step."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.asks import QuantityAsk, Wait
from procedures.steps import kind

D = Decimal
OPERATING = {
    "temperature": (D(-10), D(45)),
    "pressure": (D(70), D(106)),
    "humidity": (D(0), D(85)),
}
MILD = {"temperature": (D(20), "°C"), "pressure-from": "barometer", "pressure": (D("101.3"), "kPa")}


def taken(bench: Any, shape: dict[str, Any] | None = None, facts: Any = None, **answers: Any) -> Any:
    given_answers = MILD | {key.replace("_", "-"): value for key, value in answers.items()}
    facts = facts or bench.facts(operating=OPERATING)
    return bench.visit(bench.parameters("environment", **(shape or {})), facts, given_answers)


def test_temperature_and_pressure_are_kept_for_later_steps(bench: Any) -> None:
    """In °C and kPa, whatever was typed: 68 °F is 20 °C, 1013 mbar is 101.3 kPa (computed)."""
    finding = taken(bench, temperature=(D(68), "°F"), pressure=(D(1013), "mbar")).finding
    assert finding.outcome == "pass"
    assert D(finding.fact("temperature_c")) == 20
    assert D(finding.fact("pressure_kpa")) == D("101.3")


@pytest.mark.parametrize(
    ("metres", "mbar"),
    [("0", 1013.25), ("200", 989.453), ("500", 954.608), ("1000", 898.746), ("2000", 794.952)],
)
def test_an_altitude_stands_in_for_a_barometer(bench: Any, metres: str, mbar: float) -> None:
    """ISO 2533:1975 table 5, geopotential altitude (read in a transcription)."""
    finding = taken(bench, pressure_from="altitude", altitude=(D(metres), "m")).finding
    assert float(finding.fact("pressure_kpa")) == pytest.approx(mbar / 10, rel=1e-5)
    assert "by altitude" in finding.say


def test_station_pressure_is_asked_for(bench: Any) -> None:
    """A weather service's sea-level pressure is not station pressure (common practice, no source)."""
    ask = next(ask for ask in taken(bench).asks if ask.key == "pressure")
    assert isinstance(ask, QuantityAsk)
    assert "sea level" in ask.more


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        ({"temperature": (D("-10.1"), "°C")}, "too cold"),
        ({"temperature": (D("45.1"), "°C")}, "too warm"),
        ({"pressure": (D("69.9"), "kPa")}, "too low"),
        ({"humidity": (D(86), "%")}, "too damp"),
    ],
)
def test_outside_the_range_for_use_is_not_checked(bench: Any, answers: dict[str, Any], words: str) -> None:
    """Too cold is no fault of the instrument."""
    shape = {"humidity": True}
    visit = taken(bench, shape, **({"humidity": (D(40), "%")} | answers))
    assert visit.outcome == "could not check"
    assert words in visit.finding.missing
    assert not visit.finding.facts


@pytest.mark.parametrize("edge", [D(-10), D(45)])
def test_the_ends_of_the_range_are_inside(bench: Any, edge: Decimal) -> None:
    """On the limit passes."""
    assert taken(bench, temperature=(edge, "°C")).outcome == "pass"


def test_an_instrument_from_the_cold_has_to_stand(bench: Any) -> None:
    """It waits for as long as the profile says, and not at all when it was here."""
    facts = bench.facts(operating=OPERATING, soak_seconds=1200.0)
    came = taken(bench, facts=facts, soak="yes")
    (wait,) = (ask for ask in came.asks if isinstance(ask, Wait))
    assert wait.seconds == 1200.0
    assert not [ask for ask in taken(bench, facts=facts, soak="no").asks if isinstance(ask, Wait)]


def test_a_soak_longer_than_a_checkout_can_wait_is_not_checked(bench: Any) -> None:
    """Every wait is bounded; the rest of it belongs on a shelf."""
    facts = bench.facts(operating=OPERATING, soak_seconds=12 * 3600.0)
    assert taken(bench, facts=facts, soak="yes").outcome == "could not check"
    assert taken(bench, facts=facts, soak="no").outcome == "pass"


@given(data=st.data(), soak=st.sampled_from([0.0, 600.0, 50000.0]))
def test_any_answers_lead_to_a_finding(bench: Any, data: st.DataObject, soak: float) -> None:
    """No way through the step may hang, and what passes is inside the range for use."""
    facts = bench.facts(operating=OPERATING, soak_seconds=soak)
    finding = bench.any_visit(data, bench.parameters("environment", humidity=True), facts).finding
    if finding.outcome == "pass":
        assert -10 <= D(finding.fact("temperature_c")) <= 45
        assert 70 <= D(finding.fact("pressure_kpa")) <= 106


def test_a_corrected_chamber_needs_its_pressure(bench: Any) -> None:
    """The proof refuses a profile that corrects for air and does not ask for it."""
    parameters = bench.parameters("environment", pressure="none")
    assert not kind("environment").check(parameters, bench.spec())
    (problem,) = kind("environment").check(parameters, bench.spec(air_density="correct"))
    assert problem.key == "pressure"
