"""Asking and telling, line by line, while the waits of every open checkout run on.

Whatever waits for a line looks at the waits four times a second: one that ends calls for its instrument by name.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from checklist_tui import output
from checklist_tui.line_input import LONGEST_LINE, End, Line, Lines
from checklist_tui.line_words import sentence
from checklist_tui.use_cases import UseCases
from checklist_tui.watch import Call, Watch
from checklist_tui.words import plural
from procedures.trouble import Trouble

LOOK_EVERY: Final = 0.25
"""Seconds between two looks at the waits. A hold is broken by a gap of more than one second."""


class InputEnded(Exception):  # noqa: N818  the end of a conversation is no error
    """No more lines will come. Whoever began the conversation pauses what is open."""

    def __init__(self, end: End) -> None:
        super().__init__(end.say)
        self.end = end


class Quit(Exception):  # noqa: N818  control flow
    """The person leaves the program."""


class Talk:
    """A conversation on two streams. `write` prints text and flushes it; `ring` calls somebody, where that is wanted.

    The bell is no text: what is written has every control character taken out.
    """

    def __init__(
        self, use_cases: UseCases, lines: Lines, write: Callable[[str], None], ring: Callable[[], None] | None = None
    ) -> None:
        self.use_cases = use_cases
        self.watch = Watch(use_cases)
        self._lines = lines
        self._write = write
        self._ring = ring
        self._called: dict[str, Call] = {}

    def tell(self, *lines: str) -> None:
        """Say lines, each on its own."""
        if lines:
            self._put("\n".join(lines) + "\n")

    def tell_trouble(self, trouble: Trouble) -> None:
        """What is wrong, what is allowed, what to do."""
        first, *rest = trouble.lines()
        self.tell(*(sentence(line) for line in (f"Not taken: {first}", *rest)))

    def ask(self, prompt: str, front: str = "") -> str:
        """The next line that a person types after `prompt`, without spaces at its ends.

        Lines typed before it was asked are dropped: nobody can have answered a question they had not seen. `front` is
        the checkout being talked about. Raises InputEnded.
        """
        self._drop_typed_ahead()
        self._put(f"{prompt}: ")
        while True:
            said = self._news(front)
            if said:
                self._put("\n" + "\n".join(said) + f"\n{prompt}: ")
            line = self._heard(self._lines.next(LOOK_EVERY))
            if line is None:
                continue
            if line.cut:
                self.tell(f"That line was longer than {LONGEST_LINE} characters and was not taken.")
                self._put(f"{prompt}: ")
                continue
            return output.clean(line.text).strip()

    def ask_secret(self, prompt: str) -> str:
        """As `ask`, while the terminal does not show what is typed. Raises Trouble where it cannot be hidden."""
        with self._lines.hidden():
            text = self.ask(f"{prompt} (not shown)")
        self.tell("")
        return text

    def listen(self, front: str) -> str | None:
        """A line typed while `front` waits, or None when a moment passed without one. Raises InputEnded.

        Of piped input nothing is read ahead during a wait: its lines are for the questions to come.
        """
        if self._lines.piped:
            self._heard(self._lines.rest(LOOK_EVERY))
            line = None
        else:
            line = self._heard(self._lines.next(LOOK_EVERY))
        self.tell(*self._news(front))
        return None if line is None else output.clean(line.text).strip()

    def ring(self) -> None:
        """Somebody is called."""
        if self._ring is not None:
            self._out(self._ring)

    def _news(self, front: str) -> list[str]:
        """What happened in the waits since the last look, in the checkouts that are not being talked about."""
        ticked = self.watch.tick(front)
        called = [call for checkout, call in self.watch.calls.items() if self._called.get(checkout) != call]
        self._called = dict(self.watch.calls)
        if called or front in ticked.ended:
            self.ring()
        return [sentence(f"{call.label}: {call.say}") for call in called if call.checkout != front]

    def _drop_typed_ahead(self) -> None:
        dropped = self._lines.drop()
        if dropped:
            self.tell(f"{plural(dropped, 'line')} typed before the question: not taken.")

    def _heard(self, found: Line | End | None) -> Line | None:
        if isinstance(found, End):
            raise InputEnded(found)
        return found

    def _put(self, text: str) -> None:
        self._out(lambda: self._write(text))

    def _out(self, act: Callable[[], None]) -> None:
        try:
            act()
        except OSError as fault:
            code = output.BROKEN_PIPE if isinstance(fault, BrokenPipeError) else output.OUTPUT_LOST
            raise InputEnded(End("Nobody can read what is said here any longer.", code)) from fault
