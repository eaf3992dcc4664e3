"""Lines typed by a person, one at a time, with a time limit on each look: the ear of line mode.

A thread reads bytes from the stream, because a blocked buffered read could not be given up when a wait ends or the
program leaves. It only listens; whoever asks a question decides what a line means.
"""

from __future__ import annotations

import codecs
import os
import queue
import select
import signal
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from dataclasses import dataclass
from typing import Any, Final, Protocol

from checklist_tui import output
from procedures.trouble import Trouble

LONGEST_LINE: Final = 2000
"""Characters. A longer line is no answer to anything; it is cut, and marked as cut."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line without its end. `cut` says that it was longer than LONGEST_LINE."""

    text: str
    cut: bool = False


@dataclass(frozen=True, slots=True)
class End:
    """No more lines will come: the input ended, or a signal asks the program to leave. `code` is its exit code then."""

    say: str = "The input has ended."
    code: int = output.PAUSED


class Lines(Protocol):
    """Where line mode gets its lines from.

    `piped` says that a program writes them, not a person at a terminal: then each line waits for its question.
    """

    piped: bool

    def next(self, seconds: float) -> Line | End | None:
        """The next line, waiting `seconds` for it at most; None when none came."""

    def rest(self, seconds: float) -> End | None:
        """Let `seconds` pass without taking a line; an End only when a signal asks the program to leave."""

    def drop(self) -> int:
        """Forget the lines of a person that came before anything was asked, and say how many there were."""

    def hidden(self) -> AbstractContextManager[None]:
        """While this lasts the terminal does not show what is typed. Raises Trouble where it cannot be hidden."""


class LineCutter:
    """Cuts bytes as they come into lines: after LF, CR or CR LF. Wrong bytes become replacement characters."""

    def __init__(self, encoding: str) -> None:
        self._decoder = codecs.getincrementaldecoder(encoding)("replace")
        self._text = ""
        self._cut = False
        self._after_return = False

    def feed(self, chunk: bytes, *, final: bool = False) -> list[Line]:
        """The lines that this chunk completes. At the end (`final`) a last line without an end counts as one."""
        lines: list[Line] = []
        for character in self._decoder.decode(chunk, final):
            if character == "\n" and self._after_return:
                self._after_return = False
                continue
            self._after_return = character == "\r"
            if character in "\r\n":
                lines.append(self._take())
            elif len(self._text) < LONGEST_LINE:
                self._text += character
            else:
                self._cut = True
        if final and self._text:
            lines.append(self._take())
        return lines

    def _take(self) -> Line:
        line = Line(self._text, self._cut)
        self._text, self._cut = "", False
        return line


class StreamLines:
    """The lines of a file descriptor, read by a thread of its own."""

    def __init__(self, descriptor: int, *, encoding: str, piped: bool) -> None:
        self.piped = piped
        self._descriptor = descriptor
        self._cutter = LineCutter(encoding)
        self._lines: queue.SimpleQueue[Line | End] = queue.SimpleQueue()
        self._end: End | None = None
        threading.Thread(target=self._listen, name="line input", daemon=True).start()

    def next(self, seconds: float) -> Line | End | None:
        if self._end is None:
            try:
                found = self._lines.get(timeout=max(seconds, 0.001))
            except queue.Empty:
                return self._end
            if isinstance(found, Line) and self._end is None:
                return found
            self._end = self._end or (found if isinstance(found, End) else None)
        return self._end

    def rest(self, seconds: float) -> End | None:
        time.sleep(seconds)
        return self._end if self._end is not None and self._end.code != output.PAUSED else None

    def drop(self) -> int:
        if self.piped:
            return 0
        self._let_reader_catch_up()
        dropped = 0
        with suppress(queue.Empty):
            while True:
                found = self._lines.get_nowait()
                if isinstance(found, End):
                    self._end = found
                    break
                dropped += 1
        return dropped

    def _let_reader_catch_up(self) -> None:
        """Wait until the thread has read what the terminal holds: a line waiting there was typed ahead too."""
        for _ in range(50):
            time.sleep(0.002)  # lets the thread hand over what it has just read
            try:
                if not select.select([self._descriptor], [], [], 0)[0]:
                    return
            except (OSError, ValueError):  # Windows selects on sockets only
                return

    @contextmanager
    def hidden(self) -> Iterator[None]:
        cannot = Trouble(
            "a PIN is typed at a terminal that does not show it, and this is none",
            allowed="a terminal that can hide what is typed",
            do="Use the screens (without --plain), or another terminal.",
        )
        try:
            import termios
        except ImportError:  # Windows
            raise cannot from None
        try:
            before = termios.tcgetattr(self._descriptor)
        except termios.error:
            raise cannot from None
        quiet = [*before]
        quiet[3] &= ~termios.ECHO
        try:
            termios.tcsetattr(self._descriptor, termios.TCSADRAIN, quiet)
            yield
        finally:
            termios.tcsetattr(self._descriptor, termios.TCSADRAIN, before)

    def stop(self, end: End) -> None:
        """From now on nothing but `end` comes, whatever was typed. Safe to call in a signal handler."""
        self._end = end

    def _listen(self) -> None:
        while True:
            try:
                chunk = os.read(self._descriptor, 4096)
            except InterruptedError:
                continue
            except OSError:  # the terminal was closed
                chunk = b""
            for line in self._cutter.feed(chunk, final=not chunk):
                self._lines.put(line)
            if not chunk:
                self._lines.put(End())
                return


def standard_input() -> StreamLines:
    """The lines of this process's standard input, in the encoding of its terminal."""
    descriptor = sys.stdin.fileno()
    encoding = os.device_encoding(descriptor) or sys.stdin.encoding or "utf-8"
    return StreamLines(descriptor, encoding=encoding, piped=not os.isatty(descriptor))


@contextmanager
def leaving_on_signals(lines: StreamLines) -> Iterator[None]:
    """While this lasts, an interrupt, a hang-up or a request to end closes the input instead of killing the program.

    So no record is cut in the middle, and what is open can be paused.
    """

    def leave(number: int, _frame: Any) -> None:
        lines.stop(End(f"Asked to leave ({signal.Signals(number).name}).", 128 + number))

    names = ("SIGINT", "SIGTERM", "SIGHUP")  # Windows has no SIGHUP
    before = {number: signal.signal(number, leave) for name in names if (number := getattr(signal, name, None))}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
