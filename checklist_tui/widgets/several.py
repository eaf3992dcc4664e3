"""Entries that take several values one after another: readings, of which none vanishes, and rows, cell by cell."""

from __future__ import annotations

from typing import Final

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.message import Message
from textual.widgets import Static

from checklist_tui.tables import fit, heading, line, wrapped
from checklist_tui.widgets.entries import NOTHING_YET, Next
from checklist_tui.widgets.field import Field
from checklist_tui.widgets.press import Press
from checklist_tui.words import shorten
from procedures.sheets import Column, FormField, Row
from procedures.trouble import Trouble

REJECTED: Final = " ! "
"""Stands between a rejected reading and the reason for it."""
CELLS: Final = " | "
"""Stands between the cells of a row."""
TAKE_BACK: Final = "take-back"
_NUMBER: Final = 5
"""Cells for the number of a reading, set well apart from its figure."""


class Several(Vertical):
    """The values so far, and below them the field for the next one."""

    taking_back = ""

    class Taken(Message):
        """One more value was taken."""

    def __init__(self, field: FormField, help_text: str) -> None:
        super().__init__()
        self.asks = field
        self.lines: list[str] = field.value.splitlines()
        self._field = Field(NOTHING_YET, help_text=help_text)
        self._so_far = Static(classes="so-far", markup=False)
        self._which = Static(classes="which", markup=False)

    def compose(self) -> ComposeResult:
        yield self._so_far
        yield self._which
        yield self._field
        yield Press(f"{self.taking_back} (F6)", TAKE_BACK, classes="take-back")

    def on_mount(self) -> None:
        self.show()

    def on_resize(self) -> None:
        self.show()

    def show(self) -> None:
        """Shows what there is by now."""
        words = self.words(max(1, self.size.width))
        self._so_far.update(Content("\n").join(Content(each) for each in words))
        self._so_far.display = bool(words)
        self._which.update(Content(self.which()))
        self.query_one(Press).display = self.can_take_back

    def value(self) -> str:
        if self._field.taken():
            raise Trouble(self.unfinished, do="Press Enter in its field to enter it, or empty the field.")
        return "\n".join(self.lines)

    def put(self, value: str) -> None:
        self.lines = value.splitlines()
        self.show()

    def begin(self) -> None:
        self._field.focus()

    def empty(self) -> None:
        self._field.reset()
        self.put("")

    def on_field_sent(self, event: Field.Sent) -> None:
        event.stop()
        try:
            done = self.take(event.text)
        except Trouble as trouble:
            self._field.select_all()
            self.post_message(Field.Refused(event.field, trouble))
            return
        self.show()
        self.post_message(Next() if done else self.Taken())

    # -- what differs

    unfinished = "something was typed here and not entered"

    @property
    def can_take_back(self) -> bool:
        return bool(self.lines)

    def take(self, text: str) -> bool:
        """Takes what was sent; whether this field is done."""
        raise NotImplementedError

    def words(self, width: int) -> list[str]:
        """What there is so far, as lines."""
        raise NotImplementedError

    def which(self) -> str:
        """Which one comes next."""
        raise NotImplementedError


class ReadingsEntry(Several):
    """One figure for each Enter. A rejected one stays, with its reason."""

    taking_back = "Reject the last one"

    @property
    def can_take_back(self) -> bool:
        return bool(self.lines) and REJECTED not in self.lines[-1]

    @property
    def good(self) -> int:
        """Readings that count."""
        return sum(REJECTED not in each for each in self.lines)

    def take(self, text: str) -> bool:
        if not text:
            return True
        if not any(each.isdecimal() for each in text) or "!" in text:
            raise Trouble(f"“{shorten(text, 40)}” is no reading", allowed="a figure such as 1.62", do="Type it again.")
        if self.asks.reads is not None:
            self.asks.reads(text)
        self.lines.append(text)
        self._field.reset()
        return bool(self.asks.wanted) and self.good >= self.asks.wanted

    def reject(self, why: str) -> None:
        """Rejects the last reading."""
        if self.can_take_back:
            self.lines[-1] += f"{REJECTED}{why}"
            self.show()

    def words(self, width: int) -> list[str]:
        told = []
        for number, each in enumerate(self.lines, 1):
            figure, _, why = each.partition(REJECTED)
            said = f" × rejected: {why}" if why else self._understood(figure)
            first, *more = wrapped(f"{figure}{said}", max(1, width - _NUMBER))
            told += [f"{f'{number}.':<{_NUMBER}}{first}", *(f"{'':<{_NUMBER}}{part}" for part in more)]
        return told

    def _understood(self, figure: str) -> str:
        """What a reading comes to, which tells somebody that the selector stood elsewhere."""
        try:
            return f", that is {self.asks.reads(figure)}" if self.asks.reads is not None else ""
        except Trouble as trouble:
            return f" ! {trouble.what}"

    def which(self) -> str:
        return f"{self.good} of {self.asks.wanted}" if self.asks.wanted else f"{self.good} so far"


class RowsEntry(Several):
    """Rows typed cell by cell. The last one can be taken back and typed anew."""

    taking_back = "Remove the last one"
    unfinished = "a row was begun and is not complete"

    def __init__(self, field: FormField, help_text: str) -> None:
        super().__init__(field, help_text)
        self._cells: list[str] = []
        self._old: list[str] = []

    @property
    def can_take_back(self) -> bool:
        return bool(self.lines or self._cells)

    def value(self) -> str:
        if self._cells:
            raise Trouble(self.unfinished, do="Enter its other cells, or remove it with F6.")
        return super().value()

    def empty(self) -> None:
        self._cells, self._old = [], []
        super().empty()

    def take(self, text: str) -> bool:
        if not text and not self._cells:
            return True
        if "|" in text:
            raise Trouble("a cell cannot hold the sign |", do="Leave it out.")
        self._cells.append(text)
        if len(self._cells) >= max(1, len(self.asks.columns)):
            self.lines.append(CELLS.join(self._cells))
            self._cells, self._old = [], []
        self._prefill()
        return False

    def take_back(self) -> None:
        """One cell back; between rows, the last row, whose cells are offered again."""
        if self._cells:
            self._old = [*self._cells, *self._old[len(self._cells) :]]
            self._cells.pop()
        elif self.lines:
            self._old = self.lines.pop().split(CELLS)
        self._prefill()
        self.show()

    def _prefill(self) -> None:
        at = len(self._cells)
        self._field.reset()
        if at < len(self._old):
            self._field.value = self._old[at]
            # What is typed takes the place of what is offered again.
            self._field.select_all()

    def words(self, width: int) -> list[str]:
        columns = [Column(each) for each in self.asks.columns]
        rows = [Row(tuple(each.split(CELLS))) for each in self.lines]
        if self._cells:
            rows.append(Row((*self._cells, "…")))
        if not rows:
            return []
        fitted = fit(columns, rows, width)
        return [heading(columns, fitted, width), *(line(each, fitted, width) for each in rows)]

    def which(self) -> str:
        columns = self.asks.columns
        at = len(self._cells)
        name = columns[at] if at < len(columns) else "value"
        return f"row {len(self.lines) + 1}: {name}" + (f" ({at + 1} of {len(columns)})" if len(columns) > 1 else "")
