"""Backups and what is begun from them: whole, verified, never over anything, and the copied laptop goes on beside."""

from __future__ import annotations

import os
import random
import shutil
import signal
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path

import journal_drafts as d
import pytest
from small_disk import small_disk

from procedures.clock import ManualClock
from procedures.journal import copies, schema, verify, verify_chains
from procedures.journal.store import Journal
from procedures.trouble import Trouble


def fill(journal: Journal, clock: ManualClock, count: int = 300) -> None:
    (meter,) = journal.append([d.instrument()], clock.now())
    journal.append([d.note(meter.hash)] * count, clock.now())


def sound(path: Path) -> bool:
    with verify.reading(path) as db:
        return verify.faults_of_file(db) == () and verify_chains.look_through(db).changed == ()


def test_a_backup_is_one_file_that_holds_everything(journal: Journal, clock: ManualClock, tmp_path: Path) -> None:
    """What is still in the write-ahead log is in it, and nothing beside it has to be carried along."""
    fill(journal, clock)
    (tmp_path / "stick").mkdir()
    made = copies.back_up(journal.path, tmp_path / "stick" / "a.backup")
    assert [each.name for each in (tmp_path / "stick").iterdir()] == ["a.backup"]
    assert (made.marking, made.events) == ("real", journal.count())
    assert made.heads == journal.heads()
    assert sound(made.path)
    assert [each.name for each in (tmp_path / "stick").iterdir()] == ["a.backup"]


def test_a_backup_is_made_while_others_write(journal: Journal, clock: ManualClock, tmp_path: Path) -> None:
    """The morning's checkouts go on; the copy is of one moment."""
    fill(journal, clock)
    with Journal.open(journal.path) as other:
        other._db.execute("BEGIN IMMEDIATE")
        made = copies.back_up(journal.path, tmp_path / "a.backup")
        other._db.execute("ROLLBACK")
        other.append([d.person()], clock.now())
    assert made.events == journal.count() - 1


def test_nothing_is_ever_written_over(journal: Journal, tmp_path: Path) -> None:
    """Not over a photograph, not over yesterday's backup, not over the journal."""
    (tmp_path / "a.backup").write_bytes(b"a photograph")
    (tmp_path / "folder").mkdir()
    for target in (tmp_path / "a.backup", tmp_path / "folder", journal.path):
        with pytest.raises(Trouble, match="file here already"):
            copies.back_up(journal.path, target)
    assert (tmp_path / "a.backup").read_bytes() == b"a photograph"


def test_a_full_disk_leaves_no_half_backup(journal: Journal, clock: ManualClock, tmp_path: Path) -> None:
    """A file that looks like a backup is one."""
    fill(journal, clock, 2000)
    (tmp_path / "stick").mkdir()
    with small_disk(100_000), pytest.raises(Trouble, match="disk"):
        copies.back_up(journal.path, tmp_path / "stick" / "a.backup")
    assert list((tmp_path / "stick").iterdir()) == []
    with pytest.raises(Trouble, match="cannot be written"):
        copies.back_up(journal.path, tmp_path / "no" / "such" / "a.backup")
    assert sound(journal.path)


def test_unsound_records_make_no_backup(journal: Journal, clock: ManualClock, tmp_path: Path) -> None:
    """A copy of altered records must not take the place of the last good one."""
    fill(journal, clock)
    db = sqlite3.connect(journal.path, isolation_level=None)
    (guard,) = db.execute("SELECT sql FROM sqlite_master WHERE name = 'events_are_not_changed'").fetchone()
    db.execute("DROP TRIGGER events_are_not_changed")
    db.execute("UPDATE events SET raw = replace(raw, 'a note', 'b note') WHERE id = 20")
    db.execute(guard)
    db.close()
    with pytest.raises(Trouble, match="not sound") as trouble:
        copies.back_up(journal.path, tmp_path / "a.backup")
    assert "verify" in trouble.value.do
    assert not (tmp_path / "a.backup").exists()


def begin(backup: Path, folder: Path, clock: ManualClock, station: str = "south") -> copies.Copied:
    folder.mkdir(exist_ok=True)
    return copies.begin_from(backup, folder / "site.journal", station=station, name="South", now=clock.now())


def test_what_begins_from_a_backup_is_a_new_station_after_its_head(
    journal: Journal, clock: ManualClock, tmp_path: Path
) -> None:
    """Two laptops that wrote under one name could not be told apart; each keeps its own chain from here on."""
    fill(journal, clock)
    made = copies.back_up(journal.path, tmp_path / "a.backup")
    begun = begin(made.path, tmp_path / "new", clock)
    with Journal.open(begun.path) as new:
        first = new.by_hash(new.head()[2])
        assert first is not None
        assert (first.station, first.kind, first.seq) == ("south", "station-begun", 1)
        assert first.body["parent"] == ["north", *made.heads["north"]]
        new.append([d.person("P-5")], clock.now())
        journal.append([d.person("P-6")], clock.now())
        with new.outgoing(None) as (_, raws):
            taken = journal.take(list(raws), clock.now())
        assert len(taken.added) == 2
        with journal.outgoing(new.milestones()) as (_, raws):
            new.take(list(raws), clock.now())
        assert journal.forks() == new.forks() == ()
        assert {row.label for row in new.people()} == {"P-5", "P-6"}
        assert new.heads() == journal.heads()
    assert sound(begun.path)


def test_damaged_lists_are_made_anew_when_something_begins_from_the_backup(
    journal: Journal, clock: ManualClock, tmp_path: Path
) -> None:
    """The events are the record: what screens read was lost, and comes back with the next station."""
    fill(journal, clock)
    (thing,) = journal.append([d.instrument("C-900")], clock.now())
    with sqlite3.connect(journal.path) as beside:
        beside.execute("DELETE FROM instruments")
    assert journal.instrument_row(thing.hash) is None
    copies.back_up(journal.path, tmp_path / "a.backup")
    copies.begin_from(tmp_path / "a.backup", tmp_path / "b", station="second", name="two", now=clock.now())
    with Journal.open(tmp_path / "b") as begun:
        row = begun.instrument_row(thing.hash)
    assert row is not None
    assert row.label == "C-900"


def test_a_backup_is_left_as_it_is(journal: Journal, clock: ManualClock, tmp_path: Path) -> None:
    """It may have to serve a second time."""
    fill(journal, clock)
    made = copies.back_up(journal.path, tmp_path / "a.backup")
    before = made.path.read_bytes()
    made.path.chmod(0o444)
    begin(made.path, tmp_path / "new", clock)
    assert made.path.read_bytes() == before
    assert not list(tmp_path.glob("a.backup?*"))


def folder(path: Path) -> None:
    path.mkdir()


def other_database(path: Path) -> None:
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE recipes (name TEXT)")
    db.close()


@pytest.mark.parametrize(
    "make",
    [folder, other_database, lambda path: path.write_bytes(b""), lambda path: path.write_text("ok"), lambda _: None],
    ids=["folder", "other database", "empty", "text", "nothing"],
)
def test_what_is_no_backup_is_refused_in_words(
    tmp_path: Path, clock: ManualClock, make: Callable[[Path], object]
) -> None:
    """Somebody picks the wrong file on the stick."""
    make(tmp_path / "a.backup")
    with pytest.raises(Trouble) as trouble:
        begin(tmp_path / "a.backup", tmp_path / "new", clock)
    assert trouble.value.where == str(tmp_path / "a.backup")


@pytest.mark.parametrize("share", [0.02, 0.3, 0.6, 0.95])
def test_a_backup_cut_short_is_refused(journal: Journal, clock: ManualClock, tmp_path: Path, share: float) -> None:
    """Half a copy would be a site with fewer lockouts."""
    fill(journal, clock)
    made = copies.back_up(journal.path, tmp_path / "a.backup")
    whole = made.path.read_bytes()
    made.path.write_bytes(whole[: int(len(whole) * share)])
    with pytest.raises(Trouble):
        begin(made.path, tmp_path / "new", clock)


def test_a_newer_backup_says_update_the_program(journal: Journal, clock: ManualClock, tmp_path: Path) -> None:
    """An older program refuses a newer file, in a backup as anywhere, and verifies none that it does not know."""
    made = copies.back_up(journal.path, tmp_path / "a.backup")
    db = sqlite3.connect(made.path)
    db.execute(f"PRAGMA user_version = {len(schema.MIGRATIONS) + 1}")
    db.close()
    for refused in (
        lambda: begin(made.path, tmp_path / "new", clock),
        lambda: copies.back_up(made.path, tmp_path / "b.backup"),
        lambda: sound(made.path),
    ):
        with pytest.raises(Trouble, match="newer program"):
            refused()


def add_remarks(db: sqlite3.Connection) -> None:
    db.execute("CREATE TABLE remarks (a)")


def test_an_older_backup_is_brought_up_to_date_when_it_is_begun_from(
    journal: Journal, clock: ManualClock, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Years later, with a newer program; the backup itself stays as old as it is."""
    fill(journal, clock)
    made = copies.back_up(journal.path, tmp_path / "a.backup")
    older = len(schema.MIGRATIONS)
    monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, add_remarks))
    assert sound(made.path)
    again = copies.back_up(made.path, tmp_path / "b.backup")
    begun = begin(made.path, tmp_path / "new", clock)
    for path, number in ((made.path, older), (again.path, older), (begun.path, older + 1)):
        db = sqlite3.connect(path)
        assert schema.version(db) == number
        db.close()


def test_several_migrations_are_one_transaction(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second fails: the first is not left behind, and the older program still opens the file."""

    def broken(db: sqlite3.Connection) -> None:
        db.execute("CREATE TABLE half (a)")
        raise Trouble("a power cut")

    monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, add_remarks, broken))
    with pytest.raises(Trouble, match="power cut"):
        Journal.open(journal.path)
    monkeypatch.undo()
    assert schema.version(journal._db) == len(schema.MIGRATIONS)
    names = journal._db.execute("SELECT name FROM sqlite_master WHERE name IN ('remarks', 'half')").fetchall()
    assert names == []


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_a_kill_during_a_backup_leaves_none_or_a_whole_one(
    journal: Journal, clock: ManualClock, tmp_path: Path, kills: int
) -> None:
    """Whatever has the name of the backup is one, and the journal is as it was."""
    fill(journal, clock, 3000)
    journal._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    heads = journal.heads()
    source = tmp_path / "copy.journal"
    shutil.copy(journal.path, source)
    chance = random.Random(11)
    for number in range(kills):
        target = tmp_path / f"{number}.backup"
        child = os.fork()
        if child == 0:
            try:
                copies.back_up(source, target)
            finally:
                os._exit(0)
        time.sleep(chance.uniform(0.0, 0.2))  # the moment of the kill is what is under test
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        assert sound(source)
        if target.exists():
            with verify.reading(target) as db:
                assert verify_chains.look_through(db).events == 3002
        else:
            assert copies.back_up(source, target).heads == heads
