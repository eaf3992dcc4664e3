"""Calendar months: when something is due that is due so many months after a day. Pure."""

from __future__ import annotations

import calendar
from datetime import date


def months_after(day: date, months: int) -> date:
    """The same day of the month so many `months` later, or the last of that month where it has no such day.

    31 August and 6 months is 28 February, or the 29th in a leap year: a month's end is never passed, so nothing is due
    later than the rule says. Past the last day that a calendar knows it is that day.
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    if not 1 <= year <= date.max.year:
        return date.max if year > date.max.year else date.min
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))
