"""The questions that lists of things ask of the tables for screens. Paged by SQL, never read whole."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from procedures.journal.moments import utc_moment, utc_text
from procedures.journal.rows import LABEL_SHARED, InstrumentRow, Labelled, PersonRow, ProfileRow, SourceRow
from procedures.journal.states import CheckoutState, Reason, Standing, Wait

_SHARED = "EXISTS (SELECT 1 FROM things o WHERE o.label = i.label AND o.living AND o.id <> i.id)"


def instruments(
    db: sqlite3.Connection, *, only: str | None = None, retired: bool = False, limit: int = 1, past: tuple[str, str]
) -> tuple[InstrumentRow, ...]:
    """Instruments by label, at most `limit`, those after (label, id) `past`; or the `only` one with this id."""
    asked = "i.id = ?" if only is not None else "(i.label, i.id) > (?, ?)" + ("" if retired else " AND NOT i.retired")
    values = (only,) if only is not None else past
    cursor = db.execute(
        f"SELECT i.*, {_SHARED} AS shared FROM instruments i WHERE {asked} ORDER BY i.label, i.id LIMIT ?",
        (*values, limit),
    )
    return tuple(_instrument(row) for row in named(cursor))


def matching(db: sqlite3.Connection, text: str, *, limit: int, offset: int) -> tuple[tuple[InstrumentRow, ...], int]:
    """Instruments in service whose label, type or serial holds `text`, by label, and how many there are in all."""
    return _instruments(db, "NOT i.retired", text, "i.label, i.id", limit, offset)


def locked(db: sqlite3.Connection, text: str, *, limit: int, offset: int) -> tuple[tuple[InstrumentRow, ...], int]:
    """Instruments in service that are locked out, by label, and how many; cleared ones that wait for a check too."""
    return _instruments(db, "i.locked <> '[]' AND NOT i.retired", text, "i.label, i.id", limit, offset)


def out_now(db: sqlite3.Connection, *, limit: int, offset: int) -> tuple[tuple[InstrumentRow, ...], int]:
    """Instruments that are handed out, whoever is due back first first, and how many."""
    return _instruments(db, "i.handed_to IS NOT NULL", "", "coalesce(i.back_by, '~'), i.handed_at, i.id", limit, offset)


def _instruments(
    db: sqlite3.Connection, where: str, text: str, order: str, limit: int, offset: int
) -> tuple[tuple[InstrumentRow, ...], int]:
    holds, values = holding(text, "i.label", "i.type", "i.serial")
    total = db.execute(f"SELECT count(*) FROM instruments i WHERE {where} AND {holds}", values).fetchone()[0]
    cursor = db.execute(
        f"SELECT i.*, {_SHARED} AS shared FROM instruments i WHERE {where} AND {holds} ORDER BY {order}"
        " LIMIT ? OFFSET ?",
        (*values, limit, offset),
    )
    return tuple(_instrument(row) for row in named(cursor)), int(total)


def holding(text: str, *columns: str) -> tuple[str, tuple[str, ...]]:
    """The condition that one of these columns holds `text`, upper and lower case alike, and its values."""
    if not text:
        return "1", ()
    plain = text.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")
    each = " OR ".join(f"{column} LIKE ? ESCAPE '\\'" for column in columns)
    return f"({each})", (f"%{plain}%",) * len(columns)


def calibrations_due(db: sqlite3.Connection, before: str, *, limit: int) -> tuple[tuple[str, str | None], ...]:
    """Label and due date of instruments in service whose calibration ends by `before`, or that have none."""
    found = db.execute(
        "SELECT label, calibration_due FROM instruments WHERE NOT retired AND coalesce(calibration_due, '') <= ?"
        " ORDER BY coalesce(calibration_due, ''), label LIMIT ?",
        (before, limit),
    )
    return tuple((label, due) for label, due in found)


def _instrument(row: dict[str, Any]) -> InstrumentRow:
    standing = Standing(
        locked=tuple(Reason(code, say) for code, say in json.loads(row["locked"])),
        awaiting=bool(row["awaiting"]),
        ready_until=moment(row["ready_until"]),
        newest=moment(row["newest"]),
        problems=tuple(json.loads(row["problems"])) + ((LABEL_SHARED,) if row["shared"] else ()),
        why_not=row["why_not"],
    )
    return InstrumentRow(
        id=row["id"],
        label=row["label"],
        type=row["type"],
        serial=row["serial"],
        profile=row["profile"],
        standing=standing,
        passed_by=row["passed_by"],
        fit_for=json.loads(row["fit_for"]),
        warnings=tuple(json.loads(row["warnings"])),
        factor=row["factor"],
        whereabouts=row["whereabouts"],
        where=row["place"],
        handed_to=row["handed_to"],
        handed_until=row["handed_until"],
        handed_at=moment(row["handed_at"]),
        back_by=moment(row["back_by"]),
        emergency=bool(row["emergency"]),
        contaminated=bool(row["contaminated"]),
        calibrated_on=row["calibrated_on"],
        calibration_due=row["calibration_due"],
        last_checked=moment(row["last_checked"]),
        retired=bool(row["retired"]),
    )


def sources(db: sqlite3.Connection, *, out: bool, limit: int) -> tuple[SourceRow, ...]:
    """Sources by label: those in use, or those alone that are `out` of their store."""
    where = "out_with IS NOT NULL" if out else "NOT retired"
    cursor = db.execute(f"SELECT * FROM sources WHERE {where} ORDER BY label, id LIMIT ?", (limit,))
    return tuple(_source(row) for row in named(cursor))


def sources_matching(
    db: sqlite3.Connection, text: str, *, retired: bool, limit: int, offset: int
) -> tuple[tuple[SourceRow, ...], int]:
    """Sources whose label, serial, nuclide or place holds `text`, by label, and how many."""
    found, total = _page(db, "sources", text, ("label", "serial", "nuclide", "place"), retired, limit, offset)
    return tuple(_source(row) for row in found), total


def people_matching(
    db: sqlite3.Connection, text: str, *, retired: bool, limit: int, offset: int
) -> tuple[tuple[PersonRow, ...], int]:
    """People whose label, name or initials hold `text`, by label, and how many."""
    found, total = _page(db, "people", text, ("label", "name", "initials"), retired, limit, offset)
    return tuple(_person(row) for row in found), total


def things_matching(
    db: sqlite3.Connection, what: str, text: str, *, retired: bool, limit: int, offset: int
) -> tuple[tuple[Labelled, ...], int]:
    """Things of one sort whose label holds `text`, by label, and how many."""
    holds, values = holding(text, "label")
    where = f"what = ? AND {holds}" + ("" if retired else " AND living")
    total = db.execute(f"SELECT count(*) FROM things WHERE {where}", (what, *values)).fetchone()[0]
    found = db.execute(
        f"SELECT id, label, living FROM things WHERE {where} ORDER BY label, id LIMIT ? OFFSET ?",
        (what, *values, limit, offset),
    )
    return tuple(Labelled(thing, what, label, bool(living)) for thing, label, living in found), int(total)


def _page(
    db: sqlite3.Connection,
    table: str,
    text: str,
    columns: tuple[str, ...],
    retired: bool,
    limit: int,
    offset: int,
) -> tuple[Iterator[dict[str, Any]], int]:
    holds, values = holding(text, *columns)
    where = holds + ("" if retired else " AND NOT retired")
    total = db.execute(f"SELECT count(*) FROM {table} WHERE {where}", values).fetchone()[0]
    asked = f"SELECT * FROM {table} WHERE {where} ORDER BY label, id LIMIT ? OFFSET ?"
    return named(db.execute(asked, (*values, limit, offset))), int(total)


def _source(row: dict[str, Any]) -> SourceRow:
    return SourceRow(
        id=row["id"],
        label=row["label"],
        serial=row["serial"],
        nuclide=row["nuclide"],
        whereabouts=row["whereabouts"],
        where=row["place"],
        out_with=row["out_with"],
        leak_tested=row["leak_tested"],
        leak_due=row["leak_due"],
        condition=row["condition"],
        counted_on=row["counted_on"],
        counted_found=None if row["counted_found"] is None else bool(row["counted_found"]),
        retired=bool(row["retired"]),
    )


def people(db: sqlite3.Connection, *, limit: int) -> tuple[PersonRow, ...]:
    """People who have not left, by label."""
    cursor = db.execute("SELECT * FROM people WHERE NOT retired ORDER BY label, id LIMIT ?", (limit,))
    return tuple(_person(row) for row in named(cursor))


def _person(row: dict[str, Any]) -> PersonRow:
    return PersonRow(
        id=row["id"],
        label=row["label"],
        name=row["name"],
        initials=row["initials"],
        roles=tuple(json.loads(row["roles"])),
        trained_until=row["trained_until"],
        retired=bool(row["retired"]),
    )


def profiles(db: sqlite3.Connection, *, limit: int) -> tuple[ProfileRow, ...]:
    """Every profile that was ever adopted, by id."""
    cursor = db.execute("SELECT * FROM profiles ORDER BY profile LIMIT ?", (limit,))
    return tuple(ProfileRow(**{**row, "heads": tuple(json.loads(row["heads"]))}) for row in named(cursor))


def labelled(db: sqlite3.Connection, label: str) -> tuple[Labelled, ...]:
    """Everything that carries or carried this label, upper and lower case alike; living things first."""
    rows = db.execute("SELECT id, what, label, living FROM things WHERE label = ? ORDER BY living DESC, id", (label,))
    return tuple(Labelled(thing, what, carried, bool(living)) for thing, what, carried, living in rows)


def things(db: sqlite3.Connection, what: str) -> tuple[Labelled, ...]:
    """Everything of one sort that is not retired, by label."""
    found = db.execute("SELECT id, label FROM things WHERE what = ? AND living ORDER BY label, id", (what,))
    return tuple(Labelled(thing, what, label, living=True) for thing, label in found)


def open_checkouts(db: sqlite3.Connection, *, limit: int) -> tuple[CheckoutState, ...]:
    """Checkouts without an ending, the one touched last first."""
    rows = db.execute("SELECT * FROM open_checkouts ORDER BY last_utc DESC, checkout LIMIT ?", (limit,))
    return tuple(_checkout(row) for row in rows)


def read_checkout(db: sqlite3.Connection, checkout: str) -> CheckoutState | None:
    """One open checkout."""
    row = db.execute("SELECT * FROM open_checkouts WHERE checkout = ?", (checkout,)).fetchone()
    return None if row is None else _checkout(row)


def checkout_row(state: CheckoutState) -> tuple[Any, ...]:
    """An open checkout as the table keeps it."""
    wait = state.wait
    kept = None if wait is None else json.dumps([wait.step, wait.ask, wait.seconds, wait.ticks, wait.session])
    return (
        state.checkout,
        state.instrument,
        state.person,
        state.station,
        state.step,
        state.phase,
        kept,
        state.failed,
        state.last_event,
        utc_text(state.last_utc),
    )


def _checkout(row: tuple[Any, ...]) -> CheckoutState:
    checkout, instrument, person, station, step, phase, wait, failed, last_event, last_utc = row
    return CheckoutState(
        checkout,
        instrument,
        person,
        station,
        step,
        phase,
        None if wait is None else Wait(*json.loads(wait)),
        bool(failed),
        last_event,
        utc_moment(last_utc),
    )


def named(cursor: sqlite3.Cursor) -> Iterator[dict[str, Any]]:
    """Rows by the names of their columns."""
    names = [column[0] for column in cursor.description]
    return (dict(zip(names, row, strict=True)) for row in cursor)


def moment(text: str | None) -> datetime | None:
    """The moment that a table keeps as text."""
    return None if text is None else utc_moment(text)
