"""The store: what was appended is there, whole, in order, for good, and only once."""

from __future__ import annotations

import random
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import journal_drafts as d
import pytest

from procedures.clock import Instant, ManualClock
from procedures.journal.envelope import Altered, Malformed
from procedures.journal.store import Journal, Overtaken
from procedures.trouble import Trouble


def raw(journal: Journal) -> sqlite3.Connection:
    """A connection as any other tool would make it, behind the journal's back."""
    return sqlite3.connect(journal.path, isolation_level=None)


def behind_the_triggers(journal: Journal, trigger: str, statement: str) -> None:
    """What somebody does who knows SQL, and puts the trigger back afterwards."""
    db = raw(journal)
    (made,) = db.execute("SELECT sql FROM sqlite_master WHERE name = ?", (trigger,)).fetchone()
    for each in (f"DROP TRIGGER {trigger}", statement, made):
        db.execute(each)
    db.close()


def test_a_journal_begins_with_its_station(journal: Journal) -> None:
    """Every chain has a first event that says whose it is."""
    station, seq, hashed = journal.head()
    first = journal.by_hash(hashed)
    assert (station, seq) == ("north", 1)
    assert first is not None
    assert first.kind == "station-begun"
    assert first.prev == ""
    assert journal.count() == 1


def test_events_are_chained_numbered_and_kept(journal: Journal, clock: ManualClock) -> None:
    """Sequence and previous hash show a missing or changed event."""
    before = journal.head()[2]
    (meter,) = journal.append([d.instrument()], clock.now())
    (opened,) = journal.append([d.opened(meter.hash)], clock.advance(1))
    more = journal.append([d.answered(opened.hash), d.found(opened.hash, meter.hash)], clock.advance(1))
    chain = [meter, opened, *more]
    assert [one.seq for one in chain] == [2, 3, 4, 5]
    assert [one.prev for one in chain] == [before, *(one.hash for one in chain[:-1])]
    assert sorted(one.hlc for one in chain) == [one.hlc for one in chain]
    assert len({one.hlc for one in chain}) == 4
    with Journal.open(journal.path) as again:
        assert again.checkout_events(opened.hash) == (opened, *more)
        assert again.head() == ("north", 5, more[-1].hash)
        assert again.count() == 5
        assert [again.by_hash(one.hash) for one in chain] == chain


def test_a_group_of_drafts_is_recorded_whole_or_not_at_all(journal: Journal, clock: ManualClock) -> None:
    """A finding without the ending that belongs to it would be half a truth."""
    (meter,) = journal.append([d.instrument()], clock.now())
    before = journal.head()
    with pytest.raises(Malformed):
        journal.append([d.locked_out(meter.hash), d.opened("no id")], clock.now())
    assert journal.head() == before
    assert journal.about(meter.hash) == (meter,)


def test_the_kind_decides_that_a_fitness_ends_whatever_its_writer_says(journal: Journal, clock: ManualClock) -> None:
    """A caller that forgets the flag must not keep an instrument ready."""
    (meter,) = journal.append([d.instrument()], clock.now())
    (opened,) = journal.append([d.opened(meter.hash)], clock.now())
    failed, passed = journal.append(
        [d.found(opened.hash, meter.hash, "fail"), d.found(opened.hash, meter.hash)], clock.now()
    )
    fit, locked = journal.append(
        [d.ended(opened.hash, meter.hash), d.ended(opened.hash, meter.hash, "locked out")], clock.now()
    )
    flags = [one.ends_fitness for one in (opened, failed, passed, fit, locked)]
    assert flags == [True, True, False, False, True]


def test_the_hash_of_an_opening_is_needed_for_what_follows(journal: Journal, clock: ManualClock) -> None:
    """An answer to a checkout that never was would be found by nobody."""
    with pytest.raises(Malformed):
        journal.append([d.answered("a" * 64)], clock.now())


def test_whoever_was_overtaken_is_told(journal: Journal, clock: ManualClock) -> None:
    """Two windows on one checkout must not both decide from the same state."""
    (meter,) = journal.append([d.instrument()], clock.now())
    (opened,) = journal.append([d.opened(meter.hash)], clock.now())
    with Journal.open(journal.path) as other:
        other.append([d.answered(opened.hash)], clock.now(), expect=(opened.hash, opened.hash))
        with pytest.raises(Overtaken):
            journal.append([d.answered(opened.hash)], clock.now(), expect=(opened.hash, opened.hash))
        assert len(journal.checkout_events(opened.hash)) == 2
        journal.append([d.answered(opened.hash)], clock.now(), expect=(opened.hash, journal.last_about(opened.hash)))
    assert journal.last_about("nothing") == ""


def test_events_can_be_neither_changed_nor_removed(journal: Journal) -> None:
    """Records are not altered after the fact, with whatever tool."""
    with raw(journal) as db:
        for statement in (
            "UPDATE events SET raw = x'00'",
            "DELETE FROM events",
            "UPDATE chains SET station = 'x'",
            "DELETE FROM chains",
        ):
            with pytest.raises(sqlite3.IntegrityError):
                db.execute(statement)
    db.close()


def test_a_replacing_insert_is_refused_too(journal: Journal) -> None:
    """REPLACE removes rows without a DELETE unless triggers are told to look; the journal's connection tells them."""
    with pytest.raises(sqlite3.IntegrityError):
        journal._db.execute("INSERT OR REPLACE INTO events SELECT id, chain, seq, hash, hlc, x'00' FROM events")


def test_an_event_changed_behind_the_triggers_is_noticed_when_read(journal: Journal, clock: ManualClock) -> None:
    """Whoever removes the triggers still cannot change an event unseen."""
    (meter,) = journal.append([d.instrument()], clock.now())
    journal.append([d.note(meter.hash)], clock.now())
    behind_the_triggers(
        journal, "events_are_not_changed", "UPDATE events SET raw = replace(raw, 'C-101', 'C-102') WHERE seq = 2"
    )
    with pytest.raises(Altered):
        journal.about(meter.hash)


def test_a_changed_head_is_noticed_at_opening(journal: Journal, clock: ManualClock) -> None:
    """Opening looks at the end of the own chain, and at no more."""
    journal.append([d.instrument()], clock.now())
    behind_the_triggers(
        journal, "events_are_not_changed", "UPDATE events SET raw = replace(raw, 'C-101', 'C-102') WHERE seq = 2"
    )
    with pytest.raises(Altered):
        Journal.open(journal.path)


def test_a_removed_event_before_the_head_is_noticed_at_opening(journal: Journal, clock: ManualClock) -> None:
    """The head names the event before it: when that is gone, the chain is broken."""
    journal.append([d.instrument(), d.source()], clock.now())
    behind_the_triggers(journal, "events_are_not_removed", "DELETE FROM events WHERE seq = 2")
    with pytest.raises(Trouble, match="damaged"):
        Journal.open(journal.path)


def test_a_file_whose_triggers_were_removed_is_refused(journal: Journal) -> None:
    """Without them the next tool changes records and nobody is stopped."""
    with raw(journal) as db:
        db.execute("DROP TRIGGER events_are_not_removed")
    db.close()
    with pytest.raises(Trouble, match="damaged"):
        Journal.open(journal.path)


def test_pages_follow_each_other_without_gap_or_repeat(journal: Journal, clock: ManualClock) -> None:
    """A history is read in pages, newest first."""
    (meter,) = journal.append([d.instrument()], clock.now())
    notes = [journal.append([d.note(meter.hash)], clock.advance(i % 2))[0] for i in range(25)]
    journal.append([d.contamination(meter.hash, True)], clock.now())
    pages = []
    before = None
    while page := journal.about(meter.hash, kinds=("note", "registered"), limit=7, before=before):
        pages.append(page)
        before = page[-1]
    assert [len(page) for page in pages] == [7, 7, 7, 5]
    assert [one for page in pages for one in page] == [*reversed(notes), meter]


def test_a_wall_clock_set_back_does_not_turn_the_order(journal: Journal, clock: ManualClock) -> None:
    """What was written later sorts later, even when the laptop believes it is yesterday."""
    (first,) = journal.append([d.instrument()], clock.now())
    clock.advance(-0.0)
    clock.set_wall(first.utc.replace(year=2030))
    (second,) = journal.append([d.source()], clock.now())
    assert second.hlc > first.hlc
    assert second.utc < first.utc
    assert journal.last_time() >= first.utc.replace(microsecond=0)


def test_a_restored_copy_goes_on_as_a_new_station(journal: Journal, clock: ManualClock, tmp_path: Path) -> None:
    """Two files that wrote under one name would be one chain with two ends."""
    journal.append([d.instrument()], clock.now())
    copy = tmp_path / "copy.journal"
    with raw(journal) as db:
        db.execute("VACUUM INTO ?", (str(copy),))
    db.close()
    with Journal.fork(copy, station="south", name="South", now=clock.advance(5)) as forked:
        station, seq, hashed = forked.head()
        begun = forked.by_hash(hashed)
        assert begun is not None
        assert (station, seq, begun.body["parent"]) == ("south", 1, list(journal.head()))
        (opened,) = forked.append([d.opened(journal.head()[2])], clock.now())
        assert opened.station == "south"
        assert opened.seen == {"north": journal.head()[1:]}
    with pytest.raises(Trouble, match="already"):
        Journal.fork(copy, station="south", name="South", now=clock.now())


WRITER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from procedures.clock import ManualClock
from procedures.journal.envelope import Draft
from procedures.journal.store import Journal

clock = ManualClock(datetime(2031, 4, 5, 7, tzinfo=UTC))
with Journal.open(Path(sys.argv[1]), wait=60) as journal:
    for number in range(int(sys.argv[2])):
        (event,) = journal.append([Draft("note", {"text": str(number)}, (sys.argv[3],))], clock.now())
        print(event.hash, flush=True)
"""


def writer(path: Path, number: int, name: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path), str(number), name], stdout=subprocess.PIPE, text=True
    )


def whole_chain(journal: Journal) -> list[str]:
    """Hashes from the head back to the first event, each looked up by the name its successor gives it."""
    hashes = []
    event = journal.by_hash(journal.head()[2])
    while event is not None:
        hashes.append(event.hash)
        event = journal.by_hash(event.prev)
    return hashes


def test_two_programs_on_one_journal_make_one_chain(journal: Journal) -> None:
    """Two windows of the program share a laptop: neither may lose or double what the other wrote."""
    writers = [writer(journal.path, 60, name) for name in ("first", "second")]
    said = [one.communicate()[0].split() for one in writers]
    assert [len(one) for one in said] == [60, 60]
    chain = whole_chain(journal)
    assert len(chain) == journal.count() == 121
    assert set(said[0]) | set(said[1]) < set(chain)


def test_what_was_acknowledged_survives_a_kill(journal: Journal, kills: int) -> None:
    """The screen moves on when append returns, so from then on nothing may take the event away."""
    chance = random.Random(20310405)
    acknowledged: list[str] = []
    for _ in range(kills):
        process = writer(journal.path, 1_000_000, "killed")
        assert process.stdout is not None
        acknowledged += [process.stdout.readline().strip() for _ in range(chance.randrange(1, 40))]
        process.kill()
        acknowledged += process.stdout.read().split()
        process.wait()
    with Journal.open(journal.path) as again:
        # The last line may have been cut by the kill; every whole one is an acknowledgement.
        assert {one for one in acknowledged if len(one) == 64} <= set(whole_chain(again))
        assert len(whole_chain(again)) == again.count()


def test_only_a_demonstration_is_written_without_waiting_for_the_disk(tmp_path: Path) -> None:
    """A real record that returned is on the disk; afterwards a demonstration's are too."""
    now = Instant(datetime(2026, 6, 1, tzinfo=UTC), 0, 0.0, "s")
    with (
        Journal.create(tmp_path / "real", station="a", name="A", now=now) as real,
        pytest.raises(ValueError, match="demonstration"),
        real.made_up(),
    ):
        pass
    with Journal.create(tmp_path / "demo", station="a", name="A", now=now, marking="demo") as demo:
        with demo.made_up():
            pass
        assert demo._db.execute("PRAGMA synchronous").fetchone() == (2,)
