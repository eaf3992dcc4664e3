"""Questions that fill the screen: mark and calling line stay in sight, and Esc goes back with nothing done."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from checklist_tui.actions import bindings_for
from checklist_tui.screens.base import BaseScreen, Result
from checklist_tui.widgets.instruction import Instruction


class DialogScreen(BaseScreen[Result]):
    """One instruction, and below it whatever answers it. Subclasses give `question` and `body`."""

    BINDINGS: ClassVar[list[BindingType]] = bindings_for("dialog")
    place = "dialog"

    def question(self) -> str:
        """The one thing to answer."""
        return ""

    def asks_for(self) -> str:
        return self.question()

    def body(self) -> ComposeResult:
        """What answers it."""
        yield from ()

    def content(self) -> ComposeResult:
        yield Instruction(self.question())
        with VerticalScroll(classes="body"):
            yield from self.body()

    @staticmethod
    def quiet(text: str) -> Static:
        """A quieter line."""
        return Static(Content(text), classes="quiet", markup=False)
