"""The rows of the tables for screens, each written from what a fold made of the events."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from procedures.journal.doubts import Doubt, when_used
from procedures.journal.moments import utc_text
from procedures.journal.queries import checkout_row
from procedures.journal.states import (
    CheckoutRecord,
    CheckoutState,
    InstrumentState,
    ProfileState,
    SourceState,
    ThingState,
)


def write_instrument(db: sqlite3.Connection, state: InstrumentState) -> None:
    """The row of one instrument."""
    standing, fields, counting, handed = state.standing, state.fields, state.counting, state.handed
    row = {
        "id": state.id,
        "label": _text(fields.get("label")),
        "type": _text(fields.get("type")),
        "serial": _text(fields.get("serial")),
        "profile": _text(fields.get("profile")),
        "locked": _json([[reason.code, reason.say] for reason in standing.locked]),
        "awaiting": standing.awaiting,
        "ready_until": _moment(standing.ready_until),
        "newest": _moment(standing.newest),
        "problems": _json(standing.problems),
        "why_not": standing.why_not,
        "passed_by": None if counting is None else counting.checkout,
        "fit_for": _json({} if counting is None else counting.fit_for),
        "warnings": _json([] if counting is None else counting.warnings),
        "factor": None if counting is None else counting.factor,
        "whereabouts": state.whereabouts,
        "place": state.where,
        "handed_to": None if handed is None else handed.to,
        "handed_until": None if handed is None else handed.until,
        "handed_at": None if handed is None else utc_text(handed.when),
        "back_by": None if handed is None else _moment(handed.back_by),
        "emergency": handed is not None and handed.emergency,
        "contaminated": state.contaminated,
        "calibrated_on": None if state.calibration is None else state.calibration.on,
        "calibration_due": None if state.calibration is None else state.calibration.due,
        "last_checked": _moment(state.last_checked),
        "retired": state.retired,
    }
    _put(db, "instruments", row)
    db.execute("DELETE FROM lockouts WHERE instrument = ?", (state.id,))
    passed = {one.checkout: one.when for one in state.passes}
    for lockout in state.lockouts:
        closed = None if lockout.closed_by is None else passed.get(lockout.closed_by)
        kept = {"instrument": state.id, "lockout": lockout.id, "made_at": utc_text(lockout.when)}
        _put(db, "lockouts", {**kept, "closed_at": _moment(closed)})


def write_source(db: sqlite3.Connection, state: SourceState) -> None:
    """The row of one source."""
    row = {
        "id": state.id,
        "label": _text(state.fields.get("label")),
        "serial": _text(state.fields.get("serial")),
        "nuclide": _text(state.fields.get("nuclide")),
        "whereabouts": state.whereabouts,
        "place": state.where,
        "out_with": state.out_with,
        "leak_tested": state.leak_tested,
        "leak_due": state.leak_due,
        "condition": state.condition,
        "counted_on": state.counted_on,
        "counted_found": state.counted_found,
        "retired": state.retired,
    }
    _put(db, "sources", row)


def write_person(db: sqlite3.Connection, state: ThingState) -> None:
    """The row of one person."""
    fields = state.fields
    roles = fields.get("roles")
    row = {
        "id": state.id,
        "label": _text(fields.get("label")),
        "name": _text(fields.get("name")),
        "initials": _text(fields.get("initials")),
        "roles": _json([_text(one) for one in roles] if isinstance(roles, list) else []),
        "trained_until": _text(fields.get("trained_until")) or None,
        "retired": state.retired,
    }
    _put(db, "people", row)


def write_thing(db: sqlite3.Connection, thing: str, what: object, label: object, *, living: bool) -> None:
    """The row that says which label a thing of any sort carries."""
    _put(db, "things", {"id": thing, "what": _text(what), "label": _text(label), "living": living})


def write_profile(db: sqlite3.Connection, profile: ProfileState) -> None:
    """The row of one profile."""
    chosen = profile.in_force
    row = {
        "profile": profile.id,
        "adoption": None if chosen is None else chosen.event,
        "revision": None if chosen is None else chosen.revision,
        "sha256": None if chosen is None else chosen.sha256,
        "title": "" if chosen is None else chosen.title,
        "heads": _json(profile.heads),
    }
    _put(db, "profiles", row)


def write_open_checkout(db: sqlite3.Connection, checkout: str, state: CheckoutState | None) -> None:
    """The row of a checkout while it is open, none after."""
    if state is None or state.phase == "ended":
        db.execute("DELETE FROM open_checkouts WHERE checkout = ?", (checkout,))
    else:
        values = checkout_row(state)
        db.execute(f"REPLACE INTO open_checkouts VALUES ({','.join('?' * len(values))})", values)


def write_record(db: sqlite3.Connection, checkout: str, record: CheckoutRecord | None) -> None:
    """The line of a checkout in the records, and the codes it is found by."""
    db.execute("DELETE FROM checkout_codes WHERE checkout = ?", (checkout,))
    if record is None:
        db.execute("DELETE FROM checkouts WHERE checkout = ?", (checkout,))
        return
    row = {
        "checkout": record.checkout,
        "instrument": record.instrument,
        "person": record.person,
        "opened": utc_text(record.opened),
        "ended": _moment(record.ended),
        "ending": record.ending,
        "codes": _json(record.codes),
        "withdrawn": record.withdrawn,
        "station": record.station,
    }
    _put(db, "checkouts", row)
    for code in record.codes:
        _put(db, "checkout_codes", {"code": code, "opened": utc_text(record.opened), "checkout": checkout})


def write_doubts(
    db: sqlite3.Connection, instrument: str, doubts: Iterable[Doubt], reviews: Mapping[tuple[str, str], str]
) -> None:
    """All uses in doubt of one instrument. `reviews`: cause and use → the event that says it was looked into."""
    db.execute("DELETE FROM doubts WHERE instrument = ?", (instrument,))
    for doubt in doubts:
        write_doubt(db, instrument, doubt, reviews)


def write_doubt(db: sqlite3.Connection, instrument: str, doubt: Doubt, reviews: Mapping[tuple[str, str], str]) -> None:
    """The uses in doubt because of one failure."""
    for use in doubt.uses:
        row = {
            "instrument": instrument,
            "cause": doubt.cause.hash,
            "kind": doubt.kind,
            "use": use.hash,
            "found_at": utc_text(doubt.at),
            "used_at": utc_text(when_used(use)),
            "used_by": use.body["to"],
            "job": use.body["job"],
            "place": use.body["place"],
            "review": reviews.get((doubt.cause.hash, use.hash)),
            "since": None if doubt.since is None else doubt.since.hash,
        }
        _put(db, "doubts", row)


def _put(db: sqlite3.Connection, table: str, row: Mapping[str, Any]) -> None:
    db.execute(f"REPLACE INTO {table} ({','.join(row)}) VALUES ({','.join('?' * len(row))})", tuple(row.values()))


def _moment(moment: datetime | None) -> str | None:
    return None if moment is None else utc_text(moment)


def _text(value: object) -> str:
    """A described field as text: whatever another program put there, a screen can show it."""
    return value if isinstance(value, str) else "" if value is None else str(value)


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
