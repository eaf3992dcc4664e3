"""The battery step."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from procedures.asks import SWITCHED_ON, Acknowledge, Place, QuantityAsk
from procedures.steps import kind

PLACES = {"places": ("below the band", "in the band", "above the band"), "good": ("in the band",)}
VOLTS = {"reads": "volts", "minimum": "7.2 V", "maximum": "9.9 V"}
PERCENT = {"reads": "percent", "minimum": "30 %"}


def problems(bench: Any, **keys: Any) -> set[str]:
    return {each.key for each in kind("battery").check(bench.parameters("battery", **keys), bench.spec())}


@pytest.mark.parametrize(
    ("place", "outcome"), [("below the band", "fail"), ("in the band", "pass"), ("above the band", "fail")]
)
def test_only_the_good_places_pass(bench: Any, place: str, outcome: str) -> None:
    """What is not declared good is a fault, above the band too."""
    visit = bench.visit(bench.parameters("battery", **PLACES), bench.facts(), {"battery": place})
    assert isinstance(visit.asks[0], Place)
    assert visit.outcome == outcome
    assert visit.finding.as_found.outcome == outcome
    assert visit.finding.code == ("battery-low" if outcome == "fail" else "")


def test_a_marginal_place_passes_and_tells_the_lead(bench: Any) -> None:
    """A battery that will not last the week is worth saying before it fails."""
    parameters = bench.parameters("battery", **(PLACES | {"marginal": ("above the band",)}))
    visit = bench.visit(parameters, bench.facts(), {"battery": "above the band"})
    assert visit.outcome == "warn"
    assert visit.finding.tell


@pytest.mark.parametrize(
    ("volts", "outcome"),
    [
        (("7.2", "V"), "pass"),
        (("7.19", "V"), "fail"),
        (("9.9", "V"), "pass"),
        (("9.91", "V"), "fail"),
        (("7200", "mV"), "pass"),
        (("7199", "mV"), "fail"),
        (("0", "V"), "fail"),
    ],
)
def test_a_voltage_on_the_limit_passes(bench: Any, volts: tuple[str, str], outcome: str) -> None:
    """On the limit passes, in whichever unit it was read; more than the cells can have means wrong cells."""
    given_volts = {"battery": (Decimal(volts[0]), volts[1])}
    visit = bench.visit(bench.parameters("battery", **VOLTS), bench.facts(), given_volts)
    assert visit.outcome == outcome
    assert visit.finding.number("battery").value == volts[0]


@pytest.mark.parametrize(("percent", "outcome"), [("30", "pass"), ("29.9", "fail"), ("100", "pass")])
def test_a_charge_is_judged_in_percent(bench: Any, percent: str, outcome: str) -> None:
    """Percent is compared with percent."""
    visit = bench.visit(bench.parameters("battery", **PERCENT), bench.facts(), {"battery": (Decimal(percent), "%")})
    assert visit.outcome == outcome


def test_it_asks_to_switch_on_when_nobody_has_yet(bench: Any) -> None:
    """Warm-up counts from here, so the moment is fixed by the answer; a battery off load shows nothing."""
    visit = bench.visit(bench.parameters("battery", **PLACES), bench.facts(marks={}), {"battery": "in the band"})
    assert isinstance(visit.asks[0], Acknowledge)
    assert visit.asks[0].mark == SWITCHED_ON


def test_the_moment_of_switching_on_does_not_change_the_questions(bench: Any) -> None:
    """The engine adds the mark while the visit goes on; the answers already given must stay answers."""
    parameters = bench.parameters("battery", **PLACES)
    visit = bench.visit(parameters, bench.facts(marks={}), {"battery": "in the band"})
    after = kind("battery").next(parameters, bench.facts(), visit.answers[:1])
    assert isinstance(after, Place)
    assert kind("battery").next(parameters, bench.facts(), visit.answers) == visit.finding


def test_only_the_first_visit_is_as_found(bench: Any) -> None:
    """After fresh cells the reading no longer tells how the instrument was found."""
    again = bench.visit(
        bench.parameters("battery", **PLACES), bench.facts(first_visit=False), {"battery": "in the band"}
    )
    assert again.finding.as_found is None


@pytest.mark.parametrize("shape", [PLACES, VOLTS, PERCENT])
@given(data=st.data(), first=st.booleans())
def test_any_answers_lead_to_a_finding(bench: Any, shape: dict[str, Any], data: st.DataObject, first: bool) -> None:
    """No way through the step may hang, and each ends in a whole finding."""
    bench.any_visit(data, bench.parameters("battery", **shape), bench.facts(first_visit=first))


@pytest.mark.parametrize(
    ("keys", "wrong"),
    [
        (PLACES, set()),
        (VOLTS, set()),
        (PERCENT, set()),
        ({}, {"places", "good"}),
        ({"places": ("a", "b", "a"), "good": ("a",)}, {"places"}),
        ({"places": ("a", "b"), "good": ("c",)}, {"good"}),
        ({"places": ("a", "b"), "good": ("a", "b")}, {"good"}),
        ({"places": ("a", "b"), "good": ("a",), "marginal": ("a",)}, {"marginal"}),
        (PLACES | {"minimum": "7 V"}, {"minimum"}),
        ({"reads": "volts"}, {"minimum"}),
        ({"reads": "volts", "minimum": "0 V"}, {"minimum"}),
        ({"reads": "volts", "minimum": "30 %"}, {"minimum"}),
        ({"reads": "volts", "minimum": "9 V", "maximum": "9 V"}, {"maximum"}),
        (VOLTS | {"good": ("a",)}, {"good"}),
        ({"reads": "percent", "minimum": "7 V"}, {"minimum"}),
    ],
)
def test_parameters_that_cannot_work_are_named(bench: Any, keys: dict[str, Any], wrong: set[str]) -> None:
    """A profile in which the battery can never pass, or never fail, is refused with the key at fault."""
    assert problems(bench, **keys) == wrong


@pytest.mark.parametrize("minimum", [7.2, "7.2", "7.2 mR/h", "2000 V", "-1 V", "120 %"])
def test_a_voltage_is_text_with_its_unit_and_can_be_true(bench: Any, minimum: object) -> None:
    """A bare number's unit would be a guess."""
    with pytest.raises(ValidationError):
        bench.parameters("battery", reads="volts", minimum=minimum)


def test_a_voltage_ask_takes_volts_and_millivolts(bench: Any) -> None:
    """Displays differ; the first unit is meant when none is typed."""
    ask = kind("battery").next(bench.parameters("battery", **VOLTS), bench.facts(), ())
    assert isinstance(ask, QuantityAsk)
    assert ask.units == ("V", "mV")
