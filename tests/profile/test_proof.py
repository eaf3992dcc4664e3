"""The proof of a profile: each rule by an example, and the whole against a full walk of all states.

The full walk (the oracle) is written apart from the proof. It runs every checkout a small plan allows, attempts
counted, with every outcome at every step and a pause wherever one may fall, and keeps its own account of which passes
count.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from procedures.findings import OUTCOMES, Outcome
from procedures.profile.edges import wrong_edges
from procedures.profile.errors import ProfileError, ProfileErrors
from procedures.profile.load import read_profile
from procedures.profile.meaning import Meaning
from procedures.profile.proof import Proof
from procedures.profile.walks import Graph, arrivals_without, fit_without, repeated_without_cause
from procedures.routing import (
    SENDER_STANDS,
    VOIDS_CALIBRATION,
    Plan,
    Remedy,
    StepPlan,
    Track,
    advance,
    begin,
    edges,
    remedied,
    restart,
)
from procedures.steps.base import Need

EXAMPLES = int(os.environ.get("CHECKLIST_PROOF_CAMPAIGN", "80"))
"""Random plans proved against the oracle. The campaign: CHECKLIST_PROOF_CAMPAIGN=20000, and this file."""


# --- one rule at a time, in a file


def refused(text: str) -> tuple[ProfileError, ...]:
    with pytest.raises(ProfileErrors) as caught:
        read_profile(text, "demo.toml")
    return caught.value.errors


def line_of(text: str, part: str) -> int:
    return text[: text.index(part)].count("\n") + 1


BATTERY_REMEDY = """\
  [[step.remedy]]
  action = "fresh-cells"
  say = "Fit fresh cells."
  repeat_from = "battery"
"""


def remedy(action: str, back: str, attempts: int = 1) -> str:
    return (
        BATTERY_REMEDY.replace("fresh-cells", action).replace('"battery"', f'"{back}"') + f"  attempts = {attempts}\n"
    )


@pytest.mark.usefixtures("kinds_of_the_tests")
class TestRules:
    """What the proof refuses, with the line to put right and the way a checkout could go wrong."""

    def test_the_good_profile_is_proved(self, good: str) -> None:
        """Everything below spoils this one."""
        assert read_profile(good).plan.required

    def test_a_failure_without_a_reason_code(self, good: str) -> None:
        """A lockout nobody gave a reason for could not be cleared by anybody."""
        text = good.replace('lockout = "zero-off"\n', "")
        (error,) = refused(text)
        assert (error.key, error.line) == ("step[zero].lockout", line_of(text, '[[step]]\nid = "zero"'))
        assert error.path == "zero fail → ?"

    def test_a_reason_code_of_two_steps(self, good: str) -> None:
        """A code says which step failed; two steps of one code hide that."""
        text = good.replace('lockout = "response-out"', 'lockout = "zero-off"')
        (error,) = refused(text)
        assert error.key == "step[response].lockout"
        assert "zero has this reason code" in error.message

    def test_a_reason_code_that_the_program_gives(self, good: str) -> None:
        """It would say that the calibration is void when it is not."""
        (error,) = refused(good.replace('lockout = "zero-off"', 'lockout = "calibration-void"'))
        assert error.key == "step[zero].lockout"

    def test_a_step_that_nobody_sends_to(self, good: str) -> None:
        """A diagnostic step out of reach is a rule that is never applied."""
        text = good.replace('on_fail = "desiccant"\n', "")
        (error,) = refused(text)
        assert (error.key, error.line) == ("step[desiccant].id", line_of(text, 'id = "desiccant"'))
        assert "never be reached" in error.message

    def test_on_fail_to_a_required_step(self, good: str) -> None:
        """A failure must not lead on with the checkout as if nothing had happened."""
        errors = refused(good.replace('on_fail = "desiccant"', 'on_fail = "response"', 1))
        assert errors[0].key == "step[zero].on_fail"
        assert "only_when_sent" in errors[0].allowed

    @pytest.mark.parametrize(
        ("step", "on_pass"),
        [("window", "battery"), ("window", "window"), ("window", "desiccant"), ("window", SENDER_STANDS)],
    )
    def test_on_pass_that_does_not_go_forward(self, good: str, step: str, on_pass: str) -> None:
        """Passing a step again and again is a run without end; a diagnostic step is reached by failing alone."""
        text = good.replace(f'lockout = "{step}-damaged"', f'lockout = "{step}-damaged"\non_pass = "{on_pass}"')
        assert refused(text)[0].key == f"step[{step}].on_pass"

    def test_on_pass_that_leaves_a_required_step_out(self, good: str) -> None:
        """Fit for use needs a pass of every required step, so a way round one is refused with the way."""
        text = good.replace('lockout = "window-damaged"', 'lockout = "window-damaged"\non_pass = "response"', 1)
        errors = refused(text)
        assert errors[0].path == (
            "label pass → battery pass → warm-up pass → window pass → response pass → fit for use"
        ) or "label pass → battery pass → warm-up pass → window pass → response" in {error.path for error in errors}
        assert {"step[zero].id", "step[response].id"} <= {error.key for error in errors}

    def test_a_diagnostic_step_that_sends_back_to_its_sender(self, good: str) -> None:
        """Fail, look, fail, look: no attempt is spent, so the checkout need never end."""
        text = good.replace('on_pass = "sender-stands"\n', 'on_pass = "zero"\n')
        assert refused(text)[0].key == "step[desiccant].on_pass"  # the sender stands before it in the file
        moved = text.replace('[[step]]\nid = "zero"', DESICCANT_FIRST + '[[step]]\nid = "zero"')
        moved = moved[: moved.rindex('[[step]]\nid = "desiccant"')]
        (error,) = refused(moved)
        assert "circle" in error.message
        assert error.path.endswith("fail → desiccant pass → zero")

    def test_a_remedy_that_comes_back_after_the_failed_step(self, good: str) -> None:
        """The failure would be passed by."""
        text = good.replace('repeat_from = "battery"', 'repeat_from = "window"')
        (error,) = refused(text)
        assert (error.key, error.line) == (
            "step[battery].remedy[1].repeat_from",
            line_of(text, 'repeat_from = "window"'),
        )
        assert error.path == "label pass → battery fail → (fresh-cells) → window"

    def test_a_remedy_that_comes_back_later_than_what_it_disturbs(self, good: str) -> None:
        """An open case may have hurt the window, which then has to be looked at again."""
        text = good.replace(
            'on_fail = "desiccant"\nlockout = "zero-off"', 'lockout = "zero-off"\n' + remedy("case-opened", "zero")
        )
        (error,) = refused(text)
        assert error.key == "step[zero].remedy[1].repeat_from"
        assert "disturbs battery, window" in error.message
        assert error.path == "label pass → battery pass → warm-up pass → window pass → zero fail → (case-opened) → zero"

    def test_a_remedy_of_a_diagnostic_step_comes_back_to_its_sender(self, good: str) -> None:
        """The step that failed is the sender; it has to be done again, wherever the diagnostic step stands."""
        allowed = good.replace('not_before = "24 h"\n', remedy("desiccant-changed", "zero"))
        assert read_profile(allowed)
        (error,) = refused(good.replace('not_before = "24 h"\n', remedy("desiccant-changed", "response")))
        assert error.key == "step[desiccant].remedy[1].repeat_from"
        assert error.path.endswith("zero fail → desiccant fail → (desiccant-changed) → response")

    def test_a_remedy_that_comes_back_to_a_diagnostic_step(self, good: str) -> None:
        """Diagnostic steps are reached by failing alone."""
        errors = refused(good.replace('repeat_from = "battery"', 'repeat_from = "desiccant"'))
        assert errors[0].key == "step[battery].remedy[1].repeat_from"

    def test_the_same_action_twice(self, good: str) -> None:
        """Two remedies of one action would double the attempts that one may have."""
        errors = refused(good.replace(BATTERY_REMEDY, BATTERY_REMEDY * 2))
        assert [error.key for error in errors] == ["step[battery].remedy[2].action"]

    def test_a_source_is_not_simply_tried_again(self, good: str) -> None:
        """Waiting and trying again is not a remedy: a failing detector passes now and then."""
        text = good.replace(
            'lockout = "response-out"', 'lockout = "response-out"\n' + remedy("surface-wiped", "response")
        )
        (error,) = refused(text)
        assert (error.key, error.line) == (
            "step[response].remedy[1].action",
            line_of(text, 'action = "surface-wiped"'),
        )
        assert "source-reseated" in error.allowed
        assert error.path.endswith("response fail → (surface-wiped) → response")

    def test_a_source_is_not_tried_again_by_way_of_a_diagnostic_step_either(self, good: str) -> None:
        """The remedy may stand at the desiccant; it still has to change what the instrument shows."""
        text = good.replace('not_before = "24 h"\n', remedy("surface-wiped", "zero"))
        (error,) = refused(text)
        assert error.key == "step[desiccant].remedy[1].action"
        assert error.path.endswith(
            "response fail → desiccant fail → (surface-wiped) → zero → zero pass → response"
        ) or ("response fail → desiccant fail → (surface-wiped)" in error.path)

    def test_a_response_before_the_window_was_looked_at(self, good: str) -> None:
        """A torn window changes the response, and the source could contaminate the chamber."""
        (error,) = refused(good.replace('  "window",\n', ""))
        assert error.key == "step[response].id"
        assert "the window was looked at" in error.message
        assert error.path == "label pass → battery pass → warm-up pass → window pass → zero pass → response"

    def test_a_source_tried_on_an_instrument_that_nobody_scanned(self, good: str) -> None:
        """A check of the neighbour's meter would pass for this one: identity is observed, not assumed."""
        text = good.replace('[[step]]\nid = "label"\nkind = "scan"\n', "")
        (error,) = refused(text)
        assert (error.key, error.line) == ("step[response].id", line_of(text, 'id = "response"'))
        assert "the instrument itself is scanned" in error.message
        assert error.allowed == 'a required step of kind "look-over" before it'
        assert error.path == "battery pass → warm-up pass → window pass → zero pass → response"

    def test_an_instrument_that_is_scanned_after_the_source_was_tried(self, good: str) -> None:
        """What was shown before the scan was shown of nobody knows which instrument."""
        label = '[[step]]\nid = "label"\nkind = "scan"\n'
        text = good.replace(label, "").replace('[[step]]\nid = "desiccant"', f'{label}\n[[step]]\nid = "desiccant"')
        (error,) = refused(text)
        assert error.key == "step[response].id"
        assert error.allowed == "a pass that still counts of label whenever response is reached"

    def test_a_response_whose_zero_no_longer_counts(self, good: str) -> None:
        """A remedy on the way may undo what the response needs."""
        text = good.replace(
            'lockout = "response-out"', 'lockout = "response-out"\n' + remedy("fresh-cells", "response")
        )
        (error,) = refused(text)
        assert error.key == "step[response].remedy[1].repeat_from"
        assert "disturbs battery, window, zero" in error.message
        assert error.path.endswith("zero pass → response fail → (fresh-cells) → response")

    def test_a_need_that_this_instrument_does_not_have(self, good: str) -> None:
        """Without a window there is nothing to look at first."""
        text = good.replace('  "window",\n', "").replace('air_density = "none"', 'air_density = "none"\nwindow = false')
        assert read_profile(text)

    def test_a_remedy_of_a_step_that_cannot_fail(self, good: str) -> None:
        """It would never be offered, and its writer believes that it is."""
        errors = refused(good.replace('lasts = "2 min"\n', 'lasts = "2 min"\n' + remedy("fresh-cells", "battery")))
        assert [error.key for error in errors] == ["step[warm-up].remedy"]

    def test_no_required_step(self, good: str) -> None:
        """An empty checkout would call anything fit."""
        text = good.replace('kind = "', 'only_when_sent = true\nkind = "').replace(
            "only_when_sent = true\non_pass", "on_pass"
        )
        assert "no step is required" in {error.message.partition(",")[0] for error in refused(text)}

    def test_a_scale_said_to_be_shown_that_nothing_shows(self, good: str) -> None:
        """The verdict repeats to the user which scales were shown; it must not claim one."""
        text = good.replace('shown_by = "nothing"', 'shown_by = "source"')
        (error,) = refused(text)
        assert (error.key, error.line) == ("instrument.scale[x10].shown_by", line_of(good, 'shown_by = "nothing"'))

    def test_a_step_on_a_scale_that_does_not_exist(self, good: str) -> None:
        """Kinds check their own parameters against the instrument, at the key at fault."""
        text = good.replace('scale = "x1"\nlimits', 'scale = "x100"\nlimits')
        error = next(error for error in refused(text) if error.key == "step[response].scale")
        assert error.line == line_of(text, 'scale = "x100"')
        assert error.allowed == "x1, x10"

    def test_a_pass_that_would_be_too_old_at_the_end(self, good: str) -> None:
        """Ready-until counts from the oldest pass: shorter than the checkout itself, nothing would ever be ready."""
        text = good.replace('lasts = "12 h"', 'lasts = "2 min"')
        (error,) = refused(text)
        assert (error.key, error.line) == ("ready.lasts", line_of(text, 'lasts = "2 min"'))


DESICCANT_FIRST = """\
[[step]]
id = "desiccant"
kind = "look"
only_when_sent = true
on_pass = "zero"
lockout = "desiccant-spent"

"""


# --- the whole, against a full walk


ACTIONS = ("fresh-cells", "case-opened", "cable-reseated", "repaired")
NAMES = ("a", "b", "c", "d", "e")
TAGS = ("window", "zero")
MOST_REMEDIES = 3
"""In one random plan: with every further one the full walk grows threefold."""


@dataclass(frozen=True)
class Case:
    """A random plan, what its steps mean, and how it came to be: shown when a test fails."""

    plan: Plan
    meanings: dict[str, Meaning]


@st.composite
def cases(draw: st.DrawFn) -> Case:
    """Small plans, sane often enough that many are proved."""
    count = draw(st.integers(1, 5))
    names = NAMES[:count]
    required = [True, *(draw(st.sampled_from([True, True, True, False])) for _ in names[1:])]
    diagnostic = [name for name, is_required in zip(names, required, strict=True) if not is_required]
    firm = [name for name, is_required in zip(names, required, strict=True) if is_required]
    steps: list[StepPlan] = []
    for place, name in enumerate(names):
        backs = [each for each in firm if names.index(each) <= place] or firm
        backs = draw(st.sampled_from([backs, backs, backs, firm]))
        left = MOST_REMEDIES - sum(len(step.remedies) for step in steps)
        remedies = draw(
            st.lists(
                st.builds(
                    Remedy,
                    action=st.sampled_from(ACTIONS),
                    say=st.just("x"),
                    repeat_from=st.sampled_from(backs),
                    attempts=st.integers(1, 2),
                ),
                max_size=min(2, left),
                unique_by=lambda each: each.action,
            )
        )
        sends = draw(st.sampled_from(["", *diagnostic])) if diagnostic else ""
        if required[place]:
            on_pass = draw(st.sampled_from([*[""] * 12, *firm]))
        else:
            on_pass = draw(st.sampled_from(["", SENDER_STANDS, *firm]))
        steps.append(
            StepPlan(
                id=name,
                kind="k",
                lockout=f"code-{name}",
                required=required[place],
                can_fail=draw(st.sampled_from([True, True, True, False])) if not (sends or remedies) else True,
                on_fail=sends,
                on_pass=on_pass,
                remedies=tuple(remedies),
                disturbed_by=draw(st.frozensets(st.sampled_from(ACTIONS), max_size=2)),
            )
        )
    meanings = {name: draw(meaning()) for name in names}
    return Case(Plan(tuple(steps)), meanings)


@st.composite
def meaning(draw: st.DrawFn) -> Meaning:
    """What a step shows and needs; most need nothing."""
    provides = draw(st.frozensets(st.sampled_from(TAGS), max_size=2))
    needs = draw(st.sampled_from([(), (), (), *[(Need(frozenset({tag}), tag),) for tag in TAGS]]))
    return Meaning(provides, needs, draw(st.sampled_from([False, False, True])))


@dataclass(frozen=True)
class Seen:
    """A state of the full walk: the track, and an account of passes and failures kept apart from it."""

    track: Track
    passed: frozenset[str] = frozenset()
    blamed: frozenset[str] = frozenset()
    path: tuple[str, ...] = field(default=(), compare=False)


class Oracle:
    """Every run of a plan, whatever is found, done or declined.

    `wrong` collects what must never happen. Whether or not it matters to this plan, `lacking` are steps without a pass
    in some run that came to its end by passing, `bare` are (step, tag) where the step was reached with nothing that
    showed the tag, and `retried` are steps done again though nothing was done that disturbs them.
    """

    def __init__(self, case: Case, *, pauses: bool = False) -> None:
        self.case, self.plan, self.pauses = case, case.plan, pauses
        self.wrong: list[str] = []
        self.lacking: set[str] = set()
        self.bare: set[tuple[str, str]] = set()
        self.retried: set[str] = set()
        self.reached: set[str] = set()
        self.endings: set[str] = set()
        self._walk()

    def _walk(self) -> None:
        start = Seen(begin(self.plan))
        self._arrive(start)
        done: set[Seen] = set()
        open_states = [(start, self._following(start))]
        on_trail = {start}
        while open_states:
            state, following = open_states[-1]
            after = next(following, None)
            if after is None:
                open_states.pop()
                on_trail.discard(state)
                done.add(state)
                continue
            if after in on_trail:
                self.wrong.append(f"endless: {after.path}")
            elif after not in done:
                on_trail.add(after)
                open_states.append((after, self._following(after)))

    def _following(self, state: Seen) -> Iterator[Seen]:
        track = state.track
        if track.stop is not None:
            self._stopped(state)
            return
        if track.offer is not None:
            yield self._remedied(state, done=True)
            yield self._remedied(state, done=False)
        else:
            for outcome in ("pass", "fail") if self.plan.step(track.step).can_fail else ("pass",):
                yield self._advanced(state, outcome)
        if self.pauses:
            yield Seen(restart(self.plan, track), frozenset(), state.blamed, (*state.path, "pause"))

    def _advanced(self, state: Seen, outcome: str) -> Seen:
        step = state.track.step
        track = advance(self.plan, state.track, outcome)  # type: ignore[arg-type]
        passed = state.passed | {step} if outcome == "pass" else state.passed - {step}
        blamed = state.blamed - {step} if outcome == "pass" else state.blamed | {step}
        after = Seen(track, passed, blamed, (*state.path, f"{step} {outcome}"))
        if track.stop is not None and outcome == "pass" and self.plan.step(step).required:
            self.lacking |= set(self.plan.required) - passed
        if track.stop is None and track.offer is None:
            self._arrive(after)
        return after

    def _remedied(self, state: Seen, *, done: bool) -> Seen:
        step = state.track.step
        offer = state.track.offer
        assert offer is not None
        action = self.plan.step(step).remedies[offer].action
        track = remedied(self.plan, state.track, done=done)
        passed, blamed = state.passed, state.blamed
        if done:
            undone = {each for each in passed if action in self.plan.step(each).disturbed_by}
            back = self.plan.place(track.step)
            passed = frozenset(each for each in passed - undone if self.plan.place(each) < back)
            blamed = frozenset(each for each in blamed if action not in self.plan.step(each).disturbed_by)
        after = Seen(track, passed, blamed, (*state.path, f"({action} {done})"))
        if track.stop is None and track.offer is None:
            self._arrive(after)
        return after

    def _arrive(self, state: Seen) -> None:
        step = state.track.step
        self.reached.add(step)
        what = self.case.meanings[step]
        shown = {
            tag for each in state.passed if self.plan.step(each).required for tag in self.case.meanings[each].provides
        }
        self.bare |= {(step, tag) for tag in TAGS if tag not in shown}
        self.wrong += [f"need {need.why}: {state.path}" for need in what.needs if not need.any_of & shown]
        if step in state.blamed:
            self.retried.add(step)
        if what.tries_source and step in state.blamed:
            self.wrong.append(f"tried again: {state.path}")

    def _stopped(self, state: Seen) -> None:
        stop = state.track.stop
        assert stop is not None
        self.endings.add(stop.ending)
        lacking = set(self.plan.required) - state.passed
        if stop.ending == "fit for use" and (lacking or stop.standing):
            self.wrong.append(f"fit without {lacking}: {state.path}")
        if stop.ending == "locked out" and not all(each.code for each in stop.standing):
            self.wrong.append(f"no code: {state.path}")
        if stop.ending == "locked out" and not stop.standing:
            self.wrong.append(f"locked out for nothing: {state.path}")
        if stop.ending == "not checked" and not self.pauses:
            self.wrong.append(f"dead end, {lacking} never passed: {state.path}")


@settings(max_examples=EXAMPLES, deadline=None)
@given(case=cases())
def test_what_is_proved_has_no_wrong_run(case: Case) -> None:
    """The one that matters: whatever the proof accepts, no run of it goes wrong, and no pause is a way round."""
    assume(not Proof(case.plan, case.meanings).problems())
    oracle = Oracle(case)
    assert oracle.wrong == []
    assert oracle.reached == {step.id for step in case.plan.steps}
    assert "fit for use" in oracle.endings
    paused = Oracle(case, pauses=True).wrong
    assert [each for each in paused if each.startswith(("fit", "need", "tried"))] == []


@settings(max_examples=EXAMPLES, deadline=None)
@given(case=cases())
def test_each_walk_by_itself_misses_no_run(case: Case) -> None:
    """The rules on edges forbid most of what walks look for, so walks are tried on plans that break those rules too."""
    assume(not any(problem.stops_proof for problem in wrong_edges(case.plan)))
    oracle, graph = Oracle(case), Graph(case.plan)
    assert oracle.lacking <= {step for step in case.plan.required if fit_without(graph, step) is not None}
    names = [step.id for step in case.plan.steps]
    for tag in TAGS:
        providers = [step for step in case.plan.required if tag in case.meanings[step].provides]
        assert {step for step, bare in oracle.bare if bare == tag} <= set(arrivals_without(graph, providers, names))
    assert oracle.retried <= {step for step in names if repeated_without_cause(graph, step) is not None}


@settings(max_examples=EXAMPLES, deadline=None)
@given(case=cases())
def test_every_refusal_of_a_walk_is_a_way_through_the_plan(case: Case) -> None:
    """A path that is written out must be one a checkout can go: each edge begins where the one before it led."""
    known = {
        (edge.step, edge.outcome, edge.to or edge.ending)
        for step in case.plan.steps
        for edge in edges(case.plan, step.id)
    }
    for problem in Proof(case.plan, case.meanings).problems():
        hops = [part for part in problem.path.split(" → ") if not part.startswith("(")]
        if problem.key.endswith("on_pass") or "?" in hops:
            continue  # what these write out is a wish of the profile, and no way that a checkout can go
        for here, there in pairwise(hops):
            step, _, outcome = here.partition(" ")
            assert (step, outcome, there if there == "fit for use" else there.partition(" ")[0]) in known, problem.path


@pytest.mark.parametrize("outcome", OUTCOMES)
def test_there_is_an_edge_for_every_outcome(outcome: Outcome) -> None:
    """A finding of any outcome leads somewhere: to a step, to an offer, or to an ending."""
    plan = Plan((StepPlan("a", "k", "code-a", on_fail="b"), StepPlan("b", "k", "code-b", required=False)))
    after = advance(plan, begin(plan), outcome)
    assert after.stop is not None or after.step == "b"


def test_an_action_that_voids_the_calibration_may_stand_anywhere() -> None:
    """It ends in lockout, so where it would come back to does not matter."""
    action = min(VOIDS_CALIBRATION)
    last = StepPlan("b", "k", "code-b", remedies=(Remedy(action, "x", "b"),), disturbed_by=frozenset())
    plan = Plan((StepPlan("a", "k", "code-a", disturbed_by=frozenset({action})), last))
    assert Proof(plan).problems() == ()
