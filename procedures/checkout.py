"""The run of a checkout: a pure state machine, (state, event) → state.

Everything that happens is an event. What a person or the clock did becomes events in `conduct.py`; the caller commits
them before anything on the screen moves and folds the committed events with the same `apply` that foresaw them. Which
ask is due in a state is said by `due.py`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, Final, Protocol

from procedures import routing
from procedures.answers import value_from_json
from procedures.asks import SOURCE_BACK, SOURCE_OUT, SWITCHED_ON, Answer
from procedures.changed import changed
from procedures.clock import Instant
from procedures.facts import Facts, facts_from_json
from procedures.findings import Finding, finding_from_json
from procedures.procedure import Procedure
from procedures.routing import Track

RULES: Final = "1"
"""The version of the rules of this module and of routing; an opening names the version that judged it."""

JUMP_DOUBTED: Final = -120.0
"""A wall clock set back by this much in all, or more, leaves every date of the checkout in doubt."""


class Happened(Protocol):
    """An event as the journal hands it back."""

    @property
    def kind(self) -> str: ...
    @property
    def body(self) -> Mapping[str, Any]: ...
    @property
    def utc(self) -> datetime: ...
    @property
    def offset(self) -> int: ...
    @property
    def person(self) -> str | None: ...
    @property
    def hash(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Made:
    """A finding as it was made: on which visit, when."""

    finding: Finding
    at: datetime
    visit: int


@dataclass(frozen=True, slots=True)
class Waiting:
    """A wait or hold in progress. `credit` are seconds that had already counted when it began."""

    ask: str
    seconds: float
    begun: Instant
    credit: float = 0.0


@dataclass(frozen=True, slots=True)
class State:
    """A checkout at one moment.

    `last` is the moment of the last event, `attended` the last at which somebody was at the instrument, `back` the
    seconds (none or negative) by which the wall clock was set back in all. `answers` are those of the visit in
    progress; `made` all findings in order; `marks` moments fixed by answers; `doubt` says why the clock is not
    believed; `judged` is the reason of a person who failed it; `out` are ids of sources taken and not yet back;
    `ending` is the body of the `ended` event.
    """

    checkout: str
    instrument: str
    person: str
    clearings: tuple[str, ...]
    facts: Facts
    track: Track
    opened: Instant
    last: Instant
    attended: Instant
    last_hash: str
    visit: int = 1
    answers: tuple[Answer, ...] = ()
    waiting: Waiting | None = None
    made: tuple[Made, ...] = ()
    marks: Mapping[str, Instant] = field(default_factory=dict)
    out: tuple[str, ...] = ()
    paused: str = ""
    back: float = 0.0
    doubt: str = ""
    judged: str = ""
    notice: str = ""
    ending: Mapping[str, Any] | None = None
    withdrawn: str = ""

    @property
    def over(self) -> bool:
        return self.ending is not None

    def counting(self) -> dict[str, Made]:
        """The latest finding of every step whose pass still counts."""
        return {made.finding.step: made for made in self.made if made.finding.step in self.track.counting}


# --- folding -------------------------------------------------------------------------------------------------------


def opened(procedure: Procedure, event: Happened) -> State:
    """The state after the opening. KeyError: the event is malformed."""
    body = event.body
    facts = replace(
        facts_from_json(body["facts"]),
        scales=procedure.scales,
        air_density=procedure.air_density,
        operating=procedure.operating,
        soak_seconds=procedure.soak_seconds,
    )
    now = instant_of(event)
    return State(
        checkout=event.hash,
        instrument=body["instrument"],
        person=event.person or "",
        clearings=tuple(body["clearings"]),
        facts=facts,
        track=routing.begin(procedure.plan),
        opened=now,
        last=now,
        attended=now,
        last_hash=event.hash,
    )


def apply(procedure: Procedure, state: State, event: Happened) -> State:
    """The state after `event`. Kinds that say nothing to the run (a note) leave all but the last hash as it is."""
    change = _CHANGES.get(event.kind)
    now: dict[str, Any] = {"last_hash": event.hash or state.last_hash}
    if change is None:
        # A remark may be written at a desk: it shows neither the station's clock nor anybody at the instrument.
        return changed(state, **now)
    if from_the_list(event):
        # Nor does a source that is scanned at its store: or it would hide how long nobody was at the instrument.
        return change(procedure, changed(state, **now), event)
    if "ticks" in event.body and "session" in event.body:
        now["last"] = instant_of(event)
        if event.kind != "clock-jumped":
            # Setting the clock is nobody's presence, or it would hide the gap that came before it.
            now["attended"] = now["last"]
    else:
        now["doubt"] = "A record of this checkout does not say by which clock it was made."
    if event.kind not in ("clock-jumped", "wait-begun"):
        now["notice"] = ""
    return change(procedure, changed(state, **now), event)


def from_the_list(event: Happened) -> bool:
    """Whether a source was scanned back from the list of instruments: it belongs to no step of the run."""
    return event.kind == "scanned" and event.body["step"] == ""


def fold(procedure: Procedure, events: Sequence[Happened]) -> State:
    """The state after all events of one checkout, its opening first."""
    state = opened(procedure, events[0])
    for event in events[1:]:
        state = apply(procedure, state, event)
    return state


def instant_of(event: Happened) -> Instant:
    """The moment of an event by the clocks of its station. KeyError: it does not say by which."""
    return Instant(event.utc, event.offset, float(event.body["ticks"]), str(event.body["session"]))


def _answered(_procedure: Procedure, state: State, event: Happened) -> State:
    body = event.body
    value = body["text"] if event.kind == "scanned" else value_from_json(body["value"])
    here = body["step"] == state.track.step and body["visit"] == state.visit
    mark = body.get("mark") or ""
    # Where sources are is kept in `out`: their marks fix no moment that anything is reckoned from.
    fixes = mark and mark not in (SOURCE_OUT, SOURCE_BACK)
    marks = {**state.marks, mark: state.last} if fixes else state.marks
    out = state.out
    thing = body.get("is")
    if mark == SOURCE_OUT and thing:
        out = (*(each for each in out if each != thing), thing)
    if mark == SOURCE_BACK and thing:
        out = tuple(each for each in out if each != thing)
    if not here:
        return changed(state, out=out)
    answer = Answer(body["ask"], value, event.utc, float(body["took"]), bool(body.get("hasty", False)))
    return changed(state, answers=(*state.answers, answer), marks=marks, out=out)


def _wait_begun(_procedure: Procedure, state: State, event: Happened) -> State:
    body = event.body
    waiting = Waiting(body["ask"], float(body["seconds"]), state.last, float(body.get("credit", 0.0)))
    return changed(state, waiting=waiting)


def _wait_kept(_procedure: Procedure, state: State, event: Happened) -> State:
    answer = Answer(event.body["ask"], float(event.body["elapsed"]), event.utc, float(event.body["elapsed"]))
    return changed(state, answers=(*state.answers, answer), waiting=None)


def _wait_broken(_procedure: Procedure, state: State, event: Happened) -> State:
    return changed(state, waiting=None, notice=str(event.body["why"]))


def _found(procedure: Procedure, state: State, event: Happened) -> State:
    finding = finding_from_json(event.body["finding"])
    made = Made(finding, event.utc, state.visit)
    # A finding for another step than the one being done comes from a damaged record: it can pass nothing.
    outcome = finding.outcome if finding.step == state.track.step else "could not check"
    track = routing.advance(procedure.plan, state.track, outcome, finding.code)
    return changed(state, made=(*state.made, made), track=track, visit=state.visit + 1, answers=(), waiting=None)


def _remedied(procedure: Procedure, state: State, event: Happened) -> State:
    if state.track.offer is None:
        return state
    done = bool(event.body["done"])
    remedy = procedure.plan.step(state.track.step).remedies[state.track.offer]
    track = routing.remedied(procedure.plan, state.track, done=done)
    marks, notice = state.marks, ""
    if done and remedy.action in routing.POWER_OFF:
        marks = {name: at for name, at in marks.items() if name != SWITCHED_ON}
    if done and track.stop is None:
        words = routing.ACTIONS[remedy.action]
        notice = f"{words[0].upper()}{words[1:]}: everything is done again from here, {procedure.titles[track.step]}."
    return changed(state, track=track, visit=state.visit + 1, answers=(), waiting=None, marks=marks, notice=notice)


def _judged(_procedure: Procedure, state: State, event: Happened) -> State:
    track = routing.judged_unfit(state.track, str(event.body["code"]))
    return changed(state, track=track, answers=(), waiting=None, paused="", judged=str(event.body["say"]))


def _paused(_procedure: Procedure, state: State, event: Happened) -> State:
    return changed(state, paused=str(event.body.get("why") or "paused"), waiting=None)


def _resumed(procedure: Procedure, state: State, event: Happened) -> State:
    body = event.body
    state = changed(state, paused="", waiting=None, person=event.person or state.person)
    why = stale(procedure, float(body["gap"]), bool(body["same_person"]), bool(body["switched_off"]))
    if not why:
        return state
    marks = {name: at for name, at in state.marks.items() if name != SWITCHED_ON}
    track = routing.restart(procedure.plan, state.track)
    return changed(
        state,
        track=track,
        visit=state.visit + 1,
        answers=(),
        marks=marks,
        notice=f"{why} {_AFTER_A_GAP[track.from_start]}",
    )


_AFTER_A_GAP: Final = {
    False: "The checkout begins again at its first step.",
    True: "What passed before no longer counts.",
}


def _ended(_procedure: Procedure, state: State, event: Happened) -> State:
    return changed(state, ending=event.body, waiting=None, paused="", answers=())


def _withdrawn(_procedure: Procedure, state: State, event: Happened) -> State:
    return changed(state, withdrawn=str(event.body["why"]))


def _jumped(_procedure: Procedure, state: State, event: Happened) -> State:
    back = state.back + min(0.0, float(event.body["seconds"]))
    if back > JUMP_DOUBTED:
        return changed(state, back=back)
    return changed(state, back=back, doubt="The laptop's clock was set back during this checkout.")


_CHANGES: Final = {
    "answered": _answered,
    "scanned": _answered,
    "wait-begun": _wait_begun,
    "wait-kept": _wait_kept,
    "wait-broken": _wait_broken,
    "found": _found,
    "remedied": _remedied,
    "failed-by-judgement": _judged,
    "paused": _paused,
    "resumed": _resumed,
    "ended": _ended,
    "withdrawn": _withdrawn,
    "clock-jumped": _jumped,
}


def stale(procedure: Procedure, gap: float, same_person: bool, switched_off: bool) -> str:
    """Why every pass so far is stale after a gap of `gap` seconds, in words; "" when none is."""
    if switched_off:
        return "The instrument was switched off."
    if not same_person:
        return "Another person took over."
    if not gap <= procedure.longest_pause:
        return f"More than {procedure.longest_pause / 60:.0f} min went by."
    return ""
