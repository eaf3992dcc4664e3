"""The table of uses in doubt, kept up with the events of this file without reading an instrument's past each time."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence

from procedures.journal import log
from procedures.journal.doubts import UNCHECKED, USES, Doubt, may_put_in_doubt, uses_in_doubt
from procedures.journal.envelope import Event
from procedures.journal.events import body_of
from procedures.journal.tables_rows import write_doubts


def doubts_of(db: sqlite3.Connection, instrument: str, weighty: Sequence[Event]) -> tuple[Doubt, ...]:
    """The uses of an instrument in doubt, from all the events that weigh on it.

    Its passed findings are read only where there is a failure and a use: years of good checks cost nothing.
    """
    if not any(may_put_in_doubt(event) for event in weighty) or not any(event.kind in USES for event in weighty):
        return ()
    events = (*weighty, *log.about(db, instrument, kinds=("found",)))
    return uses_in_doubt(events, lineage=log.lineage_of(db, events))


def refold(db: sqlite3.Connection, instrument: str, weighty: Sequence[Event]) -> None:
    """Write the uses of an instrument that are in doubt, from all the events that weigh on it."""
    doubts = doubts_of(db, instrument, weighty)
    write_doubts(db, instrument, doubts, _reviews(db, {doubt.cause.hash for doubt in doubts}))


def may_change(db: sqlite3.Connection, event: Event) -> bool:
    """Whether an event that this file has just recorded can change which uses are in doubt, or how many.

    Everything here was known to it, so a new hand-out is never in doubt by an older failure, and a new good check says
    nothing about an older one: that holds for what is appended here, not for what arrives.
    """
    if event.kind in ("withdrawn", "paper-entered"):
        return True
    if event.kind == "ended":
        checkout = event.body["checkout"]
        return _has_unchecked(db, log.instrument_of(db, checkout)) or _ended_before(db, checkout)
    return may_put_in_doubt(event)


def _has_unchecked(db: sqlite3.Connection, instrument: str) -> bool:
    asked = "SELECT 1 FROM doubts WHERE instrument = ? AND kind = ? LIMIT 1"
    return db.execute(asked, (instrument, UNCHECKED)).fetchone() is not None


def _ended_before(db: sqlite3.Connection, checkout: str) -> bool:
    """Whether it has several endings: the worse one undoes what a better one had shown."""
    asked = "SELECT count(*) FROM about WHERE entity = ? AND kind = 'ended'"
    return int(db.execute(asked, (checkout,)).fetchone()[0]) > 1


def review(db: sqlite3.Connection, cause: str) -> None:
    """Mark the uses that a person has looked into because of this cause."""
    if db.execute("SELECT 1 FROM doubts WHERE cause = ? LIMIT 1", (cause,)).fetchone() is None:
        return
    for (_, use), event in _reviews(db, {cause}).items():
        db.execute("UPDATE doubts SET review = ? WHERE cause = ? AND use = ?", (event, cause, use))


def _reviews(db: sqlite3.Connection, causes: Iterable[str]) -> dict[tuple[str, str], str]:
    """Cause and use → the event by which it was reviewed; the last of several."""
    found = {}
    for cause in causes:
        for event in log.about(db, cause, kinds=("use-reviewed",)):
            body = body_of(event)
            if body is not None and body["cause"] == cause:
                found[cause, body["use"]] = event.hash
    return found
