"""Line mode of the installed program on a real pseudo-terminal: no cursor movement, clean ends, refusals."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from desk_walk import small_site

from checklist_tui import output
from procedures.site.opening import create_site, open_site
from procedures.site.status import people
from procedures.site.system import SystemClock

pty = pytest.importorskip("pty", reason="this system has no pseudo-terminals")
termios = pytest.importorskip("termios", reason="this system has no terminals of this kind")

PROGRAM = Path(sys.executable).with_name("checklist-tui")
PATIENCE = 30.0  # seconds until a program that says nothing is given up

pytestmark = pytest.mark.skipif(not PROGRAM.exists(), reason="the command is not installed beside this interpreter")


class Terminal:
    """A person at a pseudo-terminal: reads what is said and types lines."""

    def __init__(self, *words: str, columns: int = 500) -> None:
        self._own, other = pty.openpty()
        termios.tcsetwinsize(other, (24, columns))
        self.said = ""
        self._seen = 0
        around = {name: value for name, value in os.environ.items() if name != "COLUMNS"}
        self.process = subprocess.Popen(
            [str(PROGRAM), *words], stdin=other, stdout=other, stderr=other, start_new_session=True, env=around
        )
        os.close(other)

    def wait_for(self, text: str) -> None:
        """Read on until `text` was said after what was waited for last; it is what a person would answer to."""
        while (found := self.said.find(text, self._seen)) < 0:
            assert self._read(), self.said
        self._seen = found + len(text)

    def _read(self) -> bool:
        """Take what was said next; False when there is no more to come, and a failure when nothing comes."""
        ready, _, _ = select.select([self._own], [], [], PATIENCE)
        assert ready, self.said
        try:
            chunk = os.read(self._own, 4096)
        except OSError:  # the other side was closed
            return False
        self.said += chunk.decode("utf-8", "replace")
        return bool(chunk)

    def type(self, line: str) -> None:
        os.write(self._own, line.encode() + b"\n")

    def send(self, raw: bytes) -> None:
        os.write(self._own, raw)

    def code(self) -> int:
        """The exit code, with everything said until then."""
        while self._read():
            pass
        return self.process.wait(PATIENCE)

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        os.close(self._own)


@contextmanager
def terminal(*words: str, columns: int = 500) -> Iterator[Terminal]:
    made = Terminal(*words, columns=columns)
    try:
        yield made
    finally:
        made.close()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A real site without any instrument."""
    create_site(tmp_path, SystemClock(), station="a1b2c3d4e5f60718", name="North", zone="Etc/UTC").close()
    return tmp_path


def test_line_mode_talks_on_a_terminal_and_quits(folder: Path) -> None:
    """Plain lines: no escape sequence, and no carriage return but the terminal's own before each line feed."""
    with terminal("--plain", "--data", str(folder)) as screen:
        screen.wait_for("for help: ")
        screen.type("?")
        screen.wait_for("for help: ")
        screen.type("quit")
        assert screen.code() == 0
        assert "Site North" in screen.said
        assert "\x1b" not in screen.said
        assert "\r" not in screen.said.replace("\r\n", "\n")


def test_no_word_is_broken_at_the_edge_of_the_terminal(folder: Path) -> None:
    """The help has lines of 100 characters; in 40 columns each of them ends with a whole word."""
    with terminal("--plain", "--data", str(folder), columns=40) as screen:
        screen.wait_for("help: ")
        screen.type("?")
        screen.wait_for("help: ")
        assert max(map(len, screen.said.split("\r\n"))) < 40
        assert "in the list, or scan or type its label" in " ".join(screen.said.split())


@pytest.mark.parametrize(
    ("raw", "code"), [(b"\x04", 0), (b"\x03", 130)], ids=["end of input", "interrupt from the keyboard"]
)
def test_keys_that_end_the_input(folder: Path, raw: bytes, code: int) -> None:
    """Ctrl-D and Ctrl-C leave cleanly, in words; nothing was begun, so the end of input is no failure."""
    with terminal("--plain", "--data", str(folder)) as screen:
        screen.wait_for("for help: ")
        if raw == b"\x03":
            screen.process.send_signal(signal.SIGINT)
        else:
            screen.send(raw)
        assert screen.code() == code
        assert "Traceback" not in screen.said


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP], ids=["asked to end", "hung up"])
def test_signals_end_it_cleanly(folder: Path, number: signal.Signals) -> None:
    """128 + n, and said."""
    with terminal("--plain", "--data", str(folder)) as screen:
        screen.wait_for("for help: ")
        screen.process.send_signal(number)
        assert screen.code() == 128 + number
        assert f"Asked to leave ({number.name})." in screen.said


def test_asked_to_end_in_the_middle_of_a_checkout_it_is_paused(tmp_path: Path) -> None:
    """The answers before are in the record, and the next start finds the checkout standing still."""
    small_site(tmp_path, SystemClock()).close()  # type: ignore[arg-type]  # any clock will do
    words = ("--plain", "--data", str(tmp_path), "--instrument", "C-1", "--person", "P-2")
    with terminal(*words) as screen:
        screen.wait_for("Answer: ")
        screen.type("C-1")
        screen.wait_for("Whole, dry")
        screen.wait_for("Answer: ")
        screen.process.send_signal(signal.SIGTERM)
        assert screen.code() == 128 + signal.SIGTERM
        assert "C-1 is paused. Everything is kept." in screen.said
    with terminal(*words) as screen:
        screen.wait_for("Was the instrument switched off since?")
        screen.wait_for("Answer: ")
        screen.send(b"\x04")
        assert screen.code() == output.PAUSED


def test_the_demo_begins_a_checkout_and_keeps_it(tmp_path: Path) -> None:
    """The installed demo on a terminal: marked as such, a checkout begun and paused, found again in the kept folder."""
    kept = str(tmp_path / "kept")
    with terminal("demo", "--plain", "--keep", kept) as screen:
        screen.wait_for("for help: ")
        assert screen.said.startswith("DEMO. Nothing here is a real instrument.")
        needs_check = next(line for line in screen.said.splitlines() if "NEEDS CHECK" in line)
        screen.type(needs_check.partition(".")[0])
        screen.wait_for("Scan or type a badge, initials or name: ")
        with open_site(Path(kept), SystemClock(), marking="demo") as site:
            person = next(each for each in people(site) if not each.may_check)
        screen.type(person.label)
        screen.wait_for("Answer: ")
        screen.type("pause")
        screen.wait_for("for help: ")
        screen.type("quit")
        assert screen.code() == output.PAUSED
    with terminal("demo", "--plain", "--keep", kept) as screen:
        screen.wait_for("for help: ")
        assert "A checkout is open." in screen.said
        screen.type("quit")
        assert screen.code() == 0


def test_piped_lines_are_taken_in_the_demo(tmp_path: Path) -> None:
    """A script may try the program; the records of the demo are no real ones, and say so wherever they are read."""
    words = [str(PROGRAM), "demo", "--plain", "--keep", str(tmp_path)]
    done = subprocess.run(words, input="?\nopen\nquit\n", capture_output=True, text=True, timeout=PATIENCE)
    assert done.returncode == 0
    assert "No checkout stands open." in done.stdout
    words = [str(PROGRAM), "status", "--data", str(tmp_path)]
    done = subprocess.run(words, capture_output=True, text=True, timeout=PATIENCE)
    assert done.returncode == output.OK
    assert done.stdout.startswith("DEMO. Nothing here is a real instrument.")


def test_piped_input_is_refused_for_a_real_site(folder: Path) -> None:
    """An answer that nobody typed is no observation."""
    done = subprocess.run(
        [str(PROGRAM), "--plain", "--data", str(folder)],
        input="quit\n",
        capture_output=True,
        text=True,
        timeout=PATIENCE,
    )
    assert done.returncode == output.BAD_INPUT
    assert "nobody observed" in done.stderr
    assert done.stdout == ""


def test_the_terminal_interface_is_refused_when_its_output_is_no_terminal(folder: Path) -> None:
    """Input alone being a terminal is not enough; --plain is offered."""
    own, other = pty.openpty()
    try:
        done = subprocess.run(
            [str(PROGRAM), "--data", str(folder)], stdin=other, capture_output=True, text=True, timeout=PATIENCE
        )
    finally:
        os.close(other)
        os.close(own)
    assert done.returncode == output.BAD_INPUT
    assert "standard output is no terminal" in done.stderr
    assert "--plain" in done.stderr


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP], ids=lambda number: number.name)
def test_the_screens_end_cleanly_when_a_signal_asks_for_it(folder: Path, number: signal.Signals) -> None:
    """Not the line mode but the screens: the terminal is as it was, and the exit code names the signal."""
    with terminal("--data", str(folder), columns=80) as screen:
        screen.wait_for("scan or type")
        screen.process.send_signal(number)
        assert screen.code() == 128 + number
        for restored in ("\x1b[?1049l", "\x1b[?25h", "\x1b[?1000l"):  # first screen, cursor, no mouse reports
            assert restored in screen.said
        assert "Traceback" not in screen.said
