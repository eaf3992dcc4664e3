"""What is folded from a part of a long history is what all of it says."""

from __future__ import annotations

import random
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import journal_drafts as d
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from journal_histories import CHOICES, DOUBTS, MOVES, START, begin, instruments, play

from procedures.clock import ManualClock
from procedures.journal import index, log, tables
from procedures.journal.doubts import Doubt
from procedures.journal.envelope import Draft, Event
from procedures.journal.events import LATEST, NOT_WEIGHTY, PAST, weight
from procedures.journal.fold import fold_instrument, fold_person, fold_source, uses_in_doubt
from procedures.journal.moments import utc_text
from procedures.journal.states import InstrumentState
from procedures.journal.store import Journal

Moves = list[tuple[int, str, int]]
some = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
LATER = START + timedelta(days=1)
DEEDS = ("out", "back", "place", "miss", "test", "other", "wrong clock")
ROUTINE = ("open", "pass", "end fit", "hand out", "return", "scan", "fail", "withdraw", "end again", "clear", "judge")


@contextmanager
def fresh(name: str = "reader") -> Iterator[Journal]:
    begun = ManualClock(START - timedelta(days=1)).now()
    with (
        tempfile.TemporaryDirectory() as folder,
        Journal.create(Path(folder) / "j", station=name, name=name, now=begun) as journal,
    ):
        yield journal


def whole(journal: Journal, instrument: str) -> InstrumentState:
    """The instrument from every event that weighs on it."""
    events = [event for event in log.about(journal._db, instrument) if weight(event) != NOT_WEIGHTY]
    return fold_instrument(instrument, events, lineage=log.lineage_of(journal._db, events))


def agree(journal: Journal, instrument: str) -> None:
    """What the program folds is what all events say; passes that neither count nor closed anything may be missing."""
    part, all_of_it = tables.instrument_now(journal._db, instrument), whole(journal, instrument)
    assert replace(part, passes=()) == replace(all_of_it, passes=())
    assert {one.checkout for one in part.passes} <= {one.checkout for one in all_of_it.passes}
    needed = {one.closed_by for one in part.lockouts if one.closed_by}
    needed |= {part.counting.checkout} if part.counting else set()
    assert needed <= {one.checkout for one in part.passes}


def lines(journal: Journal, thing: str, *weights: int) -> int:
    asked = f"SELECT count(*) FROM about WHERE entity = ? AND weighs IN ({','.join('?' * len(weights))})"
    return int(journal._db.execute(asked, (thing, *weights)).fetchone()[0])


@some
@given(MOVES, st.randoms(use_true_random=False), st.integers(1, 30))
def test_an_instrument_is_what_its_whole_history_says(moves: Moves, chance: random.Random, batch: int) -> None:
    """Whatever three stations did, and in whatever order it comes in."""
    world = play(begin("north", "south", "west"), moves)
    (meter,) = instruments(world)
    raws = [one.raw for one in world.everything()]
    chance.shuffle(raws)
    now = ManualClock(LATER).now()
    with fresh() as journal:
        for at in range(0, len(raws), batch):
            journal.take(raws[at : at + batch], now)
            if journal.by_hash(meter) is not None and not journal.held():
                agree(journal, meter)
        agree(journal, meter)


@some
@given(st.lists(st.tuples(st.sampled_from(ROUTINE), st.integers(0, 10_000)), max_size=40), st.integers(0, 5))
def test_it_is_so_after_everything_that_is_recorded_here(moves: list[tuple[str, int]], days: int) -> None:
    """Checks, hand-outs and returns overtake each other as they are recorded; a withdrawal takes that back."""
    clock = ManualClock(START)
    with fresh() as journal:
        known: list[Event] = list(journal.append([d.instrument(), d.source(), d.person()], clock.now()))
        meter = known[0].hash
        for day in range(days):
            known += routine(journal, known, clock, day)
        for move, seed in moves:
            draft = CHOICES[move](known, random.Random(seed))
            if draft is not None:
                known += journal.append([draft], clock.advance(1))
                agree(journal, meter)
        weights = journal._db.execute("SELECT * FROM about").fetchall()
        journal.rebuild()
        assert journal._db.execute("SELECT * FROM about").fetchall() == weights


def routine(journal: Journal, known: list[Event], clock: ManualClock, day: int) -> list[Event]:
    """One day of an instrument: checked with the source, handed out, brought back."""
    meter, source, person = (one.hash for one in known[:3])
    (opened,) = journal.append([d.opened(meter, person_id=person)], clock.advance(3600))
    made = [opened]
    for draft in (
        d.scanned(opened.hash, source, "source-out"),
        d.found(opened.hash, meter),
        d.found(opened.hash, meter, kind="response"),
        d.scanned(opened.hash, source, "source-back"),
        d.ended(opened.hash, meter, until=utc_text(clock.now().utc + timedelta(hours=12))),
        d.handed_out(meter, person, opened.hash),
        d.returned(meter, "good" if day % 2 else None),
    ):
        made += journal.append([draft], clock.advance(60))
    return made


def test_what_is_read_does_not_grow_with_the_days() -> None:
    """A technician must not wait longer for the verdict because the instrument has served for ten years."""
    clock = ManualClock(START)
    with fresh() as journal:
        known = list(journal.append([d.instrument(), d.source(), d.person()], clock.now()))
        for day in range(40):
            routine(journal, known, clock, day)
            assert lines(journal, known[0].hash, LATEST) == 3, "one opening, one ending, one return"
            assert lines(journal, known[1].hash, LATEST) == 1
        assert lines(journal, known[0].hash, PAST) == 39 * 4 + 1
        assert len(tables.instrument_now(journal._db, known[0].hash).passes) == 1


@some
@given(MOVES, st.randoms(use_true_random=False))
def test_what_is_overtaken_depends_on_no_order(moves: Moves, chance: random.Random) -> None:
    """Verify goes through the journal chain after chain; what it makes anew must be what arrived in its own order."""
    world = play(begin("north", "south", "west"), moves)
    with fresh() as journal:
        journal.take([one.raw for one in world.everything()], ManualClock(LATER).now())
        kept = [journal._db.execute(f"SELECT * FROM {name}").fetchall() for name in ("about", "tallies")]
        numbered = list(log.everything(journal._db))
        chance.shuffle(numbered)
        for name in ("about", "tallies", "happenings"):
            journal._db.execute(f"DELETE FROM {name}")
        for number, event in numbered:
            index.index(journal._db, number, event)
        assert [journal._db.execute(f"SELECT * FROM {name}").fetchall() for name in ("about", "tallies")] == kept


def test_a_withdrawn_check_gives_back_the_one_before_it() -> None:
    """It had overtaken a good one, which is again the last that is known of the instrument."""
    clock = ManualClock(START)
    with fresh() as journal:
        known = list(journal.append([d.instrument(), d.source(), d.person()], clock.now()))
        meter = known[0].hash
        first = routine(journal, known, clock, 0)[0]
        last_checked = journal.instrument_now(meter).last_checked
        second = routine(journal, known, clock, 1)[0]
        assert {one.checkout for one in journal.instrument_now(meter).passes} == {second.hash}
        journal.append([d.withdrawn(second.hash, meter)], clock.advance(1))
        state = journal.instrument_now(meter)
        assert {one.checkout for one in state.passes} == {first.hash}
        assert (state.counting, state.last_checked) == (None, last_checked)


def test_a_lost_line_is_noticed_where_it_matters() -> None:
    """The index is not signed: a verdict from what is left of it would be a guess."""
    clock = ManualClock(START)
    with fresh() as journal:
        known = list(journal.append([d.instrument(), d.source(), d.person()], clock.now()))
        meter = known[0].hash
        for day in range(3):
            routine(journal, known, clock, day)
        for kind in ("opened", "ended", "returned"):
            journal._db.execute("BEGIN")
            lost = "DELETE FROM about WHERE entity = ? AND kind = ? AND weighs = ?"
            assert journal._db.execute(lost, (meter, kind, LATEST)).rowcount == 1
            assert tables.INDEX_DAMAGED in tables.instrument_now(journal._db, meter).standing.problems
            journal._db.execute("ROLLBACK")


@some
@given(DOUBTS, st.integers(0, 4))
def test_doubts_written_beside_the_others_are_those_of_the_whole_history(moves: Moves, days: int) -> None:
    """A failure is looked up from the last good check of its kind on; the table must be what everything says."""
    clock = ManualClock(START)
    with fresh() as journal:
        known: list[Event] = list(journal.append([d.instrument(), d.source(), d.person()], clock.now()))
        meter = known[0].hash
        for day in range(days):
            known += routine(journal, known, clock, day)
        for _, move, seed in moves:
            make = CHOICES.get(move)
            draft = make(known, random.Random(seed)) if make else None
            if draft is not None:
                known += journal.append([draft], clock.advance(1))
                events = log.about(journal._db, meter)
                assert sorted(journal.uses_in_doubt(meter), key=_named) == sorted(uses_in_doubt(events), key=_named)


def _named(doubt: Doubt) -> tuple[str, str]:
    return doubt.cause.hash, doubt.kind


def _draft(deed: str, source: str, checkout: str) -> Draft:
    match deed:
        case "out" | "back":
            return d.scanned(checkout, source, f"source-{deed}")
        case "place":
            return Draft("placed", {"whereabouts": "here", "where": "store"}, (source,))
        case "miss":
            return Draft("counted", {"on": "2030-02-01", "found": False, "where": ""}, (source,))
        case "test":
            return Draft("leak-tested", {"on": "2030-02-01", "due": None, "result_bq": "3"}, (source,))
    return d.answered(checkout)


@settings(max_examples=40, deadline=None)
@given(deeds=st.lists(st.sampled_from(DEEDS), min_size=1, max_size=60))
def test_a_source_is_where_its_whole_history_says(deeds: list[str]) -> None:
    """Only the newest of its scans are read: ten thousand checkouts must not make the next one slower."""
    clock = ManualClock(START)
    with fresh() as journal:
        source, meter = (journal.append((each,), clock.now())[0].hash for each in (d.source(), d.instrument()))
        checkout = journal.append((d.opened(meter),), clock.now())[0].hash
        for deed in deeds:
            clock.advance(5)
            if deed == "wrong clock":
                clock.set_wall(clock.now().utc - timedelta(seconds=60))
                continue
            journal.append((_draft(deed, source, checkout),), clock.now())
        everything = fold_source(source, log.about(journal._db, source))
        assert journal.source_now(source) == everything
        assert bool(journal.sources_out()) == (everything.out_with is not None)


def test_a_person_is_who_they_are_however_often_they_took_something(tmp_path: Path) -> None:
    """What somebody was handed is not what they are."""
    clock = ManualClock(START)
    with Journal.create(tmp_path / "j", station="one", name="one", now=clock.now()) as journal:
        person, meter = (journal.append((each,), clock.now())[0].hash for each in (d.person(), d.instrument()))
        out = {"to": person, "job": "", "place": "", "checkout": None, "until": None}
        for _ in range(30):
            journal.append((Draft("handed-out", out, (meter, person)),), clock.now())
        journal.append((Draft("described", {"set": {"name": "B. Person"}}, (person,)),), clock.now())
        everything = log.about(journal._db, person)
        assert len(everything) == 32
        assert journal.thing_now(person) == fold_person(person, everything)
