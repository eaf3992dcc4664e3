"""The run by property: whatever is planned and whatever people do, an ending is one that the events justify.

The oracle in `run_oracle.py` was written apart from the engine. The normal run plays some 1,700 cases. A campaign plays
as many as the environment variable RUN_EXAMPLES says, for each property, with new random cases every time:

    RUN_EXAMPLES=200000 python -m pytest tests/test_run_properties.py
"""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import date
from typing import Any

import run_told as told
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from run_bench import Bench, Case, Move, Stub, cases, proper_plans, wrong_with
from run_oracle import GOOD, standing

from procedures import checkout, due

Test = Callable[..., Any]
CAMPAIGN = int(os.environ.get("RUN_EXAMPLES", "0"))


def runs(examples: int) -> settings:
    """So many examples, always the same ones in the normal run: a failure there is the fault of the last change."""
    return settings(
        max_examples=CAMPAIGN or examples,
        derandomize=not CAMPAIGN,
        deadline=None,
        database=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )


def told_too(runs_told: dict[str, Case]) -> Callable[[Test], Test]:
    """Each run that is told move by move as an example beside the random ones."""

    def with_examples(test: Test) -> Test:
        for case in runs_told.values():
            test = example(case)(test)
        return test

    return with_examples


@given(cases(proper=True))
@told_too(told.PROPER)
@runs(700)
def test_an_ending_is_justified(case: Case) -> None:
    """Fit only when the oracle agrees; a standing failure always locks out with its code, nothing else does."""
    assert wrong_with(case) == []


@given(cases(proper=False))
@told_too(told.WILD)
@runs(500)
def test_an_ending_is_justified_whatever_the_plan(case: Case) -> None:
    """A run must be safe even where a proof let through what it should have refused."""
    assert wrong_with(case, proper=False) == []


@given(cases(proper=True))
@runs(150)
def test_nothing_but_a_remedy_and_a_pass_answers_a_failure(case: Case) -> None:
    """Pausing, crashing, another person, switching off, giving up: a failure outlives all of them."""
    bench = Bench(case).play()
    failed = [n for n, e in enumerate(bench.events) if e.kind == "found" and e.body["finding"]["outcome"] == "fail"]
    if not bench.state.over or bench.events[-1].body["ending"] != "fit for use":
        return
    for place in failed:
        step = bench.events[place].body["step"]
        later = bench.events[place + 1 :]
        done = [n for n, event in enumerate(later) if event.kind == "remedied" and event.body["done"]]
        assert done
        passed = [
            e.body["step"] for e in later[done[0] :] if e.kind == "found" and e.body["finding"]["outcome"] in GOOD
        ]
        required = bench.procedure.plan.step(step).required
        assert not required or step in passed


@given(cases(proper=True))
@runs(150)
def test_what_could_not_be_checked_locks_nothing_out(case: Case) -> None:
    """With no failure at all there is no lockout, however the checkout ends."""
    bench = Bench(case).play()
    if not bench.state.over:
        return
    last = [e for e in bench.events if e.kind == "found"][-1:]
    ending = bench.events[-1].body["ending"]
    if last and last[0].body["finding"]["outcome"] == "could not check" and bench.events[-2] == last[0]:
        assert ending == ("locked out" if standing(case.plain, bench.events) else "not checked")
    if not any(
        e.kind == "failed-by-judgement" or e.body.get("finding", {}).get("outcome") == "fail" for e in bench.events
    ):
        assert ending != "locked out"


@given(proper_plans(), st.lists(st.sampled_from(["pass", "warn", "fail", "could not check"]), min_size=60, max_size=60))
@runs(40)
def test_a_run_ends(plan: tuple[Stub, ...], outcomes: list[str]) -> None:
    """Attempts bound the run: no plan that goes only forward makes more findings than steps times attempts."""
    bench = Bench(Case(plan, ()))
    for outcome in outcomes:
        if bench.state.over:
            break
        bench.step(outcome)
    attempts = sum(remedy.attempts for stub in plan for remedy in stub.remedies)
    assert len(bench.state.made) <= len(plan) * (1 + attempts)
    assert bench.state.over or len(bench.state.made) == len(outcomes)


@given(proper_plans())
@runs(40)
def test_an_instrument_without_fault_comes_out_fit(plan: tuple[Stub, ...]) -> None:
    """Safety alone would be met by never saying fit."""
    bench = Bench(Case(plan, (Move("step", "pass"),) * len(plan), ready_ends="profile")).play()
    assert bench.state.ending is not None
    assert bench.state.ending["ending"] == "fit for use"
    assert {step for step, _ in bench.state.counting().items()} == {stub.id for stub in plan if stub.required}


@given(cases(proper=True), st.integers(0, 60))
@runs(40)
def test_a_crash_anywhere_changes_nothing(case: Case, cut: int) -> None:
    """What was committed is all there is: a fold of any beginning is the state the run had then."""
    bench = Bench(case).play()
    events = bench.events[: 1 + cut % len(bench.events)]
    state = checkout.opened(bench.procedure, events[0])
    for event in events[1:]:
        state = checkout.apply(bench.procedure, state, event)
    assert checkout.fold(bench.procedure, events) == state
    assert due.due(bench.procedure, state) == due.due(bench.procedure, state)


def test_the_oracle_is_not_always_content() -> None:
    """A calibration that is over speaks against fit, and only that."""
    case = Case(told.ONE_STEP, (Move("step", "pass"),), calibration_due=date(2026, 11, 24))
    bench = Bench(case).play()
    assert bench.events[-1].body["ending"] == "not checked"
    assert bench.events[-1].body["missing"] == ["the calibration ended on 2026-11-24"]
