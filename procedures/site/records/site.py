"""The index of a site: everything one can go to, in groups, with counts where something waits."""

from __future__ import annotations

from typing import TYPE_CHECKING

from procedures.sheets import Column, Deed, Grid, Row, Section, Sheet
from procedures.site import people
from procedures.site.doubt_counts import not_reviewed
from procedures.site.waiting import count_overdue

if TYPE_CHECKING:
    from procedures.site.opening import Site
    from procedures.site.rights import Action

_COLUMNS = (Column("", least=20), Column("how many", figures=True, least=8), Column("", gives_way=1, least=16))


def site(site: Site, about: str, person: str) -> Sheet:
    """Where one can go from here. Counts come from tables: they cost the same at any size of the record."""
    del about
    groups = (_on_the_lists(site, person), _that_waits(site), _records(), _the_rest(person))
    settings = site.settings()
    return Sheet("site", settings["name"], groups, line=f"Times are those of {settings['zone']}.")


def _row(deed: Deed, count: int | None = None, say: str = "", *, matters: bool = False) -> Row:
    """A place to go to. What waits says so in words, and by its tone besides."""
    return Row(
        (deed.say, "" if count is None else str(count), deed.may_not or say),
        deed,
        tone="quiet" if deed.may_not else "warn" if matters and count else "",
        key=f"{deed.goes} {deed.name} {deed.about}",
    )


def _group(title: str, *rows: Row) -> Section:
    return Grid(_COLUMNS, rows, title=title)


def _new(site: Site, person: str, action: Action, say: str, form: str) -> Row:
    return _row(Deed(say, "form", form, may_not=people.may(site, person, action) if person else ""))


def _on_the_lists(site: Site, person: str) -> Section:
    journal = site.journal
    return _group(
        "Lists",
        _row(Deed("Instruments", "listing", "instruments"), journal.instruments_found("", limit=1)[1]),
        _row(Deed("Check sources", "listing", "sources"), journal.sources_found("", limit=1)[1]),
        _row(Deed("Jigs", "listing", "jigs"), journal.things_found("jig", "", limit=1)[1]),
        _row(Deed("People", "listing", "people"), journal.people_found("", limit=1)[1]),
        _new(site, person, "register", "A new instrument", "instrument-add"),
        _new(site, person, "register", "A new check source", "source-add"),
        _new(site, person, "register", "A new jig", "jig-add"),
        _new(site, person, "set up", "A new person", "person-add"),
    )


def _that_waits(site: Site) -> Section:
    journal = site.journal
    late = count_overdue(site)
    doubted = not_reviewed(site)
    shared = len(journal.shared_labels())
    apart = [row for row in journal.profiles(limit=-1) if len(row.heads) > 1]
    rows = [
        _row(Deed("Lockouts", "listing", "lockouts"), journal.locked(limit=1)[1], matters=True),
        _row(Deed("Handed out", "listing", "uses"), journal.out_now(limit=1)[1]),
        _row(Deed("Overdue", "sheet", "overdue"), late, "should have been back" if late else "", matters=True),
        _row(
            Deed("Uses in doubt", "listing", "doubts"),
            doubted.number,
            f"{doubted.words} in doubt not reviewed" if doubted.entries else "",
            matters=True,
        ),
    ]
    rows += [
        _row(
            Deed(f"Profile {row.profile}", "form", "adoption-choice", row.profile),
            len(row.heads),
            "revisions adopted apart: none counts until one is chosen",
            matters=True,
        )
        for row in apart
    ]
    if shared:
        say = "a label is on two things: neither may be used"
        rows.append(_row(Deed("Labels on two things", "sheet", "exchange"), shared, say, matters=True))
    return _group("What waits", *rows)


def _records() -> Section:
    return _group(
        "Records",
        _row(Deed("Checkouts", "listing", "checkouts")),
        _row(Deed("Daily log, today", "sheet", "day")),
        _row(Deed("Daily log of another day", "form", "day-date")),
        _row(Deed("Inspection binder", "form", "binder-dates")),
        _row(Deed("Checks on paper", "listing", "papers")),
    )


def _the_rest(person: str) -> Section:
    return _group(
        "This site",
        _row(Deed("Exchange with other laptops", "sheet", "exchange")),
        _row(Deed("Count of all check sources", "form", "source-count")),
        _row(Deed("Settings", "sheet", "settings")),
        *((_row(Deed("My PIN", "form", "pin-set", person)),) if person else ()),
    )
