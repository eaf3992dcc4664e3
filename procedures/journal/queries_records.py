"""The questions that records ask of the tables: which checkouts, which uses in doubt, what happened when.

Each page comes straight from an index, however many rows there are.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from datetime import datetime

from procedures.journal.envelope import Event, reread
from procedures.journal.events import OFTEN
from procedures.journal.moments import utc_moment, utc_text
from procedures.journal.queries import holding
from procedures.journal.rows import CheckoutRow, DoubtRow


def checkouts_found(
    db: sqlite3.Connection,
    *,
    search: str,
    instrument: str,
    person: str,
    since: datetime | None,
    until: datetime | None,
    ending: str,
    code: str,
    limit: int,
    offset: int,
) -> tuple[tuple[CheckoutRow, ...], int]:
    """Checkouts that meet every condition that is given, the one opened last first, and how many."""
    asked: list[str] = []
    values: list[object] = []
    if code:
        asked.append("k.code = ?")
        values.append(code)
    for column, value in (("instrument", instrument), ("person", person), ("ending", ending)):
        if value:
            asked.append(f"c.{column} = ?")
            values.append(value)
    key = "k" if code else "c"
    if since is not None:
        asked.append(f"{key}.opened >= ?")
        values.append(utc_text(since))
    if until is not None:
        asked.append(f"{key}.opened < ?")
        values.append(utc_text(until))
    if search:
        meter, meters = holding(search, "label", "type", "serial")
        human, people = holding(search, "label", "name", "initials")
        # The signs keep SQLite from collecting every checkout of every match when a page of them is wanted.
        asked.append(
            f"(+c.instrument IN (SELECT id FROM instruments WHERE {meter})"
            f" OR +c.person IN (SELECT id FROM people WHERE {human}))"
        )
        values.extend((*meters, *people))
    # The order of a CROSS JOIN is kept: codes lead to checkouts, not the other way.
    source = "checkout_codes k CROSS JOIN checkouts c ON c.checkout = k.checkout" if code else "checkouts c"
    where = f" FROM {source} WHERE {' AND '.join(asked) or '1'}"
    total = db.execute("SELECT count(*)" + where, values).fetchone()[0]
    page = db.execute(
        "SELECT c.*, i.label, i.type, p.name FROM"
        f" (SELECT {key}.checkout{where} ORDER BY {key}.opened DESC, {key}.checkout DESC LIMIT ? OFFSET ?) found"
        " CROSS JOIN checkouts c ON c.checkout = found.checkout"
        " LEFT JOIN instruments i ON i.id = c.instrument LEFT JOIN people p ON p.id = c.person"
        " ORDER BY c.opened DESC, c.checkout DESC",
        (*values, limit, offset),
    )
    return tuple(_checkout(row) for row in page), int(total)


def _checkout(row: tuple[object, ...]) -> CheckoutRow:
    checkout, instrument, person, opened, ended, ending, codes, withdrawn, station, label, sort, name = row
    return CheckoutRow(
        checkout=str(checkout),
        instrument=str(instrument),
        label=str(label or ""),
        type=str(sort or ""),
        person=str(person or ""),
        person_name=str(name or ""),
        opened=utc_moment(str(opened)),
        ended=None if ended is None else utc_moment(str(ended)),
        ending=str(ending),
        codes=tuple(json.loads(str(codes))),
        withdrawn=bool(withdrawn),
        station=str(station),
    )


def doubts(
    db: sqlite3.Connection, *, instrument: str, reviewed: bool, limit: int, offset: int
) -> tuple[tuple[DoubtRow, ...], int]:
    """Uses in doubt, the newest failure first and its uses as they came; with those `reviewed`, or only the others."""
    asked = ["d.instrument = ?"] if instrument else []
    if not reviewed:
        asked.append("d.review IS NULL")
    values = (instrument,) if instrument else ()
    where = f" FROM doubts d WHERE {' AND '.join(asked) or '1'}"
    total = db.execute("SELECT count(*)" + where, values).fetchone()[0]
    order = "d.found_at DESC, d.cause, d.kind, d.used_at, d.use"
    page = db.execute(
        "SELECT d.instrument, i.label, d.cause, d.kind, d.found_at, d.use, d.used_at, d.used_by, p.name, d.job,"
        f" d.place, d.review FROM (SELECT d.*{where} ORDER BY {order} LIMIT ? OFFSET ?) d"
        f" LEFT JOIN instruments i ON i.id = d.instrument LEFT JOIN people p ON p.id = d.used_by ORDER BY {order}",
        (*values, limit, offset),
    )
    return tuple(
        DoubtRow(
            instrument=meter,
            label=label or "",
            cause=cause,
            kind=kind,
            found_at=utc_moment(found_at),
            use=use,
            used_at=utc_moment(used_at),
            to=to,
            to_name=name or "",
            job=job,
            place=place,
            review=review or "",
        )
        for meter, label, cause, kind, found_at, use, used_at, to, name, job, place, review in page
    ), int(total)


def locked_between(db: sqlite3.Connection, since: datetime, until: datetime) -> tuple[str, ...]:
    """Instruments of which a lockout stood at some time from `since` on and before `until`."""
    rows = db.execute(
        "SELECT DISTINCT instrument FROM lockouts WHERE coalesce(closed_at, '~') >= ? AND made_at < ?"
        " ORDER BY instrument",
        (utc_text(since), utc_text(until)),
    )
    return tuple(instrument for (instrument,) in rows)


def happened(
    db: sqlite3.Connection,
    kinds: Iterable[str],
    *,
    since: datetime | None,
    until: datetime | None,
    limit: int,
    offset: int,
) -> tuple[tuple[Event, ...], int]:
    """Events of these kinds by the time that stands in them, newest first, and how many."""
    wanted = sorted(set(kinds))
    if OFTEN.intersection(wanted):
        raise ValueError(f"not kept by time: {', '.join(sorted(OFTEN.intersection(wanted)))}")
    if not wanted:
        return (), 0
    asked = "kind = ?"
    span: list[str] = []
    if since is not None:
        asked += " AND utc >= ?"
        span.append(utc_text(since))
    if until is not None:
        asked += " AND utc < ?"
        span.append(utc_text(until))
    values = [value for kind in wanted for value in (kind, *span)]
    # One question for each kind: each is read in its own order and they are merged, so that nothing is sorted.
    every = " UNION ALL ".join([f"SELECT utc, hlc, event FROM happenings WHERE {asked}"] * len(wanted))
    total = sum(
        int(db.execute(f"SELECT count(*) FROM happenings WHERE {asked}", (kind, *span)).fetchone()[0])
        for kind in wanted
    )
    page = db.execute(
        f"SELECT e.raw, e.hash FROM ({every} ORDER BY utc DESC, hlc DESC, event DESC LIMIT ? OFFSET ?) h"
        " JOIN events e ON e.id = h.event ORDER BY h.utc DESC, h.hlc DESC, h.event DESC",
        (*values, limit, offset),
    )
    return tuple(reread(raw, hashed) for raw, hashed in page), total
