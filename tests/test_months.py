"""Months over the ends of months and of years, against a count made apart."""

from __future__ import annotations

import calendar
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.months import months_after


@pytest.mark.parametrize(
    ("day", "months", "due"),
    [
        (date(2026, 8, 31), 6, date(2027, 2, 28)),
        (date(2027, 8, 31), 6, date(2028, 2, 29)),
        (date(2028, 2, 29), 12, date(2029, 2, 28)),
        (date(2028, 2, 29), 48, date(2032, 2, 29)),
        (date(2026, 12, 1), 1, date(2027, 1, 1)),
        (date(2026, 1, 15), 0, date(2026, 1, 15)),
        (date(2026, 10, 31), 1, date(2026, 11, 30)),
        (date(2100, 1, 31), 1, date(2100, 2, 28)),
        (date(9999, 11, 30), 3, date.max),
    ],
)
def test_the_ends_of_months_and_leap_days(day: date, months: int, due: date) -> None:
    """Six months from 31 August end with February, whatever its length (calendar; 2100 is no leap year)."""
    assert months_after(day, months) == due


@given(st.dates(date(1950, 1, 1), date(2300, 1, 1)), st.integers(0, 240))
def test_it_is_the_month_that_counting_comes_to(day: date, months: int) -> None:
    """Month by month, then the same day or the last one before it: nothing is due later than the rule says."""
    year, month = day.year, day.month
    for _ in range(months):
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
    found = months_after(day, months)
    assert (found.year, found.month) == (year, month)
    assert found.day == day.day or (found.day < day.day and (found + timedelta(days=1)).month != month)
    assert found.day <= calendar.monthrange(year, month)[1]
