"""One confirmation, in words that say what will happen. The focus is on whatever does no harm."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from checklist_tui.actions import bindings_for
from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.widgets.press import Press


class ConfirmScreen(DialogScreen[bool]):
    """Hands back True when it is confirmed. `safe`: confirming fails closed or loses nothing, so Enter confirms."""

    help_text = "Enter or a tap answers. Arrows change between the two. Esc goes back and nothing is done."
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings_for("dialog"),
        Binding("up,left", "app.focus_previous", show=False),
        Binding("down,right", "app.focus_next", show=False),
    ]

    def __init__(self, question: str, yes: str, *, more: str = "", safe: bool = True) -> None:
        super().__init__()
        self._question = question
        self._yes = yes
        self._more = more
        self._safe = safe

    def question(self) -> str:
        return self._question

    def body(self) -> ComposeResult:
        if self._more:
            yield self.quiet(self._more)
        yield Press(self._yes, "yes", classes="wide", help_text=self.help_text)
        yield Press("No, go back", "no", classes="wide", help_text=self.help_text)

    def on_mount(self) -> None:
        self.query(Press).filter(".wide")[0 if self._safe else 1].focus()

    def pressed(self, value: str) -> None:
        self.answered(value == "yes")

    def answered(self, yes: bool) -> None:
        """What the answer does."""
        self.dismiss(yes)
