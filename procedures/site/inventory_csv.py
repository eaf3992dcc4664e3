"""People, jigs, sources, instruments and their bindings as tables that a spreadsheet opens: out, and in.

Every row of every file is read before anything is recorded, and nothing is while one row is bad. Each file is recorded
in one transaction. What is exported and taken in at an empty site is the same again. History is not in these tables:
checks, calibrations, reference readings, leak tests, lockouts and whereabouts belong to the journal (exchange, backup);
`not_carried` says what of that stands against things now. A row that says what is recorded already is passed over.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from procedures.journal.envelope import Draft
from procedures.reports.tables import guarded
from procedures.site import people, source_due, source_keeping
from procedures.site.inventory_tables import (
    COLUMNS,
    MAY_BE_MISSING,
    SORTS,
    BadRow,
    BadRows,
    Row,
    read_cell,
    read_table,
    spelt,
)
from procedures.site.lookups import folded, given_up
from procedures.site.opening import Site
from procedures.trouble import Trouble

__all__ = ["BadRow", "BadRows", "Plan", "export", "not_carried", "read", "take"]


@dataclass(slots=True)
class _Reading:
    """What is known while tables are read: everything wrong so far, and who carries which label."""

    site: Site
    bad: list[BadRow] = field(default_factory=list)
    labels: dict[str, str] = field(default_factory=dict)
    """Label, folded → where it stands in the files read so far."""
    sorts: dict[str, str] = field(default_factory=dict)
    """Label, folded → file whose rows are of its sort."""
    serials: dict[tuple[str, str], str] = field(default_factory=dict)
    given_up: frozenset[str] = frozenset()
    """Labels, folded, that things at the site carried once."""
    same: Counter[str] = field(default_factory=Counter)
    """Rows by table that say what is recorded already."""

    def refuse(self, file: str, line: int, column: str, why: str) -> None:
        self.bad.append(BadRow(file, line, column, why))


# --- out -----------------------------------------------------------------------------------------------------------


def export(site: Site, folder: Path) -> Mapping[str, int]:
    """Write the tables into a folder; the rows of each by name. Raises Trouble rather than write over a file.

    Retired things are not in them: they are history.
    """
    tables = {name: list(_rows_of(site, name)) for name in COLUMNS}
    made: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, rows in tables.items():
            path = folder / f"{name}.csv"
            with path.open("x", encoding="utf-8", newline="") as file:
                made.append(path)
                writer = csv.writer(file)
                writer.writerow(COLUMNS[name])
                writer.writerows([guarded(cell) for cell in row] for row in rows)
    except OSError as fault:
        for path in made:
            with suppress(OSError):
                path.unlink()
        raise Trouble(
            f"the tables cannot be written ({fault.strerror})",
            where=str(fault.filename or folder),
            allowed="a folder that you may write to, without tables of these names",
            do="Name an empty folder.",
        ) from None
    return {name: len(rows) for name, rows in tables.items()}


def not_carried(site: Site) -> tuple[str, ...]:
    """What stands against things of this site now and is not in the tables, a line each; nothing where nothing does."""
    said = [f"{why}" for why in source_due.withdrawn(site).values()]
    locked, _ = site.journal.locked(limit=-1)
    said += [f"{row.label} is locked out" for row in locked]
    found, _ = site.journal.instruments_found("", limit=-1)
    said += [f"{row.label} is contaminated" for row in found if row.contaminated]
    said += [f"{row.label} is recorded as {row.whereabouts}" for row in found if row.whereabouts != "here"]
    sources = [row for row in site.journal.sources(limit=-1) if not row.retired]
    elsewhere = [row for row in sources if row.whereabouts not in ("here", "missing")]
    return (*said, *(f"source {row.label} is recorded as {row.whereabouts}" for row in elsewhere))


def _rows_of(site: Site, name: str) -> Iterator[list[str]]:
    if name == "bindings":
        yield from _bindings(site)
        return
    for thing in site.journal.things(SORTS[name]):
        fields = site.journal.thing_now(thing.id).fields
        yield [spelt(column, fields.get(column)) for column in COLUMNS[name]]


def _bindings(site: Site) -> Iterator[list[str]]:
    def label(thing: str | None) -> str:
        return spelt("label", site.journal.thing_now(thing).fields.get("label")) if thing else ""

    for thing in site.journal.things("instrument"):
        state = site.journal.instrument_now(thing.id)
        for role, bound in sorted(state.bindings.items()):
            yield [label(thing.id), role, label(bound.source), label(bound.jig)]


# --- in ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Plan:
    """Tables that were read without a fault, and by whom; `rows` are what each would record, by name.

    `same` counts the rows of each that say what is recorded here already: those are passed over.
    """

    by: str
    rows: Mapping[str, Sequence[Mapping[str, Any]]]
    same: Mapping[str, int] = field(default_factory=dict)


def read(site: Site, folder: Path, by: str) -> Plan:
    """Read whichever of the tables are in this folder, for `by`, a lead. Nothing is recorded.

    Raises BadRows with everything that is wrong in any of them.
    """
    people.entitled(site, by, "register")
    tables = _tables(folder)
    reading = _Reading(site, given_up=frozenset(given_up(site)))
    rows = {name: read_table(reading.refuse, folder / f"{name}.csv", name) for name in tables}
    made = {name: _bodies(reading, name, rows[name]) for name in tables}
    if reading.bad:
        raise BadRows(reading.bad)
    return Plan(by, made, {name: reading.same[name] for name in tables if reading.same[name]})


def take(site: Site, plan: Plan, *, pin: str | None = None) -> Mapping[str, int]:
    """Record what was read, a file in one transaction; how many rows of each, by name.

    `pin` is that of the lead, where the site asks for PINs.
    """
    people.entitled(site, plan.by, "register")
    _still_free(site, plan)
    people.confirm(site, plan.by, pin)
    for name, bodies in plan.rows.items():
        drafts = [_draft(site, name, each, plan.by) for each in bodies]
        if drafts:
            site.journal.append(drafts, site.clock.now())
    return {name: len(bodies) for name, bodies in plan.rows.items()}


def _still_free(site: Site, plan: Plan) -> None:
    """Raises Trouble when a label of the plan was taken since the tables were read."""
    labels = [str(body["label"]) for name, bodies in plan.rows.items() if name != "bindings" for body in bodies]
    taken = [label for label in labels if site.journal.labelled(label)]
    if taken:
        raise Trouble(
            f"{', '.join(taken[:5])} {'was' if len(taken) == 1 else 'were'} registered meanwhile; nothing was taken",
            allowed="labels that nothing here has ever carried",
            do="Take the tables in again: they are looked at anew.",
        )


def _tables(folder: Path) -> list[str]:
    try:
        there = [name for name in COLUMNS if (folder / f"{name}.csv").exists()] if folder.is_dir() else []
    except OSError:
        there = []
    if not there:
        raise Trouble(
            "there is no table in this folder",
            where=str(folder),
            allowed=", ".join(f"{name}.csv" for name in COLUMNS),
            do="Name a folder with one of these; “inventory export” writes them.",
        )
    return there


def _bodies(reading: _Reading, name: str, rows: Sequence[Row]) -> list[Mapping[str, Any]]:
    """What each row would record; what is wrong with it goes to the reading."""
    made: list[Mapping[str, Any]] = []
    for row in rows:
        before = len(reading.bad)
        columns = [each for each in COLUMNS[name] if each not in MAY_BE_MISSING or row.cells.get(each, "").strip()]
        body = {column: read_cell(reading.refuse, name, row, column) for column in columns}
        if name == "bindings":
            _bound(reading, row, body)
        elif name in SORTS and len(reading.bad) == before and _is_here(reading, name, row, body):
            continue
        elif name == "sources" and len(reading.bad) == before:
            _fits_together(reading, row, body)
        if name != "bindings" and body["label"] is not None:
            _unused(reading, name, row, body)
        if name == "bindings" and len(reading.bad) == before and _is_bound(reading, body):
            continue
        if len(reading.bad) == before:
            made.append(body)
    return made


def _is_here(reading: _Reading, name: str, row: Row, body: Mapping[str, Any]) -> bool:
    """Whether this row says of a thing at the site what is recorded of it, such as the row of the lead who reads it."""
    label = str(body["label"])
    living = [each for each in reading.site.journal.labelled(label) if each.living]
    if [each.what for each in living] != [SORTS[name]] or folded(label) in reading.labels:
        return False
    fields = reading.site.journal.thing_now(living[0].id).fields
    if any(_cell(column, body) != _cell(column, fields) for column in COLUMNS[name]):
        return False
    reading.labels[folded(label)] = f"{name}.csv:{row.line}"
    reading.same[name] += 1
    return True


def _cell(column: str, fields: Mapping[str, Any]) -> str:
    """What a table says of it; an activity is what is certified unless something else is said."""
    return spelt(column, fields.get(column)) or ("activity" if column == "certified_as" else "")


def _is_bound(reading: _Reading, body: Mapping[str, Any]) -> bool:
    """Whether this source and jig are bound to this role of an instrument at the site already."""
    instrument, source, jig = (_id(reading.site, body[column]) for column in ("instrument", "source", "jig"))
    bound = reading.site.journal.instrument_now(instrument).bindings.get(body["role"]) if instrument else None
    if bound is None or (bound.source, bound.jig) != (source, jig):
        return False
    reading.same["bindings"] += 1
    return True


def _fits_together(reading: _Reading, row: Row, body: Mapping[str, Any]) -> None:
    """Refuse a source whose cells are each right, and wrong beside each other."""
    try:
        source_keeping.fields_of(body)
    except Trouble as trouble:
        column = "leak_test_exempt" if body.get("leak_test_exempt") else "components"
        allowed = f"; allowed: {trouble.allowed}" if trouble.allowed else ""
        reading.refuse("sources.csv", row.line, column, f"{trouble.what}{allowed}")


def _unused(reading: _Reading, name: str, row: Row, body: Mapping[str, Any]) -> None:
    """Refuse a label or serial number that is there already: at the site, or further up in these tables."""
    file, label = f"{name}.csv", str(body["label"])
    known = folded(label)
    if reading.site.journal.labelled(label) or known in reading.given_up:
        reading.refuse(file, row.line, "label", f"{label} is in use at the site, or was once")
        return
    if known in reading.labels:
        reading.refuse(file, row.line, "label", f"{label} stands in {reading.labels[known]} already")
    reading.labels.setdefault(known, f"{file}:{row.line}")
    reading.sorts.setdefault(known, name)
    if name == "instruments" and body["serial"] and body["type"]:
        _unused_serial(reading, row, body)


def _unused_serial(reading: _Reading, row: Row, body: Mapping[str, Any]) -> None:
    key = (body["type"].casefold(), body["serial"].casefold())
    found, _ = reading.site.journal.instruments_found(body["serial"], limit=-1)
    there = [each.label for each in found if (each.type.casefold(), each.serial.casefold()) == key]
    where = f"as {there[0]} at the site" if there else reading.serials.get(key, "")
    if where:
        reading.refuse("instruments.csv", row.line, "serial", f"this instrument is there already, {where}")
    reading.serials.setdefault(key, f"in instruments.csv:{row.line}")


def _bound(reading: _Reading, row: Row, body: Mapping[str, Any]) -> None:
    """Refuse a binding of what is neither at the site nor in these tables."""
    for column, name in (("instrument", "instruments"), ("source", "sources"), ("jig", "jigs")):
        label = body[column]
        if not label or reading.sorts.get(folded(label)) == name:
            continue
        living = [each for each in reading.site.journal.labelled(label) if each.living]
        if [each.what for each in living] != [SORTS[name]]:
            reading.refuse("bindings.csv", row.line, column, f"there is no {SORTS[name]} {label}")


def _draft(site: Site, name: str, body: Mapping[str, Any], by: str) -> Draft:
    """The event of one row. What a binding names has been taken in by now."""
    if name != "bindings":
        return Draft("registered", {"what": SORTS[name], **body}, person=by)
    instrument, source, jig = (_id(site, body[column]) for column in ("instrument", "source", "jig"))
    said = {"role": body["role"], "source": source, "jig": jig}
    return Draft("source-bound", said, (str(instrument), str(source)), person=by)


def _id(site: Site, label: str) -> str | None:
    return next((each.id for each in site.journal.labelled(label) if each.living), None) if label else None
