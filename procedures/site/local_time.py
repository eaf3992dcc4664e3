"""Moments as people on the site say and write them: in the site's zone, to the minute."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Final

from procedures.answers import clean_line
from procedures.readiness import time_of_day, zone_of
from procedures.site.opening import Site
from procedures.trouble import Trouble

WRITTEN: Final = "%Y-%m-%d %H:%M"


def said(site: Site, moment: datetime) -> str:
    """A moment in the site's zone, such as "2026-11-25 07:18"."""
    return moment.astimezone(zone_of(site.settings()["zone"])).strftime(WRITTEN)


def meant(site: Site, text: str) -> datetime:
    """The moment that is meant by "2026-11-25 16:30", or by "16:30": the next one from now. In UTC.

    Raises Trouble for what is no time.
    """
    zone = zone_of(site.settings()["zone"])
    line = clean_line(text)
    now = site.clock.now().utc.astimezone(zone)
    try:
        if len(line) <= 5:
            at = datetime.combine(now.date(), time_of_day(line), zone)
            at = at if at > now else datetime.combine(now.date() + timedelta(days=1), time_of_day(line), zone)
        else:
            at = datetime.strptime(line, WRITTEN).replace(tzinfo=zone)
        return at.astimezone(UTC)
    except (Trouble, ValueError, OverflowError):
        raise Trouble(
            f"“{line[:40]}” is no time" if line else "a time is missing",
            allowed="a time such as 16:30, or a day and a time such as 2026-11-25 16:30",
            do="Enter it again.",
        ) from None


def been(site: Site, text: str) -> datetime:
    """The moment that has been, meant by "2026-11-25 07:40", or by "07:40": the last one before now. In UTC.

    Raises Trouble for what is no time, or is still to come.
    """
    at, now = meant(site, text), site.clock.now().utc
    if at > now and len(clean_line(text)) <= 5:
        zone = zone_of(site.settings()["zone"])
        local = at.astimezone(zone)
        # A day earlier by the clock on the wall, which is not always 24 hours.
        at = datetime.combine(local.date() - timedelta(days=1), local.time(), zone).astimezone(UTC)
    if at > now:
        raise Trouble(
            f"{said(site, at)} is still to come",
            allowed="a time that has been",
            do="Look at the day and the time, and enter them again.",
        )
    return at


def ago(then: datetime, now: datetime) -> str:
    """How long ago, in words: "12 min", "5 h", "3 days"."""
    minutes = max(0, int((now - then).total_seconds() // 60))
    if minutes < 120:
        return f"{minutes} min"
    return f"{minutes // 60} h" if minutes < 48 * 60 else f"{minutes // (24 * 60)} days"
