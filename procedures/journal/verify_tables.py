"""Whether the index and the tables that screens read say what the events say: both made anew beside them, compared.

Works on a connection that `verify.reading` made: whatever is not in its own scratch tables is read from the journal.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, Final

from procedures.journal import making, schema, tables
from procedures.journal.envelope import Event, reread
from procedures.journal.events import EDITION
from procedures.journal.making import Making

MOST_TOLD: Final = 20
"""Rows told one by one for each table; the rest is counted."""

_BESIDE: Final = ("about", *tables.NAMES)


class Anew:
    """Index and tables made anew in scratch tables, event by event as somebody else reads them, then finished.

    They may come in any order. Unless all of them are entered, and each without a fault, `finish` reads them once more.
    """

    def __init__(self, db: sqlite3.Connection) -> None:
        self._db = db
        self._making = Making(db)
        self._entered = 0
        self._whole = True
        made = sqlite3.connect(":memory:", isolation_level=None)
        try:
            while schema.version(made) < len(schema.MIGRATIONS):
                schema.migrate_one(made)
            wanted = [sql for name, sql in made.execute("SELECT tbl_name, sql FROM sqlite_master") if name in _BESIDE]
        finally:
            made.close()
        for sql in wanted:
            db.execute(sql)

    def enter(self, number: int, event: Event) -> None:
        """Enter one event, which saves reading it again."""
        if not self._whole:
            return
        try:
            self._making.enter(number, event)
        except Exception:
            # Whoever enters events has something else to find out first: `finish` comes upon this again.
            self._whole = False
            return
        self._entered += 1

    def finish(self) -> None:
        """Fill the tables. Altered: an event cannot be read."""
        if self._whole and self._db.execute("SELECT count(*) FROM events").fetchone() == (self._entered,):
            self._making.finish()
        else:
            making.make_anew(self._db)


def make_anew(db: sqlite3.Connection) -> None:
    """Fill the scratch tables from the journal's events. Altered: one of them cannot be read."""
    Anew(db).finish()


def why_not_compared(db: sqlite3.Connection) -> str:
    """Why the tables of this file cannot be compared with what this program makes; "" when they can."""
    made = db.execute("SELECT value FROM kept.meta WHERE name = 'edition'").fetchone()
    if schema.version(db, "kept") < len(schema.MIGRATIONS) or made != (EDITION,):
        return "they were made by an earlier program and are made anew when the site is opened next"
    return ""


def differences(db: sqlite3.Connection) -> tuple[str, ...]:
    """Where the journal's tables differ from those made anew, in words."""
    return tuple(line for name in _BESIDE for line in _told(name, list(_different(db, name))))


def _told(name: str, keys: list[tuple[str, str]]) -> Iterator[str]:
    what = "the index of what events are about" if name == "about" else f"the table of {name.replace('_', ' ')}"
    for key, how in keys[:MOST_TOLD]:
        yield f"{what} {how} {key}"
    if len(keys) > MOST_TOLD:
        yield f"{what} differs in {len(keys) - MOST_TOLD} more rows"


def _different(db: sqlite3.Connection, name: str) -> Iterator[tuple[str, str]]:
    """Rows that stand in one and not in the other, walking both in the order of their keys."""
    columns = db.execute(f"PRAGMA main.table_info({name})").fetchall()
    places = [column[0] for column in sorted(columns, key=lambda column: column[5]) if column[5]]
    order = ", ".join(f'"{columns[place][1]}" COLLATE BINARY' for place in places)
    kept = db.execute(f"SELECT * FROM kept.{name} ORDER BY {order}")
    made = db.execute(f"SELECT * FROM main.{name} ORDER BY {order}")
    one, other = kept.fetchone(), made.fetchone()
    while one is not None or other is not None:
        if one == other:
            one, other = kept.fetchone(), made.fetchone()
            continue
        key_one, key_other = _key(one, places), _key(other, places)
        if key_one == key_other:
            yield _words(other, places), "has something else than the events for"
            one, other = kept.fetchone(), made.fetchone()
        elif one is not None and (other is None or _before(key_one, key_other)):
            yield _words(one, places), "has a row that no event justifies:"
            one = kept.fetchone()
        else:
            yield _words(other, places), "lacks the row for"
            other = made.fetchone()


def _key(row: Any, places: list[int]) -> tuple[Any, ...]:
    return () if row is None else tuple(row[place] for place in places)


def _before(one: tuple[Any, ...], other: tuple[Any, ...]) -> bool:
    """As SQLite orders: nothing, numbers, text by its UTF-8, bytes."""

    def rank(value: Any) -> tuple[int, Any]:
        if value is None:
            return (0, 0)
        if isinstance(value, int | float):
            return (1, value)
        return (2, value.encode("utf-8", "surrogatepass")) if isinstance(value, str) else (3, value)

    return [rank(each) for each in one] < [rank(each) for each in other]


def _words(row: Any, places: list[int]) -> str:
    return " ".join(str(row[place])[:80] for place in places)


def openings(db: sqlite3.Connection) -> Iterator[str]:
    """Every checkout, by the index, in the order of the logical clock."""
    return _happened(db, "opened", "h.hlc, h.event")


def entered(db: sqlite3.Connection, kind: str) -> Iterator[str]:
    """The hash of every event of a kind that is kept by time, by the index, the newest first."""
    return _happened(db, kind, "h.utc DESC, h.hlc DESC, h.event DESC")


def _happened(db: sqlite3.Connection, kind: str, order: str) -> Iterator[str]:
    rows = db.execute(
        f"SELECT e.hash FROM happenings h JOIN events e ON e.id = h.event WHERE h.kind = ? ORDER BY {order}", (kind,)
    )
    for (hashed,) in rows:
        yield hashed.hex()


def about(db: sqlite3.Connection, entity: str, kind: str) -> tuple[Event, ...]:
    """Events of one kind about a thing, by the index, in the order of the logical clock.

    Names no index, as `log.about` does, so that it can be asked of a view too.
    """
    rows = db.execute(
        "SELECT e.raw, e.hash FROM about a JOIN events e ON e.id = a.event WHERE a.entity = ? AND a.kind = ?"
        " ORDER BY a.hlc, a.event",
        (entity, kind),
    )
    return tuple(reread(raw, hashed) for raw, hashed in rows)


def instrument_label(db: sqlite3.Connection, instrument: str) -> str:
    """What an instrument is labelled now; empty when it is not known."""
    row = db.execute("SELECT label FROM main.instruments WHERE id = ?", (instrument,)).fetchone()
    return "" if row is None else str(row[0])


def profile_text(db: sqlite3.Connection, profile: str, sha256: str) -> str | None:
    """The text of an adopted revision as the journal keeps it; None when it was not adopted here."""
    for event in about(db, f"profile:{profile}", "profile-adopted"):
        if event.body.get("sha256") == sha256:
            text = event.body.get("text")
            return text if isinstance(text, str) else None
    return None
