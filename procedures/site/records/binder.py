"""The inspection binder: what an inspector asks for, over a range of days, in the order in which it is asked.

Uses in doubt come first: whether anything was released or measured with an instrument that was then found failing is
the question that matters.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Final

from procedures.sheets import Column, Deed, Grid, Lines, Pairs, Row, Section, Sheet
from procedures.site import doubtful, lookups, naming
from procedures.site.doubt_counts import counted
from procedures.site.records import checkouts
from procedures.site.records.binder_common import MOST, every, recorded
from procedures.site.records.binder_lockouts import lockouts
from procedures.site.records.binder_things import instruments, people, sources
from procedures.site.records.telling import who
from procedures.site.site_days import SiteDays, named, range_meant

if TYPE_CHECKING:
    from procedures.journal.rows import DoubtRow
    from procedures.site.opening import Site

HAND_OUTS: Final = ("handed-out", "emergency-use", "returned")
Part = tuple[str, tuple[Section, ...]]

_DOUBTS: Final = (
    Column("found", least=16),
    Column("instrument", least=8),
    Column("what failed", least=16),
    Column("used", least=16),
    Column("by", least=8),
    Column("job, place", least=10),
    Column("looked into", least=16),
)


def binder(site: Site, about: str, person: str) -> Sheet:
    """The binder of a range of days, "2026-01-01,2026-03-31"; of the last quarter of a year for ""."""
    with naming.of_one_moment():
        return _binder(site, about, person)


def _binder(site: Site, about: str, person: str) -> Sheet:
    days = SiteDays.of(site)
    today = days.day_of(site.clock.now().utc)
    first, last = range_meant(about) if about else (today - timedelta(days=91), today)
    parts: list[Part] = [
        ("Uses in doubt, and who looked into them", tuple(_doubts(site, days, first, last))),
        ("Instruments and their calibration", tuple(instruments(site, days))),
        ("Checkouts", tuple(_checkouts(site, days, first, last))),
        ("Lockouts and clearings", tuple(lockouts(site, days, first, last))),
        ("Reference readings", tuple(recorded(site, days, first, last, ("reference-recorded",)))),
        ("Hand-outs and returns", tuple(recorded(site, days, first, last, HAND_OUTS))),
        ("Check sources: leak tests and physical inventories", tuple(sources(site, days, first, last))),
        ("People and training", tuple(people(site))),
        ("Checks on paper", tuple(recorded(site, days, first, last, ("paper-entered",)))),
        ("How long records are kept", (_retention(site),)),
    ]
    sections: list[Section] = [*_cover(site, days, first, last, person, [title for title, _ in parts])]
    breaks = []
    for number, (title, contents) in enumerate(parts, 1):
        breaks.append(len(sections))
        sections += [Lines((f"{named(first)} to {named(last)}",), title=f"{number}. {title}"), *contents]
    return Sheet(
        "binder",
        "Inspection binder",
        tuple(sections),
        about=f"{first.isoformat()},{last.isoformat()}",
        line=f"{_name(site)}, {first.isoformat()} to {last.isoformat()}",
        deeds=(
            Deed("Other days", "form", "binder-dates"),
            Deed("Its checkouts as a list", "listing", "checkouts", f"{first.isoformat()},{last.isoformat()}"),
        ),
        breaks=tuple(breaks),
    )


def _name(site: Site) -> str:
    return lookups.site_state(site).name


def _cover(site: Site, days: SiteDays, first: date, last: date, person: str, titles: list[str]) -> Iterator[Section]:
    since, until = days.span(first, last)
    yield Pairs(
        (
            ("site", _name(site)),
            ("from", f"{named(first)}, {days.clock(since)}"),
            ("to", _last_hour(days, last, until)),
            ("time zone", days.zone.key),
            ("made", days.written(site.clock.now().utc)),
            ("made by", who(site, person) or "nobody named"),
        )
    )
    yield Lines(tuple(f"{number}. {title}" for number, title in enumerate(titles, 1)), title="Contents")
    yield Lines(
        (
            "Lists of instruments, sources and people are as of when this was made; all else is of the days above.",
            "What another laptop recorded and nobody has brought here yet is not in it.",
        ),
        tone="quiet",
    )


def _last_hour(days: SiteDays, last: date, until: datetime) -> str:
    """The end of the last day in words: with days that start in the morning it is the morning after."""
    ends = days.local(until).date()
    return f"{named(last)}, midnight" if days.clock(until) == "00:00" else f"{named(ends)}, {days.clock(until)}"


# --- uses in doubt -------------------------------------------------------------------------------------------------


def _doubts(site: Site, days: SiteDays, first: date, last: date) -> Iterator[Section]:
    since, until = days.span(first, last)
    rows, shown, waiting = [], [], []
    failures: dict[tuple[str, str], str] = {}
    for each in every(lambda limit, offset: site.journal.doubts_all(limit=limit, offset=offset)):
        if since <= each.found_at < until or since <= each.used_at < until or not each.reviewed:
            key = (each.cause, each.kind)
            if key not in failures:
                cause = site.journal.by_hash(each.cause)
                failures[key] = each.kind if cause is None else doubtful.what_failed(cause, each.kind)
            rows.append(_doubt(site, days, each, failures[key]))
            shown.append(each)
            waiting += [] if each.reviewed else [each]
    if waiting:
        yield Lines((f"Not looked into yet, of whatever days: {counted(waiting).words}.",), tone="bad")
    yield Grid(_DOUBTS, tuple(rows), title=f"In doubt: {counted(shown).words}", empty="none: no use is in doubt")


def _doubt(site: Site, days: SiteDays, each: DoubtRow, failure: str) -> Row:
    return Row(
        (
            days.written(each.found_at),
            each.label,
            failure,
            days.written(each.used_at),
            each.to_name or naming.name(site, each.to),
            ", ".join(part for part in (each.job, each.place) if part),
            _reviews(site, days, each) if each.reviewed else "NOT YET",
        ),
        Deed("Open", "sheet", "doubt", each.instrument),
        tone="" if each.reviewed else "bad",
        key=f"{each.cause},{each.kind},{each.use}",
    )


def _reviews(site: Site, days: SiteDays, each: DoubtRow) -> str:
    """Everything that was said of a use, in the order in which it was said."""
    found = site.journal.about(each.use, kinds=("use-reviewed",), limit=-1)
    said = [event for event in reversed(found) if event.body.get("cause") == each.cause]
    return "; ".join(f"{days.written(e.utc)} {who(site, e.person)}: {e.body.get('note', '')}" for e in said)


# --- checkouts, and how long they are kept --------------------------------------------------------------------------


def _checkouts(site: Site, days: SiteDays, first: date, last: date) -> Iterator[Section]:
    since, until = days.span(first, last)
    counts: Counter[str] = Counter()
    rows: list[Row] = []
    total = 0
    for each in every(
        lambda limit, offset: site.journal.checkouts_found(since=since, until=until, limit=limit, offset=offset)
    ):
        total += 1
        ending = "withdrawn" if each.withdrawn else each.ending or "not ended"
        counts[ending] += 1
        if len(rows) < MOST:
            rows.append(checkouts.row(days, each))
    said = ", ".join(f"{ending}: {count}" for ending, count in sorted(counts.items()))
    yield Pairs((("checkouts", str(total)), ("of them", said or "none")))
    if total > len(rows):
        yield Lines((f"The last {len(rows)} of {total} stand here. Print shorter ranges for the rest.",), tone="warn")
    yield Grid(checkouts.COLUMNS, tuple(rows), title=f"Checkouts: {total}")


def _retention(site: Site) -> Lines:
    years = site.settings().get("retention_years", "")
    kept = (
        f"The site keeps its records for {years} years at least." if years else "The site has set no number of years."
    )
    return Lines(
        (
            kept,
            "Nothing is ever deleted or changed by this program: what was wrong is struck and stays.",
            "How long which record has to be kept is said by the licence and by local rules.",
        )
    )
