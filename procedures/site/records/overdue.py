"""What should have been back by now, on one sheet to walk about with and ask."""

from __future__ import annotations

from typing import TYPE_CHECKING

from procedures.sheets import Deed, Grid, Lines, Section, Sheet
from procedures.site import local_time
from procedures.site.exchange_age import exchange_age
from procedures.site.records.uses import COLUMNS, out_row
from procedures.site.waiting import overdue_rows

if TYPE_CHECKING:
    from procedures.site.opening import Site


def overdue(site: Site, _about: str, _person: str) -> Sheet:
    """Every instrument that is overdue, and whom to ask for it."""
    rows = overdue_rows(site)
    age = exchange_age(site)
    sections: list[Section] = [
        Grid(COLUMNS, tuple(out_row(site, each) for each in rows), empty="Nothing is overdue."),
        Lines(
            (
                "Ask whoever has it: is it still needed, does it work, when does it come back?",
                "What cannot be found is recorded as missing, and the site lead is told.",
                *((age,) if age else ()),
            ),
            title="What to do" if rows else "",
            tone="quiet",
        ),
    ]
    return Sheet(
        "overdue",
        "Overdue instruments",
        tuple(sections),
        line=f"{len(rows)} overdue at {local_time.said(site, site.clock.now().utc)}",
        deeds=(Deed("All that are out", "listing", "uses"),),
    )
