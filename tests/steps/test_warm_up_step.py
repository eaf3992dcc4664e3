"""The warm-up step."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from procedures.asks import SWITCHED_ON, Acknowledge, Choice, Wait
from procedures.steps import kind


def test_the_wait_counts_from_switching_on(bench: Any) -> None:
    """An instrument that was switched on for its battery check has been warming up since."""
    visit = bench.visit(bench.parameters("warm-up", since_on="2 min"), bench.facts())
    (ask,) = visit.asks
    assert isinstance(ask, Wait)
    assert (ask.seconds, ask.since) == (120.0, SWITCHED_ON)
    assert visit.outcome == "pass"


def test_it_asks_to_switch_on_when_nobody_has_yet(bench: Any) -> None:
    """Without the moment there is nothing to count from."""
    visit = bench.visit(bench.parameters("warm-up", since_on="2 min"), bench.facts(marks={}))
    assert [type(ask) for ask in visit.asks] == [Acknowledge, Wait]
    assert visit.asks[0].mark == SWITCHED_ON


def test_the_moment_of_switching_on_does_not_change_the_questions(bench: Any) -> None:
    """The engine adds the mark while the visit goes on; the answers already given must stay answers."""
    for first in (True, False):
        parameters = bench.parameters("warm-up", since_on="2 min")
        visit = bench.visit(parameters, bench.facts(marks={}, first_visit=first))
        assert kind("warm-up").next(parameters, bench.facts(first_visit=first), visit.answers) == visit.finding


def test_after_a_remedy_the_old_moment_counts_only_when_it_stayed_on(bench: Any) -> None:
    """Cells are changed with the instrument off: the minutes before that are no warm-up."""
    parameters = bench.parameters("warm-up", since_on="2 min")
    facts = bench.facts(first_visit=False)
    off = bench.visit(parameters, facts, {"stayed-on": "was off"})
    assert [type(ask) for ask in off.asks] == [Choice, Acknowledge, Wait]
    assert off.asks[1].mark == SWITCHED_ON
    on = bench.visit(parameters, facts, {"stayed-on": "on all the time"})
    assert [type(ask) for ask in on.asks] == [Choice, Wait]


@given(data=st.data(), first=st.booleans(), marked=st.booleans())
def test_any_answers_lead_to_a_pass(bench: Any, data: st.DataObject, first: bool, marked: bool) -> None:
    """Warming up cannot fail; it can only take its time."""
    facts = bench.facts(first_visit=first, **({} if marked else {"marks": {}}))
    visit = bench.any_visit(data, bench.parameters("warm-up", since_on="2 min"), facts)
    assert visit.outcome == "pass"
    assert float(visit.finding.number("since_on").value) >= 120
