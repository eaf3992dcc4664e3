"""The desiccant step."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.asks import Choice
from procedures.steps import kind

COBALT = {"fresh": "blue", "spent": "pink"}
COBALT_FREE = {"fresh": ("orange",), "spent": ("green", "colourless")}
WITH_TURNING = {"fresh": "amber", "turning": ("brown",), "spent": "green"}


@pytest.mark.parametrize(
    ("gel", "colour", "outcome"),
    [
        (COBALT, "blue", "pass"),
        (COBALT, "pink", "fail"),
        (COBALT_FREE, "orange", "pass"),
        (COBALT_FREE, "green", "fail"),
        (COBALT_FREE, "colourless", "fail"),
    ],
)
def test_colours_depend_on_the_gel(bench: Any, gel: dict[str, Any], colour: str, outcome: str) -> None:
    """Cobalt: blue dry, pink wet; cobalt-free: orange dry, green or colourless wet (suppliers' data sheets, read)."""
    visit = bench.visit(bench.parameters("desiccant", **gel), bench.facts(), {"colour": colour})
    assert visit.outcome == outcome
    assert visit.finding.code == ("desiccant-spent" if outcome == "fail" else "")


def test_turning_gel_passes_and_tells_the_lead(bench: Any) -> None:
    """A change can be planned before the chamber is damp (common practice, no source)."""
    visit = bench.visit(bench.parameters("desiccant", **WITH_TURNING), bench.facts(), {"colour": "brown"})
    assert visit.outcome == "warn"
    assert visit.finding.tell


@pytest.mark.parametrize("seen", ["cannot see it", "another colour"])
def test_what_cannot_be_told_is_not_checked(bench: Any, seen: str) -> None:
    """A colour the profile does not name is not guessed to be one that it does."""
    visit = bench.visit(bench.parameters("desiccant", **COBALT), bench.facts(), {"colour": seen})
    assert visit.outcome == "could not check"


def test_every_declared_colour_is_offered_and_none_is_praised(bench: Any) -> None:
    """The answer is an observation: the ask names colours, not which of them is good."""
    ask = kind("desiccant").next(bench.parameters("desiccant", **WITH_TURNING), bench.facts(), ())
    assert isinstance(ask, Choice)
    words = [option.say for option in ask.options]
    assert words == ["Amber", "Brown", "Green", "Another colour", "I cannot see it"]
    assert ask.look > 0


def test_the_profiles_own_reason_code_is_used(bench: Any) -> None:
    """A site may name its reasons."""
    parameters = bench.parameters("desiccant", **COBALT, lockout="gel-wet")
    assert bench.visit(parameters, bench.facts(), {"colour": "pink"}).finding.code == "gel-wet"


@pytest.mark.parametrize(
    ("keys", "wrong"),
    [
        (WITH_TURNING, set()),
        ({"fresh": "blue", "spent": "Blue"}, {"spent"}),
        ({"fresh": "blue", "turning": "blue", "spent": "pink"}, {"turning"}),
        ({"fresh": ("blue", "blue"), "spent": "pink"}, {"fresh"}),
        ({"fresh": "blue", "spent": "another colour"}, {"spent"}),
    ],
)
def test_overlapping_colours_are_refused(bench: Any, keys: dict[str, Any], wrong: set[str]) -> None:
    """One colour cannot be both dry and spent."""
    problems = kind("desiccant").check(bench.parameters("desiccant", **keys), bench.spec())
    assert {each.key for each in problems} == wrong


@given(data=st.data())
def test_any_answers_lead_to_a_finding(bench: Any, data: st.DataObject) -> None:
    """No way through the step may hang, and each ends in a whole finding."""
    bench.any_visit(data, bench.parameters("desiccant", **WITH_TURNING), bench.facts())
