"""`checklist-tui verify` as other programs and people rely on it: exit codes, words, JSON."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest
from desk_walk import START, id_of, small_site, walk

from checklist_tui.cli import main
from procedures.clock import ManualClock
from procedures.site.checkouts import Desk


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A site with one checkout."""
    clock = ManualClock(START)
    with small_site(tmp_path, clock) as site:
        desk = Desk(site)
        walk(desk, desk.start(id_of(site, "C-1"), id_of(site, "P-1")), clock)
    return tmp_path


def told(capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    found = json.loads(capsys.readouterr().out)
    assert isinstance(found, dict)
    return found


def change(folder: Path, statement: str) -> None:
    db = sqlite3.connect(folder / "site.journal", isolation_level=None)
    guards = db.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in guards:
        db.execute(f"DROP TRIGGER {name}")
    db.execute(statement)
    for _, sql in guards:
        db.execute(sql)
    db.close()


def test_sound_records_are_said_to_be_and_the_heads_are_printed(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The last lines are what somebody writes down; they say what only a head kept elsewhere shows."""
    assert main(["verify", "--data", str(folder)]) == 0
    out = capsys.readouterr().out
    assert out.startswith("SOUND.\n")
    assert "kept elsewhere" in out
    head = out.splitlines()[-1].strip()
    assert main(["verify", "--data", str(folder), "--head", head, "--json"]) == 0
    found = told(capsys)
    assert (found["ok"], found["sound"], found["heads_given"]) == (True, True, 1)
    station, seq, hashed = head.split(":")
    assert found["heads"] == [{"station": station, "seq": int(seq), "hash": hashed}]


def test_an_altered_event_is_named_and_the_exit_code_says_so(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Station, sequence, kind, when."""
    change(folder, "UPDATE events SET raw = replace(raw, 'Tech Person', 'Mech Person') WHERE seq = 4")
    assert main(["verify", "--data", str(folder)]) == 1
    out = capsys.readouterr().out
    assert out.startswith("NOT SOUND.")
    assert "station station-a, event 4, registered, 2026-06-01T06:05:00" in out
    assert main(["verify", "--data", str(folder), "--json"]) == 1
    (event,) = told(capsys)["altered"]  # type: ignore[misc]
    assert (event["station"], event["seq"], event["kind"]) == ("station-a", 4, "registered")


def test_a_cut_end_is_found_with_a_head(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """And the words say which events are gone."""
    head = f"station-a:5000:{'ab' * 32}"
    assert main(["verify", "--data", str(folder), "--head", head]) == 1
    assert "cut off" in capsys.readouterr().out


def test_a_changed_table_is_told(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Screens show tables; the events are untouched and still judged again."""
    change(folder, "UPDATE instruments SET ready_until = '2099-01-01T00:00:00.000000Z'")
    assert main(["verify", "--data", str(folder), "--json"]) == 1
    found = told(capsys)
    assert found["altered"] == []
    assert len(found["tables"]) == 1  # type: ignore[arg-type]
    assert found["judged"] == 1


LIE = "UPDATE instruments SET ready_until = '2099-01-01T00:00:00.000000Z'"


def test_whole_records_are_told_from_damaged_lists(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing is lost where only what is drawn from the records is wrong: that, and what to do, in plain words."""
    change(folder, LIE)
    assert main(["verify", "--data", str(folder)]) == 1
    out = capsys.readouterr().out
    assert "THE RECORDS ARE WHOLE" in out
    assert "checklist-tui restore FILE" in out
    assert "RECORDS ARE DAMAGED" not in out


def test_damaged_records_are_not_called_whole(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The other way round: an event that was altered is no matter of lists."""
    change(folder, "UPDATE events SET raw = replace(raw, 'in the band', 'over the band')")
    assert main(["verify", "--data", str(folder)]) == 1
    out = capsys.readouterr().out
    assert "RECORDS ARE DAMAGED" in out
    assert "RECORDS ARE WHOLE" not in out


def test_a_backup_says_that_lists_are_damaged_and_what_is_restored_has_them_anew(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A backup copies lists as they are: whoever makes it must learn what “verify” would say."""
    words = ["backup", str(tmp_path / "good.backup"), "--data", str(folder)]
    assert main([*words, "--json"]) == 0
    assert told(capsys)["damaged_lists"] == []
    change(folder, LIE)
    words[1] = str(tmp_path / "bad.backup")
    assert main(words) == 0
    out = capsys.readouterr().out
    assert "LISTS ARE DAMAGED (1). The records are whole" in out
    assert "instruments" in out
    assert main(["restore", words[1], "--data", str(tmp_path / "anew")]) == 0
    capsys.readouterr()
    assert main(["verify", "--data", str(tmp_path / "anew")]) == 0


@pytest.mark.parametrize(
    "words", [["--head", "nonsense"], ["--data", ""], ["--data", "/no/such/folder"], ["surplus"]], ids=" ".join
)
def test_bad_input_is_two(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing verified must never look like nothing found."""
    assert main(["verify", "--json", *words]) == 2
    found = told(capsys)
    assert found["ok"] is False
    assert found["errors"]


def test_a_damaged_file_is_a_finding_or_trouble_never_sound(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Pages overwritten by a bad disk."""
    path = folder / "site.journal"
    whole = path.read_bytes()
    path.write_bytes(whole[: 4096 * 3] + b"\x5a" * 4096 * 3 + whole[4096 * 6 :])
    assert main(["verify", "--data", str(folder)]) in (1, 2)
    assert "Traceback" not in capsys.readouterr().err
