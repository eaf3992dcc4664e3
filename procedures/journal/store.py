"""The journal: one SQLite file for each site and laptop, to which events are only ever added.

Every method is one transaction: it sees one state of the file, and what it records is all there or not at all. A disk,
a file or another program that fails raises `Trouble`; `Overtaken` means that somebody else was faster, and the caller
has to read again and decide again.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import Final, Literal, Self

from procedures.clock import Instant
from procedures.journal import arrivals, files, index, log, making, schema, tables
from procedures.journal.arrivals import Taken
from procedures.journal.envelope import Draft, Event, Malformed, seal
from procedures.journal.events import (
    CATALOGUE,
    CHECKOUT_KINDS,
    EDITION,
    PRACTICE,
    check_about,
    check_body,
    must_end_fitness,
)
from procedures.journal.fields import MAY_SEE, SEES, is_station
from procedures.journal.moments import milliseconds, step_clock
from procedures.journal.reading import Reading
from procedures.journal.states import InstrumentState
from procedures.trouble import Trouble

Marking = Literal["real", "practice", "demo"]

MARKED: Final[Mapping[str, str]] = {"real": "real records", "practice": "practice", "demo": "a demonstration"}


class Overtaken(Exception):  # noqa: N818  what happened, not a fault
    """Something was recorded since the caller last looked: read again, decide again, then append."""


class _Undone(Exception):  # noqa: N818  takes a trial back
    pass


class Journal(Reading):
    """One journal file, open for reading and adding. Close it, or use it in a `with`."""

    def __init__(self, db: sqlite3.Connection, path: Path, marking: Marking) -> None:
        super().__init__(db, path)
        self.marking = marking
        self._file = files.identity(path)

    @classmethod
    def create(
        cls,
        path: Path,
        *,
        station: str,
        name: str,
        now: Instant,
        marking: Marking = "real",
        drafts: Sequence[Draft] = (),
        person: str | None = None,
    ) -> Self:
        """A new journal file that begins with its station, then `drafts`, in one transaction.

        `station` is a random id from outside. Raises Trouble when there is a file already or none can be made.
        """
        _station(station)
        _unused(path)
        db = files.connect(path, create=True)
        with _closed_on_failure(db):
            _require_blank(db, path)
            files.make_safe(db, path)
            with files.transaction(db, path):
                _require_blank(db, path)
                db.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
                while schema.version(db) < len(schema.MIGRATIONS):
                    schema.migrate_one(db)
                log.set_setting(db, "marking", marking)
                log.set_setting(db, "edition", EDITION)
                journal = cls(db, path, marking)
                journal._begin(station, name, None, now, person)
                journal._add(drafts, now)
        return journal

    @classmethod
    def open(
        cls,
        path: Path,
        *,
        marking: Marking = "real",
        wait: float = files.WAIT_SECONDS,
        told: Callable[[int], None] | None = None,
    ) -> Self:
        """The journal in this file, brought up to date. Costs the same however long it is, once it is up to date.

        `told` hears how many events have to be gone through first, where an earlier program made the index.
        Raises Trouble when the file is none, damaged, newer than this program, or marked otherwise than expected.
        """
        files.look_at(path)
        db = files.connect(path, wait=wait)
        with _closed_on_failure(db), files.in_words(path, unproved=True):
            _require_journal(db, path)
            found = log.setting(db, "marking")
            if found != marking:
                raise Trouble(
                    f"This journal holds {MARKED.get(found, found)}, not {MARKED[marking]}.",
                    where=str(path),
                    do="Open it in the mode it was made for. Practice and real records are never mixed.",
                )
            files.make_safe(db, path)
            _migrate(db, path)
            if not schema.is_whole(db):
                raise files.damaged(path)
            journal = cls(db, path, marking)
            journal._check_head()
            if log.setting(db, "edition") != EDITION:
                if told is not None:
                    told(journal.count())
                journal.rebuild()
        return journal

    @classmethod
    def fork(
        cls, path: Path, *, station: str, name: str, now: Instant, marking: Marking = "real", person: str | None = None
    ) -> Self:
        """Open a copied or restored file as a new station that names the head it goes on from.

        The old station's id may go on being used by the file that was copied; this file never writes under it again.
        """
        _station(station)
        journal = cls.open(path, marking=marking)
        with _closed_on_failure(journal._db), files.transaction(journal._db, path):
            if any(head.station == station for head in log.heads(journal._db)):
                raise Trouble(f"The station {station} is in this journal already.", do="Draw a new random id.")
            journal._begin(station, name, log.own_head(journal._db), now, person)
        return journal

    def close(self) -> None:
        """Let go of the file. Everything was on the disk already."""
        self._db.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    @contextmanager
    def made_up(self) -> Iterator[None]:
        """While a demonstration's past is made up, no event waits for the disk: it can be made up again.

        ValueError for a journal that holds anything else.
        """
        if self.marking != "demo":
            raise ValueError("only a demonstration may be written without waiting for the disk")
        self._db.execute("PRAGMA synchronous = OFF")
        try:
            yield
        finally:
            files.make_safe(self._db, self.path)
            with files.in_words(self.path):
                self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    # Adding

    def append(
        self, drafts: Sequence[Draft], now: Instant, *, expect: tuple[str, str] | None = None
    ) -> tuple[Event, ...]:
        """Record all the drafts or none; when this returns they are on the disk.

        `expect` names a checkout (or any thing) and the hash of the last event about it that the caller knows, empty
        for none: Overtaken is raised when another one has come since. Malformed is raised for a draft that no reader
        could use.
        """
        files.still_there(self.path, self._file)
        with files.transaction(self._db, self.path):
            self._still_ours()
            if expect is not None and log.last_about(self._db, expect[0]) != expect[1]:
                raise Overtaken(expect[0])
            return self._add(drafts, now)

    def trial(self, drafts: Sequence[Draft], now: Instant, instrument: str) -> InstrumentState:
        """What the state of an instrument would be with these drafts recorded. Nothing is recorded."""
        with suppress(_Undone), files.transaction(self._db, self.path):
            self._add(drafts, now)
            state = self._instrument_now(instrument)
            raise _Undone
        return state

    def _still_ours(self) -> None:
        """A newer program that opened the file meanwhile keeps other tables: this one must not write past them."""
        found = schema.version(self._db)
        if found != len(schema.MIGRATIONS):
            raise files.newer(self.path, found)

    def _add(self, drafts: Sequence[Draft], now: Instant) -> tuple[Event, ...]:
        db = self._db
        heads = log.heads(db)
        own = log.own_head(db, heads)
        names = log.names(heads)
        seen = {names[head.chain]: (head.seq, head.hash) for head in heads if head != own}
        clock = max(head.hlc for head in heads)
        seq, prev = own.seq, own.hash
        entered = []
        for draft in drafts:
            _check(db, draft)
            if draft.kind in PRACTICE and self.marking != "practice":
                raise Malformed(f"{draft.kind}: only a journal of practice holds this")
            clock = step_clock(clock, milliseconds(now.utc))
            event = seal(
                draft,
                version=CATALOGUE[draft.kind].version,
                ends_fitness=draft.ends_fitness or must_end_fitness(draft.kind, draft.body),
                station=own.station,
                seq=seq + 1,
                utc=now.utc,
                offset=now.offset,
                hlc=clock,
                prev=prev,
                seen=seen if draft.kind in SEES | MAY_SEE else None,
            )
            entered.append((event, index.insert(db, own.chain, event)))
            seq, prev = event.seq, event.hash
        tables.follow(db, entered)
        return tuple(event for event, _ in entered)

    def take(self, raws: Iterable[bytes], now: Instant) -> Taken:
        """Take in the bytes of events from other stations, in any order, any of them again. All or none.

        What refers to events that are missing, or to a time more than two minutes from now, is kept aside and tried
        again with the next call (`raws` may be empty). Raises Altered when something is not what a station wrote.
        """
        files.still_there(self.path, self._file)
        with files.transaction(self._db, self.path):
            self._still_ours()
            taken, touched = arrivals.take(self._db, raws, milliseconds(now.utc), log.own_head(self._db).chain)
            tables.arrived(self._db, touched)
        return taken

    def take_many(self, batches: Iterable[Iterable[bytes]], now: Instant, told: Callable[[Taken], None]) -> None:
        """As `take`, for more events than fit into memory: batch after batch, all or none. `told` hears of each."""
        files.still_there(self.path, self._file)
        touched: set[str] = set()
        with files.transaction(self._db, self.path):
            self._still_ours()
            writing = log.own_head(self._db).chain
            for raws in batches:
                taken, some = arrivals.take(self._db, raws, milliseconds(now.utc), writing)
                touched |= some
                told(taken)
            tables.arrived(self._db, touched)

    def remember(self, name: str, value: str) -> None:
        """Keep a word about this file itself, such as when it was last exchanged: no record, and never exchanged."""
        with files.transaction(self._db, self.path):
            log.set_setting(self._db, f"note {name}", value)

    def rebuild(self) -> None:
        """Make the index and the tables anew from the events."""
        with files.transaction(self._db, self.path):
            making.make_anew(self._db)
            log.set_setting(self._db, "edition", EDITION)

    def _begin(self, station: str, name: str, parent: log.Head | None, now: Instant, person: str | None) -> None:
        heads = log.heads(self._db)
        clock = max((head.hlc for head in heads), default=(0, 0))
        event = seal(
            Draft(
                "station-begun",
                {"name": name, "parent": None if parent is None else [parent.station, parent.seq, parent.hash]},
                person=person,
            ),
            version=1,
            ends_fitness=False,
            station=station,
            seq=1,
            utc=now.utc,
            offset=now.offset,
            hlc=step_clock(clock, milliseconds(now.utc)),
            prev="",
            seen=None,
        )
        chain = log.add_chain(self._db, station, None, 1)
        index.insert(self._db, chain, event)
        log.set_setting(self._db, "writing", str(chain))

    def _check_head(self) -> None:
        """The newest of what this station wrote must be what it wrote, and follow on what stands before it."""
        own = log.own_head(self._db)
        last = log.by_hash(self._db, own.hash)
        if last is None or (last.station, last.seq) != (own.station, own.seq):
            raise files.damaged(self.path)
        if last.seq > 1 and log.place(self._db, last.prev) != (own.chain, last.seq - 1):
            raise files.damaged(self.path)


def _check(db: sqlite3.Connection, draft: Draft) -> None:
    check_body(draft.kind, draft.body)
    check_about(draft.kind, draft.body, draft.about)
    if draft.kind in CHECKOUT_KINDS and not index.was_opened(db, draft.body["checkout"]):
        raise Malformed(f"{draft.kind}: no checkout {draft.body['checkout']} was opened here")


def _require_blank(db: sqlite3.Connection, path: Path) -> None:
    with files.in_words(path):
        if db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
            raise _exists(path)


def _require_journal(db: sqlite3.Connection, path: Path) -> None:
    mark = db.execute("PRAGMA application_id").fetchone()[0]
    if mark != schema.APPLICATION_ID:
        if not db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
            raise Trouble("This file is empty.", where=str(path), do="Use the newest good copy of the journal.")
        raise Trouble("This database is not a journal.", where=str(path), allowed="a journal made by this program")
    if schema.version(db) > len(schema.MIGRATIONS):
        raise files.newer(path, schema.version(db))


def _migrate(db: sqlite3.Connection, path: Path) -> None:
    if schema.version(db) < len(schema.MIGRATIONS):
        with files.transaction(db, path):
            # Another program may have been faster.
            while schema.version(db) < len(schema.MIGRATIONS):
                schema.migrate_one(db)


@contextmanager
def _closed_on_failure(db: sqlite3.Connection) -> Iterator[None]:
    try:
        yield
    except BaseException:
        db.close()
        raise


def _station(station: str) -> None:
    if not is_station(station):
        raise Malformed(f"a station is named by letters, digits, '.', '_' and '-', not {station!r}")


def _unused(path: Path) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.is_dir():
            raise Trouble("This is a folder, not a journal file.", where=str(path), do="Name a file inside it.")
        if path.exists() and not path.is_file():
            raise files.no_file(path)
        if path.exists():
            with path.open("rb") as file:
                start = file.read(len(files.MAGIC))
            if start not in (b"", files.MAGIC):
                raise _exists(path)
    except OSError as fault:
        raise Trouble(
            f"No journal can be made here ({fault}).",
            where=str(path),
            do="Choose a folder on this computer that you may write in.",
        ) from fault


def _exists(path: Path) -> Trouble:
    return Trouble("There is a file here already.", where=str(path), do="Open it, or choose another name.")
