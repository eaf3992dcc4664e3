"""The acknowledge step."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from procedures.asks import Acknowledge


def test_it_passes_and_says_only_that_it_was_acknowledged(bench: Any) -> None:
    """Acknowledging is no observation, so the finding must not claim one."""
    parameters = bench.parameters("acknowledge", say="Read the work permit.", done="Read")
    visit = bench.visit(parameters, bench.facts())
    (ask,) = visit.asks
    assert isinstance(ask, Acknowledge)
    assert (ask.say, ask.done) == ("Read the work permit.", "Read")
    assert visit.outcome == "pass"
    assert not visit.finding.shows


@given(data=st.data())
def test_any_answers_lead_to_a_finding(bench: Any, data: st.DataObject) -> None:
    """No way through the step may hang or fail."""
    parameters = bench.parameters("acknowledge", say="Read the work permit.")
    assert bench.any_visit(data, parameters, bench.facts()).outcome == "pass"
