"""The alarm step."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.asks import SOURCE_BACK, SOURCE_OUT
from procedures.steps import kind

FULL = {"signals": ("sound", "light"), "set_point": "2 mR/h", "clicks": "daily"}
FINE = {"test-button": "both", "set-point": (Decimal(2), "mR/h"), "near": "in place", "clicks": "quicken"}


def heard(bench: Any, shape: dict[str, Any], facts: Any = None, **answers: Any) -> Any:
    given_answers = FINE | {key.replace("_", "-"): value for key, value in answers.items()}
    return bench.visit(bench.parameters("alarm", **shape), facts or bench.facts(), given_answers)


@pytest.mark.parametrize(
    ("signals", "seen", "outcome"),
    [
        (("sound",), "both", "pass"),
        (("sound",), "sound only", "pass"),
        (("sound",), "light only", "fail"),
        (("light",), "light only", "pass"),
        (("sound", "light"), "both", "pass"),
        (("sound", "light"), "sound only", "fail"),
        (("sound", "light"), "nothing", "fail"),
    ],
)
def test_the_test_button_gives_what_is_declared(bench: Any, signals: tuple[str, ...], seen: str, outcome: str) -> None:
    """A silent alarm warns nobody."""
    visit = heard(bench, {"signals": signals}, test_button=seen)
    assert visit.outcome == outcome
    assert visit.finding.code == ("alarm-silent" if outcome == "fail" else "")


def test_a_test_button_is_not_a_test(bench: Any) -> None:
    """That a buzzer sounds does not show that the detector responds: NRC Information Notice 98-16. The words on the
    screen and in the record keep the two apart, and no scale counts as shown."""
    visit = heard(bench, {})
    assert "not the detector" in visit.asks[0].more
    assert "not the detector" in visit.finding.say
    assert not visit.finding.shows
    assert not any(tag.startswith("response") for tag in kind("alarm").provides(bench.parameters("alarm")))


@pytest.mark.parametrize(
    ("stands", "outcome"),
    [(("2", "mR/h"), "pass"), (("2000", "µR/h"), "pass"), (("2.1", "mR/h"), "fail"), (("0.2", "mR/h"), "fail")],
)
def test_the_set_point_is_as_declared(bench: Any, stands: tuple[str, str], outcome: str) -> None:
    """Somebody turned it up to have peace."""
    visit = heard(bench, {"set_point": "2 mR/h"}, set_point=(Decimal(stands[0]), stands[1]))
    assert visit.outcome == outcome
    assert visit.finding.code == ("alarm-set-wrong" if outcome == "fail" else "")


def test_clicks_follow_the_source(bench: Any) -> None:
    """The source is scanned out and back; a counter that falls silent may be saturated (common practice, no source)."""
    visit = heard(bench, FULL)
    assert visit.outcome == "pass"
    assert [ask.mark for ask in visit.asks if ask.mark] == [SOURCE_OUT, SOURCE_BACK]
    assert "saturated" in next(ask.caution for ask in visit.asks if ask.key == "clicks")
    silent = heard(bench, FULL, clicks="silent")
    assert silent.outcome == "fail"
    assert silent.finding.carry


def test_no_source_is_not_checked(bench: Any) -> None:
    """Nothing to quicken for is no fault of the instrument."""
    assert heard(bench, FULL, bench.facts(sources=())).outcome == "could not check"


@given(data=st.data())
def test_any_answers_lead_to_a_finding(bench: Any, data: st.DataObject) -> None:
    """No way through the step may hang, and each ends in a whole finding."""
    bench.any_visit(data, bench.parameters("alarm", **FULL), bench.facts())


def test_clicks_come_after_the_scan_of_the_instrument(bench: Any) -> None:
    """Clicks near a source are a trial of the instrument in hand, whichever that is; a test button needs no source."""
    needs = kind("alarm").needs

    def asked(**keys: Any) -> bool:
        wanted = needs(bench.parameters("alarm", **keys), bench.spec(has_window=True))
        return frozenset({"identity"}) in {need.any_of for need in wanted}

    assert asked(clicks="daily")
    assert not asked()


@pytest.mark.parametrize(
    ("keys", "wrong"),
    [
        (FULL, set()),
        ({"signals": ()}, {"signals"}),
        ({"signals": ("sound", "sound")}, {"signals"}),
        ({"set_point": "500 cpm"}, {"set_point"}),
    ],
)
def test_parameters_that_cannot_work_are_named(bench: Any, keys: dict[str, Any], wrong: set[str]) -> None:
    """A step that asks nothing, or a set point no scale shows, is refused with the key at fault."""
    problems = kind("alarm").check(bench.parameters("alarm", **keys), bench.spec())
    assert {each.key for each in problems} == wrong
