"""The daily log: everything that happened on one day of the site."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import TYPE_CHECKING, Final

from procedures.sheets import Column, Deed, Grid, Lines, Row, Section, Sheet
from procedures.site.records.checkouts import COLUMNS, row
from procedures.site.records.telling import subject, told, who
from procedures.site.site_days import LAST_DAY, SiteDays, day_meant, named

if TYPE_CHECKING:
    from procedures.journal.envelope import Event
    from procedures.site.opening import Site

PARTS: Final = (
    ("Lockouts and clearings", ("locked-out", "cleared", "struck", "repaired", "readiness-ended")),
    ("Hand-outs and returns", ("handed-out", "emergency-use", "returned")),
    ("Checked on paper", ("paper-entered",)),
    ("Calibrations and reference readings", ("calibrated", "reference-recorded", "source-bound")),
    ("Source tests and inventories", ("leak-tested", "counted", "source-condition")),
    ("Uses in doubt looked into", ("use-reviewed",)),
    (
        "Inventory, people and settings",
        (
            "registered",
            "described",
            "retired",
            "placed",
            "contamination",
            "profile-adopted",
            "site-begun",
            "settings-changed",
            "station-begun",
            "pin-refused",
            "note",
        ),
    ),
)
"""The parts of a day, with the kinds of record in each."""

PAGE: Final = 200
MOST: Final = 2_000
"""Rows of one part. What is more is counted, and said."""

_EVENTS: Final = (
    Column("time", least=5),
    Column("about", least=8),
    Column("what", least=12),
    Column("said", least=16, gives_way=1),
    Column("by", gives_way=2),
)


def day(site: Site, about: str, _person: str) -> Sheet:
    """The log of a day of the site; of today for ""."""
    days = SiteDays.of(site)
    this = day_meant(about) if about else days.day_of(site.clock.now().utc)
    begin, end = days.bounds(this)
    sections: list[Section] = [*_changed_clocks(days, this), _checkouts(site, days, this)]
    for title, kinds in PARTS:
        found, total = happened(site, kinds, days, this, this)
        rows = tuple(_row(site, days, event) for event in reversed(found))
        sections.append(Grid(_EVENTS, rows, title=title))
        sections += _left_out(len(rows), total)
    following = Deed(
        "The day after", "sheet", "day", (this + timedelta(days=1)).isoformat(), _no_later(days, site, this)
    )
    return Sheet(
        "day",
        f"Daily log of {named(this)}",
        tuple(sections),
        about=this.isoformat(),
        line=f"{days.written(begin)} to {days.written(end)}, {days.zone.key}",
        deeds=(
            Deed("The day before", "sheet", "day", (this - timedelta(days=1)).isoformat()),
            following,
            Deed("Another day", "form", "day-date"),
            Deed("Its checkouts as a list", "listing", "checkouts", f"{this.isoformat()},{this.isoformat()}"),
        ),
    )


def _no_later(days: SiteDays, site: Site, this: date) -> str:
    return "It has not come yet." if this >= min(days.day_of(site.clock.now().utc), LAST_DAY) else ""


def _changed_clocks(days: SiteDays, this: date) -> Iterator[Lines]:
    hours = days.hours(this)
    if hours != 24:
        yield Lines((f"The clocks were changed: this day has {hours:g} hours.",), tone="quiet")


def _checkouts(site: Site, days: SiteDays, this: date) -> Grid:
    since, until = days.bounds(this)
    found, total = site.journal.checkouts_found(since=since, until=until, limit=MOST)
    more = f", the last {len(found)} of {total}" if total > len(found) else ""
    return Grid(COLUMNS, tuple(row(days, each) for each in reversed(found)), title=f"Checkouts begun{more}")


def happened(
    site: Site, kinds: tuple[str, ...], days: SiteDays, first: date, last: date, most: int = MOST
) -> tuple[list[Event], int]:
    """Events of these kinds on these days, newest first, at most so many; and how many there are in all."""
    since, until = days.span(first, last)
    found: list[Event] = []
    while True:
        limit = min(PAGE, most - len(found))
        page, total = site.journal.happened(kinds, since=since, until=until, limit=limit, offset=len(found))
        found += page
        if not page or len(found) >= min(total, most):
            return found, total


def _row(site: Site, days: SiteDays, event: Event) -> Row:
    _, label = subject(site, event)
    said = told(site, event)
    cells = (days.clock(event.utc), label, said.what, said.say, who(site, event.person))
    return Row(cells, said.opens, said.tone, event.hash)


def _left_out(shown: int, total: int) -> Iterator[Lines]:
    if total > shown:
        yield Lines((f"{total - shown} more were recorded earlier on this day.",), tone="warn")
