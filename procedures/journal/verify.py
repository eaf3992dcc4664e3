"""Looking a journal through: is every event what its station wrote, and is none missing before the newest.

Each event names the hash of the one before it in its station, so a changed, exchanged or removed event shows in what
follows it. The newest event of a station has nothing after it: that one was changed, or that the end of a chain was cut
off, shows only against a head that was kept elsewhere, by a person or by another station that had seen it.

Nothing here trusts more of the file than it has looked at, and nothing is written into it.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

from procedures.journal import files, schema
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
class Kept:
    """A head that was kept elsewhere: on paper, on a report, by another station."""

    station: str
    seq: int
    hash: str


@dataclass(frozen=True, slots=True)
class Looked:
    """What came of looking through the chains. `readable`: every event's bytes are an event and fit their hash."""

    events: int
    changed: tuple[Changed, ...]
    readable: bool


@contextmanager
def reading(path: Path) -> Iterator[sqlite3.Connection]:
    """The journal, attached as `kept` to an empty database that vanishes; all questions are answered from one state.

    Nothing is written into the file, and programs that write it go on. Raises Trouble when it is no journal of this
    program or of an earlier one, and when it turns out to be damaged where it is read.
    """
    files.look_at(path, writing=False)
    db = sqlite3.connect("", isolation_level=None, uri=True)
    try:
        with files.in_words(path, unproved=True):
            db.execute("ATTACH ? AS kept", (f"{path.absolute().as_uri()}?mode=ro",))
            _require_journal(db, path)
            db.execute("PRAGMA main.cache_size = -65536")
            db.execute("PRAGMA main.journal_mode = OFF")
            db.execute("BEGIN")
            # The snapshot begins with the first reading.
            db.execute("SELECT count(*) FROM kept.meta").fetchone()
            yield db
    finally:
        db.close()


def _require_journal(db: sqlite3.Connection, path: Path) -> None:
    if db.execute("PRAGMA kept.application_id").fetchone()[0] != schema.APPLICATION_ID:
        raise Trouble("This database is not a journal.", where=str(path), allowed="a journal made by this program")
    found = schema.version(db, "kept")
    if found > len(schema.MIGRATIONS):
        raise files.newer(path, found)


def marking_of(db: sqlite3.Connection) -> str:
    """Which sort of records the file says that it holds; "" when it no longer says."""
    row = db.execute("SELECT value FROM kept.meta WHERE name = 'marking'").fetchone()
    return "" if row is None else str(row[0])


def faults_of_file(db: sqlite3.Connection) -> tuple[str, ...]:
    """What is wrong with the file as a database: its pages, its tables and guards, numbers that are gone."""
    found = [f"the file is damaged: {row[0]}" for row in db.execute("PRAGMA kept.integrity_check(10)")]
    if found == ["the file is damaged: ok"]:
        found = []
    if schema.version(db, "kept") == len(schema.MIGRATIONS) and not schema.is_whole(db, "kept"):
        found.append("a table, an index or the guard against changing events is not as this program made it")
    least, most, count = db.execute("SELECT min(id), max(id), count(*) FROM kept.events").fetchone()
    if count and (least != 1 or most != count):
        missing = most - count
        found.append(f"{missing} event{'' if missing == 1 else 's'} that had been recorded in this file are gone")
    writing = db.execute("SELECT c.id FROM kept.meta m JOIN kept.chains c ON m.value = c.id WHERE m.name = 'writing'")
    if writing.fetchone() is None:
        found.append("the file no longer says which station it writes as")
    return tuple(found)


def look_through(db: sqlite3.Connection) -> Looked:
    """Look at every event of every chain of a journal that `reading` opened, and at those that wait."""
    walk = _Walk(db)
    rows = db.execute("SELECT id, chain, seq, hash, hlc, raw FROM kept.events ORDER BY chain, seq")
    for row in rows:
        walk.look_at(_Row(*row))
    walk.end_chain()
    walk.look_at_waiting()
    return Looked(walk.events, tuple(walk.changed), walk.readable)


@dataclass(slots=True)
class _Row:
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
    before: _Row | None = None
    split: tuple[_Row, _Row] | None = None
    """Two events that do not fit, until the one after them shows which of them was changed."""
    chains: dict[int, tuple[str, int | None, int]] = field(default_factory=dict)
    seen: dict[str, tuple[str, int, int] | None] = field(default_factory=dict)
    missed: set[tuple[str, int, str]] = field(default_factory=set)

    def __post_init__(self) -> None:
        rows = self.db.execute("SELECT id, station, parent, begins FROM kept.chains")
        self.chains = {number: (str(station), parent, begins) for number, station, parent, begins in rows}

    def look_at(self, row: _Row) -> None:
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

    def _read(self, row: _Row) -> None:
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
            row.event = decode(row.raw)
        except Trouble as unreadable:
            self._tell(row, unreadable.what)
            self.readable = False

    def _begins(self, row: _Row) -> None:
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
            elif row.event is not None and row.event.prev != _Row(*found).kept:
                self._tell(row, "it does not follow the event that its branch left")
        elif row.event is not None and (row.seq, row.event.kind, row.event.prev) != (1, "station-begun", ""):
            self._tell(row, "the first event of a station says that the station begins; this one does not")

    def _follows(self, before: _Row, row: _Row) -> None:
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

    def _is_filed_as_it_says(self, row: _Row, event: Event) -> None:
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
        here = _at(self.db, station, seq)
        if here is None:
            return Changed(station, seq, "", "", f"it is missing: {by}")
        return Changed(station, seq, *_told_of(self.db, here), f"it was changed: {by}")

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

    def _tell(self, row: _Row, what: str) -> None:
        station = self.chains.get(row.chain, ("", None, 1))[0]
        self.changed.append(Changed(station, row.seq, *_told_of(self.db, row), what))

    def _tell_missing(self, row: _Row, first: int, last: int) -> None:
        station = self.chains.get(row.chain, ("", None, 1))[0]
        which = f"event {first} is" if first >= last else f"events {first} to {last} are"
        self.changed.append(Changed(station, first, "", "", f"missing: {which} not here, though event {row.seq} is"))


def _at(db: sqlite3.Connection, station: str, seq: int) -> _Row | None:
    found = db.execute(
        "SELECT e.id, e.chain, e.seq, e.hash, e.hlc, e.raw FROM kept.chains c JOIN kept.events e ON e.chain = c.id"
        " WHERE c.station = ? AND e.seq = ? LIMIT 1",
        (station, seq),
    ).fetchone()
    return None if found is None else _Row(*found)


def _told_of(db: sqlite3.Connection, row: _Row) -> tuple[str, str]:
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


def compare_heads(db: sqlite3.Connection, kept: Iterable[Kept]) -> tuple[Changed, ...]:
    """What heads that were kept elsewhere show: ends that were cut off, and chains that were written anew."""
    found = []
    for head in kept:
        row = db.execute(
            "SELECT c.station, e.seq FROM kept.events e JOIN kept.chains c ON c.id = e.chain WHERE e.hash = ?",
            (bytes.fromhex(head.hash),),
        ).fetchone()
        if row == (head.station, head.seq):
            continue
        last = db.execute(
            "SELECT max(e.seq) FROM kept.chains c JOIN kept.events e ON e.chain = c.id WHERE c.station = ?",
            (head.station,),
        ).fetchone()[0]
        here = _at(db, head.station, head.seq)
        if last is None:
            what = "the head that was kept is of a station of which nothing is here"
        elif here is None:
            gone = f"event {head.seq} is" if last + 1 == head.seq else f"events {last + 1} to {head.seq} are"
            what = f"the end of this chain was cut off: {gone} not here"
        else:
            what = "it is not the event whose hash was kept: it was changed, or everything up to it was written anew"
        told = ("", "") if here is None else _told_of(db, here)
        found.append(Changed(head.station, head.seq, *told, what))
    return tuple(found)
