"""Where a checkout goes next: the one transition function that run, proof and rehearsal share.

A step passes on to the next required step. A failed step takes, in this order, its remedies while attempts are left,
then `on_fail`, then its lockout. Nothing else ends a checkout well: fit for use needs a pass that still counts for
every required step.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Final

from procedures.findings import COUNTS_AS_PASS, Ending, Outcome

SENDER_STANDS: Final = "sender-stands"
"""`on_pass` of a diagnostic step: its pass explains nothing, so the failure that sent us here stands."""

ACTIONS: Final[dict[str, str]] = {
    "fresh-cells": "fresh cells fitted",
    "case-opened": "case opened",
    "desiccant-changed": "desiccant changed",
    "cable-reseated": "cable reseated",
    "detector-cleaned": "detector cleaned",
    "moved-away": "moved away from other sources",
    "source-reseated": "source seated in its jig again",
    "surface-wiped": "outside wiped",
    "switched-over": "switched off and on",
    "controls-set": "controls set as the procedure says",
    "detector-changed": "detector changed",
    "cable-changed": "cable changed",
    "calibration-adjusted": "calibration control moved",
    "repaired": "repaired",
}
"""The closed list of remedy actions, each in words."""

VOIDS_CALIBRATION: Final = frozenset({"detector-changed", "cable-changed", "calibration-adjusted", "repaired"})
"""After one of these the calibration no longer describes the instrument: the checkout ends in lockout."""

POWER_OFF: Final = frozenset(
    {
        "fresh-cells",
        "case-opened",
        "desiccant-changed",
        "cable-reseated",
        "switched-over",
        "detector-changed",
        "cable-changed",
        "repaired",
    }
)
"""Remedy actions for which the instrument is switched off: warming up and settling begin anew."""

VOID_CODE: Final = "calibration-void"


@dataclass(frozen=True, slots=True)
class Remedy:
    """Something a person may do about a failed step: then everything from `repeat_from` on is done again."""

    action: str
    say: str
    repeat_from: str
    attempts: int = 1
    caution: str = ""


@dataclass(frozen=True, slots=True)
class StepPlan:
    """What routing knows of a step. `required` is false for steps reached by `on_fail` alone."""

    id: str
    kind: str
    lockout: str
    required: bool = True
    can_fail: bool = True
    on_fail: str = ""
    on_pass: str = ""
    remedies: tuple[Remedy, ...] = ()
    disturbed_by: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Plan:
    """The steps of a profile in file order, with their edges. At least one is required."""

    steps: tuple[StepPlan, ...]
    _index: dict[str, int] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_index", {step.id: place for place, step in enumerate(self.steps)})

    def step(self, step_id: str) -> StepPlan:
        """KeyError when the plan has no such step."""
        return self.steps[self._index[step_id]]

    def place(self, step_id: str) -> int:
        return self._index[step_id]

    @property
    def required(self) -> tuple[str, ...]:
        return tuple(step.id for step in self.steps if step.required)

    @property
    def first(self) -> str:
        return self.required[0]

    def next_required(self, after: str) -> str:
        """The next required step in file order, or "" after the last."""
        rest = self.steps[self._index[after] + 1 :]
        return next((step.id for step in rest if step.required), "")


@dataclass(frozen=True, slots=True)
class Standing:
    """A failure that stands: no later pass of that step has taken its place.

    Only a pass after a remedy can: until then (`answered` is false) trying again proves nothing.
    """

    step: str
    code: str
    answered: bool = False


@dataclass(frozen=True, slots=True)
class Stop:
    """The checkout is over. `standing` are the failures it ends with, `missing` the passes it lacks."""

    ending: Ending
    standing: tuple[Standing, ...] = ()
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Track:
    """Where a checkout stands.

    `step` is being done; `offer` is the remedy offered for it (its index), or None; `stop` is set at the end.
    `counting` are the steps whose latest outcome is a pass that still counts. `used` counts attempts of (step, remedy)
    for the whole checkout. `from_start` says that a gap made all passes stale while a failure stood: the next remedy
    goes back to the first step, however near its own `repeat_from` is.
    """

    step: str
    counting: frozenset[str] = frozenset()
    standing: tuple[Standing, ...] = ()
    used: tuple[tuple[tuple[str, int], int], ...] = ()
    offer: int | None = None
    from_start: bool = False
    ever_failed: tuple[Standing, ...] = ()
    stop: Stop | None = None

    def attempts(self, step: str, remedy: int) -> int:
        return dict(self.used).get((step, remedy), 0)


@dataclass(frozen=True, slots=True)
class Edge:
    """One way out of a step, budgets left aside. `to` is a step, or "" when `ending` is reached."""

    step: str
    outcome: Outcome
    to: str = ""
    ending: Ending | None = None
    remedy: int | None = None


def _explains_nothing(step: StepPlan) -> bool:
    return step.on_pass == SENDER_STANDS or (not step.required and not step.on_pass)


def begin(plan: Plan) -> Track:
    """At the first required step, nothing passed yet."""
    return Track(step=plan.first)


def edges(plan: Plan, step_id: str) -> Iterator[Edge]:
    """Every way out of a step that some budget allows: what the proof walks."""
    step = plan.step(step_id)
    if _explains_nothing(step):
        yield Edge(step_id, "pass", ending="locked out")
    else:
        to = step.on_pass or plan.next_required(step_id)
        yield Edge(step_id, "pass", to=to, ending=None if to else "fit for use")
    # Failing by judgement is open at every step, whatever the step itself can find.
    yield Edge(step_id, "fail", ending="locked out")
    yield Edge(step_id, "could not check", ending="not checked")
    if not step.can_fail:
        return
    for place, remedy in enumerate(step.remedies):
        if remedy.action in VOIDS_CALIBRATION:
            yield Edge(step_id, "fail", ending="locked out", remedy=place)
        else:
            yield Edge(step_id, "fail", to=remedy.repeat_from, remedy=place)
    if step.on_fail:
        yield Edge(step_id, "fail", to=step.on_fail)


def advance(plan: Plan, track: Track, outcome: Outcome, code: str = "") -> Track:
    """The track after the step being done concluded with `outcome`. A fail carries its reason code."""
    if track.stop is not None:
        return track
    if outcome in COUNTS_AS_PASS:
        return _passed(plan, track)
    if outcome == "fail":
        return _failed(plan, track, code or plan.step(track.step).lockout)
    return _end(track, "not checked", missing=(track.step,))


def remedied(plan: Plan, track: Track, *, done: bool) -> Track:
    """The track after the remedy on offer was carried out, or could not be.

    ValueError when none is on offer.
    """
    if track.stop is not None:
        return track
    if track.offer is None:
        raise ValueError("no remedy is on offer")
    step = plan.step(track.step)
    remedy = step.remedies[track.offer]
    key = (track.step, track.offer)
    spent = track.attempts(*key) + 1 if done else remedy.attempts
    used = tuple(sorted({**dict(track.used), key: spent}.items()))
    track = replace(track, used=used, offer=None)
    if not done:
        return _after_failure(plan, track)
    if remedy.action in VOIDS_CALIBRATION:
        standing = (*track.standing, Standing(track.step, VOID_CODE))
        return _end(replace(track, standing=standing), "locked out")
    back = plan.first if track.from_start else remedy.repeat_from
    limit = plan.place(back)
    keep = frozenset(
        each
        for each in track.counting
        if plan.place(each) < limit and remedy.action not in plan.step(each).disturbed_by
    )
    # A diagnostic step is not done again by going back, so its own failure ends with its own remedy. A required step's
    # failure is answered, and stands until the step itself passes; what another diagnostic step found stands for good.
    standing = tuple(
        replace(each, answered=True) if plan.step(each.step).required else each
        for each in track.standing
        if each.step != track.step or plan.step(each.step).required
    )
    return replace(track, step=back, counting=keep, standing=standing, from_start=False)


def restart(plan: Plan, track: Track) -> Track:
    """The track after a gap that made every pass stale: a long pause, switching off, another person taking over.

    A failure that stands is not escaped by waiting: with a remedy on offer, or while its cause is looked for, the
    checkout stays where it is until a remedy or its lockout. On the way back from a remedy it begins anew, and the
    failure stands until its own step passes.
    """
    if track.stop is not None:
        return track
    undecided = track.offer is not None or not plan.step(track.step).required
    if track.standing and undecided:
        return replace(track, counting=frozenset(), from_start=True)
    return replace(track, step=plan.first, counting=frozenset(), offer=None, from_start=False)


def judged_unfit(track: Track, code: str) -> Track:
    """A person failed the step being done by their own judgement: locked out at once, no remedy, no branch."""
    return _end(_with_failure(track, code), "locked out")


def _with_failure(track: Track, code: str) -> Track:
    failure = Standing(track.step, code)
    standing = (*(each for each in track.standing if (each.step, each.code) != (track.step, code)), failure)
    ever = track.ever_failed if failure in track.ever_failed else (*track.ever_failed, failure)
    return replace(track, standing=standing, ever_failed=ever, counting=track.counting - {track.step})


def _passed(plan: Plan, track: Track) -> Track:
    step = plan.step(track.step)
    if _explains_nothing(step):
        return _end(track, "locked out")
    standing = tuple(each for each in track.standing if each.step != track.step or not each.answered)
    counting = track.counting | {track.step} if step.required else track.counting
    track = replace(track, counting=counting, standing=standing)
    to = step.on_pass or plan.next_required(track.step)
    if to:
        return replace(track, step=to)
    missing = tuple(each for each in plan.required if each not in track.counting)
    if track.standing:
        return _end(track, "locked out", missing=missing)
    return _end(track, "not checked" if missing else "fit for use", missing=missing)


def _failed(plan: Plan, track: Track, code: str) -> Track:
    return _after_failure(plan, _with_failure(track, code))


def _after_failure(plan: Plan, track: Track) -> Track:
    step = plan.step(track.step)
    for place, remedy in enumerate(step.remedies):
        if track.attempts(step.id, place) < remedy.attempts:
            return replace(track, offer=place)
    if step.on_fail:
        return replace(track, step=step.on_fail, offer=None)
    return _end(track, "locked out")


def _end(track: Track, ending: Ending, *, missing: tuple[str, ...] = ()) -> Track:
    # What could not be checked is no failure, but it does not wash away a failure that stands.
    if ending != "fit for use" and track.standing:
        ending = "locked out"
    return replace(track, offer=None, stop=Stop(ending, track.standing, missing))
