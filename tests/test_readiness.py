"""When readiness ends: shifts past midnight, both changes of the clock, local midnight of a due date, leap days.

Zones are of the open tz database. Changes of the clock used here (tz database, from memory; the tests check the offsets
they rest on): Europe/Vienna 2026-03-29 02:00 → 03:00 and 2026-10-25 03:00 → 02:00; America/New_York 2026-03-08 and
2026-11-01; Africa/Cairo goes forward at midnight. Shift times and dates are invented.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from procedures.readiness import end_of_day, next_boundary, ready_until, zone_of
from procedures.trouble import Trouble

VIENNA = ZoneInfo("Europe/Vienna")
NEW_YORK = ZoneInfo("America/New_York")
SHIFTS = ("06:00", "14:00", "22:00")
HOUR = 3600.0


def local(text: str, zone: ZoneInfo = VIENNA, fold: int = 0) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=zone, fold=fold).astimezone(UTC)


def settled(**rest: str) -> dict[str, str]:
    return {"zone": "Europe/Vienna", "day_starts": "06:00", "shifts": " ".join(SHIFTS), "ready_ends": "shift", **rest}


@pytest.mark.parametrize(
    ("now", "ends"),
    [
        ("2026-11-25 06:00", "2026-11-25 14:00"),
        ("2026-11-25 13:59:59", "2026-11-25 14:00"),
        ("2026-11-25 14:00", "2026-11-25 22:00"),
        ("2026-11-25 23:30", "2026-11-26 06:00"),
        ("2026-11-26 00:30", "2026-11-26 06:00"),
        ("2026-12-31 22:00", "2027-01-01 06:00"),
    ],
)
def test_a_shift_ends_at_the_next_start(now: str, ends: str) -> None:
    """The night shift runs past midnight into the next day, and a shift that begins this moment is not over."""
    assert next_boundary(local(now), SHIFTS, VIENNA) == local(ends)


@pytest.mark.parametrize(
    ("now", "ends", "hours"),
    [
        ("2026-03-28 22:00", "2026-03-29 06:00", 7),
        ("2026-10-24 22:00", "2026-10-25 06:00", 9),
    ],
)
def test_a_night_with_a_change_of_the_clock_is_shorter_or_longer(now: str, ends: str, hours: int) -> None:
    """The clock on the wall says when the shift ends, not a count of hours."""
    found = next_boundary(local(now), SHIFTS, VIENNA)
    assert found == local(ends)
    assert found - local(now) == timedelta(hours=hours)


def test_a_start_that_the_clock_skips_falls_where_it_was_put_forward() -> None:
    """02:30 does not exist on 2026-03-29: the hand goes from 02:00 to 03:00, so it is 03:30, not a day later."""
    assert next_boundary(local("2026-03-29 01:00"), ("02:30",), VIENNA) == local("2026-03-29 03:30")


def test_a_start_that_comes_twice_counts_the_first_time() -> None:
    """02:30 comes twice on 2026-10-25. Readiness ends the first time: the earlier end is the safe one."""
    first = datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert local("2026-10-25 02:30") == first
    assert next_boundary(local("2026-10-25 01:00"), ("02:30",), VIENNA) == first


def test_without_starts_there_is_no_boundary() -> None:
    """A site that leaves readiness to the profile."""
    assert next_boundary(local("2026-11-25 06:00"), (), VIENNA) is None


@pytest.mark.parametrize(
    ("day", "zone", "ends"),
    [
        (date(2026, 11, 25), "Europe/Vienna", "2026-11-25 23:00"),
        (date(2026, 7, 1), "Europe/Vienna", "2026-07-01 22:00"),
        (date(2026, 3, 29), "Europe/Vienna", "2026-03-29 22:00"),
        (date(2026, 10, 25), "Europe/Vienna", "2026-10-25 23:00"),
        (date(2026, 3, 8), "America/New_York", "2026-03-09 04:00"),
        (date(2026, 11, 1), "America/New_York", "2026-11-02 05:00"),
        (date(2028, 2, 28), "Etc/UTC", "2028-02-29 00:00"),
        (date(2028, 2, 29), "Etc/UTC", "2028-03-01 00:00"),
        (date(2027, 2, 28), "Etc/UTC", "2027-03-01 00:00"),
        (date(2026, 12, 31), "Asia/Tokyo", "2026-12-31 15:00"),
        (date(2024, 4, 25), "Africa/Cairo", "2024-04-25 22:00"),
    ],
)
def test_a_due_date_ends_at_local_midnight(day: date, zone: str, ends: str) -> None:
    """The day itself is still good to its last minute; on a leap year's 28 February a whole day is left.

    In Cairo the hand goes from 00:00 to 01:00 that night: the day ends where the next one begins.
    """
    assert end_of_day(day, ZoneInfo(zone)) == datetime.fromisoformat(ends).replace(tzinfo=UTC)


def test_the_earliest_end_counts_and_is_named() -> None:
    """What ends readiness is told to the person with the time."""
    now = local("2026-11-25 07:00")
    due = date(2026, 11, 25)
    rest = settled(ready_ends="day")
    assert ready_until(now - timedelta(minutes=30), HOUR, now, settled(), None).at == now + timedelta(minutes=30)
    shift = ready_until(now, 12 * HOUR, now, settled(), None)
    assert (shift.at, shift.why) == (local("2026-11-25 14:00"), "the shift ends")
    calibration = ready_until(now, 48 * HOUR, now, rest, due)
    assert (calibration.at, calibration.why) == (local("2026-11-26 00:00"), "the calibration ends")
    day = ready_until(now, 48 * HOUR, now, rest, None)
    assert (day.at, day.why) == (local("2026-11-26 06:00"), "the site's day ends")
    assert ready_until(now, 48 * HOUR, now, settled(ready_ends="profile"), None).at == now + timedelta(hours=48)


def test_a_site_day_begins_where_the_site_says() -> None:
    """At half past five in the morning it is still yesterday's site day."""
    now = local("2026-11-25 05:30")
    assert ready_until(now, 48 * HOUR, now, settled(ready_ends="day"), None).at == local("2026-11-25 06:00")


def test_a_site_without_shifts_ends_with_its_day() -> None:
    """No shifts settled is no reason for readiness without an end."""
    now = local("2026-11-25 07:00")
    assert ready_until(now, 48 * HOUR, now, settled(shifts=""), None).at == local("2026-11-26 06:00")


@pytest.mark.parametrize(
    "name", ["", "Europe/Nowhere", "../etc/passwd", "Europe", "/etc", "a\0b", "Vienna", "[/]", "x" * 5000]
)
def test_a_zone_that_does_not_exist_is_trouble(name: str) -> None:
    """With what is allowed and what to do."""
    with pytest.raises(Trouble) as caught:
        zone_of(name)
    assert caught.value.allowed
    assert caught.value.do


_ZONES = st.sampled_from(["Europe/Vienna", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "Etc/UTC"])
_STARTS = st.lists(st.times().map(lambda t: f"{t:%H:%M}"), min_size=1, max_size=4)
_MOMENTS = st.datetimes(datetime(2000, 1, 1), datetime(2035, 1, 1)).map(lambda moment: moment.replace(tzinfo=UTC))


@given(_MOMENTS, _STARTS, _ZONES)
@settings(max_examples=150, deadline=None)
def test_no_start_of_a_shift_lies_before_the_boundary(now: datetime, starts: list[str], name: str) -> None:
    """Minute by minute, as a clock on the wall would show it, up to the boundary itself."""
    zone = ZoneInfo(name)
    boundary = next_boundary(now, starts, zone)
    assert boundary is not None
    assert now < boundary <= now + timedelta(hours=25)
    minute = now.replace(second=0, microsecond=0) + timedelta(minutes=1)
    while minute < boundary:
        shown = minute.astimezone(zone)
        # An hour that comes twice rings a start once, the first time.
        assert shown.fold == 1 or f"{shown:%H:%M}" not in starts
        minute += timedelta(minutes=1)


@given(st.dates(date(2000, 1, 1), date(2040, 1, 1)), _ZONES)
@settings(max_examples=150, deadline=None)
def test_the_day_is_over_at_its_end_and_not_before(day: date, name: str) -> None:
    """A microsecond before, the local date is still the due date; at the end it is the next day's."""
    zone = ZoneInfo(name)
    end = end_of_day(day, zone)
    assert (end - timedelta(microseconds=1)).astimezone(zone).date() == day
    assert end.astimezone(zone).date() == day + timedelta(days=1)


@given(
    _MOMENTS, st.floats(60, 1e6), st.floats(0, 1e5), st.sampled_from(["shift", "day", "profile"]), st.integers(0, 900)
)
@settings(max_examples=150, deadline=None)
def test_readiness_never_outlives_any_of_its_bounds(
    now: datetime, lasts: float, age: float, rule: str, days: int
) -> None:
    """The oldest pass, the boundary, the calibration: each of them alone would end it."""
    due = now.date() + timedelta(days=days)
    oldest = now - timedelta(seconds=age)
    until = ready_until(oldest, lasts, now, settled(ready_ends=rule), due).at
    assert until <= oldest + timedelta(seconds=lasts)
    assert until <= end_of_day(due, VIENNA)
    if rule != "profile":
        starts = SHIFTS if rule == "shift" else ("06:00",)
        assert until <= (next_boundary(now, starts, VIENNA) or until)


# --- known faults --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rule", ["Shift", "shifts", "", "never"])
def test_an_unknown_rule_is_never_the_most_generous(rule: str) -> None:
    """A slip in a setting may make readiness shorter, or be refused; it may not make it outlive the shift."""
    now = local("2026-11-25 07:00")
    try:
        until = ready_until(now, 48 * HOUR, now, settled(ready_ends=rule), None).at
    except Trouble:
        return
    assert until <= local("2026-11-26 06:00")


def test_a_due_date_at_the_end_of_time_has_an_end() -> None:
    """Somebody enters 9999-12-31 for "never"."""
    end_of_day(date(9999, 12, 31), VIENNA)


@pytest.mark.parametrize("starts", ["6:00", "25:00", "six", "06:00,14:00"])
def test_a_start_that_is_no_time_of_day_is_trouble(starts: str) -> None:
    """It comes from a setting that people write, and is met at the end of a checkout."""
    now = local("2026-11-25 07:00")
    with pytest.raises(Trouble):
        ready_until(now, HOUR, now, settled(shifts=starts), None)
