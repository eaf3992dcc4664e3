"""Times as the journal writes them, and the logical clock that never runs behind what a station has seen.

Wall clocks of laptops are set, drift and lose their battery. So events are dated by the wall clock for people to read,
and ordered by a hybrid logical clock and by what their writers had seen.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Final

COUNTS: Final = 1 << 16
"""Events of one station that one millisecond has room for; then the logical clock goes on to the next millisecond."""

_UTC = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}Z")


def utc_text(moment: datetime) -> str:
    """A moment as the journal writes it: UTC, microseconds, Z."""
    return moment.astimezone(UTC).replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


def utc_moment(text: str) -> datetime:
    """The moment that `utc_text` wrote. Raises ValueError for anything else."""
    if not isinstance(text, str) or _UTC.fullmatch(text) is None:
        raise ValueError(f"not a time as the journal writes it: {text!r}")
    return datetime.fromisoformat(text)


def milliseconds(moment: datetime) -> int:
    """Whole milliseconds since 1970, rounded down, without passing through a float."""
    since = moment - datetime(1970, 1, 1, tzinfo=UTC)
    return (since.days * 86_400 + since.seconds) * 1000 + since.microseconds // 1000


def step_clock(last: tuple[int, int], now_ms: int) -> tuple[int, int]:
    """The hybrid logical clock's next value: after `last` always, at wall time where wall time is ahead.

    `last` is the greatest value that the station wrote or was sent. Formula: Kulkarni et al., Logical Physical Clocks,
    2014, figure 5 (from memory), with the count carried into the milliseconds when it is full.
    """
    ms, count = last
    if now_ms > ms:
        return (now_ms, 0)
    if count + 1 < COUNTS:
        return (ms, count + 1)
    return (ms + 1, 0)


def clock_number(hlc: tuple[int, int]) -> int:
    """The logical clock as one whole number that sorts alike."""
    return hlc[0] * COUNTS + hlc[1]
