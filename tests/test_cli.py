"""The command line as other programs rely on it: exit codes, one JSON object, words on standard error."""

from __future__ import annotations

import argparse
import errno
import io
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import checklist_tui
from checklist_tui import cli, output
from checklist_tui.cli import COMMANDS, build_parser, main
from checklist_tui.commands.compute import CALCULATIONS
from checklist_tui.parsing import Parser, join_negative_values
from procedures.site.opening import create_site
from procedures.site.system import SystemClock
from procedures.trouble import Trouble

SETTLE = ("compute", "settle", "--time-constant", "3 s", "--residual", "1 %")


def run(*words: str, **more: object) -> subprocess.CompletedProcess[str]:
    """The program in a process of its own, with nothing to read."""
    command = [sys.executable, "-m", "checklist_tui", *words]
    given = {"stdin": subprocess.DEVNULL, "capture_output": True, "text": True, "timeout": 60} | more
    return subprocess.run(command, **given)  # type: ignore[call-overload,no-any-return]


# --- help ----------------------------------------------------------------------------------------------------------

EVERY = [
    (),
    *((name,) for name in COMMANDS),
    *(("profile", action) for action in ("check", "paths", "rehearse", "print", "compare", "schema")),
    *(("people", action) for action in ("list", "pin")),
    *(("inventory", action) for action in ("export", "import")),
    *(("exchange", action) for action in ("out", "heads", "in", "join")),
    *(("compute", calculation) for calculation in CALCULATIONS),
]


@pytest.mark.parametrize("words", EVERY, ids=" ".join)
def test_every_command_has_help_with_an_example(words: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    """An example shows more than a list of options; what it shows is a command of this program."""
    assert main([*words, "--help"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    example = out.split("\nexample:\n")[1]
    assert all(line.strip().startswith("checklist-tui") for line in example.strip().splitlines())
    assert "%%" not in out


def subcommands(parser: argparse.ArgumentParser) -> Iterator[str]:
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            yield from action.choices


def test_the_list_of_commands_above_is_complete() -> None:
    """A new command cannot do without help: this fails until it is in the list."""
    assert set(subcommands(build_parser())) == {words[0] for words in EVERY if words}
    for name in COMMANDS:
        parser = Parser(prog=name)
        import_module(f"checklist_tui.commands.{name}").configure(parser)
        assert {words[1] for words in EVERY if words[:1] == (name,) and words[1:]} == set(subcommands(parser)), name


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    """One line, on standard output."""
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"checklist-tui {checklist_tui.__version__}\n"


def test_a_command_is_imported_only_when_it_is_called() -> None:
    """`--version` loads no command, no screen, no schema, no units: in a fresh interpreter."""
    code = (
        "import sys; from checklist_tui.cli import main; main(['--version'])\n"
        "print([m for m in sys.modules if m.startswith(('checklist_tui.commands.', 'textual', 'pydantic', 'pint'))])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60).stdout
    assert out.splitlines()[1] == "[]"


# --- bad input -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "words",
    [
        ("stat",),
        ("compute",),
        ("compute", "settle"),
        ("compute", "settle", "--time-constant"),
        ("compute", "settle", "--tim", "3 s", "--residual", "1 %"),
        ("--colour",),
        ("status", "extra\x1b[2J"),
        ("profile", "check"),
        ("--data",),
        ("status", "--data", ""),
    ],
    ids=" ".join,
)
def test_a_wrong_command_line_is_answered_in_a_few_lines(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit 2, nothing on standard output, what to do on standard error, no control characters."""
    assert main(list(words)) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("checklist-tui: ")
    assert "Do: " in err
    assert "\x1b" not in err
    assert len(err.splitlines()) <= 4


def test_errors_are_json_too_when_json_is_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    """One object on standard output, the same in words on standard error, for wrong usage and wrong values alike."""
    for words in (
        ["compute", "settle", "--json"],
        [*SETTLE[:-1], "200 %", "--json"],
        ["status", "--data", "", "--json"],
    ):
        assert main(list(words)) == 2
        out, err = capsys.readouterr()
        answer = json.loads(out)
        assert answer["ok"] is False
        assert answer["errors"][0]["message"]
        assert answer["errors"][0]["message"] in err


def test_no_site_in_the_folder_offers_the_demo(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Whoever just installed the program finds the way on."""
    assert main(["status", "--data", str(tmp_path)]) == 2
    err = capsys.readouterr().err
    assert str(tmp_path) in err
    assert "checklist-tui demo" in err


def test_a_file_as_folder_is_trouble_in_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Not a folder: said, not crashed."""
    file = tmp_path / "file"
    file.write_text("")
    assert main(["status", "--data", str(file)]) == 2
    assert "Traceback" not in capsys.readouterr().err


@pytest.mark.parametrize("words", [(), ("demo",)], ids=["open", "demo"])
def test_without_a_terminal_line_mode_is_offered(words: tuple[str, ...], tmp_path: Path) -> None:
    """The terminal interface would start on a pipe and exit 0; a script must not take that for success."""
    done = run(*words, *(("--data", str(tmp_path)) if not words else ()))
    assert done.returncode == 2
    assert "--plain" in done.stderr
    assert done.stdout == ""


@given(st.lists(st.one_of(st.sampled_from(["--a", "--bc", "-", "--", "x"]), st.text("-0123.,a =", max_size=5))))
def test_joining_negative_values_keeps_every_character(words: list[str]) -> None:
    """Only spaces between an option and its value are replaced by an equals sign; nothing else changes."""
    joined = join_negative_values(words)
    assert [part for word in joined for part in _apart(word, words)] == words


def _apart(word: str, words: list[str]) -> list[str]:
    option, equals, value = word.partition("=")
    return [word] if word in words or not equals else [option, value]


# --- status --------------------------------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A site with one instrument that was never checked and one that was locked out by hand."""
    from procedures.site.clearing import lock_by_hand
    from procedures.site.inventory import register_instrument, register_person

    with create_site(tmp_path, SystemClock(), station="a1b2c3d4e5f60718", name="North", zone="Etc/UTC") as site:
        register_instrument(site, label="C-101", serial="1", type="vented chamber", profile="vented-chamber")
        bad = register_instrument(site, label="C-102", serial="2", type="vented chamber", profile="vented-chamber")
        lead = register_person(site, label="B-1", name="A. Person", initials="AP", roles=("lead",), trained_until=None)
        lock_by_hand(site, bad, lead, "It was dropped")
    return tmp_path


def test_status_in_words_says_fitness_first(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An instrument a line, why it is not ready, what is due; exit 0 whatever the fitness."""
    assert main(["status", "--data", str(folder)]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    (checked,) = [line for line in out.splitlines() if "C-101" in line]
    assert checked.startswith("NEEDS CHECK: C-101, vented chamber.")
    (locked,) = [line for line in out.splitlines() if "C-102" in line]
    assert locked.startswith("LOCKED OUT: C-102, vented chamber. It was dropped.")


def test_status_as_json_has_every_key_and_a_lockout_stands(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The keys that other programs rely on; --data may stand before the command too."""
    assert main(["--data", str(folder), "status", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["ok"] is True
    first, second = answer["instruments"]
    keys = (
        "label serial type fitness why reasons ready_until whereabouts holder contaminated calibration_due due checkout"
    )
    assert set(keys.split()) <= set(first)
    assert (first["label"], first["fitness"], first["ready_until"]) == ("C-101", "needs check", None)
    assert (second["label"], second["fitness"], second["reasons"]) == ("C-102", "locked out", ["by-hand"])


def test_status_loads_neither_schema_nor_units_nor_screens(folder: Path) -> None:
    """It may be asked every minute by a program on a small machine: in a fresh interpreter."""
    code = (
        f"import sys; from checklist_tui.cli import main; main(['status', '--data', {str(folder)!r}])\n"
        "print([m for m in sys.modules if m.split('.')[0] in ('textual', 'pydantic', 'pint', 'tree_sitter')])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60).stdout
    assert out.splitlines()[-1] == "[]"


# --- streams that fail ---------------------------------------------------------------------------------------------


class Failing(io.StringIO):
    """A stream that cannot be written."""

    encoding = "utf-8"

    def __init__(self, fault: OSError) -> None:
        super().__init__()
        self._fault = fault

    def write(self, _text: str) -> int:
        raise self._fault


def test_a_full_disk_behind_standard_output_is_said(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit 74: an answer that was not written must not look like success."""
    monkeypatch.setattr(sys, "stdout", Failing(OSError(errno.ENOSPC, "No space left on device")))
    assert main(list(SETTLE)) == output.OUTPUT_LOST
    monkeypatch.undo()
    assert "No space left on device" in capsys.readouterr().err


def test_a_reader_that_went_away_ends_quietly(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """`| head` closes the pipe: no words, and the code that shells give for it."""
    monkeypatch.setattr(sys, "stdout", Failing(BrokenPipeError(errno.EPIPE, "Broken pipe")))
    assert main(list(SETTLE)) == output.BROKEN_PIPE
    monkeypatch.undo()
    assert capsys.readouterr().err == ""


@pytest.mark.skipif(os.name != "posix", reason="closes a file descriptor")
def test_a_closed_pipe_in_a_real_process() -> None:
    """The interpreter's own last flush must not complain either."""
    readable, writable = os.pipe()
    os.close(readable)
    try:
        done = run(*SETTLE, stdout=writable, stderr=subprocess.PIPE, capture_output=False)
    finally:
        os.close(writable)
    assert (done.returncode, done.stderr) == (output.BROKEN_PIPE, "")


def test_no_standard_output_at_all(monkeypatch: pytest.MonkeyPatch) -> None:
    """Started without one (sys.stdout is None): the answer is lost, and the code says so."""
    monkeypatch.setattr(sys, "stdout", None)
    assert main(list(SETTLE)) == output.OUTPUT_LOST


def test_an_interrupt_exits_130(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """Ctrl-C is no error of the program."""

    def interrupted(_words: list[str]) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(cli, "_run", interrupted)
    assert main(["status"]) == 130
    assert capsys.readouterr() == ("", "")


def test_a_fault_of_the_program_is_written_to_a_file_and_named(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Exit 70; the traceback is in the file without local variables, and not on the terminal."""

    def faulty(_words: list[str]) -> int:
        secret_of_a_person = "J. Doe"
        raise ZeroDivisionError(len(secret_of_a_person))

    monkeypatch.setattr(cli, "_run", faulty)
    assert main(["status", "--data", str(tmp_path)]) == 70
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    (file,) = [path for path in tmp_path.rglob("*.txt") if str(path) in err]
    assert "ZeroDivisionError" in file.read_text("utf-8")
    assert "J. Doe" not in file.read_text("utf-8").replace('secret_of_a_person = "J. Doe"', "")


@pytest.mark.parametrize("words", [["demo", "--keep"], ["--plain", "--data"]], ids=["demo kept", "site named"])
def test_the_report_of_a_fault_goes_to_the_records_in_use(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path, words: list[str]
) -> None:
    """It used to go to the user's own records when a demo was kept elsewhere; and it spoke of a checkout."""

    def faulty(_words: list[str]) -> int:
        raise ZeroDivisionError

    monkeypatch.setattr(cli, "_run", faulty)
    assert main([*words, str(tmp_path)]) == 70
    kept, where = capsys.readouterr().err.splitlines()
    assert "checkout" not in kept
    assert where.endswith(str(next((tmp_path / "crash").iterdir())))


# --- text on plain streams -----------------------------------------------------------------------------------------


@given(st.text(), st.sampled_from(["ascii", "cp437", "latin-1", "utf-8", "cp1252"]))
def test_any_text_can_be_printed_in_any_encoding(text: str, encoding: str) -> None:
    """No text of a person or file stops the program or reaches the terminal as a control character."""
    shown = output.fitted(text, encoding)
    shown.encode(encoding)
    assert all(c.isprintable() or c == "\n" for c in shown)


def test_signs_are_spelt_out_where_the_encoding_lacks_them() -> None:
    """µSv must never become Sv or ?Sv."""
    assert output.fitted("“5 µSv/h” ± 1 °C", "ascii") == '"5 uSv/h" +/- 1 degC'
    assert output.fitted("5 µSv/h", "utf-8") == "5 µSv/h"


def test_json_is_ascii_and_strict(capsys: pytest.CaptureFixture[str]) -> None:
    """A lone surrogate (a file name that is no text) is replaced; NaN is refused, since JSON has none."""
    output.write_json({"file": "\udcff.toml", "unit": "µSv/h"})
    out = capsys.readouterr().out
    assert out.isascii()
    assert json.loads(out) == {"file": "?.toml", "unit": "µSv/h"}
    with pytest.raises(ValueError, match="JSON compliant"):
        output.write_json({"value": float("nan")})


def test_trouble_is_told_in_lines(capsys: pytest.CaptureFixture[str]) -> None:
    """What, where, what is allowed, what to do."""
    output.complain_of(Trouble("it is wrong", where="--value", allowed="right", do="Mend it."))
    assert capsys.readouterr().err == "checklist-tui: --value: it is wrong\nAllowed: right\nDo: Mend it.\n"
