"""What a person or the clock did, as the events to record: pure, nothing is committed here.

Each function ends with whatever follows by itself (a finding, the start of a wait, the ending), so that one commit
holds an answer and its consequences, and no kill can part them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from procedures import routing, settling
from procedures.answers import value_to_json
from procedures.asks import SOURCE_BACK, SOURCE_OUT, Ask, Hold, Scan, Wait
from procedures.checkout import State, apply, stale
from procedures.clock import Instant, wall_jump
from procedures.due import dropped, due, gap_since
from procedures.findings import Finding, finding_to_json
from procedures.procedure import Procedure
from procedures.trouble import Trouble
from procedures.verdict import abandoned, stopped

JUMP_NOTED: Final = 2.0
"""Seconds by which the wall clock may differ from the ticks before it is recorded."""


@dataclass(frozen=True, slots=True)
class Said:
    """An event to be recorded. `about` are things besides checkout and instrument that it is about."""

    kind: str
    body: Mapping[str, Any]
    about: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Sketch:
    """A Said with a moment, so that what follows from it can be worked out before it is committed."""

    kind: str
    body: Mapping[str, Any]
    utc: datetime
    offset: int
    person: str | None = None
    hash: str = ""


def begin(procedure: Procedure, state: State, now: Instant) -> tuple[Said, ...]:
    """What follows from an opening by itself."""
    return _with_consequences(procedure, state, (), now)


def answer(procedure: Procedure, state: State, ask: Ask, value: Any, now: Instant, *, took: float) -> tuple[Said, ...]:
    """The events of an answer to the ask that is due.

    When too much time went by since somebody was there, the gap is recorded instead and the answer is not taken.
    """
    before, lost = _first(procedure, state, now)
    if lost:
        return _with_consequences(procedure, state, before, now)
    where = {"step": state.track.step, "visit": state.visit, "ask": ask.key}
    if isinstance(ask, Scan):
        matches = ask.is_due(str(value))
        thing = ask.subject if matches and ask.subject else None
        mark = ask.mark if matches or not ask.due else ""
        about = (thing,) if thing and mark in (SOURCE_OUT, SOURCE_BACK) else ()
        body = {**where, "text": value, "value": value, "is": thing, "mark": mark, "took": took}
        given = Said("scanned", _body(state, now, body), about)
    else:
        hasty = took < ask.look
        body = {**where, "value": value_to_json(value), "took": took, "hasty": hasty, "mark": ask.mark}
        given = Said("answered", _body(state, now, body))
    return _with_consequences(procedure, state, (*before, given), now)


def begin_hold(procedure: Procedure, state: State, ask: Hold, now: Instant) -> tuple[Said, ...]:
    """The person presses the instrument's button. After too long a gap that is recorded instead."""
    before, lost = _first(procedure, state, now)
    if lost:
        return _with_consequences(procedure, state, before, now)
    return (*before, _wait_event(state, ask, 0.0, now))


def keep_wait(procedure: Procedure, state: State, elapsed: float, now: Instant) -> tuple[Said, ...]:
    """A wait or hold has lasted `elapsed` seconds, measured. ValueError when that is too short or none was on.

    When nobody came for too long after its end, the gap is recorded instead.
    """
    waiting = state.waiting
    passed = 0.0
    if waiting is not None:
        passed = min(elapsed, settling.elapsed(settling.Wait(waiting.seconds, waiting.begun, waiting.credit), now))
    if waiting is None or not passed >= waiting.seconds:
        raise ValueError("the wait is not over")
    before, lost = _first(procedure, state, now)
    if lost:
        return _with_consequences(procedure, state, before, now)
    kept = _said("wait-kept", state, now, step=state.track.step, visit=state.visit, ask=waiting.ask, elapsed=elapsed)
    return _with_consequences(procedure, state, (*before, kept), now)


def break_wait(procedure: Procedure, state: State, elapsed: float, why: str, now: Instant) -> tuple[Said, ...]:
    """A wait or hold was broken after `elapsed` seconds; `why` is said to the person."""
    waiting = state.waiting
    if waiting is None:
        return ()
    before, lost = _first(procedure, state, now)
    if lost:
        return _with_consequences(procedure, state, before, now)
    broken = _said(
        "wait-broken", state, now, step=state.track.step, visit=state.visit, ask=waiting.ask, elapsed=elapsed, why=why
    )
    return _with_consequences(procedure, state, (*before, broken), now)


def answer_remedy(procedure: Procedure, state: State, now: Instant, *, done: bool) -> tuple[Said, ...]:
    """The remedy on offer was carried out, or cannot be. () when none is on offer."""
    offer = state.track.offer
    if offer is None:
        return ()
    remedy = procedure.plan.step(state.track.step).remedies[offer]
    before, _ = _first(procedure, state, now)
    then = state
    for each in before:
        then = apply(procedure, then, _sketch(each, now, None))
    said = _said(
        "remedied",
        state,
        now,
        step=state.track.step,
        remedy=offer,
        action=remedy.action,
        say=remedy.say,
        done=done,
        next=routing.remedied(procedure.plan, then.track, done=done).step,
    )
    return _with_consequences(procedure, state, (*before, said), now)


def pause(procedure: Procedure, state: State, why: str, now: Instant) -> tuple[Said, ...]:
    """The checkout is set aside. A gap before the pause counts like one within it."""
    before, lost = _first(procedure, state, now)
    if lost:
        before = _with_consequences(procedure, state, before, now)
        if any(said.kind == "ended" for said in before):
            return before
    return (*before, _said("paused", state, now, why=why or "paused"))


def resume(procedure: Procedure, state: State, person: str, now: Instant, *, switched_off: bool) -> tuple[Said, ...]:
    """Somebody goes on after a pause, a crash, or another program's end."""
    gap, same = gap_since(state, now), person == state.person
    lost = _given_up(procedure, state, now) if stale(procedure, gap, same, switched_off) else ()
    said = _said("resumed", state, now, gap=gap, same_person=same, switched_off=switched_off, person=person)
    return _with_consequences(procedure, state, (*_clock_events(state, now), *lost, said), now, person)


def fail_by_judgement(procedure: Procedure, state: State, code: str, say: str, now: Instant) -> tuple[Said, ...]:
    """A person fails the step being done by their own judgement. () when the checkout is over."""
    if state.over:
        return ()
    step = procedure.plan.step(state.track.step)
    body = {"step": step.id, "kind": step.kind, "code": code, "say": say}
    said = Said("failed-by-judgement", _body(state, now, body))
    return _with_consequences(procedure, state, (*_clock_events(state, now), said), now)


def abandon(procedure: Procedure, state: State, why: str, now: Instant) -> tuple[Said, ...]:
    """The checkout is given up. After any failed finding that locks out. () when it is over."""
    if state.over:
        return ()
    said = (*_clock_events(state, now), *_given_up(procedure, state, now))
    for each in said:
        state = apply(procedure, state, _sketch(each, now, None))
    # What was found in the visit that is given up may have ended the checkout already.
    body = abandoned(procedure, state, why, now) if state.track.stop is None else stopped(procedure, state, now)
    return (*said, Said("ended", _body(state, now, body)))


def withdraw(state: State, why: str, now: Instant) -> tuple[Said, ...]:
    """The checkout was made on the wrong item. It is kept and struck through; a failure in it still stands."""
    return (_said("withdrawn", state, now, why=why),)


def check_due_is_ask(ask: Ask | None, key: str) -> Ask:
    """The ask that is due, if it is still the one with that key. Raises Trouble when the question has changed."""
    if ask is None or ask.key != key:
        raise Trouble("the question has changed meanwhile", do="Look at the screen and answer what it asks now.")
    return ask


def _body(state: State, now: Instant, rest: Mapping[str, Any]) -> dict[str, Any]:
    return {"checkout": state.checkout, "ticks": now.ticks, "session": now.session, **rest}


def _said(kind: str, state: State, now: Instant, **rest: Any) -> Said:
    return Said(kind, _body(state, now, rest))


def _first(procedure: Procedure, state: State, now: Instant) -> tuple[tuple[Said, ...], bool]:
    """What is recorded before anything that is done now, and whether a gap since then made all passes stale."""
    clock = _clock_events(state, now)
    gap = gap_since(state, now)
    if not stale(procedure, gap, True, False):
        return clock, False
    resumed = _said("resumed", state, now, gap=gap, same_person=True, switched_off=False)
    return (*clock, *_given_up(procedure, state, now), resumed), True


def _given_up(procedure: Procedure, state: State, now: Instant) -> tuple[Said, ...]:
    """A visit is dropped before its finding: what it showed already is found now, or waiting would undo it."""
    finding = dropped(procedure, state)
    if finding is None:
        return ()
    return (_said("found", state, now, step=state.track.step, visit=state.visit, finding=finding_to_json(finding)),)


def _clock_events(state: State, now: Instant) -> tuple[Said, ...]:
    jump = wall_jump(state.last, now)
    if jump is None:
        # Ticks of two starts of the program do not compare; but time cannot have gone backwards.
        jump = min(0.0, (now.utc - state.last.utc).total_seconds())
    if abs(jump) < JUMP_NOTED:
        return ()
    return (_said("clock-jumped", state, now, seconds=jump),)


def _wait_event(state: State, ask: Wait | Hold, credit: float, now: Instant) -> Said:
    return _said(
        "wait-begun",
        state,
        now,
        step=state.track.step,
        visit=state.visit,
        ask=ask.key,
        seconds=ask.seconds,
        credit=credit,
    )


def _with_consequences(
    procedure: Procedure, state: State, said: tuple[Said, ...], now: Instant, person: str | None = None
) -> tuple[Said, ...]:
    """`said`, and everything that follows from it without a person."""
    for each in said:
        state = apply(procedure, state, _sketch(each, now, person))
    while (follows := _consequence(procedure, state, now)) is not None:
        said = (*said, follows)
        state = apply(procedure, state, _sketch(follows, now, person))
    return said


def _sketch(said: Said, now: Instant, person: str | None) -> Sketch:
    return Sketch(said.kind, said.body, now.utc, now.offset, person)


def _consequence(procedure: Procedure, state: State, now: Instant) -> Said | None:
    if state.over or state.paused:
        return None
    if state.track.stop is not None:
        return Said("ended", _body(state, now, stopped(procedure, state, now)))
    found = due(procedure, state)
    if isinstance(found, Finding):
        after = routing.advance(procedure.plan, state.track, found.outcome, found.code)
        body = {
            "step": state.track.step,
            "visit": state.visit,
            "finding": finding_to_json(found),
            "next": after.step,
        }
        return Said("found", _body(state, now, body))
    if isinstance(found, Wait) and state.waiting is None:
        mark = state.marks.get(found.since)
        credit = settling.credit_from(mark, now) if mark is not None else 0.0
        return _wait_event(state, found, credit, now)
    return None
