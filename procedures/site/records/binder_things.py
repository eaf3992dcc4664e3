"""What the inspection binder says of things and people: instruments and calibration, sources, who is trained."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING, Final

from procedures.sheets import Column, Deed, Grid, Row, Section, Tone
from procedures.site import lookups
from procedures.site.records.binder_common import PAGE, every, recorded
from procedures.site.site_days import SiteDays
from procedures.site.source_facts import exempt

if TYPE_CHECKING:
    from procedures.journal.rows import InstrumentRow, PersonRow, SourceRow
    from procedures.site.opening import Site

_INSTRUMENTS: Final = (
    Column("instrument", least=8),
    Column("serial", gives_way=1),
    Column("type", gives_way=2),
    Column("calibrated", least=10),
    Column("due", least=10),
    Column("calibration", least=12),
    Column("whereabouts", gives_way=3),
)
_SOURCES: Final = (
    Column("source", least=8),
    Column("serial", gives_way=2),
    Column("nuclide", least=6),
    Column("whereabouts", gives_way=1),
    Column("leak-tested", least=10),
    Column("next due", least=10),
    Column("last inventory", least=10),
    Column("condition", gives_way=3),
)
_PEOPLE: Final = (
    Column("badge", least=6),
    Column("name", least=10),
    Column("roles", least=8),
    Column("trained until", least=10),
    Column("on the list", gives_way=1),
)


def instruments(site: Site, days: SiteDays) -> Iterator[Section]:
    """Every instrument with its calibration as it is now, those out of service for good among them."""
    today = days.local(site.clock.now().utc).date()
    rows: list[Row] = []
    past = ("", "")
    while page := site.journal.home_rows(limit=PAGE, past=past, retired=True):
        rows += [_instrument(each, today) for each in page]
        past = (page[-1].label, page[-1].id)
    yield Grid(_INSTRUMENTS, tuple(rows), title=f"Instruments: {len(rows)}")


def _instrument(row: InstrumentRow, today: date) -> Row:
    status = _calibration(row.calibration_due, row.calibrated_on, today)
    over = status != "in force" and not row.retired
    return Row(
        (
            row.label,
            row.serial,
            row.type,
            row.calibrated_on or "",
            row.calibration_due or "",
            status,
            "out of service for good" if row.retired else row.whereabouts,
        ),
        Deed("Open the instrument", "sheet", "instrument", row.id),
        tone="quiet" if row.retired else "bad" if over else "",
        key=row.id,
    )


def _calibration(due: str | None, on: str | None, today: date) -> str:
    if on is None:
        return "NONE IN FORCE"
    if due is None:
        return "no due date on record"
    return "in force" if today <= date.fromisoformat(due) else "ENDED"


def sources(site: Site, days: SiteDays, first: date, last: date) -> Iterator[Section]:
    """Every check source as it is now, and its tests and inventories of these days."""
    today = days.local(site.clock.now().utc).date()
    found = every(lambda limit, offset: site.journal.sources_found(limit=limit, offset=offset, retired=True))
    rows = tuple(_source(site, each, today) for each in found)
    yield Grid(_SOURCES, rows, title=f"Check sources: {len(rows)}")
    yield from recorded(site, days, first, last, ("leak-tested",), "Leak tests")
    yield from recorded(site, days, first, last, ("counted", "source-condition"), "Physical inventories and condition")


def _source(site: Site, row: SourceRow, today: date) -> Row:
    over = row.leak_due is not None and date.fromisoformat(row.leak_due) < today
    missing = row.counted_found is False or row.whereabouts == "missing"
    counted = f"{row.counted_on}{'' if row.counted_found else ' NOT FOUND'}" if row.counted_on else "none"
    where = "taken out of use" if row.retired else row.whereabouts
    return Row(
        (
            row.label,
            row.serial,
            row.nuclide,
            where,
            row.leak_tested or "none",
            f"{row.leak_due}{' OVERDUE' if over else ''}" if row.leak_due else _no_test(site, row.id),
            counted,
            row.condition or "not recorded",
        ),
        Deed("Open the source", "sheet", "source", row.id),
        tone="quiet" if row.retired else "bad" if over or missing else "",
        key=row.id,
    )


def _no_test(site: Site, source: str) -> str:
    why = exempt(site.journal.source_now(source).fields)
    return f"none needed: {why}" if why else "none set"


def people(site: Site) -> Iterator[Section]:
    """Everybody who is or was on the list, with their training."""
    found = every(lambda limit, offset: site.journal.people_found(limit=limit, offset=offset, retired=True))
    rows = tuple(_member(site, each) for each in found)
    yield Grid(_PEOPLE, rows, title=f"People: {len(rows)}")


def _member(site: Site, row: PersonRow) -> Row:
    over = row.trained_until is not None and not row.retired and lookups.is_over(site, row.trained_until)
    until = f"{row.trained_until}{' ENDED' if over else ''}" if row.trained_until else "no end recorded"
    on_list = "left" if row.retired else "yes"
    tone: Tone = "quiet" if row.retired else "warn" if over else ""
    opens = Deed("Open the person", "sheet", "person", row.id)
    return Row((row.label, row.name, ", ".join(row.roles), until, on_list), opens, tone, row.id)
