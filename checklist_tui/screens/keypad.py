"""Letters and figures as buttons: for hands that have a mouse or a touch screen and no keyboard."""

from __future__ import annotations

from typing import Final

from textual.app import ComposeResult
from textual.containers import Grid
from textual.content import Content
from textual.widgets import Static

from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.typing_in import LONGEST
from checklist_tui.widgets.press import Press

_KEYS: Final = "1234567890ABCDEFGHIJKLMNOPQRSTUVWXYZ.,-/"


class KeypadScreen(DialogScreen[str]):
    """Hands back the text to be sent, or None. Letters are capitals: labels are compared without regard to case."""

    help_text = "Tap what is marked on the label or what the scale shows, then Send."

    def __init__(self, text: str, about: str, *, secret: bool = False) -> None:
        """`text` stands in the field already; `about` is the instruction it answers. A `secret` text is not shown."""
        super().__init__()
        self._secret = secret
        self._text = text
        self._about = about

    def question(self) -> str:
        return self._about or "Type with the mouse or a finger"

    def body(self) -> ComposeResult:
        yield Static(classes="typed", markup=False)
        with Grid(classes="keypad"):
            for key in _KEYS:
                yield Press(key, key, help_text=self.help_text)
        with Grid(classes="keypad -few"):
            yield Press("space", " ", help_text=self.help_text)
            yield Press("one back", "back", help_text=self.help_text)
            yield Press("empty", "empty", help_text=self.help_text)
            yield Press("Send", "send", help_text=self.help_text)

    def on_mount(self) -> None:
        self._show()

    def _show(self) -> None:
        shown = "•" * len(self._text) if self._secret else self._text
        self.query_one(".typed", Static).update(Content(f"{shown}_"))

    def take_scan(self, text: str) -> None:
        """A scan while the keypad is open is what was meant."""
        self.dismiss(text)

    def pressed(self, value: str) -> None:
        if value == "send":
            self.dismiss(self._text)
            return
        if value == "back":
            self._text = self._text[:-1]
        elif value == "empty":
            self._text = ""
        else:
            self._text = (self._text + value)[:LONGEST]
        self._show()
