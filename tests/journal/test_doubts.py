"""Uses in doubt: the fold against a brute-force oracle, and the table against the fold, in any order of arrival."""

from __future__ import annotations

import random
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import journal_drafts as d
import pytest
from doubt_oracle import DoubtOracle
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from journal_histories import CHOICES, DOUBTING, DOUBTS, START, begin, instruments, play

from procedures.clock import ManualClock
from procedures.journal.envelope import Event
from procedures.journal.fold import uses_in_doubt
from procedures.journal.moments import utc_text
from procedures.journal.store import Journal

Moves = list[tuple[int, str, int]]
quick = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
some = settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
LATER = START + timedelta(days=1)


@contextmanager
def fresh(name: str = "reader") -> Iterator[Journal]:
    begun = ManualClock(START - timedelta(days=1)).now()
    with (
        tempfile.TemporaryDirectory() as folder,
        Journal.create(Path(folder) / "j", station=name, name=name, now=begun) as journal,
    ):
        yield journal


def listed(journal: Journal) -> set[tuple[str, str, str]]:
    rows, total = journal.doubts_all(limit=-1)
    assert total == len(rows)
    return {(row.cause, row.kind, row.use) for row in rows}


def folded(meter: str, events: list[Event]) -> set[tuple[str, str, str]]:
    doubts = uses_in_doubt([one for one in events if meter in one.about])
    return {(doubt.cause.hash, doubt.kind, use.hash) for doubt in doubts for use in doubt.uses}


def table(journal: Journal) -> list[object]:
    return journal._db.execute("SELECT * FROM doubts ORDER BY instrument, cause, kind, use").fetchall()


@quick
@given(DOUBTS)
def test_doubts_are_what_the_words_of_the_design_say(moves: Moves) -> None:
    """For every station's view and for all of them together."""
    world = play(begin("north", "south", "west"), moves)
    (meter,) = instruments(world)
    for known in [*(list(station.known.values()) for station in world.stations), world.everything()]:
        assert folded(meter, known) == DoubtOracle(meter, known, world.past).doubts()


@some
@given(DOUBTS, st.randoms(use_true_random=False), st.integers(1, 9))
def test_the_table_is_right_when_records_arrive_late(moves: Moves, chance: random.Random, batch: int) -> None:
    """In any order, in batches: a failure of yesterday that arrives today puts yesterday's uses in doubt."""
    world = play(begin("north", "south", "west", meters=2), moves)
    events = world.everything()
    chance.shuffle(events)
    with fresh() as journal:
        for start in range(0, len(events), batch):
            journal.take([one.raw for one in events[start : start + batch]], ManualClock(LATER).now())
        wanted = [DoubtOracle(meter, events, world.past).doubts() for meter in instruments(world)]
        assert listed(journal) == set().union(*wanted)


@some
@given(
    DOUBTS,
    st.lists(st.tuples(st.sampled_from((*DOUBTING, "take")), st.integers(0, 10_000)), max_size=30),
)
def test_the_table_is_right_while_records_are_added_and_arrive_by_turns(
    moves: Moves, own: list[tuple[str, int]]
) -> None:
    """What is recorded here recomputes only what it can change; that must be all that it changes."""
    world = play(begin("north", "south", "west"), moves)
    clock = ManualClock(LATER)
    coming = sorted(world.everything(), key=lambda one: (one.station != "north", one.seq))
    with fresh() as journal:
        known: list[Event] = []
        for move, seed in [("take", 5), *own]:
            if move == "take":
                part, coming = coming[: seed % 12], coming[seed % 12 :]
                known += journal.take([one.raw for one in part], clock.advance(1)).added
            elif move in CHOICES and (draft := CHOICES[move](known, random.Random(seed))) is not None:
                known += journal.append([draft], clock.advance(1))
        kept = table(journal)
        journal.rebuild()
        assert table(journal) == kept
        for one in instruments(world):
            assert {row[1:4] for row in kept if row[0] == one} == folded(one, known)  # type: ignore[index]


@some
@given(DOUBTS, st.randoms(use_true_random=False))
def test_a_use_that_was_reviewed_stays_reviewed_and_in_doubt(moves: Moves, chance: random.Random) -> None:
    """A review says that somebody looked; it takes no doubt away, and nothing takes the review away."""
    world = play(begin("north", "south", "west"), moves)
    (meter,) = instruments(world)
    clock = ManualClock(LATER)
    events = world.everything()
    chance.shuffle(events)
    with fresh() as journal:
        for part in (events[::2], events[1::2]):
            journal.take([one.raw for one in part], clock.advance(1))
            before = listed(journal)
            rows, _ = journal.doubts_open(limit=3)
            for row in rows:
                (review,) = journal.append([d.reviewed(meter, row.cause, row.use)], clock.advance(1))
                assert listed(journal) == before
                still, _ = journal.doubts_open(limit=-1)
                assert (row.cause, row.use) not in {(one.cause, one.use) for one in still}
                (marked,) = {
                    one.review
                    for one in journal.doubts_all(limit=-1)[0]
                    if (one.cause, one.use) == (row.cause, row.use)
                }
                assert marked == review.hash
        reviews = {(one.body["cause"], one.body["use"]) for one in journal.happened(["use-reviewed"], limit=-1)[0]}
        for row in journal.doubts_all(limit=-1)[0]:
            assert row.reviewed == ((row.cause, row.use) in reviews)
        kept = table(journal)
        journal.rebuild()
        assert table(journal) == kept


class Hall:
    """One instrument and one person at one laptop."""

    def __init__(self, journal: Journal, clock: ManualClock) -> None:
        self.journal, self.clock = journal, clock
        meter, person = journal.append([d.instrument(), d.person()], clock.now())
        self.meter, self.person = meter.hash, person.hash

    def write(self, *drafts: object) -> Event:
        self.clock.advance(60)
        return self.journal.append(drafts, self.clock.now())[-1]  # type: ignore[arg-type]

    def check(self, outcome: str = "pass") -> Event:
        opened = self.write(d.opened(self.meter))
        self.write(d.found(opened.hash, self.meter, outcome))
        until = utc_text(self.clock.now().utc + timedelta(hours=8))
        ending = "fit for use" if outcome == "pass" else "locked out"
        code = "" if outcome == "pass" else "battery-bad"
        return self.write(d.ended(opened.hash, self.meter, ending, until=until, code=code))

    def use(self) -> Event:
        return self.write(d.handed_out(self.meter, self.person))

    def emergency(self) -> Event:
        return self.write(d.emergency_use(self.meter, self.person))

    def paper(self, observed: str, outcome: str) -> Event:
        ending = "fit for use" if outcome == "pass" else "locked out"
        return self.write(d.paper_entered(self.meter, self.person, observed, ("battery", outcome), ending=ending))

    def moment(self) -> str:
        self.clock.advance(60)
        return utc_text(self.clock.now().utc)

    def doubts(self) -> list[tuple[str, str]]:
        return [(row.kind, row.use) for row in self.journal.doubts_open(limit=-1)[0]]


@pytest.fixture
def hall(journal: Journal, clock: ManualClock) -> Hall:
    return Hall(journal, clock)


def test_a_meter_that_comes_back_bad_puts_its_use_in_doubt(hall: Hall) -> None:
    """It was whole at the last whole checkout, or when it last came back good."""
    hall.use()
    hall.check()
    hall.use()
    hall.write(d.returned(hall.meter, "good"))
    last = hall.use()
    hall.write(d.returned(hall.meter, "bad"))
    assert hall.doubts() == [("return", last.hash)]


def test_a_whole_checkout_says_that_it_came_back_good(hall: Hall) -> None:
    """Who checks all of it looks at no less than who takes it back."""
    hall.use()
    hall.check()
    use = hall.use()
    hall.write(d.returned(hall.meter, "not done"))
    hall.write(d.returned(hall.meter, "bad"))
    assert hall.doubts() == [("return", use.hash)]


def test_a_checkout_that_somebody_failed_speaks_for_nothing_though_it_ended_fit(hall: Hall) -> None:
    """No program of ours ends it so; another one might."""
    use = hall.use()
    opened = hall.write(d.opened(hall.meter))
    hall.write(d.judged(opened.hash, hall.meter), d.ended(opened.hash, hall.meter))
    hall.write(d.returned(hall.meter, "bad"))
    assert ("return", use.hash) in hall.doubts()


def test_an_emergency_use_is_in_doubt_until_a_whole_check_passes(hall: Hall) -> None:
    """Nobody knew whether it worked; the check after it says so."""
    hall.check()
    use = hall.emergency()
    assert hall.doubts() == [("unchecked", use.hash)]
    opened = hall.write(d.opened(hall.meter))
    hall.write(d.ended(opened.hash, hall.meter, "not checked"))
    assert hall.doubts() == [("unchecked", use.hash)]
    hall.check()
    assert hall.doubts() == []


def test_an_emergency_use_before_a_failed_check_stays_in_doubt(hall: Hall) -> None:
    """The repair came after it."""
    use = hall.emergency()
    hall.check("fail")
    hall.check()
    assert sorted(hall.doubts()) == [("battery", use.hash), ("unchecked", use.hash)]


def test_an_emergency_use_of_what_was_known_to_be_bad_stays_in_doubt(hall: Hall) -> None:
    """It was locked out and used all the same, or used before and told of after; no later check makes that good."""
    hall.check("fail")
    use = hall.emergency()
    assert sorted(hall.doubts()) == [("battery", use.hash), ("unchecked", use.hash)]
    hall.check()
    assert sorted(hall.doubts()) == [("battery", use.hash), ("unchecked", use.hash)]
    again = hall.emergency()
    assert ("unchecked", again.hash) in hall.doubts()
    assert ("battery", again.hash) not in hall.doubts()


def test_what_was_put_right_within_the_last_check_does_not_touch_an_emergency_use(hall: Hall) -> None:
    """Fresh cells were fitted and the rest passed; only the time was over."""
    opened = hall.write(d.opened(hall.meter))
    hall.write(d.found(opened.hash, hall.meter, "pass", as_found="fail"))
    hall.write(d.ended(opened.hash, hall.meter))
    use = hall.emergency()
    assert hall.doubts() == [("unchecked", use.hash)]


def test_a_check_that_is_withdrawn_brings_the_doubt_back(hall: Hall) -> None:
    """It was made on another item."""
    use = hall.emergency()
    ended = hall.check()
    assert hall.doubts() == []
    hall.write(d.withdrawn(ended.body["checkout"], hall.meter))
    assert hall.doubts() == [("unchecked", use.hash)]


def test_a_second_and_worse_ending_brings_the_doubt_back(hall: Hall) -> None:
    """Two programs ended it: nobody may rely on the better of two verdicts."""
    use = hall.emergency()
    ended = hall.check()
    hall.write(d.ended(ended.body["checkout"], hall.meter, "abandoned"))
    assert hall.doubts() == [("unchecked", use.hash)]


def test_a_review_that_arrives_marks_the_use_though_it_names_no_instrument(hall: Hall) -> None:
    """Another program wrote what it had looked into and nothing else."""
    use = hall.emergency()
    review = d.reviewed(hall.meter, use.hash, use.hash)
    with fresh("south") as south:
        now = hall.clock.advance(60)
        theirs = hall.journal.happened(("registered", "emergency-use", "station-begun"), limit=-1)[0]
        south.take([one.raw for one in theirs], now)
        begun = south.by_hash(south.head()[2])
        (written,) = south.append([replace(review, about=(use.hash, use.hash))], hall.clock.advance(60))
        assert begun is not None
        hall.journal.take([begun.raw, written.raw], hall.clock.advance(60))
    assert hall.doubts() == []
    (row,) = hall.journal.doubts_all(limit=-1)[0]
    assert (row.reviewed, row.review) == (True, written.hash)


def test_a_failure_on_paper_puts_uses_before_and_after_it_in_doubt(hall: Hall) -> None:
    """It was found in the field and entered in the evening; meanwhile the meter went out again."""
    hall.use()
    hall.check()
    before = hall.use()
    observed = hall.moment()
    after = hall.use()
    hall.check()
    hall.use()
    hall.paper(observed, "fail")
    assert hall.doubts() == [("battery", before.hash), ("battery", after.hash)]
    rows, _ = hall.journal.doubts_open(limit=-1)
    assert {utc_text(row.found_at) for row in rows} == {observed}
    hall.use()
    assert len(hall.doubts()) == 2


def test_a_pass_on_paper_bounds_what_a_later_failure_puts_in_doubt(hall: Hall) -> None:
    """At the time that it was observed, not when it was entered."""
    hall.use()
    observed = hall.moment()
    second = hall.use()
    hall.check("fail")
    assert len(hall.doubts()) == 2
    hall.paper(observed, "pass")
    assert hall.doubts() == [("battery", second.hash)]


def test_what_was_written_down_after_it_was_entered_counts_as_entered(hall: Hall) -> None:
    """A slip in the hour on the form must not spare uses that came later."""
    hall.clock.advance(60)
    hall.paper(utc_text(hall.clock.now().utc + timedelta(hours=5)), "pass")
    use = hall.use()
    hall.check("fail")
    assert hall.doubts() == [("battery", use.hash)]


def test_a_paper_that_locked_out_without_saying_why_puts_every_use_in_doubt(hall: Hall) -> None:
    """Of no kind is it known that a good check spoke for it."""
    use = hall.use()
    hall.check()
    hall.write(d.paper_entered(hall.meter, hall.person, hall.moment(), ending="locked out"))
    assert hall.doubts() == [("", use.hash)]


def test_doubts_are_listed_newest_failure_first_with_who_and_where(hall: Hall) -> None:
    """The lead goes through them with the people who were out."""
    first = hall.use()
    hall.check("fail")
    second = hall.emergency()
    rows, total = hall.journal.doubts_open(instrument=hall.meter, limit=2)
    assert total == 3
    assert [(row.kind, row.use) for row in rows] == [("unchecked", second.hash), ("battery", first.hash)]
    assert (rows[1].label, rows[1].to, rows[1].to_name) == ("C-101", hall.person, "A. Person")
    assert (rows[1].job, rows[1].place, rows[1].used_at) == ("survey", "hall", first.utc)
    assert hall.journal.doubts_open(limit=1, offset=1)[0] == rows[1:]
    assert hall.journal.doubts_open(instrument="f" * 64, limit=1) == ((), 0)
