"""Attached files in a backup: they go along, they come back, and what is not sound is left out and named."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from reference_room import Room
from small_disk import small_disk

from procedures.clock import ManualClock
from procedures.site import attachments, backup, records
from procedures.site.opening import open_site
from procedures.trouble import Trouble


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    made = Room(tmp_path / "site")
    yield made
    made.site.close()


def attach(room: Room, tmp_path: Path, words: bytes = b"a certificate") -> str:
    """A calibration with a file; the calibration's id comes back."""
    paper = tmp_path / "paper.pdf"
    paper.write_bytes(words)
    return room.calibrated(file=str(paper), certificate=f"K-{len(words)}")


def test_a_backup_takes_attached_files_along_and_brings_them_back(room: Room, tmp_path: Path) -> None:
    """A record that names a certificate nobody has any more is half a record."""
    made = attach(room, tmp_path)
    attach(room, tmp_path, b"another certificate")
    (tmp_path / "stick").mkdir()
    kept = backup.backup(room.site.folder, tmp_path / "stick" / "a.backup")
    assert (kept.attached, kept.unsound) == (2, ())
    assert len(list(backup.attached_beside(tmp_path / "stick" / "a.backup").iterdir())) == 2
    back = backup.restore(
        tmp_path / "stick" / "a.backup", tmp_path / "new", ManualClock(room.clock.now().utc), station="b", name="bench"
    )
    assert (back.attached, back.unsound) == (2, ())
    with open_site(tmp_path / "new", ManualClock(room.clock.now().utc)) as site:
        sheet = records.sheet(site, "calibration", made)
        assert any("is the one that was attached" in str(section) for section in sheet.sections)


def test_a_site_without_attached_files_is_backed_up_in_one_file(room: Room, tmp_path: Path) -> None:
    """Nothing to carry along, so nothing beside it."""
    (tmp_path / "stick").mkdir()
    kept = backup.backup(room.site.folder, tmp_path / "stick" / "a.backup")
    assert kept.attached == 0
    assert [each.name for each in (tmp_path / "stick").iterdir()] == ["a.backup"]


def test_a_file_that_was_changed_is_left_out_and_named(room: Room, tmp_path: Path) -> None:
    """Its copy would be taken for sound; the records are backed up all the same."""
    made = attach(room, tmp_path)
    sha256 = room.event(made).body["attached"]["sha256"]
    (room.site.folder / attachments.FOLDER / sha256).write_bytes(b"changed")
    (room.site.folder / attachments.FOLDER / "notes.txt").write_bytes(b"no attached file")
    kept = backup.backup(room.site.folder, tmp_path / "a.backup")
    assert (kept.attached, kept.unsound) == (0, (sha256,))
    assert list(backup.attached_beside(tmp_path / "a.backup").iterdir()) == []
    assert kept.events == room.site.journal.count()


def test_a_backup_that_lost_its_files_is_restored_and_says_so_where_they_are_shown(room: Room, tmp_path: Path) -> None:
    """Somebody carried only the one file away."""
    made = attach(room, tmp_path)
    backup.backup(room.site.folder, tmp_path / "a.backup")
    shutil.rmtree(backup.attached_beside(tmp_path / "a.backup"))
    clock = ManualClock(room.clock.now().utc)
    assert backup.restore(tmp_path / "a.backup", tmp_path / "new", clock, station="b", name="bench").attached == 0
    with open_site(tmp_path / "new", clock) as site:
        assert any("not on this laptop" in str(each) for each in records.sheet(site, "calibration", made).sections)


def test_the_records_are_kept_where_the_files_find_no_room(room: Room, tmp_path: Path) -> None:
    """The records matter more than the papers; what is missing is said, and no half file is left."""
    attach(room, tmp_path, b"x" * 3_000_000)
    with small_disk(2_000_000), pytest.raises(Trouble, match=r"records are backed up in .* but the attached files"):
        backup.backup(room.site.folder, tmp_path / "a.backup")
    assert (tmp_path / "a.backup").exists()
    beside = backup.attached_beside(tmp_path / "a.backup")
    assert not beside.exists() or list(beside.iterdir()) == []


def test_a_full_disk_leaves_no_half_attachment(room: Room, tmp_path: Path) -> None:
    """And no record that names one."""
    big = tmp_path / "big.pdf"
    big.write_bytes(b"x" * 3_000_000)
    before = room.site.journal.count()
    with small_disk(2_000_000), pytest.raises(Trouble, match="cannot be kept here"):
        room.calibrated(file=str(big))
    assert room.site.journal.count() == before
    assert list((room.site.folder / attachments.FOLDER).iterdir()) == []
