"""Until when, and for what, an instrument that passed is fit for use. Pure: moments and zones come in as values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from procedures.trouble import Trouble

_LAST_DAY = date.max - timedelta(days=2)
"""Dates from here on mean "never": the day after them, or its UTC time, would not exist."""


@dataclass(frozen=True, slots=True)
class Until:
    """When readiness ends (UTC), and which rule set that end, in words."""

    at: datetime
    why: str


def zone_of(name: str) -> ZoneInfo:
    """The time zone of that name in the open tz database. Raises Trouble when there is none."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise Trouble(
            f"there is no time zone {name!r}",
            allowed='a name from the tz database, such as "Etc/UTC" or "Europe/Vienna"',
            do="Set the site's zone.",
        ) from None


def end_of_day(day: date, zone: ZoneInfo) -> datetime:
    """Local midnight at the end of `day`, in UTC: a due date is still good on the day itself."""
    if day >= _LAST_DAY:
        return datetime.max.replace(tzinfo=UTC)
    return datetime.combine(day + timedelta(days=1), time(), zone).astimezone(UTC)


def time_of_day(text: str) -> time:
    """A local time of day such as "06:00". Raises Trouble when it is none."""
    try:
        return time.fromisoformat(text).replace(tzinfo=None)
    except ValueError:
        raise Trouble(
            f"{text!r} is no time of day",
            allowed='hours and minutes such as "06:00"',
            do="Set when the site's day and shifts begin.",
        ) from None


def next_boundary(now: datetime, starts: Iterable[str], zone: ZoneInfo) -> datetime | None:
    """The next local time of day in `starts` ("06:00") after `now`, in UTC; None when there are none.

    Raises Trouble for a start that is no time of day.

    Across a clock change the local time of day counts, so a shift may last an hour more or less.
    """
    local = now.astimezone(zone)
    moments = [
        moment
        for start in starts
        for day in (local.date(), local.date() + timedelta(days=1), local.date() + timedelta(days=2))
        if (moment := datetime.combine(day, time_of_day(start), zone).astimezone(UTC)) > now
    ]
    return min(moments, default=None)


def ready_until(
    oldest_pass: datetime,
    lasts: float,
    now: datetime,
    settings: Mapping[str, str],
    calibration_due: date | None,
) -> Until:
    """The earliest of: `lasts` seconds from the oldest required pass, the end of shift or site day, calibration's end.

    `settings` are the site's: zone, day_starts ("06:00"), shifts ("06:00 14:00 22:00"), ready_ends ("shift", "day" or
    "profile"); any other `ready_ends` means "shift", the strictest. Raises Trouble for an unknown zone or start.
    """
    zone = zone_of(settings.get("zone", "Etc/UTC"))
    ends = [Until(oldest_pass + timedelta(seconds=lasts), "the profile's time is over")]
    rule = settings.get("ready_ends", "shift")
    day_starts = [settings.get("day_starts", "00:00")]
    starts = {"profile": [], "day": day_starts}.get(rule, settings.get("shifts", "").split() or day_starts)
    boundary = next_boundary(now, starts, zone)
    if boundary is not None:
        ends.append(Until(boundary, "the site's day ends" if rule == "day" else "the shift ends"))
    if calibration_due is not None:
        ends.append(Until(end_of_day(calibration_due, zone), "the calibration ends"))
    return min(ends, key=lambda each: each.at)
