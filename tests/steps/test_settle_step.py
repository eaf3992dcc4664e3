"""The settle step."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.asks import Wait
from procedures.steps import kind


def wait_of(bench: Any, **keys: Any) -> float:
    ask = kind("settle").next(bench.parameters("settle", **keys), bench.facts(), ())
    assert isinstance(ask, Wait)
    return ask.seconds


def problems(bench: Any, **keys: Any) -> set[str]:
    return {each.key for each in kind("settle").check(bench.parameters("settle", **keys), bench.spec())}


def test_a_stated_time_is_waited(bench: Any) -> None:
    """The plainest way of saying it."""
    assert wait_of(bench, lasts="8 s") == 8.0


@pytest.mark.parametrize(
    ("residual", "time_constants"), [("36.788 %", 1.0), ("10 %", 2.302585), ("1 %", 4.605170), ("0.674 %", 5.0)]
)
def test_a_time_constant_and_a_residual_make_the_wait(bench: Any, residual: str, time_constants: float) -> None:
    """Fraction reached 1 − e^(−t/τ): 63.212 % after τ, 90 % after 2.302585 τ, 99 % after 4.605170 τ, 99.326 % after
    5 τ (computed)."""
    assert wait_of(bench, time_constant="3 s", residual=residual) == pytest.approx(3 * time_constants, rel=1e-4)


@pytest.mark.parametrize(("to", "tau"), [("90 % of final", 3.73), ("90 % of change", 2.61)])
def test_both_meanings_of_a_response_time(bench: Any, to: str, tau: float) -> None:
    """100 to 200 counts a second in 6 s, TRIUMF training page (read): to 90 % of the final value (180) the time
    constant is 3.73 s, to 90 % of the change (190) it is 2.61 s."""
    before = {"rising_from": "50 %"} if to == "90 % of final" else {}
    waited = wait_of(bench, response_time="6 s", to=to, residual="1 %", **before)
    assert waited / math.log(100) == pytest.approx(tau, abs=0.005)


def test_from_nothing_both_meanings_agree(bench: Any) -> None:
    """A step from zero to a final value is all change (computed)."""
    final = wait_of(bench, response_time="6 s", to="90 % of final")
    assert final == pytest.approx(wait_of(bench, response_time="6 s", to="90 % of change"))
    assert final == pytest.approx(12.0)


@pytest.mark.parametrize(
    ("keys", "wrong"),
    [
        ({"lasts": "8 s"}, set()),
        ({"time_constant": "3 s"}, set()),
        ({"response_time": "6 s", "to": "90 % of change"}, set()),
        ({}, {"lasts"}),
        ({"lasts": "8 s", "time_constant": "3 s"}, {"lasts"}),
        ({"response_time": "6 s"}, {"to"}),
        ({"lasts": "8 s", "to": "90 % of final"}, {"to"}),
        ({"lasts": "8 s", "residual": "1 %"}, {"residual"}),
        ({"response_time": "6 s", "to": "90 % of change", "rising_from": "50 %"}, {"rising_from"}),
        ({"response_time": "6 s", "to": "90 % of final", "rising_from": "90 %"}, {"rising_from"}),
        ({"time_constant": "1 h"}, {"time_constant"}),
    ],
)
def test_parameters_that_say_no_time_or_two_are_named(bench: Any, keys: dict[str, Any], wrong: set[str]) -> None:
    """One way of stating the time, complete, and a bounded wait."""
    assert problems(bench, **keys) == wrong
    shortest, longest = kind("settle").duration(bench.parameters("settle", **keys))
    assert 0 <= shortest <= longest


@given(data=st.data())
def test_any_answers_lead_to_a_pass(bench: Any, data: st.DataObject) -> None:
    """Settling cannot fail, and the time measured is kept beside the one that was due."""
    visit = bench.any_visit(data, bench.parameters("settle", time_constant="3 s"), bench.facts())
    assert visit.outcome == "pass"
    assert float(visit.finding.number("waited").value) >= float(visit.finding.number("due").value)
