"""From the events about one instrument to its state.

Lockouts, clearings and passes are sets, and what counts is decided by what each writer had seen, so the order in which
events arrive never matters. Only describing fields go to the last writer. Rules in the comments are from the project's
design; where an event cannot be read or a clock not believed, the instrument is not fit for use.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from procedures.journal.envelope import Event
from procedures.journal.events import SET_AS_ONE, body_of, must_end_fitness
from procedures.journal.fold_lockouts import Checkout, Readable, checkouts_of, lockouts_of, passes_of
from procedures.journal.lineage import UNFORKED, Lineage
from procedures.journal.moments import utc_moment
from procedures.journal.states import (
    Binding,
    Calibration,
    HandOut,
    InstrumentState,
    Lockout,
    Pass,
    Standing,
)

CALIBRATED_AS_ONE = frozenset({"detector", "cable"})
"""Parts that are calibrated with the meter as one set: another one needs another calibration."""

NEWER = "A newer program wrote something about this instrument that this one cannot read."
WAITING = "Records about this instrument wait for others that have not arrived."
UNKNOWN = "This instrument is not registered here."
RETIRED = "This instrument is retired."


def fold_instrument(
    instrument: str, events: Iterable[Event], *, lineage: Lineage = UNFORKED, held: int = 0
) -> InstrumentState:
    """The state that these events about `instrument` justify, in whatever order they come.

    `held` counts events about it that arrived but wait for others: while there are any it is not fit for use.
    """
    ordered = sorted(set(events), key=lambda event: event.stamp)
    readable: list[Readable] = []
    unreadable: list[Event] = []
    for event in ordered:
        body = body_of(event)
        if body is None:
            unreadable.append(event)
        else:
            readable.append((event, body))
    checkouts = checkouts_of(instrument, readable, unreadable)
    passes = passes_of(checkouts, lineage)
    lockouts = lockouts_of(readable, checkouts, passes, lineage)
    described = _describe(instrument, readable)
    problems = _problems(described, unreadable, held)
    counting = None
    if all(one.status == "closed" for one in lockouts):
        enders = [event for event, body in reversed(readable) if ends_readiness(event, body)]
        counting = _counting(passes, checkouts, unreadable + enders, lineage)
    return InstrumentState(
        id=instrument,
        registered=described.registered,
        fields=described.fields,
        standing=_standing(lockouts, counting, ordered, problems, bool(checkouts)),
        lockouts=lockouts,
        passes=tuple(passes.values()),
        counting=counting,
        whereabouts=described.whereabouts,
        where=described.where,
        handed=described.handed,
        contaminated=described.contaminated,
        calibration=described.calibration,
        last_checked=_last_checked(checkouts),
        bindings=described.bindings,
        references=tuple(event for event, _ in reversed(readable) if event.kind == "reference-recorded"),
        repair=next((event for event, _ in reversed(readable) if event.kind == "repaired"), None),
        open_checkouts=tuple(one.id for one in checkouts.values() if one.opened and not one.over),
        retired=described.retired,
    )


class _Described:
    """The describing fields while events are read in order: the last writer wins."""

    def __init__(self) -> None:
        self.registered = False
        self.retired = False
        self.fields: dict[str, Any] = {}
        self.whereabouts = "here"
        self.where = ""
        self.handed: HandOut | None = None
        self.contaminated = False
        self.calibration: Calibration | None = None
        self.voided_on = ""
        """Day of the last repair that voided a calibration: no calibration made before it counts any more."""
        self.bindings: dict[str, Binding] = {}


def _describe(instrument: str, readable: Iterable[Readable]) -> _Described:
    into = _Described()
    for event, body in readable:
        match event.kind:
            case "registered" if event.hash == instrument and body["what"] == "instrument":
                into.registered = True
                into.fields = {key: value for key, value in body.items() if key != "what"} | into.fields
            case "described":
                into.fields.update(body["set"])
                if not CALIBRATED_AS_ONE.isdisjoint(body["set"]):
                    into.calibration = None
            case "retired":
                into.retired = True
            case "placed":
                into.whereabouts, into.where, into.handed = body["whereabouts"], body["where"], None
            case "handed-out" | "emergency-use":
                into.whereabouts, into.where, into.handed = "handed out", body["place"], _handed(event, body)
            case "returned":
                into.whereabouts, into.where, into.handed = "here", "", None
            case "contamination":
                into.contaminated = body["found"]
            case "calibrated" if body["on"] >= into.voided_on and _of_this_set(into, body):
                into.calibration = Calibration(
                    event.hash, body["on"], body["due"], body["by"], body["certificate"], body["as_found"]
                )
            case "repaired" if body["voids_calibration"]:
                into.calibration = None
                into.voided_on = max(into.voided_on, body["on"])
            case "cleared" if body["calibration_needed"]:
                into.calibration = None
            case "source-bound":
                into.bindings[body["role"]] = Binding(body["source"], body["jig"])
    return into


def _of_this_set(known: _Described, calibrated: Mapping[str, Any]) -> bool:
    """Whether a calibration is of the detector and cable that the meter has by now, where it says of which it is.

    Whoever recorded it on another laptop may not have heard of a change.
    """
    of = calibrated.get("set", {})
    return all(of[part] == known.fields.get(part, "") for part in CALIBRATED_AS_ONE if part in of)


def _handed(event: Event, body: Mapping[str, Any]) -> HandOut:
    back_by = body.get("back_by")
    return HandOut(
        event=event.hash,
        to=body["to"],
        job=body["job"],
        place=body["place"],
        until=body.get("until"),
        when=event.utc,
        back_by=None if back_by is None else utc_moment(back_by),
        emergency=event.kind == "emergency-use",
        person=event.person,
    )


def _counting(
    passes: Mapping[str, Pass], checkouts: Mapping[str, Checkout], enders: Sequence[Event], lineage: Lineage
) -> Pass | None:
    """The one pass whose opening had seen everything that ends a readiness, its own checkout's events excepted.

    `enders` come newest first: an older pass fails at once on the newest opening, which it cannot have seen.
    """
    for checkout, good in passes.items():
        one = checkouts[checkout]
        if one.opened and all(event in one.events or lineage.saw(one.opened, event) for event in enders):
            return good
    return None


def ends_readiness(event: Event, body: Mapping[str, Any]) -> bool:
    """Whether no pass whose opening had not seen this event counts any more."""
    if event.kind == "described":
        return event.ends_fitness or not SET_AS_ONE.isdisjoint(body["set"])
    return event.ends_fitness or must_end_fitness(event.kind, body)


def _problems(described: _Described, unreadable: list[Event], held: int) -> tuple[str, ...]:
    found = []
    if unreadable:
        found.append(NEWER)
    if held:
        found.append(WAITING)
    if not described.registered:
        found.append(UNKNOWN)
    if described.retired:
        found.append(RETIRED)
    return tuple(found)


def _standing(
    lockouts: Iterable[Lockout], counting: Pass | None, ordered: list[Event], problems: tuple[str, ...], checked: bool
) -> Standing:
    standing = [one for one in lockouts if one.status != "closed"]
    reasons = dict.fromkeys(reason for one in standing for reason in one.reasons)
    return Standing(
        locked=tuple(reasons),
        awaiting=bool(standing) and all(one.status == "awaiting check" for one in standing),
        ready_until=None if counting is None else counting.ready_until,
        newest=max((event.utc for event in ordered), default=None),
        problems=problems,
        why_not="It has to be checked again." if checked else "It has not been checked yet.",
    )


def _last_checked(checkouts: Mapping[str, Checkout]) -> datetime | None:
    """When a checkout last came to a verdict."""
    times = [
        event.utc
        for one in checkouts.values()
        if not one.withdrawn
        for event, body in one.ended
        if body["ending"] in ("fit for use", "locked out")
    ]
    return max(times, default=None)
