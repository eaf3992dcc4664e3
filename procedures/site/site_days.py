"""Days of the site: when each begins and ends, to which a moment belongs, and how moments are written.

A site's day begins at a local time of day that the site chose, so that a night shift is not cut in two at midnight:
what it does after midnight belongs to the day on which it began. Where the clocks are changed, a day has 23 or 25 h.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from procedures.answers import clean_line
from procedures.readiness import time_of_day, zone_of
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.opening import Site

WRITTEN: Final = "%Y-%m-%d %H:%M"

FIRST_DAY: Final = date(1970, 1, 2)
LAST_DAY: Final = date(9999, 12, 28)
"""Days outside are never meant, and the moments about them could not be reckoned with."""


@dataclass(frozen=True, slots=True)
class SiteDays:
    """A site's zone and the local time at which its day begins."""

    zone: ZoneInfo
    starts: time

    @classmethod
    def of(cls, site: Site) -> SiteDays:
        """As the site's settings have it now."""
        settings = site.settings()
        return cls(zone_of(settings["zone"]), time_of_day(settings["day_starts"]))

    def begin(self, day: date) -> datetime:
        """When a day begins, in UTC. A start that the clocks leave out comes as late after the change as it was due."""
        return datetime.combine(day, self.starts, self.zone).astimezone(UTC)

    def bounds(self, day: date) -> tuple[datetime, datetime]:
        """When a day begins, and when the next one does, in UTC: from the first on and before the second."""
        return self.begin(day), self.begin(day + timedelta(days=1))

    def span(self, first: date, last: date) -> tuple[datetime, datetime]:
        """The same of all days from the first to the last, that one included."""
        return self.begin(first), self.begin(last + timedelta(days=1))

    def day_of(self, moment: datetime) -> date:
        """The one day to which a moment belongs."""
        day = moment.astimezone(self.zone).date()
        while moment < self.begin(day):
            day -= timedelta(days=1)
        while moment >= self.begin(day + timedelta(days=1)):
            day += timedelta(days=1)
        return day

    def hours(self, day: date) -> float:
        """How long a day is."""
        begin, end = self.bounds(day)
        return (end - begin) / timedelta(hours=1)

    def local(self, moment: datetime) -> datetime:
        """The moment in the site's zone."""
        return moment.astimezone(self.zone)

    def written(self, moment: datetime | None) -> str:
        """A moment as lists write it: "2026-11-25 07:18"; "" for none."""
        return "" if moment is None else self.local(moment).strftime(WRITTEN)

    def exact(self, moment: datetime) -> str:
        """A moment to the second, with how far the clock stood from UTC: no hour that comes twice is left in doubt."""
        return self.local(moment).isoformat(sep=" ", timespec="seconds")

    def clock(self, moment: datetime) -> str:
        """The local time of day, to the minute."""
        return f"{self.local(moment):%H:%M}"


def named(day: date) -> str:
    """A day in words: "Wed 25 Nov 2026"."""
    return f"{day:%a} {day.day} {day:%b %Y}"


def day_meant(text: str) -> date:
    """The day that is meant by "2026-11-25". Raises Trouble for what is none, or lies outside all records."""
    line = clean_line(text)
    try:
        day = date.fromisoformat(line)
    except ValueError:
        day = None
    if day is None or not FIRST_DAY <= day <= LAST_DAY:
        raise Trouble(
            f"“{line[:40]}” is no day" if line else "a day is missing",
            allowed="year-month-day, such as 2026-11-25",
            do="Enter it again.",
        )
    return day


def range_meant(text: str) -> tuple[date, date]:
    """The days that are meant by "2026-01-01,2026-03-31". Raises Trouble for what is no range of days."""
    first, _, last = text.partition(",")
    begin, end = day_meant(first), day_meant(last)
    if end < begin:
        raise Trouble(
            f"{end.isoformat()} comes before {begin.isoformat()}",
            allowed="a first day, and a last day that is not before it",
            do="Change the two, or enter them again.",
        )
    return begin, end
