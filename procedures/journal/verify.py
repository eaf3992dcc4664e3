"""Looking a journal through: is every event what its station wrote, and is none missing before the newest.

Each event names the hash of the one before it in its station, so a changed, exchanged or removed event shows in what
follows it. The newest event of a station has nothing after it: that one was changed, or that the end of a chain was cut
off, shows only against a head that was kept elsewhere, by a person or by another station that had seen it.

Nothing here trusts more of the file than it has looked at, and nothing is written into it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from procedures.journal import files, schema
from procedures.journal.verify_chains import Changed, row_at, told_of
from procedures.trouble import Trouble


@dataclass(frozen=True, slots=True)
class Kept:
    """A head that was kept elsewhere: on paper, on a report, by another station."""

    station: str
    seq: int
    hash: str


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
        here = row_at(db, head.station, head.seq)
        if last is None:
            what = "the head that was kept is of a station of which nothing is here"
        elif here is None:
            gone = f"event {head.seq} is" if last + 1 == head.seq else f"events {last + 1} to {head.seq} are"
            what = f"the end of this chain was cut off: {gone} not here"
        else:
            what = "it is not the event whose hash was kept: it was changed, or everything up to it was written anew"
        told = ("", "") if here is None else told_of(db, here)
        found.append(Changed(head.station, head.seq, *told, what))
    return tuple(found)
