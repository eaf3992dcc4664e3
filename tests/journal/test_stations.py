"""Records that arrive from other stations: in any order, more than once, with gaps, forked, or forged."""

from __future__ import annotations

import json
import random
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

import journal_drafts as d
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from journal_histories import MOVES, START, World, begin, instruments, play
from journal_oracle import Oracle

from procedures.clock import ManualClock
from procedures.journal import tables
from procedures.journal.envelope import Altered, Event, encode
from procedures.journal.fold import fitness
from procedures.journal.moments import utc_text
from procedures.journal.store import Journal
from procedures.trouble import Trouble

some = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
LATER = ManualClock(START + timedelta(days=1)).now()
TABLES = ("about", *tables.NAMES)


@contextmanager
def fresh(name: str = "reader") -> Iterator[Journal]:
    """A journal of a station that has written nothing yet but its beginning, long before."""
    with tempfile.TemporaryDirectory() as folder:
        begun = ManualClock(START - timedelta(days=1)).now()
        with Journal.create(Path(folder) / "site.journal", station=name, name=name, now=begun) as journal:
            yield journal


def raws(events: list[Event]) -> list[bytes]:
    return [one.raw for one in events]


def contents(journal: Journal) -> dict[str, list[object]]:
    """Everything in the tables that can be rebuilt, with events named by their hash and not by order of arrival."""
    found: dict[str, list[object]] = {}
    names = dict(journal._db.execute("SELECT id, hash FROM events").fetchall())
    for table in TABLES:
        rows = journal._db.execute(f"SELECT * FROM {table}").fetchall()
        if table == "about":
            rows = [(entity, hlc, names[event], kind, weighs) for entity, hlc, event, kind, weighs in rows]
        elif table == "happenings":
            rows = [(kind, utc, hlc, names[event]) for kind, utc, hlc, event in rows]
        found[table] = sorted(rows, key=repr)
    return found


@some
@given(MOVES, st.randoms(use_true_random=False), st.integers(1, 9))
def test_records_taken_in_any_order_come_to_the_same(
    moves: list[tuple[int, str, int]], chance: random.Random, batch: int
) -> None:
    """Three stations' records, shuffled, in batches, some twice: the same verdicts and tables as in order."""
    world = play(begin("north", "south", "west", meters=2), moves)
    events = world.everything()
    shuffled = events + chance.sample(events, len(events) // 3)
    chance.shuffle(shuffled)
    with fresh() as journal, fresh() as in_order:
        for start in range(0, len(shuffled), batch):
            journal.take(raws(shuffled[start : start + batch]), LATER)
        in_order.take(raws(sorted(events, key=lambda one: one.stamp)), LATER)
        assert journal.held() == ()
        assert journal.count() == len(events) + 1
        assert contents(journal) == contents(in_order)
        for meter in instruments(world):
            state = journal.instrument_now(meter)
            oracle = Oracle(meter, events, world.past)
            assert {one.id for one in state.lockouts} == set(oracle.lockouts())
            shared = len({one.label for one in journal.home_rows(retired=True)}) == 1
            for now in (LATER.utc, world.now):
                word = "locked out" if oracle.word(now) == "locked out" else "needs check"
                believed = now >= journal.last_time() - timedelta(minutes=2)
                if believed and not shared:
                    word = oracle.word(now)
                assert fitness(state, now).word in (word, "needs check" if shared or not believed else word)


@some
@given(MOVES, st.randoms(use_true_random=False))
def test_tables_are_what_a_rebuilding_makes_of_the_events(
    moves: list[tuple[int, str, int]], chance: random.Random
) -> None:
    """Screens read tables that were kept up event by event; they must show what the events say, at every point."""
    world = play(begin("north", "south", "west", meters=2), moves)
    events = world.everything()
    chance.shuffle(events)
    with fresh() as journal:
        half = len(events) // 2
        for part in (events[:half], events[half:]):
            journal.take(raws(part), LATER)
            kept = contents(journal)
            journal.rebuild()
            assert contents(journal) == kept


@some
@given(MOVES, st.randoms(use_true_random=False))
def test_part_of_the_records_never_makes_ready_what_all_of_them_do_not(
    moves: list[tuple[int, str, int]], chance: random.Random
) -> None:
    """While records about an instrument wait for others it is not fit: one of them may be a lockout."""
    world = play(begin("north", "south", "west"), moves)
    (meter,) = instruments(world)
    events = world.everything()
    part = chance.sample(events, len(events) * 2 // 3)
    with fresh() as journal:
        taken = journal.take(raws(part), LATER)
        assert len(taken.added) + len(taken.held) == len(part)
        here = {one.hash for one in taken.added}
        waiting = [one for one in part if one.hash not in here and meter in one.about]
        if waiting:
            assert fitness(journal.instrument_now(meter), world.now).word != "ready"
        for one in taken.added:
            assert not one.prev or one.prev in here
            assert {hashed for _, hashed in (one.seen or {}).values()} <= here


@some
@given(MOVES, st.lists(st.tuples(st.integers(0, 2), st.integers(0, 2)), max_size=12))
def test_three_laptops_that_meet_in_any_order_lose_no_lockout_and_come_to_one_answer(
    moves: list[tuple[int, str, int]], meetings: list[tuple[int, int]]
) -> None:
    """Each begins with its own records, and they meet by twos until all have met: nothing depends on who met whom."""
    world = play(begin("north", "south", "west", meters=2), moves)
    events = world.everything()
    with fresh("one") as one, fresh("two") as two, fresh("three") as three:
        laptops = (one, two, three)
        for laptop, station in zip(laptops, world.stations, strict=True):
            laptop.take(raws(station.own), LATER)
        for giver, taker in [*meetings, (0, 1), (1, 2), (2, 0), (0, 1)]:
            if giver != taker:
                with laptops[giver].outgoing(laptops[taker].milestones()) as (_, records):
                    laptops[taker].take(list(records), LATER)
        for meter in instruments(world):
            oracle = Oracle(meter, events, world.past)
            for laptop in laptops:
                assert laptop.held() == ()
                assert _lockouts(laptop, meter) == {
                    lockout: oracle.closed(made_by, lockout) for lockout, made_by in oracle.lockouts().items()
                }
            words = {fitness(laptop.instrument_now(meter), LATER.utc).word for laptop in laptops}
            assert len(words) == 1
        assert one.doubts_all(limit=-1) == two.doubts_all(limit=-1) == three.doubts_all(limit=-1)


def _lockouts(journal: Journal, meter: str) -> dict[str, bool]:
    return {lockout.id: lockout.status == "closed" for lockout in journal.instrument_now(meter).lockouts}


def two_stations() -> World:
    return begin("north", "south")


def test_a_gap_is_held_back_until_it_fills() -> None:
    """A record whose predecessor is missing cannot be placed; nothing of it is lost meanwhile."""
    world = two_stations()
    (meter,) = instruments(world)
    north, south = world.stations
    lockout = world.write(south, d.locked_out(meter))
    last = world.write(south, d.note(meter))
    with fresh() as journal:
        journal.take(raws(north.own), LATER)
        taken = journal.take([last.raw], LATER)
        assert taken.added == ()
        assert [(one.station, one.seq, one.why) for one in taken.held] == [("south", last.seq, "gap")]
        assert journal.instrument_row(meter) is not None
        again = journal.take([last.raw], LATER)
        assert again.known == 1
        filled = journal.take([south.own[0].raw, lockout.raw], LATER)
        assert filled.added == (south.own[0], lockout, last)
        assert journal.held() == ()
        assert journal.instrument_now(meter).standing.locked


def test_what_was_seen_must_be_here_first() -> None:
    """An opening that had seen another station's records is not judged before they are here."""
    world = begin("north", "south", "west")
    (meter,) = instruments(world)
    _, south, west = world.stations
    world.write(south, d.locked_out(meter))
    world.tell_all()
    opened = world.write(west, d.opened(meter))
    with fresh() as journal:
        journal.take(raws([one for one in world.everything() if one.station != "south"]), LATER)
        assert [one.hash for one in journal.held()] == [opened.hash]
        journal.take(raws(south.own), LATER)
        assert journal.held() == ()


def test_records_from_the_future_wait_for_their_time() -> None:
    """One laptop in the wrong year must not put every later record of this one in doubt."""
    world = two_stations()
    (meter,) = instruments(world)
    south = world.stations[1]
    south.wrong_by = timedelta(days=400)
    world.write(south, d.locked_out(meter))
    with fresh() as journal:
        taken = journal.take(raws(world.everything()), LATER)
        assert [one.why for one in taken.held] == ["future"]
        assert journal.last_time() < LATER.utc
        assert fitness(journal.instrument_now(meter), LATER.utc).word != "ready"
        later = ManualClock(LATER.utc + timedelta(days=400)).now()
        assert journal.take([], later).held == ()
        assert journal.instrument_now(meter).standing.locked


def forked_world() -> tuple[World, World, str]:
    """South's file was copied after it had begun, and both copies are used under its name."""
    world = two_stations()
    (meter,) = instruments(world)
    copy = World.__new__(World)
    copy.now, copy.past = world.now, world.past
    copy.stations = [type(one)(one.name, dict(one.known), list(one.own)) for one in world.stations]
    return world, copy, meter


@pytest.mark.parametrize("first", ["original", "copy"])
@pytest.mark.parametrize("seen", ["original", "copy"])
def test_a_fork_keeps_both_branches_and_neither_hides_the_other(first: str, seen: str) -> None:
    """Having seen record 4 of one copy is not having seen record 2 of the other, whichever came first."""
    world, copy, meter = forked_world()
    world.write(world.stations[1], d.readiness_ended(meter))
    world.write(world.stations[1], d.note(meter))
    copy.now += timedelta(minutes=1)
    for _ in range(3):
        copy.write(copy.stations[1], d.note(meter))
    branches = {"original": world, "copy": copy}
    for one in branches.values():
        one.now = START + timedelta(hours=1)
        one.tell_all()
    judge = branches[seen]
    opened = judge.write(judge.stations[0], d.opened(meter))
    judge.write(judge.stations[0], d.ended(opened.hash, meter, until=utc_text(LATER.utc + timedelta(days=1))))
    order = [branches[first], *(one for name, one in branches.items() if name != first)]
    with fresh() as journal:
        for one in order:
            journal.take(raws(one.stations[1].own + judge.stations[0].own), LATER)
        assert journal.held() == ()
        assert [(one.station, one.seq) for one in journal.forks()] == [("south", 2)]
        word = fitness(journal.instrument_now(meter), LATER.utc).word
        assert word == ("ready" if seen == "original" else "needs check")
        kept = contents(journal)
        journal.rebuild()
        assert contents(journal) == kept


def test_whoever_knows_both_branches_of_a_fork_names_both_and_is_believed() -> None:
    """A fork is a mishap that a site must be able to leave behind: lockouts of both branches can be cleared."""
    world, copy, meter = forked_world()
    world.write(world.stations[1], d.locked_out(meter, "dropped"))
    copy.now += timedelta(minutes=1)
    copy.write(copy.stations[1], d.locked_out(meter, "wet"))
    with fresh() as journal:
        journal.take(raws(world.everything() + copy.everything()), LATER)
        lockouts = journal.instrument_now(meter).lockouts
        assert [one.reasons[0].code for one in lockouts] == ["dropped", "wet"]
        clock = ManualClock(LATER.utc)
        (clearing,) = journal.append([d.cleared(meter, *(one.id for one in lockouts))], clock.now())
        (check,) = journal.append([d.opened(meter, clearings=(clearing.hash,))], clock.advance(1))
        assert sorted(name.partition("#")[0] for name in check.seen or {}) == ["north", "south", "south"]
        until = utc_text(clock.now().utc + timedelta(hours=1))
        journal.append([d.ended(check.hash, meter, until=until)], clock.advance(1))
        assert fitness(journal.instrument_now(meter), clock.now().utc).word == "ready"
        # And by everybody who takes these records in, in any order.
        records = [one for name in (journal.station,) for one in journal.about(meter) if one.station == name]
        begun = journal.by_hash(records[-1].prev)
        assert begun is not None
        with fresh("other") as reader:
            reader.take(raws(records), LATER)
            reader.take([begun.raw, *raws(copy.everything())], LATER)
            assert fitness(reader.instrument_now(meter), clock.now().utc).word != "ready"
            reader.take(raws(world.everything()), LATER)
            assert reader.held() == ()
            assert fitness(reader.instrument_now(meter), clock.now().utc).word == "ready"


def test_records_under_the_own_name_from_elsewhere_are_a_fork() -> None:
    """This file is an old copy: what its double wrote is kept beside what it writes, never in its own chain."""
    clock = ManualClock(START)
    with fresh("south") as journal, fresh("south") as double:
        assert journal.head() == double.head()
        (foreign,) = double.append([d.instrument("C-7")], clock.now())
        journal.take([foreign.raw], LATER)
        (own,) = journal.append([d.instrument("C-8")], clock.advance(60))
        assert (own.prev, own.seq) == (foreign.prev, foreign.seq)
        assert [(one.station, one.seq) for one in journal.forks()] == [("south", 2)]
        assert [row.label for row in journal.home_rows()] == ["C-7", "C-8"]


def test_two_beginnings_under_one_name_are_a_fork() -> None:
    """A random id drawn twice, or a site begun twice from one image."""
    one, other = World("north"), World("north")
    other.write(other.stations[0], d.person())
    one.stations[0].own.clear()
    one.stations[0].known.clear()
    one.now += timedelta(hours=1)
    second = one.write(one.stations[0], d.note("site")).raw
    with fresh() as journal:
        journal.take([*raws(other.stations[0].own), second], LATER)
        assert [(each.station, each.seq) for each in journal.forks()] == [("north", 1)]


@pytest.mark.parametrize("change", ["station", "seq", "hlc", "seen"])
def test_records_that_contradict_what_they_refer_to_are_refused_whole(change: str) -> None:
    """No station writes such a record: nothing of the delivery is taken."""
    world = two_stations()
    (meter,) = instruments(world)
    north, south = world.stations
    opened = world.write(south, d.opened(meter))
    fields = json.loads(opened.raw)
    if change == "station":
        fields["station"] = "west"
    elif change == "seq":
        fields["seq"] += 1
    elif change == "hlc":
        fields["hlc"] = [1, 0]
    else:
        fields["seen"]["north"][0] -= 1
    with fresh() as journal:
        journal.take(raws([*north.own, *south.own[:-1]]), LATER)
        before = journal.count()
        with pytest.raises(Altered):
            journal.take([world.write(south, d.note(meter)).raw, encode(fields)], LATER)
        assert journal.count() == before
        assert journal.held() == ()


def test_bytes_that_are_no_record_are_refused_whole() -> None:
    """A damaged delivery is fetched again; half of it would look like all of it."""
    world = two_stations()
    with fresh() as journal, pytest.raises(Trouble):
        journal.take([*raws(world.everything()), b"{}"], LATER)


def test_a_newer_programs_record_about_a_checkout_spoils_it() -> None:
    """It is about the checkout alone, and still the instrument behind it is not fit."""
    world = two_stations()
    (meter,) = instruments(world)
    north, south = world.stations
    opened = world.write(north, d.opened(meter))
    world.write(north, d.ended(opened.hash, meter, until=utc_text(LATER.utc + timedelta(hours=1))))
    world.tell_all()
    newer = world.write(south, d.answered(opened.hash), version=2)
    with fresh() as journal:
        journal.take(raws([one for one in world.everything() if one != newer]), LATER)
        assert fitness(journal.instrument_now(meter), LATER.utc).word == "ready"
        journal.take([newer.raw], LATER)
        assert fitness(journal.instrument_now(meter), LATER.utc).word == "needs check"
        row = journal.instrument_row(meter)
        assert row is not None
        assert fitness(row.standing, LATER.utc).word == "needs check"
    with fresh() as journal:
        journal.take(raws(south.own), LATER)
        assert [one.hash for one in journal.held()] == [newer.hash]
        journal.take(raws(north.own), LATER)
        assert fitness(journal.instrument_now(meter), LATER.utc).word == "needs check"


def test_a_failure_that_forgot_its_instrument_is_found_all_the_same() -> None:
    """Another program named only the checkout: the instrument is known from its opening."""
    world = two_stations()
    (meter,) = instruments(world)
    north = world.stations[0]
    opened = world.write(north, d.opened(meter))
    failed = d.found(opened.hash, meter, "fail")
    world.write(north, type(failed)(failed.kind, failed.body, (opened.hash,)))
    with fresh() as journal:
        journal.take(raws(world.everything()), LATER)
        assert fitness(journal.instrument_now(meter), LATER.utc).word == "locked out"
