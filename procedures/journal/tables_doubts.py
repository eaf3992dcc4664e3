"""The table of uses in doubt, kept up with the events of this file without reading an instrument's past each time."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from itertools import groupby
from typing import Final

from procedures.journal import index, log
from procedures.journal.doubts import (
    DECIDE,
    UNCHECKED,
    USES,
    Doubt,
    kinds_found_bad,
    kinds_found_good,
    may_put_in_doubt,
    uses_in_doubt,
)
from procedures.journal.envelope import Event
from procedures.journal.events import body_of
from procedures.journal.moments import clock_number, utc_moment
from procedures.journal.tables_rows import write_doubt, write_doubts

ADDED: Final = frozenset({"found", "failed-by-judgement"})
"""Kinds of failure whose doubts are written beside the others when this file records them."""
_PAGE: Final = 40
_LOOKED_THROUGH: Final = 400
"""Findings looked through for the last good one, before the whole history is read."""


def doubts_of(db: sqlite3.Connection, instrument: str) -> tuple[Doubt, ...]:
    """The uses of an instrument in doubt, from its whole history.

    It is read only where there is a failure and a use: years of good checks cost nothing.
    """
    used = "SELECT 1 FROM about WHERE entity = ? AND kind IN ('handed-out', 'emergency-use') LIMIT 1"
    if not any(may_put_in_doubt(event) for event in index.of_instrument(db, instrument)):
        return ()
    if db.execute(used, (instrument,)).fetchone() is None:
        return ()
    events = log.about(db, instrument, kinds=DECIDE)
    return uses_in_doubt(events, lineage=log.lineage_of(db, events))


def listed(db: sqlite3.Connection, instrument: str) -> tuple[Doubt, ...]:
    """The same as it was written down, oldest failure first."""
    rows = db.execute(
        "SELECT cause, kind, since, found_at, use FROM doubts WHERE instrument = ? ORDER BY cause, kind, used_at, use",
        (instrument,),
    ).fetchall()
    found = []
    for (caused, kind, since, at), each in groupby(rows, key=lambda row: row[:4]):
        cause = log.by_hash(db, caused)
        uses = [event for *_, use in each if (event := log.by_hash(db, use)) is not None]
        if cause is not None:
            good = None if since is None else log.by_hash(db, since)
            ordered = tuple(sorted(uses, key=lambda use: use.stamp))
            found.append(Doubt(cause, kind, good, ordered, utc_moment(at)))
    return tuple(sorted(found, key=lambda one: one.cause.stamp))


def refold(db: sqlite3.Connection, instrument: str) -> None:
    """Write the uses of an instrument that are in doubt, from its whole history."""
    doubts = doubts_of(db, instrument)
    write_doubts(db, instrument, doubts, _reviews(db, {doubt.cause.hash for doubt in doubts}))


def add(db: sqlite3.Connection, instrument: str, failure: Event) -> None:
    """Write the uses in doubt by a failure that this file has just recorded, beside those that are known."""
    doubts = _by_failure(db, instrument, failure)
    if doubts is None:
        refold(db, instrument)
        return
    for doubt in doubts:
        write_doubt(db, instrument, doubt, {})


def _by_failure(db: sqlite3.Connection, instrument: str, failure: Event) -> list[Doubt] | None:
    """What the newest failure of an instrument puts in doubt, from what happened since that was last found good.

    It is in the order of time the last thing that is known here, and of a check: so only a use that no good check had
    seen is in doubt by it. None where that cannot be told without the whole history.
    """
    body = body_of(failure)
    kinds = [] if body is None else kinds_found_bad(failure, body)
    lineage = log.lineage_of(db, (failure,))
    if failure.kind not in ADDED or len(kinds) != 1 or not kinds[0] or lineage.forked:
        return None
    void = {event.body["checkout"] for event in log.about(db, instrument, kinds=("withdrawn",)) if body_of(event)}
    looks = _looks_back_to(db, instrument, failure, kinds[0], void)
    if looks is None:
        return None
    began = looks[0]
    uses = _uses_unseen(db, instrument, began)
    if any(clock_number(use.hlc) < clock_number(began.hlc) for use in uses):
        # Elsewhere, and unknown to the last good check; perhaps one before it was made there.
        return None
    lasting = log.about(db, instrument, kinds=("withdrawn", "paper-entered"))
    found = uses_in_doubt({failure, *looks, *uses, *lasting}, lineage=lineage)
    return [doubt for doubt in found if doubt.cause == failure]


def _looks_back_to(
    db: sqlite3.Connection, instrument: str, failure: Event, kind: str, void: set[str]
) -> list[Event] | None:
    """The last good finding of this kind in another checkout, after the opening of that checkout; None: far back."""
    last = failure
    for _ in range(0, _LOOKED_THROUGH, _PAGE):
        page = log.about(db, instrument, kinds=("found",), newest_first=True, before=last, limit=_PAGE)
        for event in page:
            body = body_of(event)
            if body is None or body["checkout"] in void | {failure.body["checkout"]}:
                continue
            opened = log.by_hash(db, body["checkout"])
            if kind in kinds_found_good(event, body) and opened is not None:
                return [opened, event]
        if len(page) < _PAGE:
            return None
        last = page[-1]
    return None


def _uses_unseen(db: sqlite3.Connection, instrument: str, began: Event) -> list[Event]:
    """Hand-outs and emergency uses that the writer of `began` had not seen: told from where they stand, not read."""
    rows = db.execute(
        "SELECT c.station, e.seq, e.hash FROM about a JOIN events e ON e.id = a.event JOIN chains c ON c.id = e.chain"
        f" WHERE a.entity = ? AND a.kind IN ({','.join('?' * len(USES))})",
        (instrument, *USES),
    )
    seen = {station: head[0] for station, head in (began.seen or {}).items()} | {began.station: began.seq}
    unseen = [hashed.hex() for station, seq, hashed in rows if seq > seen.get(station, 0)]
    return [event for hashed in unseen if (event := log.by_hash(db, hashed)) is not None]


def may_change(db: sqlite3.Connection, event: Event) -> bool:
    """Whether an event that this file has just recorded can change which uses are in doubt, or how many.

    Everything here was known to it, so a new hand-out is never in doubt by an older failure, and a new good check says
    nothing about an older one: that holds for what is appended here, not for what arrives.
    """
    if event.kind in ("withdrawn", "paper-entered"):
        return True
    if event.kind == "ended":
        checkout = event.body["checkout"]
        return _has_unchecked(db, index.instrument_of(db, checkout)) or _ended_before(db, checkout)
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
