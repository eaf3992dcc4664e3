"""A checkout judged again: its recorded answers lead, by its own procedure, to findings and an ending; are they these?

The run is followed event by event as it was recorded, so that one difference does not bring others after it. What
decides is compared: outcomes, codes, numbers, what was as found, endings and until when they last. Words may be
bettered from one release to the next; the journal's hashes keep them as they were, and they are not compared. Pure.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Literal

from procedures import settling
from procedures.asks import Ask, Hold, Scan, Wait
from procedures.checkout import Happened, State, apply, instant_of, opened, stale
from procedures.due import dropped, due, gap_since
from procedures.findings import AsFound, Finding, Number, finding_from_json
from procedures.procedure import Procedure
from procedures.trouble import Trouble
from procedures.verdict import abandoned, not_checked_after_all, stopped

NEAR: Final = 1e-9
"""Numbers may differ by this fraction: libraries of other releases may round their last digit otherwise."""

Sort = Literal["own version", "today"]


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that judging again finds otherwise.

    "own version": the rules that the record names do not lead to it. "today": the record names an older version of a
    rule than this program has, and by the present one it comes out otherwise.
    """

    sort: Sort
    seq: int
    """Number of the event in its station; 0 for an event that should be there and is not."""
    what: str


def judge(procedure: Procedure, events: Sequence[Happened]) -> tuple[Difference, ...]:
    """Judge the events of one checkout again, its opening first.

    KeyError, TypeError, ValueError and the like: a record of it is not as this program writes them.
    """
    follow = _Follow(procedure, opened(procedure, events[0]))
    for event in events[1:]:
        try:
            follow.look_at(event)
        except Trouble as refused:
            # A step refuses answers that it never asked for in this order: from here on nothing can be followed.
            follow.differs(event, f"{follow.state.track.step}: {refused.what}")
            return tuple(follow.found)
    if len(events) > 1:
        follow.look_at_the_end()
    return tuple(follow.found)


@dataclass(slots=True)
class _Follow:
    """A checkout followed as it was recorded. `lost` is the state in which a visit was given up, until it goes on."""

    procedure: Procedure
    state: State
    lost: State | None = None
    found: list[Difference] = field(default_factory=list)

    def look_at(self, event: Happened) -> None:
        """Look at one event, then go on with it as recorded."""
        look = _LOOKS.get(event.kind)
        if look is not None:
            look(self, event)
        self.state = apply(self.procedure, self.state, event)

    def differs(self, event: Happened | None, what: str, sort: Sort = "own version") -> None:
        self.found.append(Difference(sort, getattr(event, "seq", 0), what))

    def due_ask(self, event: Happened) -> Ask | None:
        """The ask that is due, if this event answers it; else the difference is noted."""
        self._nobody_was_away(event)
        ask = due(self.procedure, self.state)
        if isinstance(ask, Finding):
            self.differs(event, f"{self.state.track.step}: the answers before it lead to “{ask.outcome}”, not recorded")
        elif ask is None or ask.key != event.body["ask"]:
            self.differs(event, f"{self.state.track.step}: “{event.body['ask']}” was not asked here")
        else:
            return ask
        return None

    def _nobody_was_away(self, event: Happened) -> None:
        gap = gap_since(self.state, instant_of(event))
        if stale(self.procedure, gap, True, False):
            self.differs(event, f"{self.state.track.step}: a gap of {gap / 60:.0f} min before it was passed over")

    def look_at_the_end(self) -> None:
        """Nothing that follows by itself is missing after the last event."""
        state = self.state
        if state.over or state.paused:
            return
        try:
            found = due(self.procedure, state)
        except Trouble as refused:
            self.differs(None, f"{state.track.step}: {refused.what}")
            return
        if state.track.stop is not None:
            self.differs(None, f"it comes to the ending “{state.track.stop.ending}”, which is not recorded")
        elif isinstance(found, Finding):
            self.differs(None, f"{found.step}: its answers lead to “{found.outcome}”, which is not recorded")


# --- what is looked at before each kind of event -------------------------------------------------------------------


def _answered(follow: _Follow, event: Happened) -> None:
    body = event.body
    ask = follow.due_ask(event)
    if ask is not None and bool(body.get("hasty", False)) != (float(body["took"]) < ask.look):
        follow.differs(event, f"{body['step']}: whether “{body['ask']}” was answered in haste")


def _scanned(follow: _Follow, event: Happened) -> None:
    body = event.body
    if body["step"] != follow.state.track.step or body["visit"] != follow.state.visit:
        return  # a source scanned back from the list of instruments
    ask = follow.due_ask(event)
    if not isinstance(ask, Scan):
        return
    matches = ask.is_due(str(body["text"]))
    thing = ask.subject if matches and ask.subject else None
    if body["is"] != thing or (body["mark"] or "") != (ask.mark if matches or not ask.due else ""):
        follow.differs(event, f"{body['step']}: what the scan “{body['ask']}” was taken for")


def _wait_begun(follow: _Follow, event: Happened) -> None:
    body = event.body
    ask = follow.due_ask(event)
    if ask is None:
        return
    now, credit = instant_of(event), 0.0
    if isinstance(ask, Wait) and (mark := follow.state.marks.get(ask.since)) is not None:
        credit = settling.credit_from(mark, now)
    lasting = ask.seconds if isinstance(ask, Wait | Hold) else math.nan
    if not _near(body["seconds"], lasting) or not _near(body.get("credit", 0.0), credit):
        follow.differs(event, f"{body['step']}: the wait “{body['ask']}” takes {lasting:g} s, {credit:g} s of it over")


def _wait_kept(follow: _Follow, event: Happened) -> None:
    body, waiting = event.body, follow.state.waiting
    if follow.due_ask(event) is None:
        return
    if waiting is None or waiting.ask != body["ask"]:
        follow.differs(event, f"{body['step']}: the wait “{body['ask']}” had not begun")
        return
    passed = settling.elapsed(settling.Wait(waiting.seconds, waiting.begun, waiting.credit), instant_of(event))
    if not min(float(body["elapsed"]), passed) >= waiting.seconds:
        follow.differs(event, f"{body['step']}: the wait “{body['ask']}” was over after {passed:g} s, too early")


def _remedied(follow: _Follow, event: Happened) -> None:
    body, track = event.body, follow.state.track
    offered = None if track.offer is None else follow.procedure.plan.step(track.step).remedies[track.offer]
    if offered is None or (body["step"], body["action"]) != (track.step, offered.action):
        follow.differs(event, f"{body['step']}: the remedy {body['action']} was not on offer")


def _resumed(follow: _Follow, event: Happened) -> None:
    body = event.body
    gap = gap_since(follow.lost or follow.state, instant_of(event))
    follow.lost = None
    if not _near(body["gap"], gap):
        follow.differs(event, f"the gap before it was {gap:g} s, not {body['gap']:g} s")
    if bool(body["same_person"]) != (event.person == follow.state.person):
        follow.differs(event, "whether the same person went on")


def _found(follow: _Follow, event: Happened) -> None:
    state, recorded = follow.state, finding_from_json(event.body["finding"])
    made = due(follow.procedure, state)
    if not isinstance(made, Finding):
        made = dropped(follow.procedure, state)
        follow.lost = state
    if made is None:
        follow.differs(event, f"{recorded.step}: its answers do not lead to “{recorded.outcome}” yet")
        return
    sort: Sort = "own version" if made.rule == recorded.rule else "today"
    for what in finding_differences(recorded, made):
        follow.differs(event, f"{recorded.step}: {what}", sort)


def _ended(follow: _Follow, event: Happened) -> None:
    state, body, now = follow.state, event.body, instant_of(event)
    if state.over:
        follow.differs(event, "it had ended before")
        return
    if state.track.stop is not None:
        made = stopped(follow.procedure, state, now)
    elif isinstance(found := due(follow.procedure, state), Finding):
        follow.differs(event, f"{found.step}: the answers before it lead to “{found.outcome}”, not recorded")
        return
    else:
        made = abandoned(follow.procedure, state, next(iter(body["missing"]), ""), now)
    if made["ending"] == "fit for use" and body["ending"] == "not checked" and body["missing"]:
        # Something about the instrument spoke against it at the last look: the journal's fold judges that.
        made |= not_checked_after_all(body["missing"])
    for what in _of_endings(body, made):
        follow.differs(event, what)


_LOOKS: Final[Mapping[str, Callable[[_Follow, Happened], None]]] = {
    "answered": _answered,
    "scanned": _scanned,
    "wait-begun": _wait_begun,
    "wait-kept": _wait_kept,
    "remedied": _remedied,
    "resumed": _resumed,
    "found": _found,
    "ended": _ended,
}


# --- comparing -----------------------------------------------------------------------------------------------------


def finding_differences(recorded: Finding, made: Finding) -> list[str]:
    """What decides and differs between a recorded finding and the one that judging again makes, in words."""
    said = [
        f"{what} is recorded as “{one}”, judged again it is “{other}”"
        for what, one, other in (
            ("the step", recorded.step, made.step),
            ("the kind", recorded.kind, made.kind),
            ("the outcome", recorded.outcome, made.outcome),
            ("the reason code", recorded.code, made.code),
            ("the rule", recorded.rule, made.rule),
        )
        if one != other and not (what == "the rule" and one.partition(" ")[0] == other.partition(" ")[0])
    ]
    said += _of_numbers(recorded.numbers, made.numbers, "")
    said += _of_as_found(recorded.as_found, made.as_found)
    if not _same(recorded.factor, made.factor):
        said.append(f"the factor is recorded as “{recorded.factor}”, judged again it is “{made.factor}”")
    if recorded.shows != made.shows:
        said.append("the scales that it shows to work")
    if not _same_pairs(recorded.facts, made.facts):
        said.append("the values that later steps use")
    return said


def _of_as_found(recorded: AsFound | None, made: AsFound | None) -> list[str]:
    if recorded is None or made is None:
        return [] if recorded is made else ["whether it was recorded as found"]
    said = _of_numbers(recorded.numbers, made.numbers, "as found, ")
    if recorded.outcome != made.outcome:
        said.append(f"as found it is recorded as “{recorded.outcome}”, judged again it is “{made.outcome}”")
    return said


def _of_numbers(recorded: Sequence[Number], made: Sequence[Number], where: str) -> list[str]:
    if [(each.name, each.unit) for each in recorded] != [(each.name, each.unit) for each in made]:
        return [f"{where}other numbers belong to it"]
    return [
        f"{where}{one.label or one.name} is recorded as {one.value} {one.unit}, judged again it is {other.value}"
        for one, other in zip(recorded, made, strict=True)
        if not _same(one.value, other.value)
    ]


def _of_endings(recorded: Mapping[str, Any], made: Mapping[str, Any]) -> list[str]:
    if recorded["ending"] != made["ending"]:
        return [f"it ended “{recorded['ending']}”, judged again it ends “{made['ending']}”"]
    said = []
    if [(each["code"], each["step"]) for each in recorded["reasons"]] != [
        (each["code"], each["step"]) for each in made["reasons"]
    ]:
        said.append("the reason codes of its ending")
    if bool(recorded["missing"]) != bool(made["missing"]):
        said.append("whether something was missing")
    if recorded["fit_for"] != made["fit_for"]:
        said.append("what it is fit for")
    if not _same(recorded["factor"] or "", made["factor"] or ""):
        said.append(f"the factor is recorded as “{recorded['factor']}”, judged again it is “{made['factor']}”")
    said += [
        f"{words} is recorded as {recorded.get(key)}, judged again it is {made[key]}"
        for key, words in (("ready_until", "until when it is ready"), ("not_before", "before when no clearing counts"))
        if recorded.get(key) != made[key]
    ]
    if (recorded["tag"] or "") != made["tag"]:
        said.append("its tag")
    return said


def _same_pairs(one: Sequence[tuple[str, str]], other: Sequence[tuple[str, str]]) -> bool:
    return [name for name, _ in one] == [name for name, _ in other] and all(
        _same(a, b) for (_, a), (_, b) in zip(one, other, strict=True)
    )


def _same(one: str, other: str) -> bool:
    """The same text, or the same number to within NEAR."""
    if one == other:
        return True
    try:
        return _near(one, other)
    except ValueError:
        return False


def _near(one: Any, other: Any) -> bool:
    return math.isclose(float(one), float(other), rel_tol=NEAR, abs_tol=1e-12)
