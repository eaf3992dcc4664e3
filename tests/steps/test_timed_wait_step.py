"""The timed-wait step."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from procedures.asks import Answer, Wait
from procedures.steps import kind
from procedures.trouble import Trouble


def test_it_waits_as_long_as_the_profile_says(bench: Any) -> None:
    """The seconds asked are those of the profile, and the seconds measured are kept."""
    parameters = bench.parameters("timed-wait", say="The chamber dries.", lasts="2 min", meanwhile="Damp air leaves.")
    visit = bench.visit(parameters, bench.facts(), {"wait": 121.5})
    (ask,) = visit.asks
    assert isinstance(ask, Wait)
    assert (ask.seconds, ask.meanwhile) == (120.0, "Damp air leaves.")
    assert visit.outcome == "pass"
    assert visit.finding.number("waited").value == "121.5"


def test_a_wait_that_was_too_short_is_no_answer(bench: Any) -> None:
    """A wait is never over early, whoever says so."""
    parameters = bench.parameters("timed-wait", say="It dries.", lasts="2 min")
    with pytest.raises(Trouble):
        kind("timed-wait").next(parameters, bench.facts(), (Answer("wait", 119.9, bench.facts().opened),))


@pytest.mark.parametrize("lasts", ["5 h", "0 s", "8", "8 m", 8])
def test_a_wait_is_bounded_and_has_a_unit_of_time(bench: Any, lasts: object) -> None:
    """Every wait is bounded, and 8 m is eight metres."""
    with pytest.raises(ValidationError):
        bench.parameters("timed-wait", say="It dries.", lasts=lasts)


@given(data=st.data())
def test_any_answers_lead_to_a_finding(bench: Any, data: st.DataObject) -> None:
    """No way through the step may hang or fail."""
    parameters = bench.parameters("timed-wait", say="It dries.", lasts="2 min")
    assert bench.any_visit(data, parameters, bench.facts()).outcome == "pass"
