"""Everything that was recorded of an instrument or a source, newest first, a page at a time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from procedures.journal.fields import is_hash
from procedures.sheets import Column, Deed, Grid, Lines, Row, Section, Sheet
from procedures.site import naming
from procedures.site.entries import thing
from procedures.site.records.telling import told, who
from procedures.site.site_days import SiteDays
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.envelope import Event
    from procedures.site.opening import Site

ROWS: Final = 50
_READ: Final = 200

_COLUMNS: Final = (
    Column("when", least=16),
    Column("what", least=12),
    Column("said", least=16, gives_way=1),
    Column("by", gives_way=2),
)


def instrument_history(site: Site, about: str, _person: str) -> Sheet:
    """The history of an instrument. `about` is its id, or its id and the last record of the page before."""
    instrument, _, before = about.partition(",")
    thing(site, instrument, "instrument")
    deeds = (
        Deed("The instrument", "sheet", "instrument", instrument),
        Deed("Its checkouts as a list", "listing", "checkouts", instrument),
        Deed("Its drift", "sheet", "drift", instrument),
    )
    return _history(site, "history", instrument, before, deeds)


def source_history(site: Site, about: str, _person: str) -> Sheet:
    """The history of a check source, as that of an instrument."""
    source, _, before = about.partition(",")
    thing(site, source, "source")
    return _history(site, "source-history", source, before, (Deed("The source", "sheet", "source", source),))


def _history(site: Site, name: str, subject: str, before: str, deeds: tuple[Deed, ...]) -> Sheet:
    days = SiteDays.of(site)
    found, more = _page(site, subject, _last_of_page(site, before))
    rows = tuple(_row(site, days, event) for event in found)
    sections: list[Section] = [Grid(_COLUMNS, rows, empty="Nothing older was recorded.")]
    turning: list[Deed] = []
    if more:
        sections.append(Lines(("There are older records: they are on the next page.",), tone="quiet"))
        turning.append(Deed("Older records", "sheet", name, f"{subject},{found[-1].hash}"))
    if before:
        turning.append(Deed("The newest records", "sheet", name, subject))
    return Sheet(
        name,
        f"History of {naming.label(site, subject)}",
        tuple(sections),
        about=f"{subject},{before}" if before else subject,
        line="newest first",
        deeds=(*turning, *deeds),
    )


def _last_of_page(site: Site, before: str) -> Event | None:
    if not before:
        return None
    event = site.journal.by_hash(before) if is_hash(before) else None
    if event is None:
        raise Trouble("that page begins nowhere", do="Open the newest page of the history.")
    return event


def _page(site: Site, subject: str, before: Event | None) -> tuple[list[Event], bool]:
    """One page of what is told, and whether there is more. Passes within a checkout are told by its ending."""
    found: list[Event] = []
    while page := site.journal.about(subject, limit=_READ, before=before):
        for event in page:
            if _is_told(event):
                if len(found) == ROWS:
                    return found, True
                found.append(event)
        before = page[-1]
    return found, False


def _is_told(event: Event) -> bool:
    if event.kind != "found":
        return True
    finding = event.body.get("finding")
    return not isinstance(finding, dict) or finding.get("outcome") == "fail"


def _row(site: Site, days: SiteDays, event: Event) -> Row:
    said = told(site, event)
    return Row(
        (days.written(event.utc), said.what, said.say, who(site, event.person)), said.opens, said.tone, event.hash
    )
