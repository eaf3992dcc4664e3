"""Moments as the core sees them. Nothing here reads a clock: moments come in from outside.

Two clocks are needed. Wall time dates a record but can be set; ticks measure a wait and only go forward. Comparing both
shows a wall clock that was set while somebody waited.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Instant:
    """One reading of the station's clocks.

    `utc` is aware and in UTC; `offset` is the local offset in minutes east of UTC; `ticks` are seconds of a clock that
    only goes forward, through suspend too where the system has such a clock; two `ticks` compare only when `session`
    (one start of one program) is the same.
    """

    utc: datetime
    offset: int
    ticks: float
    session: str


class Clock(Protocol):
    """Hands out moments: the system's clocks in use, a clock moved by hand in tests and rehearsals."""

    def now(self) -> Instant: ...


class ManualClock:
    """A clock that stands still until it is told to move: for tests, rehearsal and practice."""

    def __init__(self, utc: datetime, *, offset: int = 0, ticks: float = 0.0, session: str = "manual") -> None:
        self._now = Instant(utc.astimezone(UTC), offset, ticks, session)

    def now(self) -> Instant:
        return self._now

    def advance(self, seconds: float) -> Instant:
        """Both clocks move on together by `seconds` ≥ 0."""
        if seconds < 0:
            raise ValueError("ticks only go forward; use set_wall to move the wall clock back")
        now = self._now
        self._now = Instant(now.utc + timedelta(seconds=seconds), now.offset, now.ticks + seconds, now.session)
        return self._now

    def set_wall(self, utc: datetime) -> Instant:
        """Somebody sets the wall clock; ticks do not move."""
        now = self._now
        self._now = Instant(utc.astimezone(UTC), now.offset, now.ticks, now.session)
        return self._now

    def restart(self, session: str) -> Instant:
        """The program starts anew: ticks begin at zero and no longer compare with those before."""
        now = self._now
        self._now = Instant(now.utc, now.offset, 0.0, session)
        return self._now


def wall_jump(earlier: Instant, later: Instant) -> float | None:
    """Seconds by which the wall clock moved more than the ticks did (negative: it was set back).

    None when the two moments are of different sessions and nothing can be said.
    """
    if earlier.session != later.session:
        return None
    return (later.utc - earlier.utc).total_seconds() - (later.ticks - earlier.ticks)
