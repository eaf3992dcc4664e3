"""How many lines of the index a fold must find about each thing, and what their hashes come to.

No hash protects the index by which a fold finds its events; this tells when a line of it is gone.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from itertools import groupby

from procedures.journal.envelope import Event

NOTHING = bytes(32)


def tally(db: sqlite3.Connection, entity: str) -> tuple[int, bytes]:
    """How many events a fold of this thing reads, and the exclusive or of their hashes, as they were indexed."""
    row = db.execute("SELECT n, digest FROM tallies WHERE entity = ?", (entity,)).fetchone()
    return (0, NOTHING) if row is None else (int(row[0]), bytes(row[1]))


def tally_of(events: Sequence[Event]) -> tuple[int, bytes]:
    """The same of the events that a fold has found."""
    digest = NOTHING
    for event in events:
        digest = _mixed(digest, event.hash)
    return len(events), digest


def count(db: sqlite3.Connection, entity: str, hashed: str, by: int) -> None:
    """A line more (1) or less (-1) that a fold of this thing reads."""
    number, digest = tally(db, entity)
    db.execute("REPLACE INTO tallies VALUES (?, ?, ?)", (entity, number + by, _mixed(digest, hashed)))


def make_anew(db: sqlite3.Connection) -> None:
    """All tallies from an index that is whole by now."""
    db.execute("DELETE FROM tallies")
    rows = db.execute(
        "SELECT a.entity, e.hash FROM about a JOIN events e ON e.id = a.event WHERE a.weighs > 0 ORDER BY a.entity"
    )
    made = []
    for entity, lines in groupby(rows, key=lambda row: row[0]):
        number, digest = 0, 0
        for _, hashed in lines:
            number, digest = number + 1, digest ^ int.from_bytes(hashed)
        made.append((entity, number, digest.to_bytes(32)))
    db.executemany("INSERT INTO tallies VALUES (?, ?, ?)", made)


def _mixed(digest: bytes, hashed: str) -> bytes:
    return (int.from_bytes(digest) ^ int(hashed, 16)).to_bytes(32)
