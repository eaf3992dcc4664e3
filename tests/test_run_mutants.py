"""The properties of the run can fail: with a fault put into the engine, the oracle finds a run that shows it.

Each mutant is a slip somebody could make, with a short run in which it does harm. In a campaign (RUN_EXAMPLES, see
`test_run_properties.py`) the random cases must come upon every mutant by themselves.
"""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
import run_told as told
from hypothesis import HealthCheck, Phase, find, settings
from run_bench import BEFORE_A_SHIFT_ENDS, BEFORE_MIDNIGHT, PAUSE, Case, Move, Stub, cases, wrong_with

from procedures import checkout, conduct, due, readiness, routing, settling, verdict
from procedures.checkout import State
from procedures.clock import Instant
from procedures.procedure import Procedure
from procedures.routing import Plan, Remedy, Track

Patch = tuple[Any, str, Any]


def _keeps_passes(_plan: Plan, track: Track) -> Track:
    return track


def _forgets_budgets(plan: Plan, track: Track) -> Track:
    step = plan.step(track.step)
    if step.remedies:
        return replace(track, offer=0)
    return replace(track, step=step.on_fail) if step.on_fail else routing._end(track, "locked out")


_remedied = routing.remedied
_passed = routing._passed


def _disturbs_nothing(plan: Plan, track: Track, *, done: bool) -> Track:
    after = _remedied(plan, track, done=done)
    return replace(after, counting=track.counting) if done else after


def _forgives_by_remedy(plan: Plan, track: Track, *, done: bool) -> Track:
    return replace(_remedied(plan, track, done=done), standing=())


def _forgives_by_any_pass(plan: Plan, track: Track) -> Track:
    return _passed(plan, replace(track, standing=()))


def _hears_no_judgement(track: Track, _code: str) -> Track:
    return track


def _never_stale(_procedure: Procedure, _gap: float, _same_person: bool, _switched_off: bool) -> str:
    return ""


def _anybody(procedure: Procedure, gap: float, _same_person: bool, switched_off: bool) -> str:
    return _stale(procedure, gap, True, switched_off)


_stale = checkout.stale
_ready_until = readiness.ready_until
_abandoned = verdict.abandoned


def _by_ticks_alone(state: State, now: Instant) -> float:
    return now.ticks - state.last.ticks if now.session == state.last.session else 0.0


def _full_credit(_mark: Instant, _now: Instant) -> float:
    return 1e6


def _clears_by_giving_up(procedure: Procedure, state: State, why: str, now: Instant) -> dict[str, Any]:
    return {**_abandoned(procedure, state, why, now), "ending": "abandoned", "reasons": []}


def _to_the_end_of_the_profile(oldest: Any, lasts: float, now: Any, settings: Any, _due: Any) -> readiness.Until:
    return _ready_until(oldest, lasts, now, {**settings, "ready_ends": "profile"}, None)


def _from_the_newest_pass(_oldest: Any, lasts: float, now: Any, settings: Any, due: Any) -> readiness.Until:
    return _ready_until(now, lasts, now, settings, due)


PASS, FAIL, UNCHECKED, LONG = told.PASS, told.FAIL, Move("step", "could not check"), told.LONG
CELLS = (Remedy("fresh-cells", "Do it.", "a"),)
TWO = told.TWO_STEPS
WITH_CELLS = (Stub("a"), Stub("b", remedies=CELLS))
LENIENT = frozenset({"pass", "warn", "not applicable", "could not check"})

MUTANTS: dict[str, tuple[tuple[Patch, ...], Case]] = {
    "a restart keeps passes": (((routing, "restart", _keeps_passes),), Case(TWO, (PASS, LONG, PASS, PASS, PASS))),
    "no gap is too long": (
        ((checkout, "stale", _never_stale), (conduct, "stale", _never_stale)),
        Case(TWO, (PASS, LONG, PASS, PASS, PASS)),
    ),
    "another person goes on": (
        ((checkout, "stale", _anybody), (conduct, "stale", _anybody)),
        Case(TWO, (PASS, Move("resume", ("B", False)), PASS, PASS)),
    ),
    "gaps by ticks alone": (
        ((due, "gap_since", _by_ticks_alone), (conduct, "gap_since", _by_ticks_alone)),
        Case(TWO, (PASS, LONG, Move("crash"), PASS, PASS, PASS)),
    ),
    "attempts are not counted": (
        ((routing, "_after_failure", _forgets_budgets),),
        Case(WITH_CELLS, (PASS, FAIL, PASS, FAIL, PASS, PASS)),
    ),
    "a remedy disturbs nothing": (
        ((routing, "remedied", _disturbs_nothing),),
        Case(
            (
                Stub("a", disturbed_by=frozenset({"fresh-cells"})),
                Stub("b", remedies=(Remedy("fresh-cells", "Do it.", "b"),)),
            ),
            (PASS, FAIL, PASS),
        ),
    ),
    "a remedy alone forgives": (
        ((routing, "remedied", _forgives_by_remedy),),
        Case(WITH_CELLS, (PASS, FAIL, UNCHECKED)),
    ),
    "any pass forgives every failure": (
        ((routing, "_passed", _forgives_by_any_pass),),
        Case((Stub("a", on_fail="d"), Stub("d", required=False, on_pass="b"), Stub("b")), (FAIL, PASS, PASS)),
    ),
    "a voided calibration goes on": (
        ((routing, "VOIDS_CALIBRATION", frozenset()),),
        Case((Stub("a", remedies=(Remedy("repaired", "Do it.", "a"),)),), (FAIL, Move("remedy", True), PASS)),
    ),
    "a judgement is not heard": (
        ((routing, "judged_unfit", _hears_no_judgement),),
        Case(TWO, (Move("judge"), PASS, PASS)),
    ),
    "could not check counts as a pass": (
        ((routing, "COUNTS_AS_PASS", LENIENT), (verdict, "COUNTS_AS_PASS", LENIENT)),
        Case(TWO, (UNCHECKED, PASS)),
    ),
    "giving up after a failure": (
        ((conduct, "abandoned", _clears_by_giving_up),),
        Case(WITH_CELLS, (PASS, FAIL, Move("abandon"))),
    ),
    "no last look at the calibration": (
        ((verdict, "why_not_fit", lambda *_: ()),),
        Case(TWO, (PASS, PASS), calibration_due=date(2026, 11, 24)),
    ),
    "no last look at the age": (
        ((verdict, "why_not_fit", lambda *_: ()),),
        Case((Stub("a"), *(Stub(each) for each in "bcdefghi")), (PASS, *[PASS, Move("time", PAUSE - 5)] * 8)),
    ),
    "a clock set back is not heard": (
        ((checkout, "JUMP_DOUBTED", -1e9),),
        Case(TWO, (PASS, Move("time", 1100.0), Move("wall", -1000.0), PASS)),
    ),
    "readiness past the shift": (
        ((verdict, "ready_until", _to_the_end_of_the_profile),),
        Case(TWO, (PASS, PASS), opened=BEFORE_A_SHIFT_ENDS),
    ),
    "readiness past the calibration": (
        ((verdict, "ready_until", _to_the_end_of_the_profile),),
        Case(TWO, (PASS, PASS), ready_ends="profile", calibration_due=date(2026, 11, 25), opened=BEFORE_MIDNIGHT),
    ),
    "readiness from the newest pass": (
        ((verdict, "ready_until", _from_the_newest_pass),),
        Case(TWO, (PASS, Move("time", 600.0), PASS)),
    ),
    "warm-up without a switching on": (
        ((settling, "credit_from", _full_credit),),
        Case((Stub("a", ("switch-on",)), Stub("b", ("warm-up",))), (PASS, PASS)),
    ),
}


@pytest.mark.parametrize(("patches", "case"), MUTANTS.values(), ids=MUTANTS.keys())
def test_a_mutant_is_caught(patches: tuple[Patch, ...], case: Case, monkeypatch: pytest.MonkeyPatch) -> None:
    """The oracle has nothing against the run as it is, and speaks up once the slip is made."""
    assert wrong_with(case, proper=False) == []
    for module, name, mutant in patches:
        monkeypatch.setattr(module, name, mutant)
    assert wrong_with(case, proper=False) != []


@pytest.mark.campaign
@pytest.mark.skipif(not os.environ.get("RUN_EXAMPLES"), reason="a campaign: set RUN_EXAMPLES")
@pytest.mark.parametrize(("patches", "_case"), MUTANTS.values(), ids=MUTANTS.keys())
def test_a_mutant_is_come_upon(patches: tuple[Patch, ...], _case: Case, monkeypatch: pytest.MonkeyPatch) -> None:
    """The cases of the properties are wild enough to come upon every mutant without being led to it."""
    for module, name, mutant in patches:
        monkeypatch.setattr(module, name, mutant)
    search = settings(
        max_examples=int(os.environ["RUN_EXAMPLES"]),
        derandomize=True,
        database=None,
        deadline=None,
        phases=(Phase.generate,),
        suppress_health_check=list(HealthCheck),
    )
    either = cases(proper=False) | cases(proper=True)
    find(either, lambda case: bool(wrong_with(case, proper=False)), settings=search)
