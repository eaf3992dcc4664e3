"""Verifying the chains and tables of a journal: whatever was changed behind its back is found and named."""

from __future__ import annotations

import json
import random
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import journal_drafts as d
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from journal_histories import MOVES, START, begin, play

from procedures.clock import ManualClock
from procedures.journal import log, verify, verify_chains, verify_tables
from procedures.journal.envelope import digest, encode
from procedures.journal.moments import utc_text
from procedures.journal.store import Journal
from procedures.journal.verify import Kept
from procedures.journal.verify_chains import Changed
from procedures.trouble import Trouble

some = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
LATER = ManualClock(START + timedelta(days=1)).now()


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A journal of three stations, one of them its own, that is tampered with as a copy."""
    path = tmp_path_factory.mktemp("made") / "site.journal"
    clock = ManualClock(START - timedelta(days=1))
    world = begin("north", "south", meters=2)
    meter = next(one for one in world.everything() if one.kind == "registered").hash
    for station in world.stations:
        opened = world.write(station, d.opened(meter))
        world.write(station, d.answered(opened.hash))
        world.write(station, d.found(opened.hash, meter))
        world.write(station, d.ended(opened.hash, meter, until=utc_text(START + timedelta(hours=9))))
        world.write(station, d.note(meter))
        world.tell_all()
    with Journal.create(path, station="reader", name="Reader", now=clock.now()) as journal:
        journal.take([one.raw for one in world.everything()], LATER)
        (check,) = journal.append([d.opened(meter)], LATER)
        journal.append([d.answered(check.hash), d.note(meter), d.note(meter), d.person("P-9")], LATER)
    return path


@contextmanager
def tampered(path: Path) -> Iterator[tuple[Path, sqlite3.Connection]]:
    """A copy of the file, open to whoever knows SQL; the guards are put back afterwards."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "site.journal"
        shutil.copy(path, copy)
        db = sqlite3.connect(copy, isolation_level=None)
        guards = db.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in guards:
            db.execute(f"DROP TRIGGER {name}")
        yield copy, db
        db.close()


def put_back(db: sqlite3.Connection, path: Path) -> None:
    """The guards of the file, as they were."""
    with sqlite3.connect(path) as whole:
        for (sql,) in whole.execute("SELECT sql FROM sqlite_master WHERE type = 'trigger'"):
            db.execute(sql)
    whole.close()


def changed_in(path: Path, *kept: Kept) -> tuple[Changed, ...]:
    with verify.reading(path) as db:
        return (*verify_chains.look_through(db).changed, *verify.compare_heads(db, kept))


def tables_of(path: Path) -> tuple[str, ...]:
    with verify.reading(path) as db:
        verify_tables.make_anew(db)
        return verify_tables.differences(db)


def rows_of(path: Path) -> list[tuple[int, str, int, bytes, bytes]]:
    """Number, station, sequence, hash and bytes of every event."""
    db = sqlite3.connect(path)
    rows = db.execute(
        "SELECT e.id, c.station, e.seq, e.hash, e.raw FROM events e JOIN chains c ON c.id = e.chain ORDER BY e.id"
    ).fetchall()
    db.close()
    return rows


def named(changed: tuple[Changed, ...]) -> set[tuple[str, int]]:
    return {(one.station, one.seq) for one in changed}


def test_what_nobody_touched_is_sound(made: Path) -> None:
    """A false alarm would teach people to pass over the true one."""
    with verify.reading(made) as db:
        assert verify.faults_of_file(db) == ()
        looked = verify_chains.look_through(db)
        assert (looked.changed, looked.readable, looked.events) == ((), True, len(rows_of(made)))
        verify_tables.make_anew(db)
        assert verify_tables.why_not_compared(db) == ""
        assert verify_tables.differences(db) == ()


@some
@given(MOVES, st.randoms(use_true_random=False))
def test_no_history_is_a_false_alarm(moves: list[tuple[int, str, int]], chance: random.Random) -> None:
    """Wrong clocks, newer programs, events that wait, any order of arrival: odd, but as it was written."""
    world = play(begin("north", "south", "west", meters=2), moves)
    events = world.everything()
    part = chance.sample(events, len(events) * 4 // 5)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "site.journal"
        begun = ManualClock(START - timedelta(days=1)).now()
        with Journal.create(path, station="reader", name="Reader", now=begun) as journal:
            journal.take([one.raw for one in part], LATER)
            assert changed_in(path) == ()
            assert tables_of(path) == ()


@settings(some, max_examples=100)
@given(st.data())
def test_any_changed_byte_of_any_event_is_found_and_named(made: Path, data: st.DataObject) -> None:
    """The event is named by station, sequence, kind and time even where those are what was changed."""
    number, station, seq, _, raw = data.draw(st.sampled_from(rows_of(made)))
    place = data.draw(st.integers(0, len(raw) - 1))
    byte = data.draw(st.integers(0, 255).filter(lambda one: one != raw[place]))
    before = json.loads(raw)
    with tampered(made) as (path, db):
        db.execute("UPDATE events SET raw = ? WHERE id = ?", (raw[:place] + bytes([byte]) + raw[place + 1 :], number))
        put_back(db, made)
        changed = changed_in(path)
    assert named(changed) == {(station, seq)}
    assert changed[0].when[:23] == before["utc"][:23]
    # What is about nothing stands in no index, so its kind is known from its bytes alone.
    assert changed[0].kind == before["kind"] or not before["about"]


def forge(raw: bytes) -> bytes:
    """The same event with another word in its body, well formed."""
    fields = json.loads(raw)
    fields["body"] = {**fields["body"], "forged": True}
    return encode(fields)


@pytest.mark.parametrize("left", range(3))
def test_an_event_changed_together_with_its_hash_is_named_by_its_follower(made: Path, left: int) -> None:
    """Whoever can write SQL can write a hash; the next event still names the old one."""
    rows = rows_of(made)
    last = {station: max(seq for _, one, seq, *_ in rows if one == station) for _, station, *_ in rows}
    for number, station, seq, hashed, raw in rows:
        if seq + left != last[station]:
            continue
        with tampered(made) as (path, db):
            bad = forge(raw)
            db.execute("UPDATE events SET raw = ?, hash = ? WHERE id = ?", (bad, bytes.fromhex(digest(bad)), number))
            put_back(db, made)
            head = Kept(station, seq, hashed.hex())
            if left:
                assert (station, seq) in named(changed_in(path))
                # Where more than one event follows, the innocent one is not blamed.
                assert left == 1 or named(changed_in(path)) == {(station, seq)}
            found = changed_in(path, head)
            assert (station, seq) in named(found)


def test_a_chain_written_anew_from_an_event_on_shows_against_any_later_head(made: Path) -> None:
    """All hashes fit again: nothing within the file can show it, a head that was kept elsewhere does."""
    rows = [row for row in rows_of(made) if row[1] == "reader"]
    with tampered(made) as (path, db):
        prev = ""
        for number, _, seq, hashed, raw in rows:
            fields = json.loads(raw)
            if seq > 3:
                fields["prev"] = prev
            if seq == 3:
                fields["body"]["text"] = "something else"
            bad = encode(fields) if seq >= 3 else raw
            prev = digest(bad)
            db.execute("UPDATE events SET raw = ?, hash = ? WHERE id = ?", (bad, bytes.fromhex(prev), number))
            kept = Kept("reader", seq, hashed.hex())
        put_back(db, made)
        assert changed_in(path) == ()
        (found,) = changed_in(path, kept)
    assert (found.station, found.seq) == ("reader", len(rows))
    assert "written anew" in found.what


def test_an_event_taken_out_of_the_middle_is_missed(made: Path) -> None:
    """A failed check that disappears: the gap is named, whichever event it was."""
    rows = rows_of(made)
    last = {station: max(seq for _, one, seq, *_ in rows if one == station) for _, station, *_ in rows}
    for number, station, seq, *_ in rows:
        if seq == last[station]:
            continue
        with tampered(made) as (path, db):
            db.execute("DELETE FROM events WHERE id = ?", (number,))
            assert (station, seq) in named(changed_in(path))


def test_a_cut_end_shows_only_against_a_head_kept_elsewhere(made: Path) -> None:
    """The program must not promise more than hashes can do; with the head it names what is gone."""
    rows = [row for row in rows_of(made) if row[1] == "reader"]
    kept = Kept("reader", rows[-1][2], rows[-1][3].hex())
    with tampered(made) as (path, db):
        db.execute("PRAGMA foreign_keys = OFF")
        for number, *_ in rows[-2:]:
            db.execute("DELETE FROM events WHERE id = ?", (number,))
            db.execute("DELETE FROM about WHERE event = ?", (number,))
            db.execute("DELETE FROM happenings WHERE event = ?", (number,))
        for name in ("people", "things"):
            db.execute(f"DELETE FROM {name} WHERE label = 'P-9'")
        db.execute("DELETE FROM tallies WHERE entity NOT IN (SELECT entity FROM about)")
        put_back(db, made)
        assert changed_in(path) == ()
        assert [line for line in tables_of(path) if "instruments" not in line] == []
        (found,) = changed_in(path, kept)
        older = Kept("reader", rows[0][2], rows[0][3].hex())
        assert changed_in(path, older) == ()
    assert (found.station, found.seq) == ("reader", kept.seq)
    assert f"events {kept.seq - 1} to {kept.seq}" in found.what


def test_an_end_that_another_station_had_seen_is_missed_without_being_told(made: Path) -> None:
    """Other stations keep heads too: south's opening had seen what north wrote."""
    rows = rows_of(made)
    seen = json.loads(next(raw for _, one, _, _, raw in rows if one == "south" and b'"opened"' in raw))["seen"]
    with tampered(made) as (path, db):
        db.execute(
            "DELETE FROM events WHERE seq >= ? AND chain = (SELECT id FROM chains WHERE station = 'north')",
            (seen["north"][0],),
        )
        found = [one for one in changed_in(path) if one.station == "north"]
    assert [one.seq for one in found] == [seen["north"][0]]
    assert "had seen it" in found[0].what


def swap_numbers(db: sqlite3.Connection) -> None:
    one, other = (row[0] for row in db.execute("SELECT id FROM events WHERE chain = 1 ORDER BY seq LIMIT 2 OFFSET 1"))
    (low,), (high,) = (db.execute("SELECT seq FROM events WHERE id = ?", (each,)).fetchone() for each in (one, other))
    db.execute("UPDATE events SET seq = -1 WHERE id = ?", (one,))
    db.execute("UPDATE events SET seq = ? WHERE id = ?", (low, other))
    db.execute("UPDATE events SET seq = ? WHERE id = ?", (high, one))


@pytest.mark.parametrize(
    "change",
    [
        swap_numbers,
        lambda db: db.execute("UPDATE events SET hlc = hlc + 1 WHERE id = 3"),
        lambda db: db.execute("UPDATE events SET raw = 'text' WHERE id = 3"),
        lambda db: db.execute("UPDATE events SET hash = randomblob(32) WHERE id = 3"),
        lambda db: db.execute("UPDATE chains SET station = 'west' WHERE id = 2"),
        lambda db: db.execute("UPDATE events SET seq = seq + 100 WHERE chain = 2 AND seq > 2"),
    ],
    ids=["swapped", "clock column", "text for bytes", "hash column", "station", "numbers"],
)
def test_what_stands_beside_the_bytes_is_looked_at_too(
    made: Path, change: Callable[[sqlite3.Connection], object]
) -> None:
    """The folds order and find events by these columns."""
    with tampered(made) as (path, db):
        change(db)
        put_back(db, made)
        assert changed_in(path)


TABLES = ("about", "things", "instruments", "people", "sources", "open_checkouts")


@pytest.mark.parametrize("table", TABLES)
def test_every_row_of_every_table_is_held_against_the_events(made: Path, table: str) -> None:
    """Home shows tables; one word changed in one of them is a lockout that nobody sees."""
    with tampered(made) as (path, db):
        columns = [(name, key) for _, name, _, _, _, key in db.execute(f"PRAGMA table_info({table})")]
        count = db.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
        assert count
        for name, _ in columns:
            db.execute("BEGIN")
            keys = " AND ".join(f"{one} = (SELECT {one} FROM {table} LIMIT 1)" for one, key in columns if key)
            db.execute(f"UPDATE {table} SET {name} = 99 WHERE {keys}")
            db.execute("COMMIT")
            assert tables_of(path), name
            break_off(db, path, made)
        db.execute(f"DELETE FROM {table}")
        assert len(tables_of(path)) >= min(count, verify_tables.MOST_TOLD)


def break_off(db: sqlite3.Connection, path: Path, made: Path) -> None:
    """Bring the tampered copy back to what it was, table by table."""
    db.execute("ATTACH ? AS whole", (str(made),))
    for table in TABLES:
        db.execute(f"DELETE FROM {table}")
        db.execute(f"INSERT INTO {table} SELECT * FROM whole.{table}")
    db.execute("DETACH whole")
    assert path.exists()


def test_a_row_that_no_event_justifies_is_told(made: Path) -> None:
    """An instrument that was never registered, ready for use."""
    with tampered(made) as (path, db):
        db.execute("CREATE TEMP TABLE one AS SELECT * FROM instruments LIMIT 1")
        db.execute("UPDATE one SET id = 'f' || substr(id, 2), label = 'C-99'")
        db.execute("INSERT OR REPLACE INTO instruments SELECT * FROM one")
        assert any("no event justifies" in line or "something else" in line for line in tables_of(path))


def test_a_removed_guard_and_numbers_that_are_gone_are_faults_of_the_file(made: Path) -> None:
    """Both are traces of somebody at work with other tools."""
    with tampered(made) as (path, db):
        db.execute("DELETE FROM events WHERE id = 5")
        with verify.reading(path) as reading:
            found = verify.faults_of_file(reading)
    assert any("guard" in line for line in found)
    assert any("1 event that had been recorded" in line for line in found)


def test_overwritten_pages_are_told_and_end_nothing_else(made: Path) -> None:
    """A bad disk is an answer of verify, in words."""
    whole = made.read_bytes()
    refused = 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "site.journal"
        for page in range(1, len(whole) // 4096):
            path.write_bytes(whole[: page * 4096] + b"\x5a" * 4096 + whole[(page + 1) * 4096 :])
            try:
                with verify.reading(path) as db:
                    refused += bool(verify.faults_of_file(db))
            except Trouble:
                refused += 1
    # A page on the list of unused ones may hold anything.
    assert refused >= (len(whole) // 4096 - 1) * 0.9


def test_a_file_that_may_only_be_read_is_verified(made: Path) -> None:
    """An inspector's copy on a medium that nobody can write."""
    with tampered(made) as (path, db):
        put_back(db, made)
        db.close()
        path.chmod(0o444)
        assert changed_in(path) == ()
        db = sqlite3.connect(path)


def test_verifying_waits_for_nobody_and_nobody_for_it(journal: Journal, clock: ManualClock) -> None:
    """It runs while a checkout goes on, from one state of the file, and writes nothing."""
    journal.append([d.instrument()], clock.now())
    with verify.reading(journal.path) as db:
        journal.append([d.person()], clock.now())
        assert verify_chains.look_through(db).events == 2
        verify_tables.make_anew(db)
        assert verify_tables.differences(db) == ()
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            db.execute("UPDATE kept.meta SET value = ''")
    assert journal.count() == 3


def test_a_waiting_event_is_looked_at_too(made: Path) -> None:
    """What waits may be a lockout."""
    world = begin("east", "south-2")
    gap = world.write(world.stations[1], d.note("site"))
    with tampered(made) as (path, db):
        put_back(db, made)
        with Journal.open(path) as journal:
            journal.take([gap.raw], LATER)
        assert changed_in(path) == ()
        db.execute("UPDATE held SET raw = ?", (forge(gap.raw),))
        assert named(changed_in(path)) == {("south-2", gap.seq)}


@pytest.mark.parametrize("way", ["as they came", "chain by chain", "backwards", "not all", "with a fault"])
def test_tables_made_beside_the_chains_are_those_made_by_themselves(made: Path, way: str) -> None:
    """Events that are read once for both come in another order, or not all of them: the index must not show it."""
    with verify.reading(made) as db:
        anew = verify_tables.Anew(db)
        if way == "chain by chain":
            verify_chains.look_through(db, anew.enter)
        else:
            events = list(log.everything(db))
            events = {"backwards": events[::-1], "not all": events[3:]}.get(way, events)
            for number, event in events:
                anew.enter(number, replace(event, about=(b"",)) if way == "with a fault" else event)  # type: ignore[arg-type]
        anew.finish()
        assert verify_tables.differences(db) == ()
