"""What is seen when one looks closely: lines to read, and back."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import Static

from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.widgets.press import Press


class SeenScreen(DialogScreen[bool]):
    """Shows lines; Enter or Esc goes back."""

    help_text = "Read, then Enter or Esc goes back."

    def __init__(self, title: str, lines: Sequence[str]) -> None:
        super().__init__()
        self._title = title
        self._lines = tuple(lines)

    def question(self) -> str:
        return self._title

    def body(self) -> ComposeResult:
        for line in self._lines:
            yield Static(Content(line), markup=False)
        yield Press("Back to the instrument", "back", classes="wide", help_text=self.help_text)

    def on_mount(self) -> None:
        self.query(Press).filter(".wide").first().focus()

    def pressed(self, value: str) -> None:
        self.dismiss(value == "back")
