"""The way through all events of a journal, chain by chain: what was changed, exchanged, or is missing is named.

Works on a connection that `verify.reading` made.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any, Final

from procedures.journal.envelope import Event, decode, digest
from procedures.journal.moments import COUNTS, clock_number, utc_text
from procedures.trouble import Trouble

BROKEN_BYTES: Final = "its bytes are not those that its hash was made of"
NAMED_OTHERWISE: Final = "the event after it names another hash: this one was changed after it had been recorded"
ONE_OF_BOTH: Final = "it and the next do not fit together: one of both was changed or exchanged"


@dataclass(frozen=True, slots=True)
class Changed:
    """An event that is not as it was written, or is not here: whose, which number, what kind, when, and what is wrong.

    `kind` and `when` (UTC, as the journal writes times) are as far as they can still be read; empty when not.
    """

    station: str
    seq: int
    kind: str
    when: str
    what: str


@dataclass(frozen=True, slots=True)
class Looked:
    """What came of looking through the chains. `readable`: every event's bytes are an event and fit their hash."""

    events: int
    changed: tuple[Changed, ...]
    readable: bool


def look_through(db: sqlite3.Connection, enter: Callable[[int, Event], None] | None = None) -> Looked:
    """Look at every event of every chain of a journal that `reading` opened, and at those that wait.

    `enter` is given each event that could be read and fits its hash, with its number, so that nobody reads it again.
    """
    walk = _Walk(db)
    rows = db.execute("SELECT id, chain, seq, hash, hlc, raw FROM kept.events ORDER BY chain, seq")
    for found in rows:
        row = Row(*found)
        walk.lookrow_at(row)
        if enter is not None and row.event is not None:
            enter(row.id, row.event)
    walk.end_chain()
    walk.look_at_waiting()
    return Looked(walk.events, tuple(walk.changed), walk.readable)


@dataclass(slots=True)
class Row:
    """One row of the table of events; `event` and `read` are filled in when it is looked at."""

    id: int
    chain: int
    seq: int
    hash: Any
    hlc: Any
    raw: Any
    event: Event | None = None
    made: str = ""
    """The hash of the bytes as they are."""

    @property
    def kept(self) -> str:
        """The hash that is kept beside the bytes."""
        return self.hash.hex() if isinstance(self.hash, bytes) else ""


@dataclass(slots=True)
class _Walk:
    """The way through all events, chain by chain; what is wrong gathers in `changed`."""

    db: sqlite3.Connection
    events: int = 0
    readable: bool = True
    changed: list[Changed] = field(default_factory=list)
    before: Row | None = None
    split: tuple[Row, Row] | None = None
    """Two events that do not fit, until the one after them shows which of them was changed."""
    chains: dict[int, tuple[str, int | None, int]] = field(default_factory=dict)
    seen: dict[str, tuple[str, int, int] | None] = field(default_factory=dict)
    missed: set[tuple[str, int, str]] = field(default_factory=set)

    def __post_init__(self) -> None:
        rows = self.db.execute("SELECT id, station, parent, begins FROM kept.chains")
        self.chains = {number: (str(station), parent, begins) for number, station, parent, begins in rows}

    def lookrow_at(self, row: Row) -> None:
        """One event, after all those before it in its chain."""
        self.events += 1
        if self.before is not None and self.before.chain != row.chain:
            self.end_chain()
        self._read(row)
        if self.before is None:
            self._begins(row)
        else:
            self._follows(self.before, row)
        if row.event is not None:
            self._is_filed_as_it_says(row, row.event)
            if row.event.seen:
                self._had_seen(row.event)
        self.before = row

    def end_chain(self) -> None:
        """Nothing follows in this chain."""
        self._settle(vouched=False)
        self.before = None

    def look_at_waiting(self) -> None:
        """Events that wait for others: their bytes alone can be looked at."""
        for hashed, station, seq, raw in self.db.execute("SELECT hash, station, seq, raw FROM kept.held"):
            if not isinstance(raw, bytes) or not isinstance(hashed, bytes) or digest(raw) != hashed.hex():
                self.changed.append(Changed(str(station), seq, "", "", f"it waits for others, and {BROKEN_BYTES}"))

    def _read(self, row: Row) -> None:
        if not isinstance(row.raw, bytes):
            self._tell(row, "it is no longer bytes")
            self.readable = False
            return
        row.made = digest(row.raw)
        if row.made != row.kept:
            self._tell(row, BROKEN_BYTES)
            self.readable = False
            return
        try:
            row.event = decode(row.raw, hashed=row.made)
        except Trouble as unreadable:
            self._tell(row, unreadable.what)
            self.readable = False

    def _begins(self, row: Row) -> None:
        _, parent, begins = self.chains.get(row.chain, ("", None, 1))
        if row.seq != begins:
            self._tell_missing(row, begins, row.seq - 1)
        elif parent is not None:
            found = self.db.execute(
                "SELECT id, chain, seq, hash, hlc, raw FROM kept.events WHERE chain = ? AND seq = ?",
                (parent, begins - 1),
            ).fetchone()
            if found is None:
                self._tell_missing(row, begins - 1, begins - 1)
            elif row.event is not None and row.event.prev != Row(*found).kept:
                self._tell(row, "it does not follow the event that its branch left")
        elif row.event is not None and (row.seq, row.event.kind, row.event.prev) != (1, "station-begun", ""):
            self._tell(row, "the first event of a station says that the station begins; this one does not")

    def _follows(self, before: Row, row: Row) -> None:
        if row.seq != before.seq + 1:
            self._settle(vouched=False)
            self._tell_missing(row, before.seq + 1, row.seq - 1)
            return
        if row.event is None:
            self._settle(vouched=False)
            return
        fits = row.event.prev in (before.kept, before.made)
        self._settle(vouched=fits)
        if not fits:
            self.split = (before, row)
        if before.event is not None and row.event.hlc <= before.event.hlc:
            self._tell(row, "its logical clock is not past that of the event before it")

    def _settle(self, *, vouched: bool) -> None:
        """The later of two that do not fit is `vouched` for by the one after it, or it is not."""
        if self.split is None:
            return
        earlier, later = self.split
        self.split = None
        if vouched:
            self._tell(earlier, NAMED_OTHERWISE)
        else:
            self._tell(earlier, ONE_OF_BOTH)
            self._tell(later, "it and the one before it do not fit together: one of both was changed or exchanged")

    def _is_filed_as_it_says(self, row: Row, event: Event) -> None:
        station = self.chains.get(row.chain, ("", None, 1))[0]
        if (event.station, event.seq) != (station, row.seq):
            self._tell(row, f"by its own words it is event {event.seq} of station {event.station}")
        if clock_number(event.hlc) != row.hlc:
            self._tell(row, "the table gives it another logical clock than it has")

    def _had_seen(self, event: Event) -> None:
        for name, (seq, hashed) in (event.seen or {}).items():
            station = name.partition("#")[0]
            found = self._place(hashed)
            if found is None:
                if (station, seq, hashed) not in self.missed:
                    self.missed.add((station, seq, hashed))
                    self.changed.append(self._not_here(event, station, seq, hashed))
            elif found[:2] != (station, seq) or found[2] >= clock_number(event.hlc):
                what = f"it says that it had seen event {seq} of station {station}, which does not fit that event"
                self.changed.append(Changed(event.station, event.seq, event.kind, utc_text(event.utc), what))

    def _not_here(self, event: Event, station: str, seq: int, hashed: str) -> Changed:
        by = f"event {event.seq} of station {event.station} had seen it with the hash {hashed[:16]}…"
        here = row_at(self.db, station, seq)
        if here is None:
            return Changed(station, seq, "", "", f"it is missing: {by}")
        return Changed(station, seq, *told_of(self.db, here), f"it was changed: {by}")

    def _place(self, hashed: str) -> tuple[str, int, int] | None:
        if hashed not in self.seen:
            if len(self.seen) > 10_000:
                self.seen.clear()
            self.seen[hashed] = self.db.execute(
                "SELECT c.station, e.seq, e.hlc FROM kept.events e JOIN kept.chains c ON c.id = e.chain"
                " WHERE e.hash = ?",
                (bytes.fromhex(hashed),),
            ).fetchone()
        return self.seen[hashed]

    def _tell(self, row: Row, what: str) -> None:
        station = self.chains.get(row.chain, ("", None, 1))[0]
        self.changed.append(Changed(station, row.seq, *told_of(self.db, row), what))

    def _tell_missing(self, row: Row, first: int, last: int) -> None:
        station = self.chains.get(row.chain, ("", None, 1))[0]
        which = f"event {first} is" if first >= last else f"events {first} to {last} are"
        self.changed.append(Changed(station, first, "", "", f"missing: {which} not here, though event {row.seq} is"))


def row_at(db: sqlite3.Connection, station: str, seq: int) -> Row | None:
    """The event of a station with this number, on its first chain where it has several."""
    found = db.execute(
        "SELECT e.id, e.chain, e.seq, e.hash, e.hlc, e.raw FROM kept.chains c JOIN kept.events e ON e.chain = c.id"
        " WHERE c.station = ? AND e.seq = ? LIMIT 1",
        (station, seq),
    ).fetchone()
    return None if found is None else Row(*found)


def told_of(db: sqlite3.Connection, row: Row) -> tuple[str, str]:
    """Kind and time of an event, from beside it where its own bytes cannot be believed."""
    if row.event is not None:
        return row.event.kind, utc_text(row.event.utc)
    fields: Mapping[str, Any] = {}
    with suppress(ValueError, TypeError, RecursionError):
        fields = json.loads(bytes(row.raw).decode("utf-8", "replace"))
    indexed = db.execute("SELECT kind FROM kept.about WHERE event = ? LIMIT 1", (row.id,)).fetchone()
    kind = indexed[0] if indexed else fields.get("kind") if isinstance(fields, dict) else None
    return kind if isinstance(kind, str) else "", _when(row.hlc)


def _when(hlc: object) -> str:
    """The moment of a logical clock, to the millisecond; empty when it is none."""
    if not isinstance(hlc, int):
        return ""
    try:
        return utc_text(datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=hlc // COUNTS))
    except OverflowError:
        return ""
