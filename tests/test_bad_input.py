"""What a stranger gets wrong at the command line: always exit 2, what is wrong, where, and what is allowed."""

from __future__ import annotations

import io
import json
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from desk_walk import START, small_site

import checklist_tui.commands.demo as demo_command
import checklist_tui.commands.session as session
import checklist_tui.commands.status as status_command
from checklist_tui import cli, output
from checklist_tui.cli import main
from procedures.clock import ManualClock
from procedures.trouble import Trouble

FOLDER = Path(__file__).parents[1] / "demo_profiles"
GOOD = (FOLDER / "vented_chamber.toml").read_text("utf-8")


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> list[dict[str, Any]]:
    """The errors of a call that has to be refused, in JSON and in words."""
    assert main([*words, "--json"]) == output.BAD_INPUT
    out, err = capsys.readouterr()
    answer = json.loads(out)
    assert set(answer) == {"ok", "errors"}
    assert answer["ok"] is False
    assert answer["errors"]
    assert "Traceback" not in err
    assert "A fault" not in err
    assert err.strip()
    return list(answer["errors"])


def between(start: str, end: str) -> str:
    """The part of the good profile from `start` up to `end`."""
    return GOOD[GOOD.index(start) : GOOD.index(end)]


def step(name: str) -> str:
    return f'[[step]]\nid = "{name}"'


WINDOW, ZERO = between(step("window"), step("zero")), between(step("zero"), step("response"))
RESPONSE = between(step("response"), step("desiccant"))
SENT_BY_ZERO = 'on_fail = "desiccant"\nlockout = "zero-off"'

MISTAKES: dict[str, tuple[str, str, str, str]] = {
    # name: (old, new, key, part of the message)
    "syntax": ('title = "Vented', "title = Vented", "", "text stands in quotes"),
    "open quote": ('id = "zero"', 'id = "zero', "", "a quote is not closed"),
    "open bracket": ("[ready]", "[ready", "", "not closed"),
    "unknown key": ("title =", "titel =", "titel", "did you mean title?"),
    "missing key": ("title =", "titel =", "title", "missing"),
    "wrong type": ("readings = 3", 'readings = "three"', "step[response].readings", "a whole number"),
    "no number": ("readings = 3", "readings = nan", "step[response].readings", "a whole number"),
    "too many": ("readings = 3", "readings = 1000000000", "step[response].readings", "at most"),
    "wrong unit": ('within = "0.05 mR/h"', 'within = "0.05 V"', "step[zero].within", "exposure rate"),
    "other quantity": ('within = "0.05 mR/h"', 'within = "0.05 mrem/h"', "step[zero].within", "another kind"),
    "mistyped unit": ('within = "0.05 mR/h"', 'within = "0.05 mRh"', "step[zero].within", "mR/h"),
    "mega for milli": ('within = "0.05 mR/h"', 'within = "0.05 MR/h"', "step[zero].within", "m is milli"),
    "two ids": ('id = "window"', 'id = "zero"', "step[zero].id", "an id of its own"),
    "two keys": ("revision = 1", "revision = 1\nrevision = 2", "revision", "stands twice"),
    "unknown kind": ('kind = "warm-up"', 'kind = "warmup"', "step[warm-up].kind", "did you mean warm-up?"),
    "kind as path": ('kind = "warm-up"', 'kind = "../base"', "step[warm-up].kind", "no such kind"),
    "kind as module": ('kind = "warm-up"', 'kind = "_sources"', "step[warm-up].kind", "no such kind"),
    "never ends": ('on_pass = "sender-stands"', 'on_pass = "zero"', "step[desiccant].on_pass", "forward"),
    "skips a step": (
        'since_on = "1 min"', 'since_on = "1 min"\non_pass = "response"', "step[window].id", "fit for use without"
    ),
    "remedy forward": ('repeat_from = "look-over"', 'repeat_from = "response"', "repeat_from", "would not be done"),
    "on_fail to a normal step": (SENT_BY_ZERO, SENT_BY_ZERO.replace("desiccant", "response"), "on_fail", "not a way"),
    "on_fail nowhere": (SENT_BY_ZERO, SENT_BY_ZERO.replace("desiccant", "desicant"), "on_fail", "did you mean"),
    "no lockout": ('lockout = "zero-off"\n', "", "step[zero].lockout", "no reason code"),
    "a lockout twice": ('lockout = "zero-off"', 'lockout = "battery-low"', "step[zero].lockout", "already"),
    "tolerance 200 %": ('low = "-20 %"', 'low = "-200 %"', "limits.low", "-50 % to 50 % (common practice is ±20 %"),
    "tolerance 100 %": ('low = "-20 %"', 'low = "-100 %"', "limits.low", "dead instrument"),
    "spread 0 %": ('spread = "10 %"', 'spread = "0 %"', "step[response].spread", "more than 0"),
    "spread 51 %": ('spread = "10 %"', 'spread = "51 %"', "step[response].spread", "0 % to 50 %"),
    "low above high": ('low = "-20 %", high = "20 %"', 'low = "20 %", high = "-20 %"', "limits.low", "high limit"),
    "nothing is good": ('good = ["in the band"]', "good = []", "step[battery].good", "never pass"),
    "wait of 0 s": ('since_on = "1 min"', 'since_on = "0 s"', "since_on", "at least 1 s"),
    "wait of 10 h": ('since_on = "1 min"', 'since_on = "10 h"', "since_on", "at most 4 h"),
    "no window first": (WINDOW, "", "step[response].id", "before a source comes near"),
    "window too late": (WINDOW + ZERO + RESPONSE, ZERO + RESPONSE + WINDOW, "step[response].id", "window"),
    "no zero first": (ZERO, "", "step[response].id", "a settled zero"),
    "zero too late": (ZERO + RESPONSE, RESPONSE + ZERO, "step[response].id", "a settled zero"),
    "no source at all": (RESPONSE, "", "step", "check source"),
    "not to be seen": ('title = "Vented', 'title = "\\u001b[31mVented', "title", "cannot be seen"),
    "right to left": ('title = "Vented', 'title = "\u202eVented', "", "cannot be seen"),
    "id as path": ('id = "vented-chamber-analog"', 'id = "../../etc"', "id", "hyphens"),
}  # fmt: skip


@pytest.mark.parametrize("name", MISTAKES)
def test_each_mistake_in_a_profile_is_named_with_its_place(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The writer of a profile is sent to the line, told what is allowed, and nothing is adopted by accident."""
    old, new, key, message = MISTAKES[name]
    assert old in GOOD
    file = tmp_path / "mine.toml"
    file.write_text(GOOD.replace(old, new, 1), "utf-8")
    errors = refused(capsys, "profile", "check", str(file))
    assert all(set(error) == {"file", "line", "column", "key", "message"} for error in errors)
    assert {error["file"] for error in errors} == {str(file)}
    fits = [error for error in errors if key in error["key"] and message in error["message"]]
    assert fits, errors
    assert all("allowed: " in error["message"] for error in fits)
    lines = GOOD.replace(old, new, 1).split("\n")
    assert all(0 <= error["line"] <= len(lines) for error in errors)


def test_a_step_that_nobody_sends_to_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A branch that cannot be reached is a branch that somebody believes in."""
    file = tmp_path / "mine.toml"
    file.write_text(GOOD.replace('on_fail = "desiccant"\n', ""), "utf-8")
    (error,) = refused(capsys, "profile", "check", str(file))
    assert "can never be reached" in error["message"]


def test_forty_mistakes_are_told_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One round of putting right, not forty."""
    for line in ('k{} = "\n', "k{} = 1\n"):
        file = tmp_path / "mine.toml"
        file.write_text("".join(line.format(i) for i in range(40)) + GOOD, "utf-8")
        assert [error["line"] for error in refused(capsys, "profile", "check", str(file))] == list(range(1, 41))


BYTES = {
    "empty": b"",
    "a comment": b"# nothing\n",
    "binary": bytes(range(256)) * 20,
    "huge": b"# x\n" * 400_000,
    "zero byte": GOOD.encode() + b"\0",
    "UTF-16": GOOD.encode("utf-16"),
    "UTF-16 without a mark": GOOD.encode("utf-16-be"),
    "UTF-16, the other way": GOOD.encode("utf-16-le"),
    "UTF-8 with a mark": b"\xef\xbb\xbf" + GOOD.encode(),
    "Latin-1": GOOD.replace("amber", "ämber").encode("latin-1"),
    "deep": b"a = " + b"[" * 900 + b"]" * 900,
    "one long line": b"x" * 100_000,
}


@pytest.mark.parametrize("name", BYTES)
@pytest.mark.parametrize("which", ["profile", "answers"])
def test_bytes_that_are_no_text_are_refused_in_a_few_lines(
    name: str, which: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Profiles and answers files come from any editor; neither is called the other."""
    file = tmp_path / "mine.toml"
    file.write_bytes(BYTES[name])
    if which == "profile":
        errors = refused(capsys, "profile", "check", str(file))
    else:
        errors = refused(capsys, "profile", "rehearse", str(FOLDER / "vented_chamber.toml"), "--answers", str(file))
        assert not any("profile" in error["message"].splitlines()[0] for error in errors)
    assert len(errors) <= 10
    assert {error["file"] for error in errors} == {str(file)}
    if "UTF-16" in name:
        assert "UTF-16" in errors[0]["message"]


@pytest.mark.parametrize("name", ["a folder", "missing", "empty text", "zero in its name", "not text"])
def test_a_profile_that_is_no_file_is_said(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Whatever stands where a file was meant."""
    given = {
        "a folder": str(tmp_path),
        "missing": str(tmp_path / "none.toml"),
        "empty text": "",
        "zero in its name": "a\0b",
        "not text": "\udcff.toml",
    }[name]
    (error,) = refused(capsys, "profile", "check", given)
    assert error["line"] == 0
    assert "allowed: " in error["message"]


def test_a_profile_behind_a_closed_folder_is_one_error_among_others(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Looking whether it is a folder already fails then; the other files' errors still come out."""
    closed, bad = tmp_path / "closed.toml", tmp_path / "bad.toml"
    bad.write_text("x =", "utf-8")
    is_dir = Path.is_dir

    def guarded(path: Path) -> bool:
        if path == closed:
            raise PermissionError(13, "Permission denied", str(path))
        return is_dir(path)

    monkeypatch.setattr(Path, "is_dir", guarded)
    errors = refused(capsys, "profile", "check", str(closed), str(bad))
    assert {error["file"] for error in errors} == {str(closed), str(bad)}
    assert "Permission denied" in errors[0]["message"]


def test_one_bad_file_among_good_ones_is_enough(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A call that checks several files says "ok" only for all."""
    good, bad = str(FOLDER / "vented_chamber.toml"), tmp_path / "bad.toml"
    bad.write_text(GOOD.replace("revision = 1", "revision = 0"), "utf-8")
    for order in ([good, str(bad)], [str(bad), good]):
        assert [error["file"] for error in refused(capsys, "profile", "check", *order)] == [str(bad)]


def test_mistakes_in_answers_are_given_by_their_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """All of them, as those of a profile are; not their number alone."""
    file = tmp_path / "answers.toml"
    file.write_text('titel = "x"\nformat = 1\nstart = "soon"\n', "utf-8")
    errors = refused(capsys, "profile", "rehearse", str(FOLDER / "vented_chamber.toml"), "--answers", str(file))
    assert all(set(error) == {"file", "line", "column", "key", "message"} for error in errors)
    assert {"titel", "start"} <= {error["key"] for error in errors}
    assert next(error for error in errors if error["key"] == "start")["line"] == 3


# --- the folder of the site ----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def site_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("site")
    small_site(folder, ManualClock(START)).close()
    return folder


def empty(journal: Path) -> None:
    journal.write_bytes(b"")


def text(journal: Path) -> None:
    journal.write_text("battery ok\n" * 200, "utf-8")


def cut(journal: Path) -> None:
    raw = journal.read_bytes()
    journal.write_bytes(raw[: len(raw) // 2])


def another_database(journal: Path) -> None:
    journal.unlink()
    with sqlite3.connect(journal) as db:
        db.execute("CREATE TABLE recipes (name TEXT)")
    db.close()


def a_folder(journal: Path) -> None:
    journal.unlink()
    journal.mkdir()


def gone(journal: Path) -> None:
    journal.unlink()


def a_demo_in_disguise(journal: Path) -> None:
    db = sqlite3.connect(journal)
    db.execute("UPDATE meta SET value = 'demo' WHERE name = 'marking'")
    db.commit()
    db.close()


@pytest.mark.parametrize("spoil", [empty, text, cut, another_database, a_folder, gone, a_demo_in_disguise])
def test_a_journal_that_is_none_is_said_with_its_path(
    spoil: Callable[[Path], None], site_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is called fit from a file that cannot be believed, and nothing is begun in its place."""
    folder = tmp_path / "site"
    shutil.copytree(site_folder, folder)
    spoil(folder / "site.journal")
    (error,) = refused(capsys, "status", "--data", str(folder))
    assert str(folder) in error["where"]
    assert error["message"]
    assert error["do"] or error["allowed"]


@pytest.mark.parametrize("name", ["missing", "a file", "empty text", "not text", "too long"])
def test_a_folder_that_is_none_is_said(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Mistyped paths are the commonest mistake of all."""
    file = tmp_path / "file"
    file.write_text("x", "utf-8")
    given = {
        "missing": str(tmp_path / "none"),
        "a file": str(file),
        "empty text": " ",
        "not text": "\udcff",
        "too long": "a" * 5000,
    }[name]
    (error,) = refused(capsys, "status", "--data", given)
    assert error["allowed"]
    assert error["do"]


def test_a_closed_folder_is_one_json_object_too(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A program that reads the answer gets one, whichever part of the system said no."""

    def closed(_: object) -> None:
        raise PermissionError(13, "Permission denied", "records/site.journal")

    monkeypatch.setattr(status_command, "open_named", closed)
    (error,) = refused(capsys, "status")
    assert "records/site.journal" in error["message"]
    assert "Permission denied" in error["message"]


def test_a_closed_folder_and_a_full_disk_together(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The error cannot be written out either: said, exit 74, no traceback."""

    def closed(_: object) -> None:
        raise PermissionError(13, "Permission denied", "records/site.journal")

    def full(_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(status_command, "open_named", closed)
    monkeypatch.setattr(output, "write_json", full)
    monkeypatch.setattr(output, "let_go_of_stdout", lambda: None)
    assert main(["status", "--json"]) == output.OUTPUT_LOST
    assert "No space left" in capsys.readouterr().err


def test_half_a_demo_is_not_left_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The disk filled while the demo was made: the next start must not open an empty site as the demo."""
    import procedures.site.demo as demo

    def fills(folder: Path, _: object) -> None:
        for end in ("", "-wal", "-shm"):
            (folder / f"demo.journal{end}").write_bytes(b"half")
        raise Trouble("The disk is full.")

    monkeypatch.setattr(demo, "make_demo", fills)
    with pytest.raises(Trouble, match="full"):
        demo_command._site_in(tmp_path)
    assert list(tmp_path.iterdir()) == []


# --- the terminal --------------------------------------------------------------------------------------------------


class Terminal(io.TextIOWrapper):
    """A terminal of some encoding."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_a_terminal_without_the_signs_of_the_screens_is_sent_to_line_mode(
    encoding: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Drawn there, the screens would be backslashes and figures."""
    monkeypatch.setattr(sys, "stdin", Terminal(io.BytesIO()))
    monkeypatch.setattr(sys, "stdout", Terminal(io.BytesIO(), encoding=encoding))
    given = cli.build_parser().parse_args([])
    with pytest.raises(Trouble, match="signs") as trouble:
        session.need_a_terminal(given)
    assert "--plain" in trouble.value.do
    monkeypatch.setattr(sys, "stdout", Terminal(io.BytesIO(), encoding="utf-8"))
    session.need_a_terminal(given)


# --- the bench calculator ------------------------------------------------------------------------------------------

DECAY = ("decay", "--nuclide", "Cs-137", "--value", "1 Bq")
JUDGE = ("acceptance", "--reading", "1 mR/h", "--expected", "1 mR/h", "--tolerance")

WRONG: list[tuple[tuple[str, ...], str, str]] = [
    ((*DECAY, "--from", "2026-03-01", "--to", "2020-03-01"), "--from", "before"),
    ((*DECAY, "--from", "2021-02-29", "--to", "2024-02-29"), "--from", "no date"),
    ((*DECAY, "--from", "2021-02-28", "--to", "yesterday"), "--to", "no date"),
    ((*DECAY, "--from", "2021-02-28T06:00", "--to", "2024-02-29"), "--from", "offset"),
    (("decay", "--nuclide", "Xx-1", "--value", "1 Bq", "--from", "2020-01-01", "--to", "2021-01-01"), "--nuclide", ""),
    (("air-density", "--temperature", "900 degC", "--pressure", "95 kPa"), "--temperature", "900"),
    (("air-density", "--temperature", "20 degC", "--pressure", "0 kPa"), "--pressure", "0 kPa"),
    (("pressure", "--altitude", "-501 m"), "--altitude", "-501"),
    (("pressure", "--altitude", "20001 m"), "--altitude", "20001"),
    (("settle", "--time-constant", "3 s", "--residual", "100 %"), "--residual", "1.0"),
    (("settle", "--time-constant", "3 s", "--residual", "1 s"), "--residual", "no share"),
    (("settle", "--time-constant", "0 s", "--residual", "1 %"), "--time-constant", "0.0"),
    ((*JUDGE, "100 %"), "--tolerance", "does not respond"),
    ((*JUDGE, "150 %"), "--tolerance", "does not respond"),
    ((*JUDGE, "1 mR/h"), "--tolerance", "does not respond"),
    ((*JUDGE, "-20 %"), "--tolerance", "below zero"),
    ((*JUDGE, "20"), "--tolerance", "unit is missing"),
    ((*JUDGE, "1 mSv/h"), "--tolerance", "dose equivalent"),
    ((*JUDGE, "20 %", "--false-accept", "0.05"), "--standard-uncertainty", "needs the uncertainty"),
    ((*JUDGE, "20 %", "--standard-uncertainty", "3 %", "--false-accept", "0.5"), "--false-accept", "0.5"),
    ((*JUDGE, "20 %", "--standard-uncertainty", "3 %", "--false-accept", "abc"), "--false-accept", "abc"),
    (("acceptance", "--reading", "1 mR/h", "--expected", "0 mR/h", "--tolerance", "20 %"), "--expected", "compare"),
    (("acceptance", "--reading", "1 mR/h", "--expected", "-1 mR/h", "--tolerance", "20 %"), "--expected", "compare"),
    (("convert", "--value", "1 R/h", "--to", "mSv/h"), "--to", "exposure rate"),
    (("convert", "--value", "1 cps", "--to", "Bq"), "--to", "activity"),
    (("convert", "--value", "1 cps", "--to", " "), "--to", "no unit"),
    (("convert", "--value", "-300 degC", "--to", "K"), "--value", "absolute zero"),
    *(
        (("convert", "--value", f"{figure} cps", "--to", "cpm"), "--value", "")
        for figure in ("nan", "inf", "1e400", "0x10", "1_000", "١٢", "½", "1.2.3", "1,000", "1 000", "", "[/]", "\x1b")
    ),
]  # fmt: skip


@pytest.mark.parametrize(("words", "option", "part"), WRONG, ids=lambda value: str(value)[:60])
def test_each_wrong_value_names_its_option_and_what_is_allowed(
    words: tuple[str, ...], option: str, part: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nobody has to guess which of five values was refused."""
    (error,) = refused(capsys, "compute", *words)
    assert option in error["where"]
    assert part in error["message"]
    assert error["allowed"] or error["do"]


@pytest.mark.parametrize(
    ("reading", "verdict"), [("1.2", "pass"), ("1.2000000001", "fail"), ("0.8", "pass"), ("0.7999999999", "fail")]
)
def test_on_the_limit_passes_and_past_it_fails(reading: str, verdict: str, capsys: pytest.CaptureFixture[str]) -> None:
    """10 CFR 35.61(b), read: refused where the difference is *more than* 20 %. Plain floats get 1.2 wrong."""
    words = ["--reading", f"{reading} mR/h", "--expected", "1.0 mR/h", "--tolerance", "20 %"]
    assert main(["compute", "acceptance", *words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["verdict"] == verdict


# --- line mode -----------------------------------------------------------------------------------------------------


def test_a_page_of_nonsense_in_line_mode_is_answered_and_nothing_is_recorded(tmp_path: Path) -> None:
    """Pasted text, control characters, bytes that are no text: each is answered, and the journal is as it was."""
    said = b"\n".join(
        [
            b"nan", b"-1", b"1e400", b"0x10", b"[/]", b"\x1b[2J", b"\xe2\x80\xaeQO-01", b"\xff\xfe\x00", b"x" * 10_000,
            b"find [", b"find %", b"row 99", b"label 99", b"end 99", b"lock 99", b"'; DROP TABLE events; --", b'"quit"',
            b"one\rtwo\r\nthree", b"quit",
        ]
    )  # fmt: skip
    kept = str(tmp_path / "demo")
    command = [sys.executable, "-m", "checklist_tui", "demo", "--plain", "--keep", kept]

    def session(lines: bytes) -> subprocess.CompletedProcess[bytes]:
        return subprocess.run(command, input=lines, capture_output=True, timeout=60)

    def events() -> int:
        db = sqlite3.connect(tmp_path / "demo" / "demo.journal")
        count = int(db.execute("SELECT count(*) FROM events").fetchone()[0])
        db.close()
        return count

    assert session(b"quit\n").returncode == 0
    before = events()
    done = session(said)
    assert done.returncode == 0, done.stdout[-500:]
    assert b"Traceback" not in done.stdout + done.stderr
    assert b"\x1b" not in done.stdout + done.stderr
    assert events() == before
