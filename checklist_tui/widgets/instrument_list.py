"""The site's instruments, one a line: fitness, what is due, whereabouts. Pages; it never holds more than it shows."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Final

from textual.content import Content
from textual.events import Click, Resize
from textual.message import Message
from textual.widget import Widget

from checklist_tui.symbols import contamination, fitness, whereabouts
from checklist_tui.words import day_time, shorten
from procedures.site.views import InstrumentRow

NOTHING: Final = -1
"""The place of the mark while no instrument is marked."""
NO_HIT: Final = "No instrument fits this. Empty the field to see all."
NONE_YET: Final = "There is no instrument here yet. F3 leads to: A new instrument."
_LEAST_KIND = 10
_LEAST_SIGN = 14
_NEVER = datetime(1970, 1, 1, tzinfo=UTC)


class InstrumentList(Widget, can_focus=True):
    """Up and Down mark a line; Enter or a tap opens it. A line decides nothing: that takes a button."""

    help_text = (
        "Up and Down mark an instrument, Page Up and Page Down turn the page, Enter opens it. "
        "Scanning its label opens it at once."
    )

    class Opened(Message):
        """A person opens the instrument."""

        def __init__(self, row: InstrumentRow) -> None:
            self.row = row
            super().__init__()

    class Roomy(Message):
        """Another number of lines fits."""

        def __init__(self, lines: int) -> None:
            self.lines = lines
            super().__init__()

    def __init__(self) -> None:
        super().__init__()
        self.rows: tuple[InstrumentRow, ...] = ()
        self.at = NOTHING
        self._about = ""
        self._now = _NEVER
        self.empty = NO_HIT

    def show(self, rows: tuple[InstrumentRow, ...], now: datetime) -> None:
        """Another page, or the same one later. The mark stays with its instrument: it goes and comes with that."""
        self.rows, self._now = rows, now
        self.mark(self._about or (rows[0].id if rows else ""))

    def mark(self, instrument: str) -> None:
        """Marks this instrument; nothing when it is not on the page, so that no key is about one nobody chose."""
        self._about = instrument
        self.at = next((at for at, each in enumerate(self.rows) if each.id == instrument), NOTHING)
        self.refresh()

    @property
    def marked(self) -> InstrumentRow | None:
        return self.rows[self.at] if 0 <= self.at < len(self.rows) else None

    def move(self, step: int) -> bool:
        """Marks the next line; False at the end of the page. Where nothing is marked it begins at an end."""
        to = self.at + step if self.at != NOTHING else 0 if step > 0 else len(self.rows) - 1
        if not 0 <= to < len(self.rows):
            return False
        self.mark(self.rows[to].id)
        return True

    def on_resize(self, event: Resize) -> None:
        self.post_message(self.Roomy(event.size.height))

    def on_click(self, event: Click) -> None:
        event.stop()
        at = event.get_content_offset(self)
        if at is not None and at.y < len(self.rows):
            self.mark(self.rows[at.y].id)
            self.post_message(self.Opened(self.rows[at.y]))

    def render(self) -> Content:
        if not self.rows:
            return Content(f"  {self.empty}")
        width = self.size.width
        lines = [self._line(each, at == self.at, width) for at, each in enumerate(self.rows)]
        return Content("\n").join(line.truncate(width, ellipsis=True) for line in lines)

    def _line(self, row: InstrumentRow, marked: bool, width: int) -> Content:
        mark = Content.styled("▸ " if marked else "  ", "bold $accent")
        column = min(max(8, *(len(each.label) for each in self.rows)), width // 5)
        label = Content.styled(shorten(row.label, column).ljust(column) + "  ", "bold")
        signs = max(_LEAST_SIGN, *(len(fitness(each).text) + 1 for each in self.rows))
        left = mark + fitness(row).content(signs) + label
        where = (
            contamination(row.contaminated)
            + Content("  ")
            + whereabouts(row.whereabouts, shorten(row.holder, max(6, width // 6)))
        )
        # Fitness, label and whereabouts always stand; the type gives way first, then the words for why.
        room = max(0, width - left.cell_length - where.cell_length)
        why = shorten(self._why(row), room)
        spare = room - max(len(why), width // 4) - 2
        kind = Content(f"{shorten(row.type, spare):<{spare}}  ") if spare >= _LEAST_KIND else Content("")
        right = Content(why) + where
        line = left + kind + right
        return line.stylize("reverse") if marked and self.app.no_color else line

    def _why(self, row: InstrumentRow) -> str:
        if row.checkout:
            return "checkout open"
        if row.fitness == "ready" and row.until is not None:
            return f"until {day_time(row.until, self._now)}"
        return row.why
