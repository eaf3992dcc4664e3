"""Settling: how long an instrument takes to come to rest, and the timers that see to it that people wait.

A wait runs on ticks, a clock that only goes forward; whatever happens to the wall clock, it is never over early. A hold
is a button kept down: after a gap in the watch nobody can vouch for the finger, so it is broken.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from procedures.clock import Instant
from procedures.trouble import Trouble

LONGEST_GAP_S = 1.0
"""A hold is broken by more than this many seconds between two beats."""

ResponseOf = Literal["final value", "change"]
"""What a stated response time is measured to a part of: the final value itself, or the change that leads to it."""


def fraction_reached(seconds: float, tau: float) -> float:
    """The fraction of a change that has been made after `seconds`: 1 − e^(−t/τ), first-order response, τ in seconds."""
    _want_positive("time constant", tau)
    if not seconds >= 0:
        raise Trouble(f"{seconds} s is no time to settle", allowed="0 s or more")
    return -math.expm1(-seconds / tau)


def wait_for_residual(tau: float, residual: float) -> float:
    """Seconds until only `residual` of a change is still to come: t = −τ·ln(ε), τ in seconds, 0 < ε < 1."""
    _want_positive("time constant", tau)
    if not 0 < residual < 1:
        raise Trouble(f"a residual of {residual} is no part of a change", allowed="above 0 and below 1", do="Try 0.01.")
    return -tau * math.log(residual)


def time_constant_from_response(
    seconds: float, *, of: ResponseOf, part: float = 0.9, initial: float = 0.0, final: float = 1.0
) -> float:
    """The time constant τ in seconds behind a stated response time.

    `of` says what the response time was measured to: `part` of the "final value" (needs the readings before and after
    the step) or of the "change". The two agree for a step from nothing. First-order response: what is still to come
    shrinks as e^(−t/τ). Raises Trouble where the stated point is not passed on the way.
    """
    _want_positive("response time", seconds)
    if not 0 < part < 1:
        raise Trouble(f"{part} is no part of a response", allowed="above 0 and below 1", do="Write 0.9 for 90 %.")
    if of == "change":
        to_come = 1 - part
    else:
        change = final - initial
        to_come = (1 - part) * final / change if change and math.isfinite(change) else math.nan
        if not 0 < to_come < 1:
            raise Trouble(
                f"going from {initial:g} to {final:g} never passes {part:.0%} of the final value",
                allowed="a rise that starts below that point",
                do="State the response time as a part of the change.",
            )
    return -seconds / math.log(to_come)


def ratemeter_scatter(rate: float, tau: float) -> float:
    """Standard deviation of a ratemeter's reading, in the unit of `rate` per second: σ = √(r/2τ).

    `rate` in counts per second, τ in seconds (Schiff and Evans 1936).
    """
    _want_positive("time constant", tau)
    if not (rate >= 0 and math.isfinite(rate)):
        raise Trouble(f"a count rate of {rate} per second cannot be", allowed="0 or more")
    return math.sqrt(rate / (2 * tau))


@dataclass(frozen=True, slots=True)
class Wait:
    """A wait of so many seconds begun at a moment. `credit` are seconds that had already passed then (warm-up)."""

    seconds: float
    begun: Instant
    credit: float = 0.0

    def __post_init__(self) -> None:
        _want_duration("wait", self.seconds)
        if not (self.credit >= 0 and math.isfinite(self.credit)):
            raise Trouble(f"{self.credit} s cannot have passed before a wait", allowed="0 s or more")


def elapsed(wait: Wait, now: Instant) -> float:
    """Seconds waited by ticks, credit included. 0 when another session has begun, whose ticks do not compare."""
    if now.session != wait.begun.session:
        return 0.0
    return wait.credit + _ticked(wait.begun, now)


def remaining(wait: Wait, now: Instant) -> float:
    """Seconds still to wait, 0 when over. Only ticks of the same session count; another session starts it again."""
    return max(0.0, wait.seconds - elapsed(wait, now))


def is_over(wait: Wait, now: Instant) -> bool:
    return remaining(wait, now) == 0.0


def credit_from(mark: Instant, now: Instant) -> float:
    """Seconds that surely passed since `mark` (switched on), to begin a warm-up with.

    The smaller of what ticks and wall clock say, so that neither a clock put forward nor one that ran on without the
    instrument shortens the warm-up; 0 across sessions, and never negative.
    """
    if mark.session != now.session:
        return 0.0
    return max(0.0, min(_ticked(mark, now), _wall(mark, now)))


@dataclass(frozen=True, slots=True)
class Hold:
    """A button kept down for so many seconds, watched without a gap from `begun` to `last_beat`."""

    seconds: float
    begun: Instant
    last_beat: Instant

    def __post_init__(self) -> None:
        _want_duration("hold", self.seconds)


@dataclass(frozen=True, slots=True)
class Broken:
    """A hold that came to nothing: when that was seen, how long it had been held, and why in plain words."""

    at: Instant
    held: float
    why: str


def begin_hold(seconds: float, now: Instant) -> Hold:
    """A hold that begins at this moment."""
    return Hold(seconds, now, now)


def beat(hold: Hold, now: Instant) -> Hold | Broken:
    """The hold seen to go on, or broken when the watch had a gap of more than a second by either clock.

    Both clocks are looked at, since one may stand still while a laptop sleeps. A clock that runs backwards, or another
    session, breaks the hold too: then nothing can be said of the time between.
    """
    last = hold.last_beat
    gap = max(_forward(last.ticks, now.ticks), abs(_wall(last, now)))
    if now.session != last.session:
        return Broken(now, held(hold), "the program was started anew")
    if gap == math.inf:
        return Broken(now, held(hold), "the clock ran backwards")
    if gap > LONGEST_GAP_S:
        return Broken(now, held(hold), f"nobody watched the button for {gap:.1f} s")
    return replace(hold, last_beat=now)


def held(hold: Hold) -> float:
    """Seconds the button was watched to be down, without a gap."""
    return _ticked(hold.begun, hold.last_beat)


def still_to_hold(hold: Hold) -> float:
    """Seconds the button has still to be kept down, 0 when it was held long enough."""
    return max(0.0, hold.seconds - held(hold))


def is_kept(hold: Hold) -> bool:
    return still_to_hold(hold) == 0.0


def _ticked(earlier: Instant, later: Instant) -> float:
    """Seconds by ticks; 0 where ticks run backwards or are no number, so that no wait is shortened by them."""
    passed = later.ticks - earlier.ticks
    return passed if passed > 0 and math.isfinite(passed) else 0.0


def _forward(earlier: float, later: float) -> float:
    """The gap between two ticks, endless where it cannot be a gap."""
    gap = later - earlier
    return gap if 0 <= gap < math.inf else math.inf


def _wall(earlier: Instant, later: Instant) -> float:
    return (later.utc - earlier.utc).total_seconds()


def _want_positive(what: str, seconds: float) -> None:
    if not (seconds > 0 and math.isfinite(seconds)):
        raise Trouble(f"a {what} of {seconds} s cannot be", allowed="more than 0 s")


def _want_duration(what: str, seconds: float) -> None:
    if not (seconds >= 0 and math.isfinite(seconds)):
        raise Trouble(f"a {what} of {seconds} s cannot be", allowed="0 s or more")
