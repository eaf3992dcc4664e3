"""An oracle for the run of a checkout, written apart from the engine and from the words of the design alone.

It is given the raw events of one checkout and the plain facts of its plan, and says what speaks against calling the
instrument fit for use, and which failures still stand. It looks back over the whole list for each rule instead of
carrying a state along, so that it cannot share a slip with the engine. It imports nothing that routes, folds, conducts
or judges a checkout.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from typing import Any, Final, Protocol
from zoneinfo import ZoneInfo

GOOD: Final = ("pass", "warn", "not applicable")
ENDS_CALIBRATION: Final = ("detector-changed", "cable-changed", "calibration-adjusted", "repaired")
CLOCK_TOLERANCE_S: Final = 120.0
"""How far a wall clock may stand behind where it once stood before the dates of a checkout are in doubt."""
ROUNDING_S: Final = 1e-3
"""Moments are kept to the microsecond and ticks are floats; no rule of the trade turns on a thousandth of a second."""


class Event(Protocol):
    """An event as it was recorded."""

    @property
    def kind(self) -> str: ...
    @property
    def body(self) -> Mapping[str, Any]: ...
    @property
    def utc(self) -> datetime: ...
    @property
    def person(self) -> str | None: ...


@dataclass(frozen=True)
class PlainRemedy:
    action: str
    repeat_from: str
    attempts: int


@dataclass(frozen=True)
class PlainStep:
    """What the design says of a step, without its edges. `waits` are the seconds that one visit must wait or hold."""

    id: str
    required: bool
    disturbed_by: frozenset[str]
    remedies: tuple[PlainRemedy, ...]
    waits: tuple[float, ...]


@dataclass(frozen=True)
class PlainPlan:
    """`lasts` and `longest_pause` are seconds; `boundaries` are the local times of day at which readiness ends."""

    steps: tuple[PlainStep, ...]
    lasts: float
    longest_pause: float
    calibration_due: date | None
    zone: str
    boundaries: tuple[str, ...]

    def place(self, step: str) -> int:
        return next(n for n, each in enumerate(self.steps) if each.id == step)

    def step(self, step: str) -> PlainStep:
        return self.steps[self.place(step)]


# --- time between events -------------------------------------------------------------------------------------------


def _session(event: Event) -> str | None:
    return event.body.get("session")


def _wall(earlier: Event, later: Event) -> float:
    return (later.utc - earlier.utc).total_seconds()


def _ticked(earlier: Event, later: Event) -> float | None:
    """Seconds by ticks, or None where ticks do not compare."""
    if _session(earlier) is None or _session(earlier) != _session(later):
        return None
    return float(later.body["ticks"]) - float(earlier.body["ticks"])


def _apart(earlier: Event, later: Event) -> float:
    """The longest time that may have gone by between two events."""
    return max(_wall(earlier, later), _ticked(earlier, later) or 0.0, 0.0)


def of_the_run(events: Sequence[Event]) -> list[Event]:
    """The events that show somebody at the instrument: a remark written meanwhile does not."""
    return [event for event in events if event.kind != "note"]


# --- what takes passes away ----------------------------------------------------------------------------------------

_ENDS_A_WAIT: Final = ("wait-kept", "wait-broken", "found", "remedied", "paused", "resumed", "ended")


def _wait_at(events: Sequence[Event], place: int) -> Event | None:
    """The `wait-begun` that is in progress just after the event at `place`."""
    for event in reversed(events[: place + 1]):
        if event.kind == "wait-begun":
            return event
        if event.kind in _ENDS_A_WAIT:
            return None
    return None


def _too_long(plan: PlainPlan, events: Sequence[Event], place: int) -> bool:
    """Whether more than the longest pause went by before the event at `place`, less a wait that was in progress."""
    before, event = events[place - 1], events[place]
    begun, allowed = _wait_at(events, place - 1), 0.0
    if begun is not None:
        length = float(begun.body["seconds"]) - float(begun.body.get("credit") or 0.0)
        allowed = max(0.0, length - _apart(begun, before))
    return _apart(before, event) - allowed > plan.longest_pause + ROUNDING_S


def _voids_all(plan: PlainPlan, events: Sequence[Event], place: int) -> bool:
    """Whether the event at `place` shows a gap, a switching off or another person, after which nothing counts."""
    event = events[place]
    if place == 0:
        return False
    if event.kind == "resumed" and (event.body["switched_off"] or not event.body["same_person"]):
        return True
    return event.person != events[place - 1].person or _too_long(plan, events, place)


def _voids(plan: PlainPlan, events: Sequence[Event], place: int, step: PlainStep) -> bool:
    event = events[place]
    if _voids_all(plan, events, place):
        return True
    if event.kind != "remedied" or not event.body["done"]:
        return False
    remedy = plan.step(event.body["step"]).remedies[event.body["remedy"]]
    return remedy.action in step.disturbed_by or plan.place(step.id) >= plan.place(remedy.repeat_from)


def _findings(events: Sequence[Event], step: str) -> list[tuple[int, str]]:
    """Place and outcome of every finding of a step, in order."""
    return [
        (place, event.body["finding"]["outcome"])
        for place, event in enumerate(events)
        if event.kind == "found" and event.body["finding"]["step"] == step
    ]


# --- failures ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Failure:
    step: str
    code: str


def standing(plan: PlainPlan, events: Sequence[Event]) -> tuple[Failure, ...]:
    """The failures that nothing has answered.

    A failed required step is answered by a remedy and then its own pass. A diagnostic step is not done again by going
    back: its own remedy answers it. A judgement, and an action that voids the calibration, are never answered.
    """
    stand = []
    for place, event in enumerate(events):
        if event.kind == "failed-by-judgement":
            stand.append(Failure(event.body["step"], event.body["code"]))
        if event.kind == "remedied" and event.body["done"] and event.body["action"] in ENDS_CALIBRATION:
            stand.append(Failure(event.body["step"], "calibration-void"))
        if event.kind != "found" or event.body["finding"]["outcome"] != "fail":
            continue
        finding = event.body["finding"]
        if not _answered(events, place, plan.step(finding["step"])):
            stand.append(Failure(finding["step"], finding["code"]))
    return tuple(stand)


def _answered(events: Sequence[Event], failed: int, step: PlainStep) -> bool:
    remedies = [n for n, e in enumerate(events) if n > failed and e.kind == "remedied" and e.body["done"]]
    if not step.required and any(events[n].body["step"] == step.id for n in remedies):
        return True
    passes = [n for n, outcome in _findings(events, step.id) if outcome in GOOD]
    return bool(remedies) and any(n > remedies[0] for n in passes)


# --- waits and clocks ----------------------------------------------------------------------------------------------


def _wait_faults(plan: PlainPlan, events: Sequence[Event]) -> Iterator[str]:
    for place, event in enumerate(events):
        if event.kind != "wait-kept":
            continue
        begun = _wait_at(events, place - 1)
        if begun is None or begun.body["ask"] != event.body["ask"]:
            yield "wait: kept, and none was begun"
            continue
        ticked, seconds = _ticked(begun, event), float(begun.body["seconds"])
        credit = float(begun.body.get("credit") or 0.0)
        if ticked is None or ticked + credit < seconds - ROUNDING_S or event.body["elapsed"] < seconds - ROUNDING_S:
            yield f"wait: over early, {ticked} s and {credit} s of {seconds} s"
        if credit > _credit_due(plan, events, events.index(begun)) + ROUNDING_S:
            yield f"wait: {credit} s credited that no switching on accounts for"


def _credit_due(plan: PlainPlan, events: Sequence[Event], begun: int) -> float:
    """Seconds since the instrument was switched on that may count at `begun`: both clocks must vouch for them.

    None count after a gap, nor after a remedy that disturbs the step which asked for the switching on.
    """
    actions = set()
    for place in range(begun - 1, 0, -1):
        event = events[place]
        if event.kind == "remedied" and event.body["done"]:
            actions.add(event.body["action"])
        # What shows a gap comes before what the same event says, so the mark of a later event is still good.
        if event.kind == "answered" and event.body.get("mark") == "switched-on":
            ticked = _ticked(event, events[begun])
            if actions & plan.step(event.body["step"]).disturbed_by:
                return 0.0
            return 0.0 if ticked is None else max(0.0, min(ticked, _wall(event, events[begun])))
        if _voids_all(plan, events, place):
            return 0.0
    return 0.0


def _skipped_waits(plan: PlainPlan, events: Sequence[Event]) -> Iterator[str]:
    """A pass needs every wait and hold of its step kept in that very visit."""
    kept: list[float] = []
    for place, event in enumerate(events):
        if event.kind == "wait-kept" and (begun := _wait_at(events, place - 1)) is not None:
            kept.append(float(begun.body["seconds"]))
        if event.kind == "remedied" or _voids_all(plan, events, place):
            kept.clear()
        if event.kind == "found":
            if event.body["finding"]["outcome"] in GOOD and sorted(kept) != sorted(
                plan.step(event.body["finding"]["step"]).waits
            ):
                yield f"wait: {event.body['finding']['step']} passed with waits {kept}"
            kept.clear()


def _clock_faults(events: Sequence[Event]) -> Iterator[str]:
    """The wall clock against the ticks: how far it stands behind where it once stood."""
    ahead = most = 0.0
    for before, event in pairwise(events):
        ticked = _ticked(before, event)
        ahead += min(0.0, _wall(before, event)) if ticked is None else _wall(before, event) - ticked
        most = max(most, ahead)
        if most - ahead > CLOCK_TOLERANCE_S + ROUNDING_S:
            yield f"clock: set back by {most - ahead:.0f} s"
            return


# --- the verdict ---------------------------------------------------------------------------------------------------


def against_fit(plan: PlainPlan, events: Sequence[Event]) -> list[str]:
    """All that speaks against the ending "fit for use", with which `events` end. Empty: it is justified."""
    run = of_the_run(events)
    ended = run[-1]
    said = [f"failure: {each.step} {each.code}" for each in standing(plan, run)]
    said += _wait_faults(plan, run)
    said += _skipped_waits(plan, run)
    said += _clock_faults(run)
    said += _attempt_faults(plan, run)
    oldest = ended
    for step in (each for each in plan.steps if each.required):
        found = _findings(run, step.id)
        if not found or found[-1][1] not in GOOD:
            said.append(f"missing: {step.id}")
            continue
        place = found[-1][0]
        if any(_voids(plan, run, later, step) for later in range(place + 1, len(run))):
            said.append(f"stale: {step.id}")
        aged = max(_wall(run[place], ended), (_ticked(run[place], ended) or 0.0) - CLOCK_TOLERANCE_S)
        if not -CLOCK_TOLERANCE_S <= aged <= plan.lasts + ROUNDING_S:
            said.append(f"age: {step.id} {aged:.0f} s")
        oldest = min(oldest, run[place], key=lambda event: event.utc)
    said += _until_faults(plan, ended, oldest)
    if any(event.kind == "withdrawn" for event in run):
        said.append("withdrawn")
    return said


def _attempt_faults(plan: PlainPlan, events: Sequence[Event]) -> Iterator[str]:
    for step in plan.steps:
        for number, remedy in enumerate(step.remedies):
            done = sum(
                e.kind == "remedied" and e.body["done"] and (e.body["step"], e.body["remedy"]) == (step.id, number)
                for e in events
            )
            if done > remedy.attempts:
                yield f"attempts: {done} of {remedy.attempts} for {remedy.action} at {step.id}"


def _until_faults(plan: PlainPlan, ended: Event, oldest: Event) -> Iterator[str]:
    zone = ZoneInfo(plan.zone)
    text = ended.body["ready_until"]
    until = datetime.fromisoformat(text) if text else None
    if until is None:
        yield "until: no end of readiness"
        return
    if until > oldest.utc + timedelta(seconds=plan.lasts, milliseconds=1):
        yield "until: beyond what the oldest pass lasts"
    if plan.calibration_due is None:
        yield "calibration: none"
        return
    for moment, what in ((ended.utc, "calibration: over"), (until - timedelta(microseconds=1), "until: uncalibrated")):
        if moment.astimezone(zone).date() > plan.calibration_due:
            yield what
    starts = [time.fromisoformat(each) for each in plan.boundaries]
    # Minute by minute, as a clock on the wall would show it: slow, and with no arithmetic of days to get wrong.
    minute = ended.utc.replace(second=0, microsecond=0) + timedelta(minutes=1)
    while minute < until:
        if minute.astimezone(zone).time() in starts:
            yield f"until: readiness goes on past {minute.astimezone(zone):%H:%M}"
            return
        minute += timedelta(minutes=1)


def wrong_ending(plan: PlainPlan, events: Sequence[Event], *, proper: bool = True) -> list[str]:
    """All that is wrong with how a checkout ended, lockouts included; `events` end with its `ended`.

    A plan that is not `proper` may come to a diagnostic step when nothing failed; a lockout without a reason is then
    the plan's fault and hurts nobody.
    """
    run, ended = of_the_run(events)[:-1], events[-1]
    ending = ended.body["ending"]
    codes = [each["code"] for each in ended.body["reasons"]]
    stand = standing(plan, run)
    failed = any(e.kind == "found" and e.body["finding"]["outcome"] == "fail" for e in run)
    said = [f"{ending}: {line}" for line in against_fit(plan, events)] if ending == "fit for use" else []
    if stand and ending != "locked out":
        said.append(f"lockout: {ending} although {stand} stand")
    if failed and ending == "abandoned":
        said.append("lockout: abandoned after a failure")
    if ending == "locked out":
        said += [f"codes: {each} is not among {codes}" for each in stand if each.code not in codes]
        given_up = failed and "abandoned-after-failure" in codes
        if proper and not stand and not given_up:
            said.append("lockout: nothing stands")
        if proper and not codes:
            said.append("codes: none")
    elif codes:
        said.append(f"codes: {codes} without a lockout")
    return said
