"""Making the index and every table from nothing, from all events in whatever order.

What would be asked of the file again and again is kept in mind meanwhile: little of each checkout, and only until it is
over, so that a journal of any size can be gone through.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass, field

from procedures.journal import index, log, tables, tallies
from procedures.journal import tables_rows as write
from procedures.journal.envelope import Event
from procedures.journal.events import body_of
from procedures.journal.fold_record import RECORDED_BY, fold_record
from procedures.journal.fold_things import OVER, SETS_PHASE
from procedures.journal.overtaken import Gathered


@dataclass(slots=True)
class _Running:
    """A checkout that is not over: what came last, and what decides its line."""

    last: tuple[tuple[int, int], str, str]
    events: list[Event] = field(default_factory=list)


class Making:
    """Index and tables while they are made. `enter` each event once, then `finish`."""

    def __init__(self, db: sqlite3.Connection) -> None:
        self._db = db
        self._gathered = Gathered()
        self._entities: set[str] = set()
        self._running: dict[str, _Running] = {}
        """Checkouts that are not over yet, with what decides their line in the records."""
        self._written: set[str] = set()
        """Checkouts that are over and whose line is written."""

    def enter(self, number: int, event: Event) -> None:
        """Enter one event in the index, and what follows from it alone."""
        concerned = index.index(self._db, number, event, gathered=self._gathered).concerned
        if event.kind == "opened" and event.hash not in self._entities:
            # Where something about it came before its opening, it is read as a whole in the end.
            self._running[event.hash] = _Running(event.stamp)
        self._entities |= concerned
        if event.kind in RECORDED_BY or event.kind in SETS_PHASE:
            for entity in concerned:
                self._record(entity, event)

    def _record(self, entity: str, event: Event) -> None:
        if entity in self._written:
            # It is read again in the end, with what came in behind its ending.
            self._written.discard(entity)
        elif entity in self._running:
            running = self._running[entity]
            if event.stamp < running.last:
                # Out of the order of the logical clock, from another station: likewise.
                del self._running[entity]
                return
            running.last = event.stamp
            if event.kind in RECORDED_BY:
                running.events.append(event)
            if event.kind in OVER and (body := body_of(event)) is not None and body["checkout"] == entity:
                del self._running[entity]
                write.write_record(self._db, entity, fold_record(running.events))
                self._written.add(entity)

    def finish(self) -> None:
        """Fill what can be told only when every event is entered."""
        self._gathered.write(self._db)
        tallies.make_anew(self._db)
        tables.arrived(self._db, self._entities - self._written)


def make_anew(db: sqlite3.Connection) -> None:
    """Make the index and every table of this file anew from its events."""
    for name in ("about", *tables.NAMES):
        db.execute(f"DELETE FROM {name}")
    making = Making(db)
    for number, event in log.everything(db):
        making.enter(number, event)
    making.finish()
