"""Events from other stations: checked, held back until all that they refer to is here, then added once.

An event is taken in only after the one before it in its station, every head that its writer had seen, the opening of
its checkout, and the registering of what it is about. So whatever order they come in, what is folded is closed: nothing
in it refers to what is missing. What waits is kept aside, and leaves the instruments it is about not fit for use.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from procedures.journal import index, log
from procedures.journal.envelope import Altered, Event, decode, reread
from procedures.journal.events import ODD, SUSPECT_AFTER_MS
from procedures.journal.fields import is_hash

Why = Literal["gap", "future"]


@dataclass(frozen=True, slots=True)
class Held:
    """An event that waits: for others that are missing, or for a time that the clock here has not reached."""

    station: str
    seq: int
    hash: str
    why: Why


@dataclass(frozen=True, slots=True)
class Fork:
    """Two events of one station with one sequence number: somewhere a file was copied and both copies were used."""

    station: str
    seq: int


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of the events that were brought."""

    added: tuple[Event, ...]
    """Newly in the journal, those included that had waited."""
    known: int
    """Here already."""
    held: tuple[Held, ...]
    """Everything that waits now."""
    forks: tuple[Fork, ...]
    """Every fork that the journal knows of now."""


def take(db: sqlite3.Connection, raws: Iterable[bytes], now_ms: int, writing: int) -> tuple[Taken, frozenset[str]]:
    """Add what can be added, keep the rest aside. Also gives back everything whose fold may have changed.

    Raises Altered, and adds nothing, when any of the bytes are not an event or contradict what is here.
    """
    waiting = {event.hash: event for event in _held_events(db)}
    known = 0
    touched: set[str] = set()
    for raw in raws:
        event = decode(raw, foreign=True)
        if log.place(db, event.hash) is not None or event.hash in waiting:
            known += 1
        else:
            waiting[event.hash] = event
    added = []
    _forget_held(db, touched)
    # Whatever an event depends on has an earlier clock, so one pass in that order finds all that can be added.
    for event in sorted(waiting.values(), key=lambda one: one.stamp):
        why = _obstacle(db, event, now_ms)
        if why is None:
            entry = index.insert(db, _chain_for(db, event, writing), event)
            added.append(event)
            touched |= entry.concerned
        else:
            touched |= _hold(db, event, why)
    return Taken(tuple(added), known, held(db), forks(db)), frozenset(touched)


def _obstacle(db: sqlite3.Connection, event: Event, now_ms: int) -> Why | None:
    """What an event has to wait for."""
    if event.hlc[0] > now_ms + SUSPECT_AFTER_MS:
        # One laptop with its clock in another year would put every later event of this one in doubt.
        return "future"
    needed = [(event.station, event.seq - 1, event.prev)] if event.seq > 1 else []
    needed += [(name.partition("#")[0], seq, hashed) for name, (seq, hashed) in (event.seen or {}).items()]
    missing = False
    for station, seq, hashed in needed:
        earlier = log.by_hash(db, hashed)
        if earlier is None:
            missing = True
        elif (earlier.station, earlier.seq) != (station, seq) or earlier.hlc >= event.hlc:
            raise Altered(
                f"Event {event.seq} of station {event.station} contradicts what it says it had seen.",
                do="Keep this file as it is, tell the site lead, and fetch the records again from that station.",
            )
    named = {one for one in (*event.about, str(event.body.get("checkout"))) if is_hash(one)}
    return "gap" if missing or any(log.place(db, one) is None for one in named) else None


def _chain_for(db: sqlite3.Connection, event: Event, writing: int) -> int:
    """The chain whose end this event follows, or a new branch where something else already follows there.

    Nothing that arrives is added to the chain this file writes: whoever wrote it uses a copy of this file.
    """
    before = log.place(db, event.prev) if event.prev else None
    if before is None:
        return log.add_chain(db, event.station, None, 1)
    chain, seq = before
    if chain != writing and log.last_of(db, chain) == seq:
        return chain
    return log.add_chain(db, event.station, chain, event.seq)


def _held_events(db: sqlite3.Connection) -> list[Event]:
    return [reread(raw, hashed) for raw, hashed in db.execute("SELECT raw, hash FROM held")]


def _forget_held(db: sqlite3.Connection, touched: set[str]) -> None:
    touched.update(row[0] for row in db.execute("SELECT DISTINCT entity FROM held_about"))
    db.execute("DELETE FROM held")


def _hold(db: sqlite3.Connection, event: Event, why: Why) -> frozenset[str]:
    key = bytes.fromhex(event.hash)
    db.execute("INSERT INTO held VALUES (?, ?, ?, ?, ?)", (key, event.station, event.seq, why, event.raw))
    concerned = index.concerns(db, event, ODD)
    db.executemany("INSERT INTO held_about VALUES (?, ?)", [(entity, key) for entity in concerned])
    return concerned


def held(db: sqlite3.Connection) -> tuple[Held, ...]:
    """Everything that waits, by station and sequence."""
    rows = db.execute("SELECT station, seq, hash, why FROM held ORDER BY station, seq, hash")
    return tuple(Held(station, seq, hashed.hex(), why) for station, seq, hashed, why in rows)


def forks(db: sqlite3.Connection) -> tuple[Fork, ...]:
    """Where stations' chains divide: every branch that leaves another, and every second beginning."""
    rows = db.execute(
        "SELECT DISTINCT station, begins FROM chains c WHERE parent IS NOT NULL"
        " OR EXISTS (SELECT 1 FROM chains o WHERE o.station = c.station AND o.parent IS NULL AND o.id < c.id)"
        " ORDER BY station, begins"
    )
    return tuple(Fork(*row) for row in rows)
