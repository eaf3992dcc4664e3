"""Checkouts as a listing: searched, narrowed and paged in the journal, however many there are."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final

from procedures.answers import clean_line
from procedures.asks import Option
from procedures.journal.fields import is_hash
from procedures.reasons import KNOWN
from procedures.sheets import Column, Deed, Filter, Listing, Query, Row
from procedures.site import naming
from procedures.site.forms.common import meant
from procedures.site.found_words import ENDING_TONES, ENDING_WORDS
from procedures.site.site_days import SiteDays, day_meant, range_meant
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.rows import CheckoutRow
    from procedures.site.opening import Site

COLUMNS: Final = (
    Column("opened", least=16),
    Column("instrument", least=8),
    Column("type", gives_way=4),
    Column("checked by", gives_way=2),
    Column("ending", least=12),
    Column("reasons", gives_way=1),
    Column("ended", gives_way=3, least=16),
)

ENDINGS: Final = ("fit for use", "locked out", "not checked", "abandoned")


def checkouts(site: Site, about: str, _person: str, query: Query) -> Listing:
    """Checkouts, the newest first. `about` is "", an instrument's id, or two days: "2026-01-01,2026-03-31"."""
    days = SiteDays.of(site)
    only, since, until = _meant_by(days, about)
    asked = {key: clean_line(value) for key, value in query.filters.items() if clean_line(value)}
    if "instrument" in asked:
        only = meant(site, asked["instrument"], "instrument")
    if "from" in asked:
        since = days.begin(day_meant(asked["from"]))
    if "to" in asked:
        until = days.begin(day_meant(asked["to"]) + timedelta(days=1))
    found, total = site.journal.checkouts_found(
        search=clean_line(query.search),
        instrument=only,
        person=meant(site, asked["person"], "person") if "person" in asked else "",
        since=since,
        until=until,
        ending=_ending(asked.get("ending", "")),
        code=asked.get("code", ""),
        limit=query.limit,
        offset=query.offset,
    )
    return Listing(
        "checkouts",
        f"Checkouts of {naming.label(site, about)}" if is_hash(about) else "Checkouts",
        COLUMNS,
        tuple(row(days, each) for each in found),
        total,
        query.offset,
        about=about,
        line=about.replace(",", " to ") if "," in about else "",
        deeds=(Deed("The daily log", "sheet", "day"), Deed("Inspection binder", "form", "binder-dates")),
        filters=_filters(),
        empty="No checkout fits this.",
    )


def row(days: SiteDays, found: CheckoutRow) -> Row:
    """One checkout of a list."""
    ending = ENDING_WORDS.get(found.ending, found.ending)
    return Row(
        (
            days.written(found.opened),
            found.label,
            found.type,
            found.person_name,
            f"WITHDRAWN ({ending})" if found.withdrawn else ending,
            ", ".join(found.codes),
            days.written(found.ended),
        ),
        Deed("Open the checkout", "sheet", "checkout", found.checkout),
        tone="quiet" if found.withdrawn else ENDING_TONES.get(found.ending, ""),
        key=found.checkout,
    )


def _filters() -> tuple[Filter, ...]:
    return (
        Filter("instrument", "instrument", example="its label"),
        Filter("person", "checked by", example="badge, initials or name"),
        Filter("from", "from this day on", example="2026-01-01"),
        Filter("to", "up to this day", example="2026-03-31"),
        Filter("ending", "ending", tuple(Option(each, each) for each in ENDINGS)),
        Filter("code", "reason code", example=next(iter(KNOWN))),
    )


def _meant_by(days: SiteDays, about: str) -> tuple[str, datetime | None, datetime | None]:
    if not about:
        return "", None, None
    if is_hash(about):
        return about, None, None
    since, until = days.span(*range_meant(about))
    return "", since, until


def _ending(text: str) -> str:
    if text and text not in ENDINGS:
        raise Trouble(f"“{text[:40]}” is no ending", allowed=", ".join(ENDINGS), do="Choose one of them.")
    return text
