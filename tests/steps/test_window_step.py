"""The window step."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.asks import SOURCE_BACK, SOURCE_OUT
from procedures.steps import kind

LIGHT = {"light_scale": "x1", "light_within": "0.1 mR/h"}
RATIO = {"ratio": {"scale": "x1", "source": "daily", "low": "-20 %", "high": "20 %"}}
FULL = LIGHT | RATIO


def seen(bench: Any, shape: dict[str, Any], facts: Any = None, **answers: Any) -> Any:
    given_answers = {"window": "whole"} | {key.replace("_", "-"): value for key, value in answers.items()}
    return bench.visit(bench.parameters("window", **shape), facts or bench.facts(), given_answers)


@pytest.mark.parametrize(
    ("what", "outcome"),
    [
        ("whole", "pass"),
        ("dimpled", "fail"),
        ("torn or holed", "fail"),
        ("dirty", "fail"),
        ("loose", "fail"),
        ("cannot see it", "could not check"),
    ],
)
def test_what_is_seen_decides(bench: Any, what: str, outcome: str) -> None:
    """Only a whole window passes; one that cannot be seen is not guessed about."""
    visit = seen(bench, {}, window=what)
    assert visit.outcome == outcome
    assert visit.finding.code == ("window-damaged" if outcome == "fail" else "")
    assert visit.finding.as_found is None or visit.finding.as_found.outcome == outcome


def test_a_dimpled_window_may_pass_with_a_warning(bench: Any) -> None:
    """Some windows dimple and work; the profile may say so, and the lead is told."""
    visit = seen(bench, {"dimpled": "warn"}, window="dimpled")
    assert visit.outcome == "warn"
    assert visit.finding.tell


def test_nothing_touches_the_window(bench: Any) -> None:
    """The usual caution stands at every ask at which a hand is near it (common practice, no source)."""
    visit = seen(bench, LIGHT, dark=bench.read("0.1"), bright_reading=bench.read("0.1"))
    near = [ask for ask in visit.asks if ask.key in ("window", "cover", "bright")]
    assert len(near) == 3
    assert all("Nothing touches it" in ask.caution for ask in near)


@pytest.mark.parametrize(
    ("bright", "state", "outcome"),
    [("0.2", "on scale", "pass"), ("0.21", "on scale", "fail"), ("0", "on scale", "pass"), ("3", "pegged", "fail")],
)
def test_bright_light_must_not_move_the_reading(bench: Any, bright: str, state: str, outcome: str) -> None:
    """From 0.1 covered, a change of 0.1 is on the limit and passes, either way; off the end is light, or worse."""
    visit = seen(bench, LIGHT, dark=bench.read("0.1"), bright_reading=bench.read(bright, state=state))
    assert visit.outcome == outcome
    assert visit.finding.code == ("light-leak" if outcome == "fail" else "")


def ratio_facts(bench: Any, closed: str = "0.50", opened: str = "1.50", **changes: Any) -> Any:
    at = bench.facts().opened - timedelta(days=30)
    references = (
        bench.reference(closed, geometry="closed", at=at),
        bench.reference(opened, geometry="open", at=at),
    )
    return bench.facts(**({"references": references} | changes))


def both(bench: Any, closed: str, opened: str, facts: Any = None) -> Any:
    answers = {"closed": "in place", "open": "in place"}
    answers |= {"closed-reading-1": bench.read(closed), "open-reading-1": bench.read(opened)}
    return seen(bench, RATIO, facts or ratio_facts(bench), **answers)


@pytest.mark.parametrize(
    ("opened", "outcome"), [("1.50", "pass"), ("1.20", "pass"), ("1.80", "pass"), ("1.19", "fail"), ("1.81", "fail")]
)
def test_open_over_closed_is_compared_with_the_reference_ratio(bench: Any, opened: str, outcome: str) -> None:
    """Reference 3; ±20 % is 2.4 to 3.6, on the limit passes. Decay cancels between two references of one day."""
    visit = both(bench, "0.50", opened)
    assert visit.outcome == outcome
    assert visit.finding.code == ("window-ratio-out" if outcome == "fail" else "")
    marks = [ask.mark for ask in visit.asks if ask.mark]
    assert marks == ([SOURCE_OUT, SOURCE_BACK] if outcome == "pass" else [SOURCE_OUT])
    assert bool(visit.finding.carry) == (outcome == "fail")


def test_references_of_different_days_decay_each_by_itself(bench: Any) -> None:
    """One half-life between them: closed as of then is half of what it was (computed)."""
    opened = bench.facts().opened
    references = (
        bench.reference("1.00", geometry="closed", at=opened - timedelta(days=100)),
        bench.reference("1.50", geometry="open", at=opened),
    )
    facts = ratio_facts(
        bench, references=references, source={"half_life_days": 100.0}, instrument={"calibrated_on": None}
    )
    visit = both(bench, "0.50", "1.50", facts)
    assert float(visit.finding.number("expected_ratio").value) == pytest.approx(3.0, rel=1e-9)
    assert visit.outcome == "pass"


@pytest.mark.parametrize("changes", [{"sources": ()}, {"references": ()}, {"source": {"trouble": "it is missing"}}])
def test_no_source_or_reference_is_not_checked(bench: Any, changes: dict[str, Any]) -> None:
    """The window was seen to be whole, but its ratio was not shown."""
    assert seen(bench, RATIO, ratio_facts(bench, **changes)).outcome == "could not check"


def test_an_instrument_that_is_dead_at_the_source_fails(bench: Any) -> None:
    """No response with the right source in place is always a failure."""
    dead = bench.read("0", state="no response")
    answers = {"closed": "in place", "closed_reading_1": dead, "closed-reading-look-again": "both right"}
    assert seen(bench, RATIO, ratio_facts(bench), **answers).outcome == "fail"


@given(data=st.data(), first=st.booleans())
def test_any_answers_lead_to_a_finding(bench: Any, data: st.DataObject, first: bool) -> None:
    """No way through the step may hang; a pass means a whole window, no leak and a ratio within limits."""
    visit = bench.any_visit(data, bench.parameters("window", **FULL), ratio_facts(bench, first_visit=first))
    if visit.outcome == "pass":
        assert {a.value for a in visit.answers if a.ask == "window"} == {"whole"}
        dark, bright = (Decimal(visit.finding.number(name).value) for name in ("dark", "bright"))
        assert abs(bright - dark) <= Decimal("0.1")
        assert 2.4 - 1e-8 <= float(visit.finding.number("ratio").value) <= 3.6 + 1e-8


@pytest.mark.parametrize(
    ("keys", "wrong"),
    [
        ({}, set()),
        (FULL, set()),
        ({"light_scale": "x1"}, {"light_within"}),
        ({"light_within": "0.1 mR/h"}, {"light_scale"}),
        (LIGHT | {"light_scale": "x7"}, {"light_scale"}),
        (LIGHT | {"light_within": "10 cpm"}, {"light_within"}),
        (LIGHT | {"light_within": "0.04 mR/h"}, {"light_within"}),
        ({"ratio": RATIO["ratio"] | {"scale": "x7"}}, {"ratio.scale"}),
        ({"ratio": RATIO["ratio"] | {"low": "5 %"}}, {"ratio.low"}),
        ({"ratio": RATIO["ratio"] | {"high": "-5 %"}}, {"ratio.high"}),
    ],
)
def test_parameters_that_cannot_work_are_named(bench: Any, keys: dict[str, Any], wrong: set[str]) -> None:
    """Half a light check, an unknown scale or a ratio that nothing passes is refused with the key at fault."""
    problems = kind("window").check(bench.parameters("window", **keys), bench.spec())
    assert {each.key for each in problems} == wrong


def test_a_ratio_comes_after_the_scan_of_the_instrument(bench: Any) -> None:
    """It brings a source to the instrument in hand; a look at the window alone shows nothing that is compared."""
    needs = kind("window").needs

    def asked(shape: dict[str, Any]) -> bool:
        wanted = needs(bench.parameters("window", **shape), bench.spec())
        return frozenset({"identity"}) in {need.any_of for need in wanted}

    assert asked(RATIO)
    assert not asked(LIGHT)
