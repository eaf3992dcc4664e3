"""Files that are no journal, or are one no longer: always words, never a traceback, never a lost record."""

from __future__ import annotations

import contextlib
import os
import random
import sqlite3
from collections.abc import Callable
from pathlib import Path

import journal_drafts as d
import pytest

from procedures.clock import ManualClock
from procedures.journal import files, schema
from procedures.journal.store import Journal
from procedures.trouble import Trouble


def folder(path: Path) -> None:
    path.mkdir()


def empty(path: Path) -> None:
    path.write_bytes(b"")


def text(path: Path) -> None:
    path.write_text("battery ok\n" * 50)


def only_magic(path: Path) -> None:
    path.write_bytes(files.MAGIC)


def other_database(path: Path) -> None:
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE recipes (name TEXT)")
    db.close()


def blank_database(path: Path) -> None:
    db = sqlite3.connect(path)
    db.execute("PRAGMA journal_mode = WAL")
    db.close()


@pytest.mark.parametrize("make", [folder, empty, text, only_magic, other_database, blank_database, lambda _: None])
def test_what_is_no_journal_is_refused_in_words(tmp_path: Path, make: Callable[[Path], None]) -> None:
    """Somebody picks the wrong file: the answer names it and says what is wrong."""
    path = tmp_path / "site.journal"
    make(path)
    with pytest.raises(Trouble) as trouble:
        Journal.open(path)
    assert trouble.value.where == str(path)
    assert trouble.value.what


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_or_a_device_is_no_journal(tmp_path: Path, clock: ManualClock) -> None:
    """Reading one waits for ever: it is refused before it is opened."""
    pipe = tmp_path / "site.journal"
    os.mkfifo(pipe)
    for path in (pipe, Path("/dev/zero"), Path(os.devnull)):
        with pytest.raises(Trouble, match="pipe or a device"):
            Journal.open(path)
        with pytest.raises(Trouble, match="pipe or a device"):
            Journal.create(path, station="north", name="North", now=clock.now())


@pytest.mark.parametrize("make", [folder, text, other_database])
def test_nothing_is_ever_made_over_another_file(
    tmp_path: Path, clock: ManualClock, make: Callable[[Path], None]
) -> None:
    """Beginning a site must not destroy what lies there."""
    path = tmp_path / "site.journal"
    make(path)
    before = path.read_bytes() if path.is_file() else None
    with pytest.raises(Trouble):
        Journal.create(path, station="north", name="North", now=clock.now())
    assert (path.read_bytes() if path.is_file() else None) == before


def test_a_journal_is_not_begun_twice(journal: Journal, clock: ManualClock) -> None:
    """The second beginning would put two chains into one file."""
    with pytest.raises(Trouble, match="already"):
        Journal.create(journal.path, station="south", name="South", now=clock.now())


@pytest.mark.parametrize("make", [empty, blank_database])
def test_a_beginning_that_was_cut_off_can_be_made_again(
    tmp_path: Path, clock: ManualClock, make: Callable[[Path], None]
) -> None:
    """A power cut while the file was made leaves nothing in it: beginning again is all that is needed."""
    path = tmp_path / "site.journal"
    make(path)
    with Journal.create(path, station="north", name="North", now=clock.now()) as made:
        assert made.count() == 1


def filled(path: Path, clock: ManualClock) -> None:
    with Journal.create(path, station="north", name="North", now=clock.now()) as journal:
        (meter,) = journal.append([d.instrument()], clock.now())
        journal.append([d.note(meter.hash) for _ in range(300)], clock.now())


@pytest.mark.parametrize("share", [0.02, 0.3, 0.6, 0.9])
def test_a_journal_cut_short_is_damaged_not_shorter(tmp_path: Path, clock: ManualClock, share: float) -> None:
    """Half a copy from a full stick must not look like a whole journal with fewer lockouts."""
    path = tmp_path / "site.journal"
    filled(path, clock)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * share)])
    with pytest.raises(Trouble, match="damaged"):
        Journal.open(path)


def read_everything(path: Path) -> None:
    with Journal.open(path) as journal:
        journal.open_checkouts()
        journal.people()
        journal.sources()
        journal.last_time()
        for row in journal.home_rows(retired=True):
            journal.instrument_now(row.id)
            journal.about(row.id, limit=1000)
        journal.rebuild()


def test_overwritten_pages_are_trouble_wherever_they_show(tmp_path: Path, clock: ManualClock) -> None:
    """A bad disk: if not at opening, then in words at the first question that meets it."""
    path = tmp_path / "site.journal"
    filled(path, clock)
    whole = path.read_bytes()
    refused = 0
    for page in range(1, len(whole) // 4096):
        path.write_bytes(whole[: page * 4096] + b"\x5a" * 4096 + whole[(page + 1) * 4096 :])
        try:
            read_everything(path)
        except Trouble:
            refused += 1
    assert refused > len(whole) // 4096 / 2


def test_a_flipped_bit_is_never_a_traceback(tmp_path: Path, clock: ManualClock) -> None:
    """Memory and disks do flip bits: in a text, a number, a key, a page's head."""
    path = tmp_path / "site.journal"
    with Journal.create(path, station="north", name="North", now=clock.now()) as journal:
        (meter,) = journal.append([d.instrument()], clock.now())
        journal.append([d.source(), d.person(), d.locked_out(meter.hash)], clock.now())
        journal.append([d.opened(meter.hash)], clock.now())
    whole = path.read_bytes()
    chance = random.Random(20310405)
    used = [place for place, byte in enumerate(whole) if byte]
    for _ in range(150):
        place = chance.choice(used)
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 1 << chance.randrange(8)]) + whole[place + 1 :])
        with contextlib.suppress(Trouble):
            read_everything(path)


def test_a_newer_file_says_update_the_program(journal: Journal) -> None:
    """An older program must not write into tables it does not know."""
    journal._db.execute(f"PRAGMA user_version = {len(schema.MIGRATIONS) + 1}")
    with pytest.raises(Trouble, match="newer program"):
        Journal.open(journal.path)


@pytest.mark.parametrize("made", ["real", "practice", "demo"])
@pytest.mark.parametrize("asked", ["real", "practice", "demo"])
def test_practice_and_real_records_are_never_mixed(tmp_path: Path, clock: ManualClock, made: str, asked: str) -> None:
    """A practice pass shown as a real one would send somebody out with an instrument that does not exist."""
    path = tmp_path / "site.journal"
    Journal.create(path, station="north", name="North", now=clock.now(), marking=made).close()  # type: ignore[arg-type]
    if made == asked:
        Journal.open(path, marking=asked).close()  # type: ignore[arg-type]
    else:
        with pytest.raises(Trouble, match="never mixed"):
            Journal.open(path, marking=asked)  # type: ignore[arg-type]


def test_a_full_disk_loses_nothing_and_says_so(journal: Journal, clock: ManualClock) -> None:
    """What was not recorded is said not to be; what was stays; afterwards it goes on."""
    (meter,) = journal.append([d.instrument()], clock.now())
    pages = journal._db.execute("PRAGMA page_count").fetchone()[0]
    journal._db.execute(f"PRAGMA max_page_count = {pages}")
    recorded = journal.count()
    message = ""
    while not message:
        try:
            journal.append([d.note(meter.hash)] * 5, clock.now())
            recorded += 5
        except Trouble as trouble:
            message = trouble.what
    assert "full" in message
    assert journal.count() == recorded
    assert not journal._db.in_transaction
    journal._db.execute("PRAGMA max_page_count = 1000000")
    journal.append([d.note(meter.hash)], clock.now())
    assert journal.count() == recorded + 1


def test_a_journal_that_another_program_holds_says_so(journal: Journal, clock: ManualClock) -> None:
    """The technician is told what to close, and that nothing was recorded."""
    other = sqlite3.connect(journal.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with Journal.open(journal.path, wait=0.01) as waiting:
        with pytest.raises(Trouble, match="holding"):
            waiting.append([d.person()], clock.now())
        other.execute("ROLLBACK")
        waiting.append([d.person()], clock.now())
    other.close()


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="who may do everything is stopped by no permission")
@pytest.mark.parametrize("locked", ["file", "folder"])
def test_what_may_not_be_written_is_refused_at_opening(tmp_path: Path, clock: ManualClock, locked: str) -> None:
    """Found out now, not at the first failed commit in the middle of a checkout."""
    path = tmp_path / "inner" / "site.journal"
    filled(path, clock)
    (path if locked == "file" else path.parent).chmod(0o444 if locked == "file" else 0o555)
    try:
        with pytest.raises(Trouble):
            Journal.open(path)
    finally:
        path.parent.chmod(0o755)


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("SQLITE_FULL", "full"),
        ("SQLITE_IOERR_SHMSIZE", "full"),
        ("SQLITE_IOERR_SHMMAP", "full"),
        ("SQLITE_IOERR_SHMLOCK", "did not read or write"),
        ("SQLITE_BUSY_SNAPSHOT", "holding"),
        ("SQLITE_LOCKED", "holding"),
        ("SQLITE_READONLY_DIRECTORY", "cannot be written"),
        ("SQLITE_CANTOPEN", "cannot be opened"),
        ("SQLITE_IOERR_FSYNC", "disk"),
        ("SQLITE_CORRUPT_INDEX", "damaged"),
        ("SQLITE_NOTADB", "not a journal"),
    ],
)
def test_every_failure_of_the_disk_has_its_words(name: str, word: str) -> None:
    """The names are those of SQLite's result codes (sqlite.org/rescode.html; memory)."""
    fault = sqlite3.OperationalError("as SQLite says it")
    fault.sqlite_errorname = name
    said = files.trouble(fault, Path("site.journal"))
    assert said is not None
    assert word in said.what


def test_a_fault_of_the_program_is_not_dressed_up_as_trouble() -> None:
    """A wrong statement must be found by its author, not blamed on the disk."""
    fault = sqlite3.OperationalError("no such column")
    fault.sqlite_errorname = "SQLITE_ERROR"
    assert files.trouble(fault, Path("site.journal")) is None


def test_each_migration_leaves_its_record(journal: Journal) -> None:
    """Whoever opens an old file later can see what was done to it."""
    done = journal._db.execute("SELECT number, name FROM migrations ORDER BY number").fetchall()
    assert done == [(number, step.__name__) for number, step in enumerate(schema.MIGRATIONS, 1)]


def test_a_migration_that_fails_changes_nothing(
    journal: Journal, monkeypatch: pytest.MonkeyPatch, clock: ManualClock
) -> None:
    """Half a migration would be a file that no program knows."""

    def broken(db: sqlite3.Connection) -> None:
        db.execute("CREATE TABLE half (a)")
        raise Trouble("a power cut")

    monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, broken))
    with pytest.raises(Trouble):
        Journal.open(journal.path)
    monkeypatch.undo()
    with Journal.open(journal.path) as again:
        assert again._db.execute("SELECT count(*) FROM sqlite_master WHERE name = 'half'").fetchone() == (0,)
        again.append([d.person()], clock.now())


def test_a_migration_brings_an_older_file_up_to_date(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    """Opening is all it takes, and the record says so."""

    def add_remarks(db: sqlite3.Connection) -> None:
        db.execute("CREATE TABLE remarks (a)")

    monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, add_remarks))
    with Journal.open(journal.path) as again:
        assert schema.version(again._db) == len(schema.MIGRATIONS)
        names = [row[0] for row in again._db.execute("SELECT name FROM migrations ORDER BY number")]
        assert names[-1] == "add_remarks"
