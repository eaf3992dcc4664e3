"""What was understood, before it is kept: the last place where a slip of typing is seen."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.message import Message
from textual.widgets import Static

from checklist_tui.widgets.press import Press


class Echo(Vertical):
    """Hidden until something was understood; then the words of it, and a button that keeps it."""

    class Kept(Message):
        """It is right, keep it."""

    def __init__(self, keep: str) -> None:
        super().__init__()
        self._keep = keep
        self.display = False

    def compose(self) -> ComposeResult:
        yield Static(classes="echo", markup=False)
        yield Press(f"{self._keep} (Enter)", "keep", classes="wide keep")

    def show(self, words: str) -> None:
        """Shows what was understood; "" hides it again."""
        self.display = bool(words)
        if words:
            self.query_one(".echo", Static).update(Content.assemble("that is  ", (words, "bold $accent")))

    def on_press_pressed(self, event: Press.Pressed) -> None:
        event.stop()
        if self.display:
            self.post_message(self.Kept())
