"""Many records fast: a checkout that was really run, recorded again and again as if it had been run that often.

Copies keep the moments of the original, so that judging them again comes to what was recorded; only the ids differ.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from procedures.journal import files, index, log, making, tables
from procedures.journal.envelope import Draft, Event, seal
from procedures.journal.events import CATALOGUE
from procedures.journal.fields import MAY_SEE, SEES
from procedures.journal.moments import milliseconds, step_clock
from procedures.journal.store import Journal

Change = Callable[[str, dict[str, Any]], dict[str, Any] | None]
"""Kind and body of an event to the body that is recorded instead; None leaves the event out."""


def as_it_was(_kind: str, body: dict[str, Any]) -> dict[str, Any]:
    """No change."""
    return body


def checkout_events(journal: Journal, ending: str) -> tuple[Event, ...]:
    """The events of the first checkout in the journal that ended so."""
    for event in _ended(journal):
        if event.body["ending"] == ending:
            return journal.checkout_events(event.body["checkout"])
    raise LookupError(ending)


def _ended(journal: Journal) -> list[Event]:
    rows = journal._db.execute("SELECT DISTINCT event FROM about WHERE kind = 'ended' ORDER BY event").fetchall()
    hashes = [journal._db.execute("SELECT hash FROM events WHERE id = ?", row).fetchone()[0] for row in rows]
    return [event for each in hashes if (event := journal.by_hash(each.hex())) is not None]


def record_again(
    journal: Journal, events: Sequence[Event], times: int = 1, *, change: Change = as_it_was, keep_up: bool = True
) -> str:
    """Record these events of one checkout anew, all in one transaction; the id of the last copy comes back.

    Without `keep_up` the tables are made anew once at the end, which is faster for many.
    """
    checkout = ""
    writer = _Writer(journal)
    with files.transaction(journal._db, journal.path):
        for _ in range(times):
            checkout = ""
            for event in events:
                body = change(event.kind, _for(event.body, checkout))
                if body is not None:
                    about = tuple(checkout if one == events[0].hash else one for one in event.about)
                    written = writer.write(Draft(event.kind, body, about, event.ends_fitness, event.person), event)
                    checkout = checkout or written.hash
        if keep_up:
            tables.follow(journal._db, writer.entered)
        else:
            making.make_anew(journal._db)
    return checkout


def _for(body: Any, checkout: str) -> dict[str, Any]:
    changed = dict(body)
    if "checkout" in changed:
        changed["checkout"] = checkout
    if str(changed.get("tag") or "").startswith("T-") and checkout:
        changed["tag"] = f"T-{checkout[:8].upper()}"
    return changed


class _Writer:
    """Writes at the end of a journal's own chain, as `append` does, with moments of its own."""

    def __init__(self, journal: Journal) -> None:
        self.db = journal._db
        heads = log.heads(self.db)
        self.head = log.own_head(self.db, heads)
        self.clock = max(head.hlc for head in heads)
        names = log.names(heads)
        self.seen = {names[head.chain]: (head.seq, head.hash) for head in heads if head != self.head}
        self.seq, self.prev = self.head.seq, self.head.hash
        self.entered: list[tables.Entered] = []

    def write(self, draft: Draft, at: Event) -> Event:
        self.clock = step_clock(self.clock, milliseconds(at.utc))
        event = seal(
            draft,
            version=CATALOGUE[draft.kind].version,
            ends_fitness=draft.ends_fitness,
            station=self.head.station,
            seq=self.seq + 1,
            utc=at.utc,
            offset=at.offset,
            hlc=self.clock,
            prev=self.prev,
            seen=self.seen if draft.kind in SEES | MAY_SEE else None,
        )
        self.entered.append((event, index.insert(self.db, self.head.chain, event)))
        self.seq, self.prev = event.seq, event.hash
        return event
