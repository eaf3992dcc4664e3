"""The background step."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.asks import Reading
from procedures.steps import kind
from procedures.units import read_quantity

PLAIN = {"scale": "x1", "highest": "0.1 mR/h"}
COUNTED = {"scale": "rate", "highest": "50 cpm", "count_time": "60 s", "readings": 2}
AWAY = {"stowed": "all away"}


def measured(bench: Any, shape: dict[str, Any], facts: Any = None, **answers: Any) -> Any:
    given_answers = AWAY | {key.replace("_", "-"): value for key, value in answers.items()}
    return bench.visit(bench.parameters("background", **shape), facts or bench.facts(), given_answers)


@pytest.mark.parametrize("figure", ["0", "0.05", "0.1"])
def test_background_is_recorded_for_later_steps(bench: Any, figure: str) -> None:
    """The response step takes it off; on the limit passes."""
    finding = measured(bench, PLAIN, background_1=bench.read(figure)).finding
    assert finding.outcome == "pass"
    assert read_quantity(finding.fact("background")).value == Decimal(figure)
    assert read_quantity(finding.fact("background")).unit == "mR/h"
    assert finding.fact("background_scale") == PLAIN["scale"]


def test_a_needle_below_zero_is_a_valid_background(bench: Any) -> None:
    """It is an observation of the zero side, and stays signed."""
    finding = measured(bench, PLAIN, background_1=bench.read("-0.05", state="below zero")).finding
    assert finding.outcome == "pass"
    assert finding.fact("background") == "-0.05 mR/h"


def test_too_high_is_read_again_elsewhere(bench: Any) -> None:
    """It is first of all the place; moved, it passes, the lead is told, and the second place's background is used."""
    visit = measured(bench, PLAIN, background_1=bench.read("0.3"), elsewhere_1=bench.read("0.1"))
    assert "move" in visit.keys
    assert visit.outcome == "warn"
    assert visit.finding.fact("background") == "0.1 mR/h"


def test_what_changes_with_the_place_is_not_checked(bench: Any) -> None:
    """Background too high is no failure of the instrument: no lockout, nothing in doubt."""
    visit = measured(bench, PLAIN, background_1=bench.read("0.3"), elsewhere_1=bench.read("0.2"), follows="changes")
    assert visit.outcome == "could not check"
    assert not visit.finding.facts


@pytest.mark.parametrize("state", ["on scale", "pegged"])
def test_what_follows_the_instrument_fails(bench: Any, state: str) -> None:
    """The same everywhere: something on it or in it radiates, or it is broken."""
    high = bench.read("3", state=state)
    visit = measured(bench, PLAIN, background_1=high, elsewhere_1=high, follows="everywhere the same")
    assert (visit.outcome, visit.finding.code) == ("fail", "background-high")


def test_counts_are_kept_with_their_time(bench: Any) -> None:
    """Two counts of 60 s are one of 120 s: 36 + 40 is 38 cpm (computed)."""
    first, second = (Reading("rate", Decimal(n), Decimal(1), "counts") for n in (36, 40))
    facts = bench.facts(scales=bench.counter)
    finding = measured(bench, COUNTED, facts, background_1=first, background_2=second).finding
    assert finding.fact("background_counts") == "76"
    assert float(finding.fact("background_seconds")) == 120.0
    assert float(read_quantity(finding.fact("background")).value) == pytest.approx(38.0)


def test_a_source_that_stays_out_means_not_checked(bench: Any) -> None:
    """Background beside a source is none."""
    visit = bench.visit(
        bench.parameters("background", **PLAIN), bench.facts(), {"stowed": "one is out", "stowed-2": "one is out"}
    )
    assert visit.outcome == "could not check"


@given(data=st.data(), counted=st.booleans())
def test_any_answers_lead_to_a_finding(bench: Any, data: st.DataObject, counted: bool) -> None:
    """No way through the step may hang; what is recorded is never above the highest allowed."""
    shape, facts = (COUNTED, bench.facts(scales=bench.counter)) if counted else (PLAIN, bench.facts())
    finding = bench.any_visit(data, bench.parameters("background", **shape), facts).finding
    highest = Decimal(50) if counted else Decimal("0.1")
    if finding.fact("background"):
        assert read_quantity(finding.fact("background")).value <= highest * (1 + Decimal("1e-9"))
    assert bool(finding.fact("background")) == (finding.outcome in ("pass", "warn"))


@pytest.mark.parametrize(
    ("keys", "wrong"),
    [
        (PLAIN, set()),
        (PLAIN | {"scale": "x7"}, {"scale"}),
        (PLAIN | {"highest": "50 cpm"}, {"highest"}),
        (PLAIN | {"highest": "3 mR/h"}, {"highest"}),
        (PLAIN | {"highest": "0.04 mR/h"}, {"highest"}),
        (PLAIN | {"count_time": "60 s"}, {"count_time"}),
    ],
)
def test_parameters_that_cannot_work_are_named(bench: Any, keys: dict[str, Any], wrong: set[str]) -> None:
    """A highest background that all or nothing passes is refused with the key at fault."""
    problems = kind("background").check(bench.parameters("background", **keys), bench.spec())
    assert {each.key for each in problems} == wrong
