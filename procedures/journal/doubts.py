"""Uses in doubt: which uses have to be looked at again when an instrument is found failing, or went out unchecked.

A check made at the keyboard is placed among the uses by what its writer had seen. One made on paper was entered later,
perhaps elsewhere: it is placed by the time that stands on the paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from procedures.journal.envelope import Event, local_day
from procedures.journal.events import body_of, failed, failed_as_found
from procedures.journal.lineage import UNFORKED, Lineage
from procedures.journal.moments import milliseconds, utc_moment

USES: Final = frozenset({"handed-out", "emergency-use"})
"""Kinds of event by which an instrument goes into use."""

DECIDE: Final = (
    *sorted(USES),
    "opened",
    "found",
    "failed-by-judgement",
    "ended",
    "withdrawn",
    "calibrated",
    "returned",
    "paper-entered",
    "locked-out",
)
"""Kinds of event that can have to do with which uses are in doubt."""

UNCHECKED: Final = "unchecked"
"""The kind of doubt of a use that no check that counts came before."""

RETURN: Final = "return"
"""The kind of the look that is taken at an instrument when it comes back. A whole checkout looks at no less."""


BY_HAND: Final = "by hand"
"""The kind of a doubt because a person took the instrument out of service: nobody can say since when it was bad. What
was good before it is what would be at its return."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """A failure, the last good check of its kind before it (None: there never was one), and the uses in doubt by it."""

    cause: Event
    kind: str
    """Kind of step that failed, "calibration", "return", "by hand", "unchecked"; "" where the record says no kind."""
    since: Event | None
    uses: tuple[Event, ...]
    """`handed-out` and `emergency-use` events, oldest first."""
    at: datetime
    """When it was found: for a check on paper, the time that stands there."""


@dataclass(frozen=True, slots=True)
class _Look:
    """One thing that was looked at, well or ill: of what kind, when, and in which checkout."""

    event: Event
    kind: str
    began: Event
    """From where its writer knew what they were looking at: the opening of its checkout, or the event itself."""
    at: datetime
    on_paper: bool = False
    checkout: str = ""
    day: str = ""
    """Of a calibration the day it was made, which may be long before it was recorded."""


Readable = tuple[Event, Mapping[str, Any]]


def when_used(use: Event) -> datetime:
    """When a use was: of one that was reported afterwards, when whoever reported it says that it was."""
    body = body_of(use)
    said = None if body is None else body.get("used_at")
    return utc_moment(said) if isinstance(said, str) else use.utc


def may_put_in_doubt(event: Event) -> bool:
    """Whether uses can be in doubt because of this event alone."""
    body = body_of(event)
    return body is not None and (event.kind == "emergency-use" or bool(kinds_found_bad(event, body)))


def uses_in_doubt(events: Iterable[Event], *, lineage: Lineage = UNFORKED) -> tuple[Doubt, ...]:
    """One Doubt for each kind in which a failure among the events of one instrument puts a use in doubt, oldest first.

    Wanted are all events about it of the kinds in DECIDE. A use is left out only where a good check is known to
    have begun after it, or its writer knew of the failure; of an emergency use, where they knew too that a whole check
    had passed since. Between stations "last" goes by the logical clock.
    """
    ordered = [
        (event, body)
        for event in sorted(set(events), key=lambda one: one.stamp)
        if (body := body_of(event)) is not None
    ]
    uses = [event for event, _ in ordered if event.kind in USES]
    void = {body["checkout"] for event, body in ordered if event.kind == "withdrawn"}
    good, bad = _looks(ordered)
    passed = [(opening, ending) for opening, ending in _whole_passes(ordered) if opening.hash not in void]
    doubts = []
    for failure in bad:
        spent = void | {failure.checkout} if failure.checkout else void
        alike = RETURN if failure.kind == BY_HAND else failure.kind
        before = [one for one in good.get(alike, ()) if one.checkout not in spent]
        unknowing = [use for use in uses if not _knew(use, failure, passed, lineage)]
        doubts.append(_doubt(failure, before, unknowing, lineage))
    for use in uses:
        if use.kind == "emergency-use" and not _made_good(use, passed, doubts, lineage):
            doubts.append(Doubt(use, UNCHECKED, None, (use,), use.utc))
    return tuple(sorted((one for one in doubts if one.uses), key=lambda one: one.cause.stamp))


def _looks(ordered: Sequence[Readable]) -> tuple[dict[str, list[_Look]], list[_Look]]:
    """Good looks by kind and failures, each in the order of the logical clock."""
    openings = {event.hash: event for event, _ in ordered if event.kind == "opened"}
    whole = {ending.hash for _, ending in _whole_passes(ordered)}
    good: dict[str, list[_Look]] = {}
    bad = []
    for event, body in ordered:
        for kind in _kinds_good(event, body, whole):
            good.setdefault(kind, []).append(_look(event, body, kind, openings))
        bad += [_look(event, body, kind, openings) for kind in kinds_found_bad(event, body)]
    return good, bad


def _look(event: Event, body: Mapping[str, Any], kind: str, openings: Mapping[str, Event]) -> _Look:
    if event.kind == "paper-entered":
        # Nobody can have looked after they wrote down what they saw.
        return _Look(event, kind, event, min(utc_moment(body["observed"]), event.utc), on_paper=True)
    if event.kind == "calibrated":
        return _Look(event, kind, event, event.utc, day=body["on"])
    checkout = body["checkout"] if event.kind in ("found", "failed-by-judgement", "ended") else ""
    return _Look(event, kind, openings.get(checkout, event), event.utc, checkout=checkout)


def kinds_found_bad(event: Event, body: Mapping[str, Any]) -> list[str]:
    """Kinds of step that this event finds failing; "" for a failure that does not say of which kind."""
    match event.kind:
        case "found" if failed_as_found(body["finding"]):
            return [body["finding"]["kind"]]
        case "failed-by-judgement":
            # Where it does not say of which kind, no good check is known to have spoken for it.
            return [str(body.get("kind", ""))]
        case "calibrated" if body["as_found"] == "outside":
            return ["calibration"]
        case "returned" if body.get("check") == "bad":
            return [RETURN]
        case "locked-out" if body.get("by_hand"):
            return [BY_HAND]
        case "paper-entered":
            kinds = [one["kind"] for one in body.get("findings", ()) if failed_as_found(one)]
            locked = body["ending"] == "locked out" and not any(failed(one) for one in body.get("findings", ()))
            return list(dict.fromkeys([*kinds, ""] if locked else kinds))
    return []


def kinds_found_good(event: Event, body: Mapping[str, Any]) -> list[str]:
    """Kinds of step that this event by itself finds good."""
    return _kinds_good(event, body, set())


def _kinds_good(event: Event, body: Mapping[str, Any], whole: set[str]) -> list[str]:
    match event.kind:
        case "found" if _is_good(body["finding"]):
            return [body["finding"]["kind"]]
        case "calibrated" if body["as_found"] == "within":
            return ["calibration"]
        case "returned" if body.get("check") == "good":
            return [RETURN]
        case "ended" if event.hash in whole:
            return [RETURN]
        case "paper-entered":
            kinds = [one["kind"] for one in body.get("findings", ()) if _is_good(one)]
            return list(dict.fromkeys([*kinds, RETURN] if body["ending"] == "fit for use" else kinds))
    return []


def _is_good(finding: Mapping[str, Any]) -> bool:
    return finding["outcome"] in ("pass", "warn") and not failed_as_found(finding)


def _whole_passes(ordered: Sequence[Readable]) -> list[tuple[Event, Event]]:
    """Opening and ending of each checkout that ended fit for use and never otherwise, and that nobody failed."""
    openings = {event.hash: event for event, _ in ordered if event.kind == "opened"}
    spoilt = {
        body["checkout"]
        for event, body in ordered
        if event.kind == "failed-by-judgement" or (event.kind == "ended" and body["ending"] != "fit for use")
    }
    return [
        (openings[body["checkout"]], event)
        for event, body in ordered
        if event.kind == "ended" and body["checkout"] in openings and body["checkout"] not in spoilt
    ]


def _doubt(failure: _Look, good: Sequence[_Look], uses: Sequence[Event], lineage: Lineage) -> Doubt:
    before = [one for one in reversed(good) if _was_before(one, failure)]
    in_doubt = tuple(
        use
        for use in uses
        if not (
            any(_between(failure, one, use, lineage) for one in good)
            if failure.on_paper and use.utc >= failure.at
            else any(_began_after(one, use, lineage) for one in before)
        )
    )
    since = max(before, key=_when, default=None)
    return Doubt(failure.event, failure.kind, None if since is None else since.event, in_doubt, failure.at)


def _when(look: _Look) -> tuple[int, tuple[tuple[int, int], str, str]]:
    """Where a look stands among others in time, to the millisecond: one at the keyboard by the logical clock."""
    return milliseconds(look.at) if look.on_paper else look.event.hlc[0], look.event.stamp


def _knew(use: Event, failure: _Look, passed: Iterable[tuple[Event, Event]], lineage: Lineage) -> bool:
    """Whether a use began knowing of a failure, and the failure does not touch it.

    An instrument that is known to be bad is not handed out; in an emergency it may be, or may have been before anybody
    wrote that down. Then it must have been known as well that a whole check had passed since the failure.
    """
    if not lineage.saw(use, failure.event):
        return False
    return use.kind != "emergency-use" or any(
        lineage.saw(use, ending) and (opening.hash == failure.checkout or lineage.saw(opening, failure.event))
        for opening, ending in passed
    )


def _was_before(good: _Look, failure: _Look) -> bool:
    if good.on_paper or failure.on_paper:
        return good.at < failure.at
    return good.event.stamp < failure.event.stamp


def _began_after(good: _Look, use: Event, lineage: Lineage) -> bool:
    if good.on_paper:
        return use.utc < good.at
    return lineage.saw(good.began, use) and (not good.day or good.day >= local_day(use))


def _between(failure: _Look, good: _Look, use: Event, lineage: Lineage) -> bool:
    """Whether a good look began after what was found on paper and was known when the instrument went into use."""
    if good.on_paper:
        return failure.at < good.at < use.utc
    began = good.began.utc > failure.at and (not good.day or good.day > failure.at.date().isoformat())
    return began and lineage.saw(use, good.event)


def _made_good(use: Event, passed: Iterable[tuple[Event, Event]], doubts: Iterable[Doubt], lineage: Lineage) -> bool:
    """Whether a use without a check was followed by a whole one that passed, and by no failure before that."""
    failures = [one for one in doubts if use in one.uses]
    return any(
        lineage.saw(opening, use) and not any(_found_before(one, ending) for one in failures)
        for opening, ending in passed
    )


def _found_before(doubt: Doubt, ending: Event) -> bool:
    if doubt.cause.kind == "paper-entered":
        return doubt.at < ending.utc
    return doubt.cause.stamp < ending.stamp
