"""Rows of the tables for screens as values, and the queries that read them. Paged by SQL, never read whole."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Final

from procedures.journal.moments import utc_moment, utc_text
from procedures.journal.states import CheckoutState, Reason, Standing, Wait

LABEL_SHARED: Final = "Another thing carries the same label: neither may be used until one is changed."


@dataclass(frozen=True, slots=True)
class InstrumentRow:
    """One instrument for lists. `fitness(row.standing, now)` says what it is now."""

    id: str
    label: str
    type: str
    serial: str
    profile: str
    standing: Standing
    passed_by: str | None
    fit_for: Mapping[str, Any]
    warnings: tuple[Any, ...]
    factor: str | None
    whereabouts: str
    where: str
    handed_to: str | None
    handed_until: str | None
    contaminated: bool
    calibrated_on: str | None
    calibration_due: str | None
    last_checked: datetime | None
    retired: bool


@dataclass(frozen=True, slots=True)
class SourceRow:
    """One source for lists; `out_with` is the checkout that took it from its store."""

    id: str
    label: str
    nuclide: str
    whereabouts: str
    where: str
    out_with: str | None
    leak_due: str | None
    retired: bool


@dataclass(frozen=True, slots=True)
class PersonRow:
    """One person for lists."""

    id: str
    label: str
    name: str
    initials: str
    roles: tuple[str, ...]
    trained_until: str | None
    retired: bool


@dataclass(frozen=True, slots=True)
class ProfileRow:
    """One profile: its adoption in force, or None with several `heads` while adoptions made apart wait for a choice."""

    profile: str
    adoption: str | None
    revision: int | None
    sha256: str | None
    title: str
    heads: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Labelled:
    """One thing that carries or carried a label. Two living ones block each other; a retired label is used up."""

    id: str
    what: str
    label: str
    living: bool


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
    return tuple(_instrument(row) for row in _named(cursor))


def matching(db: sqlite3.Connection, text: str, *, limit: int, offset: int) -> tuple[tuple[InstrumentRow, ...], int]:
    """Instruments in service whose label, type or serial holds `text`, by label, and how many there are in all."""
    plain = text.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")
    where = "NOT i.retired"
    values: tuple[str, ...] = ()
    if text:
        where += " AND (i.label LIKE ? ESCAPE '\\' OR i.type LIKE ? ESCAPE '\\' OR i.serial LIKE ? ESCAPE '\\')"
        values = (f"%{plain}%",) * 3
    total = db.execute(f"SELECT count(*) FROM instruments i WHERE {where}", values).fetchone()[0]
    cursor = db.execute(
        f"SELECT i.*, {_SHARED} AS shared FROM instruments i WHERE {where} ORDER BY i.label, i.id LIMIT ? OFFSET ?",
        (*values, limit, offset),
    )
    return tuple(_instrument(row) for row in _named(cursor)), int(total)


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
        ready_until=_moment(row["ready_until"]),
        newest=_moment(row["newest"]),
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
        contaminated=bool(row["contaminated"]),
        calibrated_on=row["calibrated_on"],
        calibration_due=row["calibration_due"],
        last_checked=_moment(row["last_checked"]),
        retired=bool(row["retired"]),
    )


def sources(db: sqlite3.Connection, *, out: bool, limit: int) -> tuple[SourceRow, ...]:
    """Sources by label: those in use, or those alone that are `out` of their store."""
    where = "out_with IS NOT NULL" if out else "NOT retired"
    cursor = db.execute(f"SELECT * FROM sources WHERE {where} ORDER BY label, id LIMIT ?", (limit,))
    return tuple(
        SourceRow(
            id=row["id"],
            label=row["label"],
            nuclide=row["nuclide"],
            whereabouts=row["whereabouts"],
            where=row["place"],
            out_with=row["out_with"],
            leak_due=row["leak_due"],
            retired=bool(row["retired"]),
        )
        for row in _named(cursor)
    )


def people(db: sqlite3.Connection, *, limit: int) -> tuple[PersonRow, ...]:
    """People who have not left, by label."""
    cursor = db.execute("SELECT * FROM people WHERE NOT retired ORDER BY label, id LIMIT ?", (limit,))
    return tuple(
        PersonRow(
            id=row["id"],
            label=row["label"],
            name=row["name"],
            initials=row["initials"],
            roles=tuple(json.loads(row["roles"])),
            trained_until=row["trained_until"],
            retired=bool(row["retired"]),
        )
        for row in _named(cursor)
    )


def profiles(db: sqlite3.Connection, *, limit: int) -> tuple[ProfileRow, ...]:
    """Every profile that was ever adopted, by id."""
    cursor = db.execute("SELECT * FROM profiles ORDER BY profile LIMIT ?", (limit,))
    return tuple(ProfileRow(**{**row, "heads": tuple(json.loads(row["heads"]))}) for row in _named(cursor))


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


def _named(cursor: sqlite3.Cursor) -> Iterator[dict[str, Any]]:
    names = [column[0] for column in cursor.description]
    return (dict(zip(names, row, strict=True)) for row in cursor)


def _moment(text: str | None) -> datetime | None:
    return None if text is None else utc_moment(text)


def clock_at_least(row: InstrumentRow, newest: datetime) -> InstrumentRow:
    """The row, doubting every present that stands before `newest`, the latest moment anybody here knew of."""
    known = row.standing.newest
    if known is not None and known >= newest:
        return row
    return replace(row, standing=replace(row.standing, newest=newest))
