"""Until when, and for what, an instrument that passed is fit for use. Pure: moments and zones come in as values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from procedures.trouble import Trouble


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
    return datetime.combine(day + timedelta(days=1), time(), zone).astimezone(UTC)


def next_boundary(now: datetime, starts: Iterable[str], zone: ZoneInfo) -> datetime | None:
    """The next local time of day in `starts` ("06:00") after `now`, in UTC; None when there are none.

    Across a clock change the local time of day counts, so a shift may last an hour more or less.
    """
    local = now.astimezone(zone)
    moments = [
        moment
        for start in starts
        for day in (local.date(), local.date() + timedelta(days=1), local.date() + timedelta(days=2))
        if (moment := datetime.combine(day, time.fromisoformat(start), zone).astimezone(UTC)) > now
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
    "profile"). Raises Trouble when the zone is unknown.
    """
    zone = zone_of(settings.get("zone", "Etc/UTC"))
    ends = [Until(oldest_pass + timedelta(seconds=lasts), "the profile's time is over")]
    rule = settings.get("ready_ends", "shift")
    starts = {
        "shift": settings.get("shifts", "").split() or [settings.get("day_starts", "00:00")],
        "day": [settings.get("day_starts", "00:00")],
    }.get(rule, [])
    boundary = next_boundary(now, starts, zone)
    if boundary is not None:
        ends.append(Until(boundary, "the shift ends" if rule == "shift" else "the site's day ends"))
    if calibration_due is not None:
        ends.append(Until(end_of_day(calibration_due, zone), "the calibration ends"))
    return min(ends, key=lambda each: each.at)
