"""Settling formulae against published values; timers by property: a wait is never over early."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.clock import Instant, ManualClock
from procedures.settling import (
    Broken,
    Hold,
    Wait,
    beat,
    begin_hold,
    credit_from,
    elapsed,
    fraction_reached,
    held,
    is_kept,
    is_over,
    ratemeter_scatter,
    remaining,
    still_to_hold,
    time_constant_from_response,
    wait_for_residual,
)
from procedures.trouble import Trouble

START = datetime(2026, 11, 25, 6, tzinfo=UTC)
SIXTY_FOURTHS = st.integers(0, 64 * 3600).map(lambda n: n / 64)
"""Seconds that add up without rounding, so that 'never early' can be tested without an allowance."""
WALL_JUMPS = st.timedeltas(timedelta(days=-4000), timedelta(days=4000))


def moment(ticks: float, wall: timedelta = timedelta(0), session: str = "one") -> Instant:
    return Instant(START + wall, 0, ticks, session)


@pytest.mark.parametrize(("taus", "reached"), [(1, 0.63212), (2.302585, 0.90), (4.605170, 0.99), (5, 0.99326)])
def test_fraction_reached(taus: float, reached: float) -> None:
    """1 − e^(−t/τ): τ 63.212 %, 2.302585 τ 90 %, 4.605170 τ 99 %, 5 τ 99.326 % (computed)."""
    assert fraction_reached(3 * taus, 3) == pytest.approx(reached, abs=5e-6)


@given(st.floats(1e-3, 1e4), st.floats(1e-9, 1 - 1e-9))
def test_a_wait_for_a_residual_leaves_that_residual(tau: float, residual: float) -> None:
    """t = −τ·ln(ε) undoes the response."""
    assert 1 - fraction_reached(wait_for_residual(tau, residual), tau) == pytest.approx(residual, rel=1e-6, abs=1e-12)


def test_a_response_time_has_two_definitions() -> None:
    """TRIUMF training page (read): 100 → 200 cps in 6 s, to 90 % of final (180) τ 3.73 s, of change (190) τ 2.61 s."""
    of_final = time_constant_from_response(6, of="final value", initial=100, final=200)
    of_change = time_constant_from_response(6, of="change")
    assert of_final == pytest.approx(3.73, abs=5e-3)
    assert of_change == pytest.approx(2.61, abs=5e-3)


@given(st.floats(0.1, 100), st.floats(0.05, 0.95))
def test_from_nothing_both_definitions_agree(seconds: float, part: float) -> None:
    """A step from zero: the final value is the change."""
    of_final = time_constant_from_response(seconds, of="final value", part=part, initial=0, final=250)
    assert of_final == pytest.approx(time_constant_from_response(seconds, of="change", part=part), rel=1e-12)


@pytest.mark.parametrize(("initial", "final"), [(200, 100), (190, 200), (100, 100), (math.nan, 1), (0, math.inf)])
def test_a_point_never_passed_gives_no_time_constant(initial: float, final: float) -> None:
    """A fall, or a step too small, never crosses 90 % of the final value on its way: no formula may pretend so."""
    with pytest.raises(Trouble):
        time_constant_from_response(6, of="final value", initial=initial, final=final)


@pytest.mark.parametrize(("rate", "tau", "scatter"), [(100, 1, 7.0711), (10, 5, 1.0)])
def test_ratemeter_scatter(rate: float, tau: float, scatter: float) -> None:
    """σ = √(r/2τ): 100 /s, 1 s → 7.0711; 10 /s, 5 s → 1.0 (computed; Schiff and Evans 1936 quoted)."""
    assert ratemeter_scatter(rate, tau) == pytest.approx(scatter, abs=5e-5)


def test_figures_that_cannot_be_are_refused() -> None:
    """NaN and endless figures would make a wait that is never over, or over at once."""
    for bad in (0, -1, math.nan, math.inf):
        for call in (
            lambda tau: fraction_reached(1, tau),
            lambda tau: wait_for_residual(tau, 0.01),
            lambda tau: ratemeter_scatter(1, tau),
            lambda seconds: time_constant_from_response(seconds, of="change"),
        ):
            with pytest.raises(Trouble):
                call(bad)
    for bad in (-1, math.nan, math.inf):
        with pytest.raises(Trouble):
            Wait(bad, moment(0))
        with pytest.raises(Trouble):
            Wait(10, moment(0), credit=bad)
        with pytest.raises(Trouble):
            begin_hold(bad, moment(0))
        with pytest.raises(Trouble):
            ratemeter_scatter(bad, 1)
    for bad in (0, 1, 1.5, -0.1, math.nan):
        with pytest.raises(Trouble):
            wait_for_residual(1, bad)
        with pytest.raises(Trouble):
            time_constant_from_response(6, of="change", part=bad)
    with pytest.raises(Trouble):
        fraction_reached(math.nan, 1)


@given(SIXTY_FOURTHS, SIXTY_FOURTHS, SIXTY_FOURTHS, WALL_JUMPS)
def test_a_wait_is_over_exactly_when_its_ticks_have_passed(
    seconds: float, start: float, passed: float, wall: timedelta
) -> None:
    """Whatever the wall clock does: never early, and not late either."""
    wait = Wait(seconds, moment(start))
    now = moment(start + passed, wall)
    assert is_over(wait, now) is (passed >= seconds)
    assert remaining(wait, now) == max(0, seconds - passed)


@given(st.floats(0, 1e6), st.floats(), WALL_JUMPS)
def test_no_clock_however_mad_lengthens_credit_or_ends_a_wait_unwaited(
    seconds: float, ticks: float, wall: timedelta
) -> None:
    """NaN, endless and backward ticks: the wait does not shrink."""
    wait = Wait(seconds, moment(100.0))
    left = remaining(wait, moment(ticks, wall))
    assert 0 <= left <= seconds
    if not ticks > 100.0 or ticks == math.inf:
        assert left == seconds


@given(SIXTY_FOURTHS, SIXTY_FOURTHS, SIXTY_FOURTHS)
def test_another_session_starts_a_wait_again(seconds: float, credit: float, passed: float) -> None:
    """After a crash nobody can say what the ticks did, so all of it is waited again, credit included."""
    wait = Wait(seconds, moment(5.0), credit)
    later = moment(5.0 + passed, session="two")
    assert remaining(wait, later) == seconds
    assert elapsed(wait, later) == 0


def test_credit_shortens_a_wait_by_what_surely_passed() -> None:
    """Warm-up counts from switching on, by the clock that says less."""
    clock = ManualClock(START)
    on = clock.now()
    now = clock.advance(50)
    wait = Wait(120, now, credit_from(on, now))
    assert remaining(wait, now) == 70
    assert not is_over(wait, clock.advance(69))
    assert is_over(wait, clock.advance(1))


@given(SIXTY_FOURTHS, WALL_JUMPS)
def test_credit_is_never_more_than_either_clock_says(passed: float, wall: timedelta) -> None:
    """A wall clock put forward gives no credit, one put back takes it away, and there is none below nothing."""
    credit = credit_from(moment(3.0), moment(3.0 + passed, wall))
    assert 0 <= credit <= passed
    assert credit <= max(0.0, wall.total_seconds())
    assert credit_from(moment(3.0), moment(3.0 + passed, wall, "two")) == 0
    assert credit_from(moment(3.0), moment(math.nan, wall)) == 0


def test_a_hold_watched_without_a_gap_is_kept() -> None:
    """Exactly one second between beats is still watched; the time held is the time between first and last beat."""
    clock = ManualClock(START)
    hold = begin_hold(3, clock.now())
    for _ in range(3):
        assert not is_kept(hold)
        after = beat(hold, clock.advance(1))
        assert isinstance(after, Hold)
        hold = after
    assert is_kept(hold)
    assert held(hold) == 3
    assert still_to_hold(hold) == 0


@given(st.floats(0, 1e6), st.floats(-1e6, 1e6))
def test_a_gap_by_either_clock_breaks_a_hold(ticked: float, walled: float) -> None:
    """One clock may stand still in suspend, the other be set: the larger gap decides."""
    hold = begin_hold(8, moment(0.0))
    wall = timedelta(seconds=walled)
    after = beat(hold, moment(ticked, wall))
    gap = max(ticked, abs(wall.total_seconds()))
    assert isinstance(after, Broken) is (gap > 1)


@pytest.mark.parametrize(
    "now",
    [moment(9.9), moment(math.nan), moment(math.inf), moment(-math.inf), moment(10.1, session="two")],
)
def test_a_clock_that_cannot_be_trusted_breaks_a_hold(now: Instant) -> None:
    """Backward or absurd ticks and a new session: nobody can vouch for the finger."""
    after = beat(begin_hold(8, moment(10.0)), now)
    assert isinstance(after, Broken)
    assert after.held == 0
    assert after.why


@given(st.lists(st.integers(0, 96).map(lambda n: n / 64), max_size=40))
def test_a_hold_counts_only_unbroken_time(gaps: list[float]) -> None:
    """However the beats fall, a hold that stands was watched all along, for exactly the sum of its gaps."""
    clock = ManualClock(START)
    state: Hold | Broken = begin_hold(8, clock.now())
    watched = 0.0
    for gap in gaps:
        if isinstance(state, Broken):
            break
        state = beat(state, clock.advance(gap))
        if isinstance(state, Hold):
            watched += gap
    assert (state.held if isinstance(state, Broken) else held(state)) == watched
    if isinstance(state, Hold):
        assert all(gap <= 1 for gap in gaps)
        assert is_kept(state) is (watched >= 8)


def test_time_waited_is_not_borrowed_from_a_beat_not_yet_seen() -> None:
    """The time since the last beat is unwatched until the next beat vouches for it."""
    clock = ManualClock(START)
    hold = begin_hold(1, clock.now())
    clock.advance(5)
    assert not is_kept(hold)
    assert held(replace(hold, last_beat=clock.now())) == 5
