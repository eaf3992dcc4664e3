"""How old what is known here of other laptops is: a lockout made over there stands here once it was brought."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from procedures.journal.moments import utc_moment
from procedures.journal.store import Journal
from procedures.site import local_time
from procedures.site.opening import Site
from procedures.trouble import Trouble

TAKEN: Final = "exchange taken"
GIVEN: Final = "exchange given"
"""Under these names a journal's file remembers its exchanges."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What is here of another station's records: those it had at `written`, taken in here at `taken`."""

    station: str
    name: str
    written: datetime
    taken: datetime


@dataclass(frozen=True, slots=True)
class LastExchange:
    """When files were last taken in (newest first, one row for each station that wrote one) and last given out."""

    heard: tuple[Heard, ...]
    given: datetime | None


def last_exchange(site: Site) -> LastExchange | None:
    """When records last came from other laptops and were last given to them; None where that never happened."""
    rows = [
        Heard(station, str(row["name"]), utc_moment(row["written"]), utc_moment(row["taken"]))
        for station, row in heard(site.journal).items()
    ]
    given = site.journal.remembered(GIVEN)
    if not rows and not given:
        return None
    newest_first = sorted(rows, key=lambda row: (row.written, row.station), reverse=True)
    return LastExchange(tuple(newest_first), utc_moment(given) if given else None)


def heard(journal: Journal) -> dict[str, dict[str, str]]:
    """For each station that a file was taken in of: its name, when the file was written and when it was taken."""
    kept = journal.remembered(TAKEN)
    try:
        found = json.loads(kept) if kept else {}
        return {station: {key: str(row[key]) for key in ("name", "written", "taken")} for station, row in found.items()}
    except (ValueError, LookupError, TypeError, AttributeError):
        # A damaged note about the file: as if nothing was known of earlier exchanges.
        return {}


def other_stations(site: Site) -> tuple[str, ...]:
    """Stations of other laptops. What this file was itself restored or copied from is none, unless it wrote a file."""
    begun, _ = site.journal.happened(("station-begun",), since=None, until=None, limit=-1, offset=0)
    parents = {each.station: each.body.get("parent") for each in begun}
    own: set[str] = set()
    at: str | None = site.journal.station
    while at is not None and at not in own:
        own.add(at)
        parent = parents.get(at)
        at = str(parent[0]) if parent else None
    return tuple(sorted((parents.keys() - own) | heard(site.journal).keys()))


def exchange_age(site: Site) -> str:
    """How old the newest records of another laptop are, in words; "" where the site has no other laptop."""
    now = site.clock.now().utc
    last = last_exchange(site)
    if last is not None and last.heard:
        newest = last.heard[0]
        name = newest.name or newest.station
        age = local_time.ago(newest.written, now)
        limit = limit_hours(site)
        allowed = f" The site allows {limit} h." if limit else ""
        return f"Records of other laptops: {age} old ({name}, {local_time.said(site, newest.written)}).{allowed}"
    if other_stations(site):
        return "No exchange file of another laptop was ever taken in here."
    if last is not None and last.given is not None:
        return "Records were given to another laptop, and none came back."
    return ""


def limit_hours(site: Site) -> int:
    """Hours after which nothing is handed out without another exchange; 0 for no limit."""
    try:
        return max(0, int(site.settings().get("exchange_limit_hours", "0")))
    except ValueError:
        return 1


def is_recent(site: Site) -> None:
    """Raises Trouble when what is known of the other laptops is older than the site allows."""
    limit = limit_hours(site)
    if not limit or not other_stations(site):
        return
    last = last_exchange(site)
    newest = last.heard[0].written if last is not None and last.heard else None
    now = site.clock.now().utc
    if newest is not None and now - newest <= timedelta(hours=limit):
        return
    known = f"what is known here of the other laptops is {local_time.ago(newest, now)} old" if newest else ""
    raise Trouble(
        known or "nothing was ever taken in from the other laptops",
        allowed=f"an exchange at most {limit} h old: it may have been locked out over there",
        do="Exchange first: take in a file of another laptop, then hand it out.",
    )
