"""The fold against a brute-force oracle on random histories of three stations, in every order of arrival."""

from __future__ import annotations

import random
from datetime import timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from journal_histories import MOVES, begin, instruments, play
from journal_oracle import Oracle

from procedures.journal.fold import fitness, fold_instrument

quick = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
Moves = list[tuple[int, str, int]]


@quick
@given(MOVES, st.integers(-7200, 7200))
def test_fitness_is_what_the_words_of_the_design_say(moves: Moves, later: int) -> None:
    """Ready where nothing forbids it, never anywhere else, for every station's view and for all of them together."""
    world = play(begin("north", "south", "west"), moves)
    (meter,) = instruments(world)
    now = world.now + timedelta(seconds=later)
    views = [list(station.known.values()) for station in world.stations]
    for known in [*views, world.everything()]:
        state = fold_instrument(
            meter, [one for one in known if one in Oracle(meter, known, world.past).mine or one.hash == meter]
        )
        assert fitness(state, now).word == Oracle(meter, known, world.past).word(now)


@quick
@given(MOVES, st.randoms(use_true_random=False))
def test_the_order_of_arrival_never_matters(moves: Moves, chance: random.Random) -> None:
    """Stations exchange their records in any order: whoever has the same records must come to the same verdict."""
    world = play(begin("north", "south", "west"), moves)
    (meter,) = instruments(world)
    events = [one for one in world.everything() if meter in one.about or one.hash == meter]
    shuffled = events * 2
    chance.shuffle(shuffled)
    assert fold_instrument(meter, shuffled) == fold_instrument(meter, events)


@quick
@given(MOVES)
def test_no_lockout_is_ever_lost(moves: Moves) -> None:
    """Every lockout that anybody made stands in the state, whatever anybody wrote afterwards."""
    world = play(begin("north", "south", "west"), moves)
    (meter,) = instruments(world)
    state = fold_instrument(meter, [one for one in world.everything() if meter in one.about or one.hash == meter])
    oracle = Oracle(meter, world.everything(), world.past)
    assert {one.id for one in state.lockouts} == set(oracle.lockouts())
    for one in state.lockouts:
        assert (one.status == "closed") == oracle.closed(oracle.lockouts()[one.id], one.id)
        assert one.reasons


@quick
@given(MOVES)
def test_learning_more_never_makes_ready_what_a_failure_had_locked_out(moves: Moves) -> None:
    """Events that no checkout passed after cannot open a lockout: whoever learns only such events stays locked out."""
    world = play(begin("north", "south", "west"), moves)
    (meter,) = instruments(world)
    events = [one for one in world.everything() if meter in one.about or one.hash == meter]
    without_passes = [one for one in events if one.kind != "ended" or one.body["ending"] != "fit for use"]
    state = fold_instrument(meter, without_passes)
    assert fitness(state, world.now).word != "ready"
    assert all(one.status != "closed" for one in state.lockouts)
