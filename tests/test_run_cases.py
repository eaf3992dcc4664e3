"""Runs told move by move: each is a way in which an engine goes wrong easily, or once went wrong."""

from __future__ import annotations

import pytest
import run_told as told
from run_bench import WARM_UP, Bench, Case, Move, Stub, wrong_with

from procedures import conduct
from procedures.routing import SENDER_STANDS, Remedy

PASS, FAIL = told.PASS, told.FAIL
CELLS = Remedy("fresh-cells", "Do it.", "a")


def ended(*moves: Move, stubs: tuple[Stub, ...] = told.TWO_STEPS) -> tuple[str, list[str]]:
    """The ending and its reason codes, with nothing for the oracle to object to."""
    case = Case(stubs, moves)
    assert wrong_with(case) == []
    body = Bench(case).play().events[-1].body
    return body["ending"], [each["code"] for each in body["reasons"]]


@pytest.mark.parametrize("case", told.PROPER.values(), ids=told.PROPER.keys())
def test_a_told_run_ends_as_it_should(case: Case) -> None:
    """The oracle has nothing against how it ends. What each run shows stands in `run_told`."""
    assert wrong_with(case) == []


@pytest.mark.parametrize("case", told.WILD.values(), ids=told.WILD.keys())
def test_a_told_run_ends_as_it_should_with_a_plan_that_a_proof_refuses(case: Case) -> None:
    """A run must be safe whatever the proof said."""
    assert wrong_with(case, proper=False) == []


def test_a_lockout_carries_all_codes_that_stand() -> None:
    """The failed step sent us to look for the cause, and the cause was found: whoever repairs needs both."""
    stubs = (Stub("a", on_fail="d"), Stub("d", required=False, on_pass=SENDER_STANDS))
    assert ended(FAIL, FAIL, stubs=stubs) == ("locked out", ["a-out", "d-out"])
    assert ended(FAIL, PASS, stubs=stubs) == ("locked out", ["a-out"])


def test_what_could_not_be_checked_leaves_a_failure_standing() -> None:
    """A missing source is no failure, and no way out of one."""
    stubs = (Stub("a"), Stub("b", remedies=(CELLS,)))
    unchecked = Move("step", "could not check")
    assert ended(PASS, unchecked, stubs=stubs) == ("not checked", [])
    assert ended(PASS, FAIL, unchecked, stubs=stubs) == ("locked out", ["b-out"])


def test_giving_up_after_a_failure_locks_out() -> None:
    """Even one that was mended: somebody else must not find the instrument on the shelf as if nothing had been."""
    stubs = (Stub("a", remedies=(CELLS,)), Stub("b"))
    assert ended(PASS, Move("abandon")) == ("abandoned", [])
    locked = ("locked out", ["a-out", "abandoned-after-failure"])
    assert ended(FAIL, Move("abandon"), stubs=stubs) == locked
    assert ended(FAIL, PASS, Move("abandon"), stubs=stubs) == locked


@pytest.mark.parametrize(
    "escape",
    [
        (Move("pause"), told.LONG, Move("resume", ("A", False))),
        (Move("resume", ("B", False)),),
        (Move("resume", ("A", True)),),
        (Move("crash"), told.LONG, Move("resume", ("B", True))),
    ],
    ids=["a long pause", "another person", "switched off", "a crash"],
)
def test_a_failure_cannot_be_escaped(escape: tuple[Move, ...]) -> None:
    """After each way out the remedy is still on offer, and refusing it locks out."""
    stubs = (Stub("a"), Stub("b", remedies=(CELLS,)))
    assert ended(PASS, FAIL, *escape, Move("remedy", False), stubs=stubs) == ("locked out", ["b-out"])
    assert ended(PASS, FAIL, *escape, PASS, PASS, stubs=stubs) == ("fit for use", [])


def test_a_judgement_locks_out_at_once() -> None:
    """No remedy and no branch, whatever the plan offers, even while the checkout is set aside."""
    stubs = (Stub("a", on_fail="d", remedies=(CELLS,)), Stub("d", required=False))
    assert ended(Move("judge"), stubs=stubs) == ("locked out", ["by-judgement"])
    assert ended(Move("pause"), Move("judge"), stubs=stubs) == ("locked out", ["by-judgement"])


def test_a_wait_begins_again_after_a_crash() -> None:
    """Ticks of two starts of the program do not compare, so nothing waited before is taken over."""
    bench = Bench(
        Case((Stub("a", ("switch-on", "warm-up")),), (Move("ask"), Move("time", WARM_UP - 1), Move("crash"), PASS))
    )
    begun = [event.body for event in bench.play().events if event.kind == "wait-begun"]
    assert [body["credit"] for body in begun] == [0.0, 0.0]
    assert begun[0]["session"] != begun[1]["session"]


def test_a_warm_up_counts_from_the_latest_switching_on() -> None:
    """Fitting cells switches the instrument off; the warm-up after it may not count from before that."""
    cells = frozenset({"fresh-cells"})
    stubs = (Stub("a", ("warm-up",)), Stub("b", ("switch-on",), remedies=(CELLS,), disturbed_by=cells))
    moves = (PASS, Move("ask"), Move("time", 200.0), Move("ask", "fail"), Move("remedy", True), PASS, PASS)
    assert ended(*moves, stubs=stubs) == ("fit for use", [])


def test_a_broken_hold_is_asked_again() -> None:
    """Nothing that was held before the break counts."""
    bench = Bench(Case((Stub("a", ("hold",)),), (Move("press"), Move("time", 7.0), Move("let go"), PASS))).play()
    kinds = [event.kind for event in bench.events]
    assert kinds.count("wait-begun") == 2
    assert kinds.count("wait-kept") == 1
    assert bench.state.ending is not None
    assert bench.state.ending["ending"] == "fit for use"


def test_nothing_moves_on_an_early_word() -> None:
    """A wait said to be over early is refused, with no event that could be committed."""
    bench = Bench(Case((Stub("a", ("settle",)),), ()))
    with pytest.raises(ValueError, match="not over"):
        conduct.keep_wait(bench.procedure, bench.state, 999.9, bench.clock.now())


def test_a_remark_leaves_the_clock_alone() -> None:
    """A note of the journal carries no ticks. It may not make the next event look as if the clock was set back."""
    assert ended(PASS, Move("time", 300.0), Move("note"), PASS) == ("fit for use", [])


def test_a_withdrawn_checkout_never_ends_fit() -> None:
    """Made on the wrong item: whatever passes afterwards says nothing of the instrument."""
    bench = Bench(Case(told.ONE_STEP, ()))
    bench.commit(conduct.withdraw(bench.state, "wrong item", bench.clock.now()))
    bench.step("pass")
    assert bench.events[-1].body.get("ending") != "fit for use"
