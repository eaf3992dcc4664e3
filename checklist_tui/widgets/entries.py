"""What takes the value of a form's field: a line, a choice of a few. Those that take several are in `several`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Protocol

from rich.cells import cell_len
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.content import Content
from textual.events import Click, Key
from textual.geometry import Size
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Static

from checklist_tui.tables import wrapped
from checklist_tui.typing_in import FAST
from checklist_tui.widgets.field import Field
from procedures.asks import Option
from procedures.sheets import FormField

YES_NO: Final = (Option("yes", "yes"), Option("no", "no"))
NOTHING_YET: Final = "_" * 12
"""Stands in a field while nothing does: an example there would be taken for what was entered."""
_STEPS: Final = {"left": -1, "right": 1}
_NONE: Final = -1
_HANG: Final = 6
"""Cells before the words of an option: its sign and its number."""


class Next(Message):
    """This field is done, the next one has its turn."""


class Chosen(Message):
    """Another option was chosen."""


class Entry(Protocol):
    """What every entry can do."""

    def value(self) -> str:
        """What stands in it. Raises Trouble for what cannot be taken."""

    def put(self, value: str) -> None:
        """Puts a value into it."""

    def begin(self) -> None:
        """Takes the focus."""

    def empty(self) -> None:
        """Takes everything out of it."""


class LineEntry(Horizontal):
    """One line: text, a date, a figure with its unit, a label, a PIN."""

    def __init__(self, field: FormField, help_text: str) -> None:
        super().__init__(classes="line")
        self._asks = field
        self._field = Field(NOTHING_YET, value=field.value, help_text=help_text)
        self._field.password = field.kind == "secret"
        # What is scanned or typed at a filled field takes the place of what stood there: "340" and then "340 kBq" must
        # not come to "340340 kBq". An arrow key first, and it is changed in place.
        self._field.select_on_focus = True

    def compose(self) -> ComposeResult:
        yield self._field
        if self._asks.unit:
            yield Static(Content(self._asks.unit), classes="unit", markup=False)

    def value(self) -> str:
        return self._field.taken()

    def put(self, value: str) -> None:
        self._field.value = value

    def begin(self) -> None:
        self._field.focus()

    def empty(self) -> None:
        self._field.reset()

    def on_field_sent(self, event: Field.Sent) -> None:
        event.stop()
        self.post_message(Next())


@dataclass(frozen=True, slots=True)
class Piece:
    """Some words of option `index` in a line, from its cell `first` on."""

    index: int
    first: int
    words: str


def flowed(options: Sequence[str], width: int) -> list[list[Piece]]:
    """Options one after another in lines of `width` cells. One that is longer has lines of its own, hanging."""
    lines: list[list[Piece]] = [[]]
    at = 0
    for index, words in enumerate(options):
        parts = wrapped(words, width, hang=_HANG)
        wide = cell_len(parts[0])
        if lines[-1] and (len(parts) > 1 or at + wide > width):
            lines.append([])
            at = 0
        lines[-1].append(Piece(index, at, parts[0]))
        lines += [[Piece(index, 0, each)] for each in parts[1:]]
        # Behind an option of several lines nothing else stands.
        at = at + wide + 2 if len(parts) == 1 else max(1, width)
    return lines


class ChoiceEntry(Widget, can_focus=True):
    """One of a few. Shows the one chosen; with the focus it shows all of them."""

    def __init__(self, options: Sequence[Option], value: str, help_text: str, *, needed: bool) -> None:
        super().__init__()
        self.options = tuple(options)
        self.help_text = help_text
        self._needed = needed
        self._chosen = value
        self._settled = value
        self._last = float("-inf")

    # -- the value

    def value(self) -> str:
        return self._chosen

    def put(self, value: str) -> None:
        self._chosen = self._settled = value
        self.refresh(layout=True)

    def begin(self) -> None:
        self.focus()

    def empty(self) -> None:
        self.put("")

    def unscan(self) -> None:
        """What came too fast for fingers was a label, and chooses nothing."""
        self._chosen = self._settled
        self.refresh(layout=True)

    def choose_text(self, text: str) -> bool:
        """Chooses what `text` names by value or words; whether there is one."""
        word = text.casefold()
        for each in self.options:
            if word in (each.value.casefold(), each.say.casefold()):
                self.put(each.value)
                return True
        return False

    @property
    def _at(self) -> int:
        return next((at for at, each in enumerate(self.options) if each.value == self._chosen), _NONE)

    # -- keys and taps

    def on_key(self, event: Key) -> None:
        to = self._meant(event)
        if to is None:
            return
        now = float(getattr(self.screen, "now", lambda: 0.0)())
        if now - self._last >= FAST:
            self._settled = self._chosen
        self._last = now
        self._chosen = self.options[to].value if to != _NONE else ""
        self.refresh(layout=True)
        self.post_message(Chosen())

    def _meant(self, event: Key) -> int | None:
        """The option that a key chooses, _NONE for none of them, None for a key that chooses nothing."""
        if not self.options:
            return None
        if step := _STEPS.get(event.key):
            return (self._at + step) % len(self.options) if self._at != _NONE else 0 if step > 0 else -1
        if event.key in ("backspace", "delete") and not self._needed:
            return _NONE
        character = (event.character or "").casefold()
        if character.isdecimal() and character.isascii():
            return int(character) - 1 if 0 < int(character) <= len(self.options) else None
        if len(character) == 1 and character.isprintable() and character.strip():
            fitting = [at for at, each in enumerate(self.options) if each.say.casefold().startswith(character)]
            return next((at for at in fitting if at > self._at), fitting[0]) if fitting else None
        return None

    def on_click(self, event: Click) -> None:
        event.stop()
        place = event.get_content_offset(self)
        lines = flowed(self._words(), self.size.width)
        if self.has_focus and place is not None and place.y < len(lines):
            for each in lines[place.y]:
                if each.first <= place.x < each.first + cell_len(each.words):
                    self.put(self.options[each.index].value)
                    self.post_message(Chosen())
        self.focus()

    # -- what is shown

    def on_focus(self) -> None:
        self._settled = self._chosen
        self.refresh(layout=True)

    def on_blur(self) -> None:
        self.refresh(layout=True)

    def _words(self) -> list[str]:
        return [
            f"({'x' if at == self._at else ' '}) {f'{at + 1} ' if at < 9 else ''}{each.say}"
            for at, each in enumerate(self.options)
        ]

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        del container, viewport
        return len(self._lines(width))

    def _lines(self, width: int) -> list[Content]:
        if not self.has_focus:
            at = self._at
            shown = self.options[at].say if at != _NONE else self._chosen or "not chosen yet"
            style = "bold" if self._chosen else "$secondary"
            return [Content.styled(each, style) for each in wrapped(shown, width)]
        lines = []
        for line in flowed(self._words(), width):
            parts = [
                Content.styled(each.words, "bold reverse" if each.index == self._at else "$foreground") for each in line
            ]
            lines.append(Content("  ").join(parts).truncate(max(1, width), ellipsis=True))
        return lines or [Content("there is nothing to choose from")]

    def render(self) -> Content:
        return Content("\n").join(self._lines(self.size.width))
