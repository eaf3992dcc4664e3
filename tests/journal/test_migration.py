"""A journal of an earlier program opens, and answers as if it had been made by this one."""

from __future__ import annotations

import sqlite3
from datetime import timedelta
from pathlib import Path

import journal_drafts as d
import pytest
from hypothesis import HealthCheck, given, settings
from journal_histories import DOUBTS, START, begin, instruments, play

from procedures.clock import ManualClock
from procedures.journal import schema, tables
from procedures.journal.events import EDITION
from procedures.journal.store import Journal
from procedures.trouble import Trouble

LATER = ManualClock(START).advance(86_400)


def as_of_two_migrations(journal: Path, older: Path, edition: str) -> None:
    """The same record in a file as the program of two migrations made it, its tables empty."""
    kept = sqlite3.connect(journal)
    db = sqlite3.connect(older, isolation_level=None)
    db.execute("BEGIN")
    for step in (schema.first_tables, schema.tallies_of_weighty_events):
        step(db)
        db.execute("INSERT INTO migrations VALUES (?, ?)", (schema.version(db) + 1, step.__name__))
        db.execute(f"PRAGMA user_version = {schema.version(db) + 1}")
    for table in ("chains", "events", "held", "meta"):
        rows = kept.execute(f"SELECT * FROM {table}").fetchall()
        for row in rows:
            db.execute(f"INSERT INTO {table} VALUES ({','.join('?' * len(row))})", row)
    db.execute("UPDATE meta SET value = ? WHERE name = 'edition'", (edition,))
    db.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
    db.execute("COMMIT")
    db.execute("PRAGMA journal_mode = WAL")
    db.close()
    kept.close()


@pytest.mark.parametrize("edition", ["6", EDITION])
def test_a_file_of_two_migrations_is_brought_up_and_says_the_same(tmp_path: Path, edition: str) -> None:
    """Whatever its index was called: what the new tables hold is made from its events before anything is asked."""

    @settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(DOUBTS)
    def brought_up(moves: list[tuple[int, str, int]]) -> None:
        world = play(begin("north", "south", "west"), moves)
        for path in tmp_path.iterdir():
            path.unlink()
        now = ManualClock(START - timedelta(days=1)).now()
        with Journal.create(tmp_path / "new", station="reader", name="Reader", now=now) as journal:
            journal.take([one.raw for one in world.everything()], LATER)
            journal._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            as_of_two_migrations(tmp_path / "new", tmp_path / "old", edition)
            with Journal.open(tmp_path / "old") as older:
                assert schema.version(older._db) == len(schema.MIGRATIONS)
                for name in ("about", *tables.NAMES):
                    asked = f"SELECT * FROM {name}"
                    assert older._db.execute(asked).fetchall() == journal._db.execute(asked).fetchall()
                for meter in instruments(world):
                    assert older.instrument_now(meter) == journal.instrument_now(meter)
                assert older.doubts_all(limit=-1) == journal.doubts_all(limit=-1)
                assert older.checkouts_found(limit=-1) == journal.checkouts_found(limit=-1)
                (added,) = older.append([d.note(instruments(world)[0])], LATER)
                assert older.happened(["note"], limit=1)[0] == (added,)

    brought_up()


def test_what_a_migration_breaks_off_in_leaves_the_file_as_it_was(
    tmp_path: Path, clock: ManualClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is one transaction: the next opening begins it again."""
    with Journal.create(tmp_path / "new", station="reader", name="Reader", now=clock.now()) as journal:
        (meter,) = journal.append([d.instrument()], clock.now())
        journal._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        as_of_two_migrations(tmp_path / "new", tmp_path / "old", EDITION)

    def broken(db: sqlite3.Connection) -> None:
        schema.records_of_checkouts_uses_and_doubts(db)
        raise RuntimeError

    with monkeypatch.context() as patched:
        patched.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS[:2], broken))
        with pytest.raises(RuntimeError):
            Journal.open(tmp_path / "old")
    db = sqlite3.connect(tmp_path / "old")
    assert schema.version(db) == 2
    assert db.execute("SELECT value FROM meta WHERE name = 'edition'").fetchone() == (EDITION,)
    db.close()
    with Journal.open(tmp_path / "old") as again:
        assert [row.id for row in again.home_rows()] == [meter.hash]


def test_a_program_that_runs_on_past_an_update_writes_nothing_more(tmp_path: Path) -> None:
    """A newer program brought the file up while an older one had it open: its tables are no longer the older one's."""
    clock = ManualClock(START)
    with Journal.create(tmp_path / "j", station="one", name="one", now=clock.now()) as journal:
        journal.append((d.instrument(),), clock.now())
        other = sqlite3.connect(tmp_path / "j")
        other.execute("PRAGMA user_version = 999")
        other.close()
        before = journal.count()
        with pytest.raises(Trouble, match="newer program") as refused:
            journal.append((d.person(),), clock.now())
        assert refused.value.do
        assert journal.count() == before
