"""The tables that screens read: filled in the transaction of the events they come from, and made anew on demand.

They hold thresholds, never anything that goes stale with the clock. An answer touches the one row of its checkout; only
an event that weighs makes the things it is about be folded again. Nothing that decides fitness trusts these tables.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any, Final

from procedures.journal import log
from procedures.journal.envelope import Event
from procedures.journal.events import CHECKOUT_KINDS, NOT_WEIGHTY
from procedures.journal.fold_instrument import fold_instrument
from procedures.journal.fold_things import after, fold_checkout, fold_profile, fold_source, fold_thing
from procedures.journal.lineage import UNFORKED, Branch, Lineage
from procedures.journal.moments import utc_text
from procedures.journal.rows import checkout_row, read_checkout
from procedures.journal.states import CheckoutState, InstrumentState, SourceState, ThingState

NAMES = ("instruments", "sources", "people", "things", "profiles", "open_checkouts", "tallies")

INDEX_DAMAGED: Final = "The records about this instrument are damaged: the site lead verifies them first."

Entered = tuple[Event, log.Entry]


def follow(db: sqlite3.Connection, entered: Iterable[Entered]) -> None:
    """Bring the tables up to date with events just added at the end of this file's own chain."""
    changed: set[str] = set()
    for event, entry in entered:
        if event.kind == "opened":
            _write_checkout(db, event.hash, fold_checkout([event]))
        elif event.kind in CHECKOUT_KINDS:
            checkout = event.body["checkout"]
            state = read_checkout(db, checkout)
            if state is not None:
                _write_checkout(db, checkout, after(state, event))
        if entry.weighs != NOT_WEIGHTY:
            changed |= entry.concerned
    for entity in sorted(changed):
        refold(db, entity)


def arrived(db: sqlite3.Connection, entities: Iterable[str]) -> None:
    """Bring the tables up to date with whatever came in about these things, in whatever order."""
    for entity in sorted(set(entities)):
        if log.was_opened(db, entity):
            _write_checkout(db, entity, fold_checkout(log.about(db, entity)))
        else:
            refold(db, entity)


def rebuild(db: sqlite3.Connection) -> None:
    """Make the index and every table anew from the events."""
    for name in ("about", *NAMES):
        db.execute(f"DELETE FROM {name}")
    entities: set[str] = set()
    for number, event in log.everything(db):
        entities |= log.index(db, number, event).concerned
    arrived(db, entities)


def refold(db: sqlite3.Connection, entity: str) -> None:
    """Fold one thing again and write its row; nothing to do for what has no table."""
    if entity.startswith("profile:"):
        _write_profile(db, entity)
        return
    registering = log.by_hash(db, entity)
    if registering is None or registering.kind != "registered":
        return
    events = log.about(db, entity, weighty=True)
    what = registering.body.get("what")
    thing: InstrumentState | SourceState | ThingState
    if what == "instrument":
        thing = fold_from(db, entity, events)
        _write_instrument(db, thing)
    elif what == "source":
        thing = fold_source(entity, events)
        _write_source(db, thing)
    else:
        thing = fold_thing(entity, events)
        if what == "person":
            _write_person(db, thing)
    db.execute(
        "REPLACE INTO things VALUES (?, ?, ?, ?)",
        (entity, _text(what), _text(thing.fields.get("label")), not thing.retired),
    )


def instrument_now(db: sqlite3.Connection, instrument: str) -> InstrumentState:
    """Fold an instrument afresh from everything that weighs on it. It is not fit where the index has lost a line."""
    events = log.about(db, instrument, weighty=True)
    state = fold_from(db, instrument, events)
    if log.tally(db, instrument) == log.tally_of(events):
        return state
    standing = replace(state.standing, problems=(INDEX_DAMAGED, *state.standing.problems))
    return replace(state, standing=standing, counting=None)


def fold_from(db: sqlite3.Connection, instrument: str, events: Sequence[Event]) -> InstrumentState:
    """Fold these weighty events of an instrument, with what the file knows of forks and of events that wait."""
    held = db.execute("SELECT count(*) FROM held_about WHERE entity = ?", (instrument,)).fetchone()[0]
    return fold_instrument(instrument, events, lineage=lineage_of(db, events), held=held)


def lineage_of(db: sqlite3.Connection, events: Iterable[Event]) -> Lineage:
    """The branches of forked stations, as far as these events need them."""
    forked = frozenset(row[0] for row in db.execute("SELECT station FROM chains GROUP BY station HAVING count(*) > 1"))
    if not forked:
        return UNFORKED
    wanted: set[str] = set()
    for event in events:
        if event.station in forked:
            wanted.add(event.hash)
        for name, (_, hashed) in (event.seen or {}).items():
            if name.partition("#")[0] in forked:
                wanted.add(hashed)
    places = {hashed: place for hashed in wanted if (place := log.place(db, hashed)) is not None}
    branches = {number: Branch(parent, begins) for number, parent, begins in log.chains(db)}
    return Lineage(forked, branches, places)


def _write_instrument(db: sqlite3.Connection, state: InstrumentState) -> None:
    standing, fields, counting = state.standing, state.fields, state.counting
    db.execute(
        f"REPLACE INTO instruments VALUES ({','.join('?' * 24)})",
        (
            state.id,
            _text(fields.get("label")),
            _text(fields.get("type")),
            _text(fields.get("serial")),
            _text(fields.get("profile")),
            _json([[reason.code, reason.say] for reason in standing.locked]),
            standing.awaiting,
            None if standing.ready_until is None else utc_text(standing.ready_until),
            None if standing.newest is None else utc_text(standing.newest),
            _json(standing.problems),
            standing.why_not,
            None if counting is None else counting.checkout,
            _json({} if counting is None else counting.fit_for),
            _json([] if counting is None else counting.warnings),
            None if counting is None else counting.factor,
            state.whereabouts,
            state.where,
            None if state.handed is None else state.handed.to,
            None if state.handed is None else state.handed.until,
            state.contaminated,
            None if state.calibration is None else state.calibration.on,
            None if state.calibration is None else state.calibration.due,
            None if state.last_checked is None else utc_text(state.last_checked),
            state.retired,
        ),
    )


def _write_source(db: sqlite3.Connection, state: SourceState) -> None:
    db.execute(
        "REPLACE INTO sources VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            state.id,
            _text(state.fields.get("label")),
            _text(state.fields.get("nuclide")),
            state.whereabouts,
            state.where,
            state.out_with,
            state.leak_due,
            state.retired,
        ),
    )


def _write_person(db: sqlite3.Connection, state: ThingState) -> None:
    fields = state.fields
    roles = fields.get("roles")
    db.execute(
        "REPLACE INTO people VALUES (?, ?, ?, ?, ?, ?, ?)",
        (
            state.id,
            _text(fields.get("label")),
            _text(fields.get("name")),
            _text(fields.get("initials")),
            _json([_text(one) for one in roles] if isinstance(roles, list) else []),
            _text(fields.get("trained_until")) or None,
            state.retired,
        ),
    )


def _write_profile(db: sqlite3.Connection, entity: str) -> None:
    events = log.about(db, entity, weighty=True)
    if not events:
        return
    profile = fold_profile(entity.removeprefix("profile:"), events)
    chosen = profile.in_force
    db.execute(
        "REPLACE INTO profiles VALUES (?, ?, ?, ?, ?, ?)",
        (
            profile.id,
            None if chosen is None else chosen.event,
            None if chosen is None else chosen.revision,
            None if chosen is None else chosen.sha256,
            "" if chosen is None else chosen.title,
            _json(profile.heads),
        ),
    )


def _write_checkout(db: sqlite3.Connection, checkout: str, state: CheckoutState | None) -> None:
    if state is None or state.phase == "ended":
        db.execute("DELETE FROM open_checkouts WHERE checkout = ?", (checkout,))
    else:
        values = checkout_row(state)
        db.execute(f"REPLACE INTO open_checkouts VALUES ({','.join('?' * len(values))})", values)


def _text(value: object) -> str:
    """A described field as text: whatever another program put there, a screen can show it."""
    return value if isinstance(value, str) else "" if value is None else str(value)


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
