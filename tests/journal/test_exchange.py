"""The exchange file: every byte of it is looked at before anything is taken, and what is written is what is missing."""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import journal_drafts as d
import pytest
from journal_histories import START, begin, play
from small_disk import small_disk

from procedures.clock import ManualClock
from procedures.journal import exchange, verify, verify_chains
from procedures.journal.envelope import Event
from procedures.journal.exchange import Header
from procedures.journal.store import Journal
from procedures.trouble import Trouble

LATER = ManualClock(START + timedelta(days=1)).now()
SITE = "ab" * 32


def header(journal: Journal | None = None, *, whole: bool = True) -> Header:
    return Header(
        site=SITE,
        site_name="Test site",
        marking="real",
        station="north",
        station_name="North",
        written=START,
        milestones={} if journal is None else journal.milestones(),
        whole=whole,
    )


def some_events(count: int = 3) -> list[Event]:
    world = begin("north", "south")
    for _ in range(count):
        world.write(world.stations[0], d.note("site"))
    return world.everything()


def fresh(folder: Path, name: str = "reader") -> Journal:
    begun = ManualClock(START - timedelta(days=1)).now()
    return Journal.create(folder / f"{name}.journal", station=name, name=name, now=begun)


def taken_from(path: Path, journal: Journal) -> int:
    added = 0

    def count(taken: object) -> None:
        nonlocal added
        added += len(taken.added)  # type: ignore[attr-defined]

    journal.take_many(exchange.events_in(path, exchange.check(path)), LATER, count)
    return added


def test_what_was_written_comes_back_byte_for_byte(tmp_path: Path) -> None:
    """The hashes are over these very bytes."""
    raws = [one.raw for one in some_events()]
    written = exchange.write(tmp_path / "a.exchange", header(), raws)
    assert exchange.check(tmp_path / "a.exchange") == written
    assert [raw for batch in exchange.events_in(tmp_path / "a.exchange", written) for raw in batch] == raws
    assert [each.name for each in tmp_path.iterdir()] == ["a.exchange"]


def test_the_file_is_as_the_documents_say(tmp_path: Path) -> None:
    """Another program may read it: one JSON header, then an event a line."""
    events = some_events()
    with fresh(tmp_path) as journal:
        journal.take([one.raw for one in events], LATER)
        exchange.write(tmp_path / "a.exchange", header(journal), [one.raw for one in events])
    first, *lines = (tmp_path / "a.exchange").read_bytes().splitlines()
    said = json.loads(first)
    assert (said["format"], said["version"]) == ("checklist-tui exchange", 1)
    assert (said["site"], said["count"]) == (SITE, len(events))
    last = {one.station: one for one in sorted(events, key=lambda one: one.seq)}
    assert said["heads"]["south"][0] == [last["south"].seq, last["south"].hash]
    assert [json.loads(line)["seq"] for line in lines] == [one.seq for one in events]


def test_a_file_cut_short_at_any_length_is_refused(tmp_path: Path) -> None:
    """A stick pulled out too early; half of the records would look like all of them."""
    path = tmp_path / "a.exchange"
    exchange.write(path, header(), [one.raw for one in some_events(8)])
    whole = path.read_bytes()
    places = {0, 1, len(whole) - 1, len(whole) - 2, whole.index(b"\n"), whole.index(b"\n") + 1}
    places |= set(random.Random(20310405).sample(range(len(whole)), 150))
    places |= {place + 1 for place, byte in enumerate(whole[:-1]) if byte == 10}
    for place in sorted(places):
        path.write_bytes(whole[:place])
        with pytest.raises(Trouble, match=r"damaged|no exchange file") as trouble:
            exchange.check(path)
        assert trouble.value.where == str(path)
        assert trouble.value.do


def test_a_changed_byte_anywhere_is_refused(tmp_path: Path) -> None:
    """Header and records alike: a head that is not true would leave records out the next time."""
    path = tmp_path / "a.exchange"
    with fresh(tmp_path) as journal:
        journal.take([one.raw for one in some_events()], LATER)
        exchange.write(path, header(journal), [one.raw for one in some_events()])
    whole = path.read_bytes()
    chance = random.Random(5)
    first_line = range(whole.index(b"\n") + 1)
    for place in {*first_line, *chance.sample(range(len(whole)), 200)}:
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 1 << chance.randrange(8)]) + whole[place + 1 :])
        with pytest.raises(Trouble):
            exchange.check(path)


@pytest.mark.parametrize("more", [b"\n", b"{}\n", b"x"])
def test_more_than_was_written_is_refused(tmp_path: Path, more: bytes) -> None:
    """Two files joined, or a line added by hand."""
    path = tmp_path / "a.exchange"
    exchange.write(path, header(), [one.raw for one in some_events()])
    path.write_bytes(path.read_bytes() + more)
    with pytest.raises(Trouble, match="damaged"):
        exchange.check(path)


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (b"", "empty"),
        (b"battery ok\n", "no exchange file"),
        (b"[]\n", "no exchange file"),
        (b'{"format":"something else"}\n', "no exchange file"),
        (b"SQLite format 3\0" + bytes(200), "no exchange file"),
        (b"\xff\xfe\n", "no exchange file"),
        (b"[" * 100_000, "no exchange file"),
        (b'{"format":"checklist-tui exchange","version":2}\n', "newer program"),
        (b'{"format":"checklist-tui exchange","version":1}\n', "damaged"),
        (b'{"format":"checklist-tui exchange","version":1,"heads":[]}\n', "damaged"),
        (b'{"format":"checklist-tui exchange","version":"1","heads":{"a":[[1]]}}\n', "damaged"),
    ],
)
def test_other_files_are_refused_in_words(tmp_path: Path, content: bytes, word: str) -> None:
    """Somebody picks the wrong file on the stick."""
    path = tmp_path / "a.exchange"
    path.write_bytes(content)
    with pytest.raises(Trouble, match=word) as trouble:
        exchange.check(path)
    assert trouble.value.where == str(path)


@pytest.mark.parametrize("make", [lambda path: path.mkdir(), lambda _path: None], ids=["folder", "nothing"])
def test_no_file_is_trouble_too(tmp_path: Path, make: Callable[[Path], None]) -> None:
    """The stick is not plugged in."""
    make(tmp_path / "a.exchange")
    with pytest.raises(Trouble):
        exchange.check(tmp_path / "a.exchange")


def test_an_older_exchange_file_is_replaced_and_nothing_else(tmp_path: Path) -> None:
    """The same name every morning; but never over a photograph, a backup, another site's file."""
    path = tmp_path / "a.exchange"
    raws = [one.raw for one in some_events()]
    exchange.write(path, header(), raws[:1])
    assert exchange.write(path, header(), raws).count == len(raws)
    for content in (b"a photograph", path.read_bytes().replace(SITE.encode(), b"cd" * 32)):
        path.write_bytes(content)
        with pytest.raises(Trouble, match="another file"):
            exchange.write(path, header(), raws)
        assert path.read_bytes() == content


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_no_exchange_file_and_is_not_waited_for(tmp_path: Path) -> None:
    """Reading one waits for ever, and another program's pipe is not replaced."""
    pipe = tmp_path / "a.exchange"
    os.mkfifo(pipe)
    with pytest.raises(Trouble, match="pipe"):
        exchange.check(pipe)
    with pytest.raises(Trouble, match="another file"):
        exchange.write(pipe, header(), [])
    assert pipe.is_fifo()


def test_a_full_disk_leaves_the_old_file_and_says_so(tmp_path: Path) -> None:
    """Half a new file would be worse than yesterday's."""
    path = tmp_path / "a.exchange"
    raws = [one.raw for one in some_events(400)]
    before = exchange.write(path, header(), raws[:1])
    with small_disk(20_000), pytest.raises(Trouble, match="cannot be written"):
        exchange.write(path, header(), raws)
    assert exchange.check(path) == before
    assert [each.name for each in tmp_path.iterdir()] == ["a.exchange"]


def test_a_file_exchanged_while_it_is_read_takes_nothing(tmp_path: Path) -> None:
    """Between checking and taking somebody plugs in another stick."""
    path = tmp_path / "a.exchange"
    events = some_events()
    checked = exchange.write(path, header(), [one.raw for one in events])
    exchange.write(path, header(), [one.raw for one in events[:-1]])
    with fresh(tmp_path) as journal:
        with pytest.raises(Trouble, match="damaged"):
            journal.take_many(exchange.events_in(path, checked), LATER, lambda _: None)
        assert journal.count() == 1


# --- what is missing there -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(8))
def test_only_what_the_other_has_not_is_written_and_all_of_that(tmp_path: Path, seed: int) -> None:
    """Whatever the other one knows besides, on its own chain or on others."""
    chance = random.Random(seed)
    names = ("lock out", "check", "tell", "fail", "note", "tell all", "open", "clear")
    moves = [(chance.randrange(3), chance.choice(names), chance.randrange(99)) for _ in range(30)]
    world = play(begin("north", "south", "west", meters=2), moves)
    one, other = (chance.choice(world.stations).known for _ in range(2))
    with fresh(tmp_path, "here") as here, fresh(tmp_path, "there") as there:
        here.take([event.raw for event in one.values()], LATER)
        there.take([event.raw for event in other.values()], LATER)
        with here.outgoing(there.milestones()) as (_, raws):
            written = set(raws)
        needed = {event.raw for hashed, event in one.items() if hashed not in other}
        assert needed <= written
        # Its own first event is not known there; besides, a few events before the newest common one may come again.
        assert len(written) <= len(needed) + 1 + len(one) // 2
        there.take(written, LATER)
        assert there.held() == ()
        # Once each has taken the other's in, nothing comes twice.
        with there.outgoing(here.milestones()) as (_, raws):
            back = list(raws)
        here.take(back, LATER)
        for mine, theirs in ((here, there), (there, here)):
            with mine.outgoing(theirs.milestones()) as (_, raws):
                assert list(raws) == []


def test_both_branches_of_a_fork_reach_the_other(tmp_path: Path) -> None:
    """Knowing one branch says nothing of the other but what lies before they part."""
    clock = ManualClock(START)
    with fresh(tmp_path, "here") as here, fresh(tmp_path, "there") as there:
        with fresh(tmp_path / "copy", "here") as copy:
            (foreign,) = copy.append([d.instrument("C-7")], clock.now())
            begun = copy.by_hash(foreign.prev)
        assert begun is not None
        here.take([foreign.raw], LATER)
        here.append([d.instrument("C-8")], clock.advance(60))
        there.take([begun.raw, foreign.raw], LATER)
        with here.outgoing(there.milestones()) as (_, raws):
            written = list(raws)
        assert len(written) == 1
        there.take(written, LATER)
        assert [(fork.station, fork.seq) for fork in there.forks()] == [("here", 2)]


def test_what_waits_here_is_passed_on(tmp_path: Path) -> None:
    """A lockout that waits for a missing record must not wait on one stick only."""
    world = begin("north", "south")
    first, lockout = (world.write(world.stations[1], draft) for draft in (d.note("site"), d.note("site")))
    with fresh(tmp_path, "here") as here, fresh(tmp_path, "there") as there:
        known = [one for one in world.everything() if one != first]
        here.take([one.raw for one in known], LATER)
        assert [one.hash for one in here.held()] == [lockout.hash]
        with here.outgoing(None) as (_, raws):
            there.take(list(raws), LATER)
        assert [one.hash for one in there.held()] == [lockout.hash]


# --- full disks and kills ------------------------------------------------------------------------------------------


def big_file(folder: Path, count: int) -> Path:
    """An exchange file with so many events, and its writer gone."""
    with fresh(folder, "writer") as journal:
        for _ in range(count // 100):
            journal.append([d.note("site")] * 100, LATER)
        with journal.outgoing(None) as (milestones, raws):
            made = header()
            exchange.write(folder / "big.exchange", Header(**{**_fields(made), "milestones": milestones}), raws)
    return folder / "big.exchange"


def _fields(made: Header) -> dict[str, object]:
    return {name: getattr(made, name) for name in Header.__slots__}


def test_a_full_disk_takes_nothing_and_can_be_tried_again(tmp_path: Path) -> None:
    """All or nothing; afterwards the journal is as sound as before."""
    path = big_file(tmp_path, 3000)
    with fresh(tmp_path) as journal:
        with small_disk(200_000), pytest.raises(Trouble, match="disk"):
            taken_from(path, journal)
        assert journal.count() == 1
        assert taken_from(path, journal) == 3001
    with verify.reading(tmp_path / "reader.journal") as db:
        assert verify_chains.look_through(db).changed == ()


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_a_kill_while_records_are_taken_leaves_all_or_nothing(tmp_path: Path, kills: int) -> None:
    """The plug is pulled in the middle: nothing is half taken, and taking it again completes it."""
    path = big_file(tmp_path, 1500)
    chance = random.Random(7)
    counts = set()
    for number in range(kills):
        folder = tmp_path / str(number)
        fresh(folder).close()
        child = os.fork()
        if child == 0:
            try:
                with Journal.open(folder / "reader.journal") as journal:
                    taken_from(path, journal)
            finally:
                os._exit(0)
        time.sleep(chance.uniform(0.0, 0.35))  # the moment of the kill is what is under test
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        with Journal.open(folder / "reader.journal") as journal:
            counts.add(journal.count())
            taken_from(path, journal)
            assert journal.count() == 1502
        with verify.reading(folder / "reader.journal") as db:
            assert verify.faults_of_file(db) == ()
            assert verify_chains.look_through(db).changed == ()
    assert counts <= {1, 1502}, sys.platform
