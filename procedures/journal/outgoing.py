"""What one laptop has and another has not: by the milestones that the other one gave of its chains."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from procedures.journal import log
from procedures.journal.exchange import Milestones

_PAGE = 1000


def milestones(db: sqlite3.Connection) -> Milestones:
    """For each chain its head and events 1, 2, 4, 8, … before it, down to where the chain begins."""
    heads = log.heads(db)
    names = log.names(heads)
    begins = {number: first for number, _, first in log.chains(db)}
    found: dict[str, tuple[tuple[int, str], ...]] = {}
    for head in heads:
        wanted = [head.seq]
        back = 1
        while head.seq - back >= begins[head.chain]:
            wanted.append(head.seq - back)
            back *= 2
        marks = (
            db.execute("SELECT seq, hash FROM events WHERE chain = ? AND seq = ?", (head.chain, seq)).fetchone()
            for seq in wanted
        )
        found[names[head.chain]] = tuple((seq, hashed.hex()) for seq, hashed in marks)
    return found


def missing_there(db: sqlite3.Connection, there: Milestones | None) -> list[int]:
    """Numbers of the events that whoever gave these milestones has not, in the order they came in here.

    Whoever has an event has all that its chain holds before it. None: it has nothing.
    """
    known = _known_up_to(db, there or {})
    numbers: list[int] = []
    for chain, _, begins in log.chains(db):
        numbers += (
            row[0]
            for row in db.execute(
                "SELECT id FROM events WHERE chain = ? AND seq > ?", (chain, known.get(chain, begins - 1))
            )
        )
    return sorted(numbers)


def _known_up_to(db: sqlite3.Connection, there: Milestones) -> dict[int, int]:
    parents = {number: (parent, begins) for number, parent, begins in log.chains(db)}
    known: dict[int, int] = {}
    for _, hashed in (mark for marks in there.values() for mark in marks):
        place = log.place(db, hashed)
        while place is not None and known.get(place[0], -1) < place[1]:
            chain, seq = place
            known[chain] = seq
            parent, begins = parents[chain]
            place = None if parent is None else (parent, begins - 1)
    return known


def raws(db: sqlite3.Connection, numbers: list[int]) -> Iterator[bytes]:
    """The bytes of these events, then of all that wait here for others: nothing is kept back from anybody."""
    for start in range(0, len(numbers), _PAGE):
        page = numbers[start : start + _PAGE]
        asked = ",".join("?" * len(page))
        for (raw,) in db.execute(f"SELECT raw FROM events WHERE id IN ({asked}) ORDER BY id", page):
            yield raw
    for (raw,) in db.execute("SELECT raw FROM held ORDER BY station, seq, hash"):
        yield raw
