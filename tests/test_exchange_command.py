"""`checklist-tui exchange`, `backup` and `restore` as people and other programs rely on them."""

from __future__ import annotations

import argparse
import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from desk_walk import MINI, id_of, small_site
from source_checks import failed

from checklist_tui.cli import main
from checklist_tui.commands import exchange as command
from checklist_tui.parsing import Parser
from procedures.site import inventory, profiles
from procedures.site.demo import make_demo
from procedures.site.opening import JOURNAL, open_site
from procedures.site.system import SystemClock

ACTIONS = ("out", "heads", "in", "join")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A site as it is kept on one laptop; its clock is the system's, as the command's is."""
    clock: Any = SystemClock()
    with small_site(tmp_path / "north", clock):
        pass
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], *words: object, code: int = 0) -> str:
    assert main([str(word) for word in words]) == code
    out, err = capsys.readouterr()
    assert "Traceback" not in err
    return out if code == 0 else err


def told(capsys: pytest.CaptureFixture[str], *words: object) -> dict[str, Any]:
    found = json.loads(run(capsys, *words, "--json"))
    assert isinstance(found, dict)
    assert found["ok"] is True
    return found


@pytest.mark.parametrize("action", ACTIONS)
def test_every_action_has_help_with_an_example(action: str, capsys: pytest.CaptureFixture[str]) -> None:
    """An example shows more than a list of options."""
    out = run(capsys, "exchange", action, "--help")
    assert "checklist-tui exchange" in out.split("\nexample:\n")[1]


def test_the_list_of_actions_above_is_complete() -> None:
    """A new action cannot do without help."""
    parser = Parser(prog="x")
    command.configure(parser)
    (actions,) = (each for each in parser._actions if isinstance(each, argparse._SubParsersAction))
    assert set(actions.choices) == set(ACTIONS)


def test_two_laptops_bring_their_records_together(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Out, join, work, heads, out since, in: counts in words at every step."""
    north, south = folder / "north", folder / "south"
    out = run(capsys, "exchange", "out", folder / "all.exchange", "--data", north)
    assert "all records: 11 records" in out
    out = run(capsys, "exchange", "join", folder / "all.exchange", "--data", south, "--name", "bench laptop")
    assert f"Joined: {south}" in out
    assert "From first laptop" in out
    assert "New: 11 records." in out
    with open_site(south, SystemClock()) as site:
        inventory.register_jig(site, label="J-7")
    run(capsys, "exchange", "heads", folder / "north.heads", "--data", north)
    made = told(capsys, "exchange", "out", folder / "b.exchange", "--since", folder / "north.heads", "--data", south)
    assert (made["events"], made["whole"]) == (2, False)
    received = told(capsys, "exchange", "in", folder / "b.exchange", "--data", north)
    assert (received["station_name"], received["added"], received["known"]) == ("bench laptop", 2, 0)
    again = run(capsys, "exchange", "in", folder / "b.exchange", "--data", north)
    assert "New: 0 records. Here already: 2." in again
    for each in (north, south):
        run(capsys, "verify", "--data", each)


def test_what_has_to_be_decided_is_said(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A label on two things, two adoptions, records that wait: each with what to do."""
    north, south = folder / "north", folder / "south"
    run(capsys, "exchange", "out", folder / "all.exchange", "--data", north)
    run(capsys, "exchange", "join", folder / "all.exchange", "--data", south, "--name", "South")
    for number, each in enumerate((north, south)):
        with open_site(each, SystemClock()) as site:
            inventory.register_jig(site, label="J-9")
            profiles.adopt(site, MINI.replace("revision = 1", f"revision = {number + 2}"), id_of(site, "P-1"))
    run(capsys, "exchange", "out", folder / "b.exchange", "--data", south)
    out = run(capsys, "exchange", "in", folder / "b.exchange", "--data", north)
    assert "LABEL TWICE: J-9 is on 2 things (jig, jig)." in out
    assert "ADOPTED APART: mini." in out
    assert "That laptop had not 2 records of those here" in out


@pytest.mark.parametrize(
    ("words", "word"),
    [
        (["in", "no-such-file"], "cannot be read"),
        (["in", "."], "folder"),
        (["out", "."], "folder"),
        (["out", "x.exchange", "--since", "no-such-file"], "cannot be read"),
        (["join", "no-such-file", "--name", "South"], "cannot be read"),
        (["join", "no-such-file"], "--name"),
        (["sideways", "x"], "invalid choice"),
    ],
)
def test_bad_input_is_two_and_words(
    folder: Path, capsys: pytest.CaptureFixture[str], words: list[str], word: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is wrong, and nothing was taken."""
    monkeypatch.chdir(folder)
    assert word in run(capsys, "exchange", *words, "--data", folder / "north", code=2)


def test_a_demo_is_not_taken_into_a_real_site(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Its instruments do not exist."""
    with make_demo(folder / "demo", SystemClock()):
        pass
    run(capsys, "exchange", "out", folder / "demo.exchange", "--data", folder / "demo")
    err = run(capsys, "exchange", "in", folder / "demo.exchange", "--data", folder / "north", code=2)
    assert "a demonstration, not real records" in err


# --- backup and restore --------------------------------------------------------------------------------------------


def test_a_backup_can_be_restored_and_is_held_against_its_heads(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The whole way, as somebody goes it whose laptop fell into the water."""
    made = told(capsys, "backup", folder / "a.backup", "--data", folder / "north")
    (head,) = made["heads"]
    out = run(capsys, "restore", folder / "a.backup", "--data", folder / "new", "--name", "bench laptop")
    assert "Restored:" in out
    given = f"{head['station']}:{head['seq']}:{head['hash']}"
    found = told(capsys, "verify", "--data", folder / "new", "--head", given)
    assert found["sound"] is True
    assert len(found["heads"]) == 2
    with open_site(folder / "new", SystemClock()) as site:
        assert site.journal.stations()[site.journal.station] == "bench laptop"
        assert site.journal.head()[1] == 1


def test_nothing_is_written_over(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Neither a file by a backup nor a site by what is restored."""
    run(capsys, "backup", folder / "a.backup", "--data", folder / "north")
    before = (folder / "a.backup").read_bytes()
    assert "already" in run(capsys, "backup", folder / "a.backup", "--data", folder / "north", code=2)
    assert "already" in run(capsys, "restore", folder / "a.backup", "--data", folder / "north", code=2)
    assert (folder / "a.backup").read_bytes() == before


def test_a_restore_that_fails_leaves_nothing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Half a site would be opened as a whole one the next time."""
    (folder / "a.backup").write_text("not a backup")
    assert "not a journal" in run(capsys, "restore", folder / "a.backup", "--data", folder / "new", code=2)
    assert list((folder / "new").iterdir()) == []
    assert "--data" in run(capsys, "restore", folder / "a.backup", code=2)
    assert "empty text" in run(capsys, "restore", folder / "a.backup", "--data", " ", code=2)


def test_a_demo_is_restored_as_a_demo(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Its marking is in the records, not in the file's name."""
    with make_demo(folder / "demo", SystemClock()):
        pass
    run(capsys, "backup", folder / "a.backup", "--data", folder / "demo")
    run(capsys, "restore", folder / "a.backup", "--data", folder / "new")
    assert [each.name for each in (folder / "new").iterdir()] == [JOURNAL["demo"]]


def test_uses_that_came_into_doubt_are_told(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It was used here, and its battery turned out to be bad over there: whoever relied on it has to hear of it."""
    north, south = folder / "north", folder / "south"
    with open_site(north, SystemClock()) as site:
        meter, person = id_of(site, "C-1"), id_of(site, "P-2")
        use = {"to": person, "job": "survey", "place": "hall 2", "checkout": None, "until": None}
        site.record("handed-out", use, about=(meter, person))
        site.record("returned", {"by": person, "condition": "as it went out"}, about=(meter,))
    run(capsys, "exchange", "out", folder / "all.exchange", "--data", north)
    run(capsys, "exchange", "join", folder / "all.exchange", "--data", south, "--name", "bench laptop")
    with open_site(south, SystemClock()) as site:
        failed(site, meter, id_of(site, "S-1"), 0.5)
    run(capsys, "exchange", "out", folder / "b.exchange", "--data", south)
    copy = folder / "copy"
    shutil.copytree(north, copy)
    assert "IN DOUBT now: 1 use of C-1." in run(capsys, "exchange", "in", folder / "b.exchange", "--data", copy)
    received = told(capsys, "exchange", "in", folder / "b.exchange", "--data", north)
    assert received["in_doubt"] == [{"label": "C-1", "uses": 1}]
