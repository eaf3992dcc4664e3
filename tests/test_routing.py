"""Routing by value: which way a checkout goes after each outcome, and what a remedy costs.

All of it is design of this project: steps in file order, a failed step takes its remedies, then `on_fail`, then its
lockout; attempts are counted for the whole checkout.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from run_bench import Case, Stub, proper_plans, wild_plans

from procedures.findings import OUTCOMES, Outcome
from procedures.routing import (
    ACTIONS,
    SENDER_STANDS,
    VOID_CODE,
    VOIDS_CALIBRATION,
    Edge,
    Plan,
    Remedy,
    Standing,
    StepPlan,
    Track,
    advance,
    begin,
    edges,
    judged_unfit,
    remedied,
    restart,
)

CELLS = Remedy("fresh-cells", "Fit fresh cells.", "battery")
AWAY = Remedy("moved-away", "Move away.", "zero", attempts=2)


def plan(*steps: StepPlan) -> Plan:
    return Plan(steps)


def step(name: str, **rest: object) -> StepPlan:
    return StepPlan(id=name, kind=name, lockout=f"{name}-out", **rest)  # type: ignore[arg-type]


DAILY = plan(
    step("battery", remedies=(CELLS,), disturbed_by=frozenset({"fresh-cells"})),
    step("zero", on_fail="desiccant", disturbed_by=frozenset({"fresh-cells", "desiccant-changed"})),
    step("response", on_fail="desiccant", remedies=(AWAY,), disturbed_by=frozenset({"moved-away"})),
    step(
        "desiccant", required=False, on_pass=SENDER_STANDS, remedies=(Remedy("desiccant-changed", "Change.", "zero"),)
    ),
)


def run(by: Plan, *what: Outcome | bool) -> Track:
    """Outcomes of the step being done, and remedies done (True) or not (False), in turn."""
    track = begin(by)
    for each in what:
        track = remedied(by, track, done=each) if isinstance(each, bool) else advance(by, track, each)
    return track


def stopped(track: Track) -> tuple[str, list[str], list[str]]:
    """Ending, codes that stand, and missing passes."""
    assert track.stop is not None
    return track.stop.ending, [each.code for each in track.stop.standing], list(track.stop.missing)


def test_required_steps_run_in_file_order() -> None:
    """Diagnostic steps are passed over, and the last required pass ends the checkout well."""
    assert [run(DAILY).step, run(DAILY, "pass").step, run(DAILY, "pass", "pass").step] == [*DAILY.required]
    assert stopped(run(DAILY, "pass", "pass", "pass")) == ("fit for use", [], [])


@pytest.mark.parametrize("outcome", ["warn", "not applicable"])
def test_a_warning_counts_as_a_pass(outcome: Outcome) -> None:
    """It tells the lead; it takes nothing from the instrument. What does not apply cannot be missing."""
    assert stopped(run(DAILY, outcome, outcome, outcome)) == ("fit for use", [], [])


def test_could_not_check_ends_without_a_lockout() -> None:
    """What could not be checked is not a failure."""
    assert stopped(run(DAILY, "pass", "could not check")) == ("not checked", [], ["zero"])


def test_a_failure_takes_remedies_first_then_on_fail_then_its_lockout() -> None:
    """In this order, and each only while it is there."""
    failed = run(DAILY, "pass", "pass", "fail")
    assert (failed.step, failed.offer) == ("response", 0)
    refused = remedied(DAILY, failed, done=False)
    assert (refused.step, refused.offer) == ("desiccant", None)
    assert stopped(run(DAILY, "fail", False)) == ("locked out", ["battery-out"], [])


def test_several_remedies_are_offered_in_order() -> None:
    """The next one only when the one before is used up or could not be done."""
    by = plan(step("battery", remedies=(Remedy("source-reseated", "Seat it.", "battery", attempts=2), CELLS)))
    offers = []
    track = begin(by)
    while track.stop is None:
        track = advance(by, track, "fail")
        offers.append(track.offer)
        if track.offer is not None:
            track = remedied(by, track, done=True)
    assert offers == [0, 0, 1, None]
    assert run(by, "fail", False).offer == 1


def test_attempts_are_counted_for_the_whole_checkout() -> None:
    """Coming back to a step by way of another one, or after a gap, gives no attempt back."""
    by = plan(step("battery", remedies=(CELLS,)), step("zero", remedies=(Remedy("moved-away", "Move.", "battery"),)))
    once = run(by, "fail", True, "pass", "fail", True)
    assert once.step == "battery"
    assert stopped(advance(by, once, "fail")) == ("locked out", ["zero-out", "battery-out"], [])
    again = restart(by, run(by, "fail", True, "pass"))
    assert stopped(advance(by, again, "fail"))[:2] == ("locked out", ["battery-out"])


def test_a_remedy_goes_back_and_takes_passes_with_it() -> None:
    """Everything from `repeat_from` on is done again; what the action disturbs no longer counts, wherever it stands."""
    away = run(DAILY, "pass", "pass", "fail", True)
    assert (away.step, away.counting) == ("zero", frozenset({"battery"}))
    by = plan(step("window", disturbed_by=frozenset({"moved-away"})), step("zero"), step("response", remedies=(AWAY,)))
    disturbed = run(by, "pass", "pass", "fail", True)
    assert (disturbed.step, disturbed.counting) == ("zero", frozenset())
    assert stopped(run(by, "pass", "pass", "fail", True, "pass", "pass")) == ("not checked", [], ["window"])


def test_a_repeated_step_must_pass_before_its_failure_is_gone() -> None:
    """The remedy alone answers nothing."""
    away = run(DAILY, "pass", "pass", "fail", True)
    assert away.standing == (Standing("response", "response-out", answered=True),)
    assert stopped(advance(DAILY, away, "could not check")) == ("locked out", ["response-out"], ["zero"])
    assert stopped(run(DAILY, "pass", "pass", "fail", True, "pass", "pass")) == ("fit for use", [], [])


def test_a_diagnosis_that_finds_nothing_leaves_the_sender_standing() -> None:
    """Desiccant is fine: the lockout has the code of the step that sent us, and of that alone."""
    assert stopped(run(DAILY, "pass", "fail", "pass")) == ("locked out", ["zero-out"], [])


def test_a_diagnosis_that_finds_the_cause_adds_its_code() -> None:
    """Two failures stand: what was seen, and why."""
    assert stopped(run(DAILY, "pass", "fail", "fail", False)) == ("locked out", ["zero-out", "desiccant-out"], [])


def test_the_remedy_of_a_diagnosis_goes_back_to_the_sender() -> None:
    """Its own failure is answered, the sender's stands until it passes."""
    changed = run(DAILY, "pass", "fail", "fail", True)
    assert (changed.step, changed.standing) == ("zero", (Standing("zero", "zero-out", answered=True),))
    assert stopped(run(DAILY, "pass", "fail", "fail", True, "pass", "pass")) == ("fit for use", [], [])


def test_a_diagnosis_without_on_pass_explains_nothing() -> None:
    """Falling through to the next step would carry a failed step on to the end."""
    by = plan(step("zero", on_fail="look"), step("look", required=False), step("response"))
    assert stopped(run(by, "fail", "pass")) == ("locked out", ["zero-out"], [])


def test_on_pass_goes_forward_and_lacks_what_it_left_out() -> None:
    """A step that was jumped over is missing at the end, whatever the proof said."""
    by = plan(step("battery", on_pass="response"), step("zero"), step("response"))
    assert run(by, "pass").step == "response"
    assert stopped(run(by, "pass", "pass")) == ("not checked", [], ["zero"])


@pytest.mark.parametrize("action", sorted(VOIDS_CALIBRATION))
def test_an_action_that_voids_the_calibration_locks_out(action: str) -> None:
    """Detector, cable, calibration control, repair: the calibration describes another instrument now."""
    by = plan(step("zero", remedies=(Remedy(action, "Do it.", "zero"),)))
    assert action in ACTIONS
    assert stopped(run(by, "fail", True)) == ("locked out", ["zero-out", VOID_CODE], [])
    assert stopped(run(by, "fail", False)) == ("locked out", ["zero-out"], [])


def test_a_judgement_stops_at_once() -> None:
    """Whatever remedies there are, and with what stood before."""
    assert stopped(judged_unfit(begin(DAILY), "judged")) == ("locked out", ["judged"], [])
    offered = run(DAILY, "pass", "pass", "fail")
    assert stopped(judged_unfit(offered, "judged"))[1] == ["response-out", "judged"]


def test_a_restart_goes_to_the_first_step() -> None:
    """Every pass is stale; attempts stay used."""
    track = restart(DAILY, run(DAILY, "fail", True, "pass", "pass"))
    assert (track.step, track.counting, track.attempts("battery", 0)) == ("battery", frozenset(), 1)


def test_a_restart_does_not_shake_off_a_failure() -> None:
    """It stays on offer; once done, the remedy goes back to the first step, not to its own `repeat_from`."""
    track = restart(DAILY, run(DAILY, "pass", "pass", "fail"))
    assert (track.step, track.offer, track.counting) == ("response", 0, frozenset())
    assert remedied(DAILY, track, done=True).step == "battery"
    assert remedied(DAILY, track, done=False).step == "desiccant"
    sent = restart(DAILY, run(DAILY, "pass", "fail"))
    assert (sent.step, sent.standing) == ("desiccant", (Standing("zero", "zero-out"),))


def test_a_restart_after_a_remedy_goes_to_the_first_step() -> None:
    """The remedy is done and the failed step not yet repeated: nothing is on offer, so the way is from the start."""
    track = restart(DAILY, run(DAILY, "pass", "pass", "fail", True))
    assert (track.step, track.standing) == ("battery", (Standing("response", "response-out", answered=True),))
    for _ in range(3):
        track = advance(DAILY, track, "pass")
    assert stopped(track) == ("fit for use", [], [])


def test_no_finding_slips_past_an_offer() -> None:
    """While a remedy is on offer a finding can only come from a damaged record: it may not pass the failed step."""
    assert stopped(run(DAILY, "pass", "pass", "fail", "pass"))[0] == "locked out"


def test_a_stopped_track_stays_stopped() -> None:
    """Nothing that comes after an ending moves it."""
    over = run(DAILY, "pass", "pass", "pass")
    assert advance(DAILY, over, "fail") == remedied(DAILY, over, done=True) == restart(DAILY, over) == over


def test_a_remedy_that_is_not_on_offer_is_refused() -> None:
    """It would spend an attempt that nobody was given."""
    with pytest.raises(ValueError, match="no remedy"):
        remedied(DAILY, begin(DAILY), done=True)


@given(proper_plans() | wild_plans(), st.lists(st.sampled_from((*OUTCOMES, True, False)), max_size=25))
@settings(max_examples=150, deadline=None, derandomize=True, database=None)
def test_every_way_taken_is_an_edge(stubs: tuple[Stub, ...], what: list[Outcome | bool]) -> None:
    """The proof walks `edges`, the run takes `advance`: a way that only the run knows would be unproved."""
    by = Case(stubs, ()).procedure.plan
    track = begin(by)
    for each in what:
        if track.stop is not None:
            break
        before = track
        if isinstance(each, bool):
            if before.offer is None:
                continue
            track = remedied(by, before, done=each)
            outcome: Outcome = "fail"
        elif before.offer is None:
            track = advance(by, before, each)
            outcome = "pass" if each in ("warn", "not applicable") else each
        else:
            continue
        if track.offer is None:
            _is_an_edge(by, before, track, outcome, before.offer if each is True else None)


def _is_an_edge(by: Plan, before: Track, after: Track, outcome: Outcome, remedy: int | None) -> None:
    ways = [edge for edge in edges(by, before.step) if edge.outcome == outcome and edge.remedy == remedy]
    if after.stop is None:
        assert after.step in [edge.to for edge in ways]
    else:
        # What stands, or is missing, turns a good end into a worse one; `edges` leaves that aside.
        worse = {
            "fit for use": ("fit for use", "not checked", "locked out"),
            "not checked": ("not checked", "locked out"),
        }
        assert any(after.stop.ending in worse.get(str(edge.ending), (edge.ending,)) for edge in ways)


def test_an_edge_of_every_outcome() -> None:
    """What the proof relies on: no outcome of a step that can fail is without a way out."""
    outcomes = {edge.outcome for edge in edges(DAILY, "response")}
    assert outcomes == {"pass", "fail", "could not check"}
    assert Edge("response", "fail", to="zero", remedy=0) in list(edges(DAILY, "response"))
    assert Edge("response", "fail", to="desiccant") in list(edges(DAILY, "response"))
    assert Edge("response", "pass", ending="fit for use") in list(edges(DAILY, "response"))
