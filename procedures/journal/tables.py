"""The tables that screens read: filled in the transaction of the events they come from, and made anew on demand.

They hold thresholds, never anything that goes stale with the clock. An answer touches the one row of its checkout; only
an event that weighs makes the things it is about be folded again. Nothing that decides fitness trusts these tables.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

from procedures.journal import index, log, tables_doubts, tallies
from procedures.journal import tables_rows as write
from procedures.journal.envelope import Event
from procedures.journal.events import CHECKOUT_KINDS, NOT_WEIGHTY, body_of
from procedures.journal.fold_instrument import fold_instrument
from procedures.journal.fold_record import RECORDED_BY, fold_record
from procedures.journal.fold_things import OVER, SETS_PHASE, after, fold_checkout, fold_profile, fold_source, fold_thing
from procedures.journal.queries import read_checkout
from procedures.journal.states import InstrumentState, SourceState, ThingState

NAMES: Final = (
    "instruments",
    "sources",
    "people",
    "things",
    "profiles",
    "open_checkouts",
    "checkouts",
    "checkout_codes",
    "doubts",
    "lockouts",
    "happenings",
    "tallies",
)

INDEX_DAMAGED: Final = "The records about this instrument are damaged: the site lead verifies them first."

Entered = tuple[Event, index.Entry]


def follow(db: sqlite3.Connection, entered: Iterable[Entered]) -> None:
    """Bring the tables up to date with events just added at the end of this file's own chain."""
    changed: set[str] = set()
    doubted: set[str] = set()
    recorded: set[str] = set()
    failures: list[Entered] = []
    for event, entry in entered:
        if event.kind == "opened":
            write.write_open_checkout(db, event.hash, fold_checkout([event]))
            recorded.add(event.hash)
        elif event.kind in CHECKOUT_KINDS:
            checkout = event.body["checkout"]
            state = read_checkout(db, checkout)
            if state is not None:
                write.write_open_checkout(db, checkout, after(state, event))
            if event.kind in RECORDED_BY and (event.kind != "found" or entry.weighs != NOT_WEIGHTY):
                recorded.add(checkout)
        if entry.weighs != NOT_WEIGHTY:
            changed |= entry.concerned
            if event.kind in tables_doubts.ADDED and tables_doubts.may_change(db, event):
                failures.append((event, entry))
            elif tables_doubts.may_change(db, event):
                doubted |= entry.concerned
        if event.kind == "use-reviewed":
            tables_doubts.review(db, event.body["cause"])
    for checkout in sorted(recorded):
        write.write_record(db, checkout, fold_record(log.about(db, checkout, kinds=RECORDED_BY)))
    for entity in sorted(changed):
        refold(db, entity, doubts=entity in doubted)
    for event, entry in failures:
        for entity in sorted(entry.concerned - doubted):
            if is_instrument(db, entity):
                tables_doubts.add(db, entity, event)


def arrived(db: sqlite3.Connection, entities: Iterable[str]) -> None:
    """Bring the tables up to date with whatever came in about these things, in whatever order."""
    for entity in sorted(set(entities)):
        if index.was_opened(db, entity):
            over = _is_over(db, entity)
            # One that is over has no row among the open ones: of the dozens of its events only a few are read.
            events = log.about(db, entity, kinds=RECORDED_BY if over else None)
            write.write_open_checkout(db, entity, None if over else fold_checkout(events))
            write.write_record(db, entity, fold_record(events))
        else:
            refold(db, entity)
            tables_doubts.review(db, entity)


def _is_over(db: sqlite3.Connection, checkout: str) -> bool:
    last = log.about(db, checkout, kinds=SETS_PHASE, newest_first=True, limit=1)
    body = body_of(last[0]) if last else None
    return body is not None and last[0].kind in OVER and body["checkout"] == checkout


def refold(db: sqlite3.Connection, entity: str, *, doubts: bool = True) -> None:
    """Fold one thing again and write its row; nothing to do for what has no table.

    Without `doubts` the uses of an instrument that are in doubt stay as they are.
    """
    if entity.startswith("profile:"):
        events = log.about(db, entity, lasting=True)
        if events:
            write.write_profile(db, fold_profile(entity.removeprefix("profile:"), events))
        return
    registering = log.by_hash(db, entity)
    if registering is None or registering.kind != "registered":
        return
    what = registering.body.get("what")
    thing: InstrumentState | SourceState | ThingState
    if what == "instrument":
        events = index.of_instrument(db, entity)
        thing = fold_from(db, entity, events)
        write.write_instrument(db, thing)
        if doubts:
            tables_doubts.refold(db, entity)
    elif what == "source":
        known = index.of_source(db, entity)
        thing = fold_source(entity, known, lineage=log.lineage_of(db, known))
        write.write_source(db, thing)
    else:
        thing = fold_thing(entity, index.of_thing(db, entity))
        if what == "person":
            write.write_person(db, thing)
    write.write_thing(db, entity, what, thing.fields.get("label"), living=not thing.retired)


def is_instrument(db: sqlite3.Connection, entity: str) -> bool:
    """Whether this is an instrument that is registered here."""
    return db.execute("SELECT 1 FROM instruments WHERE id = ?", (entity,)).fetchone() is not None


def instrument_now(db: sqlite3.Connection, instrument: str) -> InstrumentState:
    """Fold an instrument afresh from everything that weighs on it. It is not fit where the index has lost a line."""
    events = index.of_instrument(db, instrument)
    state = fold_from(db, instrument, events)
    if tallies.tally(db, instrument) == tallies.tally_of(events):
        return state
    standing = replace(state.standing, problems=(INDEX_DAMAGED, *state.standing.problems))
    return replace(state, standing=standing, counting=None)


def fold_from(db: sqlite3.Connection, instrument: str, events: Sequence[Event]) -> InstrumentState:
    """Fold these weighty events of an instrument, with what the file knows of forks and of events that wait."""
    held = db.execute("SELECT count(*) FROM held_about WHERE entity = ?", (instrument,)).fetchone()[0]
    return fold_instrument(instrument, events, lineage=log.lineage_of(db, events), held=held)
