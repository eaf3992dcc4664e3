"""Times as a person reads them: by the site's clock, whatever zone the laptop is set to and whatever night it is."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from checklist_tui.words import clock_time, day_time

VIENNA = ZoneInfo("Europe/Vienna")


def test_the_day_stands_in_front_when_it_is_another_one_there() -> None:
    """23:30 UTC is half past midnight in Vienna in winter: another day there, the same in UTC."""
    now = datetime(2026, 1, 10, 22, 0, tzinfo=UTC)
    assert day_time(datetime(2026, 1, 10, 22, 30, tzinfo=UTC).astimezone(VIENNA), now) == "23:30"
    assert day_time(datetime(2026, 1, 10, 23, 30, tzinfo=UTC).astimezone(VIENNA), now) == "11 Jan 00:30"


def test_across_a_clock_change_the_time_is_that_of_its_own_moment() -> None:
    """Clocks go back in Vienna on 25 October 2026, 01:00 UTC (EU rule): 05:00 UTC is 06:00 there, not 07:00."""
    until = datetime(2026, 10, 25, 5, 0, tzinfo=UTC).astimezone(VIENNA)
    assert clock_time(until) == "06:00"
    assert day_time(until, datetime(2026, 10, 24, 22, 30, tzinfo=UTC)) == "06:00"
    assert day_time(until, datetime(2026, 10, 24, 20, 0, tzinfo=UTC)) == "25 Oct 06:00"
