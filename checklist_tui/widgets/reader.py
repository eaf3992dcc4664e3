"""A page to be read whose lines can be entered: sheets, listings and lists of what can be done are all shown by it.

Up and Down go from one thing that can be entered to the next, and line by line through what only is read, so that
nothing is skipped. It holds lines, never widgets: a page of a thousand lines costs as much as one that fits.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import ClassVar, Final

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.events import Click, Key, Resize
from textual.geometry import Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip
from textual.visual import Visual

from procedures.sheets import Deed

NOTHING: Final = -1
MARGIN: Final = 2
"""Cells that the mark takes at the left."""


@dataclass(frozen=True, slots=True)
class ReadLine:
    """One line. Lines with the same `entry` belong together; NOTHING is what cannot be entered."""

    text: Content
    entry: int = NOTHING


@dataclass(frozen=True, slots=True)
class Page:
    """Lines, what their entries open, and the keys that mark one of them at once."""

    lines: tuple[ReadLine, ...] = ()
    entries: tuple[Deed, ...] = ()
    keys: tuple[tuple[str, int], ...] = ()


class PageMaker:
    """Collects the lines of a page of `width` cells."""

    def __init__(self, width: int) -> None:
        self.width = max(1, width)
        self._lines: list[ReadLine] = []
        self._entries: list[Deed] = []
        self._keys: list[tuple[str, int]] = []

    def say(self, *lines: Content) -> None:
        """Lines that are only read."""
        self._lines += [ReadLine(each) for each in lines]

    def blank(self) -> None:
        """An empty line, never two, never the first."""
        if self._lines and self._lines[-1].text.plain:
            self._lines.append(ReadLine(Content("")))

    def entry(self, deed: Deed, *lines: Content, key: str = "") -> None:
        """Lines that open `deed`; `key` marks them."""
        at = len(self._entries)
        self._entries.append(deed)
        self._lines += [ReadLine(each, at) for each in lines]
        if key:
            self._keys.append((key, at))

    def page(self) -> Page:
        return Page(tuple(self._lines), tuple(self._entries), tuple(self._keys))


class Reader(ScrollView, can_focus=True):
    """Shows what `make` returns for a width. Enter or a tap opens the marked entry."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "step(-1)", "Up", show=False),
        Binding("down", "step(1)", "Down", show=False),
        Binding("pageup", "page(-1)", "Page up", show=False),
        Binding("pagedown", "page(1)", "Page down", show=False),
        Binding("home", "end(-1)", "Beginning", show=False),
        Binding("end", "end(1)", "End", show=False),
        Binding("enter", "open", "Open", show=False),
    ]
    help_text = (
        "Up and Down go through it, Page Up and Page Down by pages. Enter opens the line that is marked; a number "
        "marks what can be done under that number."
    )

    class Opened(Message):
        """A person enters a line."""

        def __init__(self, deed: Deed) -> None:
            self.deed = deed
            super().__init__()

    class Roomy(Message):
        """Another number of lines fits."""

        def __init__(self, lines: int) -> None:
            self.lines = lines
            super().__init__()

    def __init__(self, make: Callable[[int], Page], *, help_text: str = "") -> None:
        super().__init__()
        self._make = make
        self._page = Page()
        self._typed = ""
        self._at = NOTHING
        self.help_text = help_text or self.help_text

    # -- what is shown

    def show(self, *, at: int | None = None) -> None:
        """Makes the page anew. The mark stays with what it was on, or goes to entry `at`."""
        before = self.marked
        self._page = self._make(self.outer_size.width - MARGIN - 1)
        self.virtual_size = Size(max(1, self.outer_size.width - 1), len(self._page.lines))
        entries = self._page.entries
        if at is None:
            at = entries.index(before) if before in entries else self._first_in_sight()
        self._at = at if -len(entries) <= at < len(entries) and entries else NOTHING
        if self._at != NOTHING:
            self._at %= len(entries)
        self.refresh()

    @property
    def marked(self) -> Deed | None:
        return self._page.entries[self._at] if 0 <= self._at < len(self._page.entries) else None

    def on_resize(self, event: Resize) -> None:
        self.show()
        self.post_message(self.Roomy(event.size.height))

    def render_line(self, y: int) -> Strip:
        at, width = y + self.scroll_offset.y, self.size.width
        lines = self._page.lines
        if at >= len(lines):
            return Strip.blank(width, self.rich_style)
        line = lines[at]
        marked = line.entry != NOTHING and line.entry == self._at
        first = marked and (not at or lines[at - 1].entry != line.entry)
        text = Content.styled("▸ " if first else "  ", "bold $accent") + line.text
        if marked and self.app.no_color:
            text = text.stylize("reverse")
        return Visual.to_strips(self, text, width, 1, self.visual_style)[0]

    # -- the mark

    def _lines_of(self, entry: int) -> Sequence[int]:
        return [at for at, line in enumerate(self._page.lines) if line.entry == entry]

    def _in_sight(self, entry: int, *, spare: int = 0) -> bool:
        """Whether the entry's first line is in the window, or within `spare` lines of it."""
        lines = self._lines_of(entry)
        top = self.scroll_offset.y
        return bool(lines) and top - spare <= lines[0] < top + self.size.height + spare

    def _first_in_sight(self, *, last: bool = False) -> int:
        top = self.scroll_offset.y
        window = self._page.lines[top : top + max(1, self.size.height)]
        entries = [line.entry for line in window if line.entry != NOTHING]
        return (entries[-1] if last else entries[0]) if entries else NOTHING

    def mark(self, entry: int) -> None:
        """Marks an entry and brings it into sight."""
        self._at = entry
        lines = self._lines_of(entry)
        if lines:
            top, height = self.scroll_offset.y, max(1, self.size.height)
            if lines[-1] >= top + height:
                top = lines[-1] - height + 1
            self.scroll_to(y=min(top, lines[0]), animate=False, immediate=True)
        self.refresh()

    def step(self, by: int) -> bool:
        """To the next entry, or a line on when none is near; False at the end of the page."""
        marked = self._at != NOTHING and self._in_sight(self._at)
        to = self._at + by if marked else self._first_in_sight(last=by < 0)
        if 0 <= to < len(self._page.entries) and self._in_sight(to, spare=1):
            self.mark(to)
            return True
        return self._scroll(by)

    def _scroll(self, lines: int) -> bool:
        before = self.scroll_offset.y
        self.scroll_to(y=before + lines, animate=False, immediate=True)
        self.refresh()
        return self.scroll_offset.y != before

    def mark_end(self, *, last: bool) -> None:
        """Marks the first or the last entry there is."""
        if self._page.entries:
            self.mark(len(self._page.entries) - 1 if last else 0)

    # -- keys

    def action_step(self, by: int) -> None:
        self.step(by)

    def action_page(self, by: int) -> None:
        self._scroll(by * max(1, self.size.height - 1))
        if self._at == NOTHING or not self._in_sight(self._at):
            self._at = self._first_in_sight(last=by < 0)

    def action_end(self, by: int) -> None:
        self.scroll_to(y=0 if by < 0 else self.virtual_size.height, animate=False, immediate=True)
        self._at = self._first_in_sight(last=by > 0)
        self.refresh()

    def action_open(self) -> None:
        # A mark that has been scrolled away opens nothing: nobody sees what it would open.
        if (marked := self.marked) is not None and self._in_sight(self._at):
            self.post_message(self.Opened(marked))

    def on_key(self, event: Key) -> None:
        """A figure marks its entry; a second one right behind it goes on with the number."""
        if not (event.character and event.character.isascii() and event.character.isdigit()):
            self._typed = ""
            return
        known = dict(self._page.keys)
        self._typed += event.character
        if self._typed not in known:
            self._typed = event.character
        if self._typed in known:
            self.mark(known[self._typed])

    def on_click(self, event: Click) -> None:
        event.stop()
        place = event.get_content_offset(self)
        at = place.y + self.scroll_offset.y if place is not None else NOTHING
        if 0 <= at < len(self._page.lines) and (entry := self._page.lines[at].entry) != NOTHING:
            self.mark(entry)
            self.post_message(self.Opened(self._page.entries[entry]))
