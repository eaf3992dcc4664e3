"""A checkout that somebody else began: who goes on with it?"""

from __future__ import annotations

from textual.app import ComposeResult

from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.widgets.choice_list import ChoiceList


class TakeOverScreen(DialogScreen[str]):
    """Hands back "mine", "theirs", or None. Answers are recorded under one person's name, so it has to be theirs."""

    help_text = "Every answer is recorded under the name of the person whose checkout it is."

    def __init__(self, label: str, theirs: str, mine: str) -> None:
        super().__init__()
        self._label = label
        self._theirs = theirs
        self._mine = mine

    def question(self) -> str:
        return f"The checkout of {self._label} is {self._theirs}'s. Who goes on with it?"

    def body(self) -> ComposeResult:
        yield ChoiceList((("mine", f"{self._mine} takes it over"), ("theirs", f"{self._theirs}, with the badge")))
        yield self.quiet("Whoever takes a checkout over vouches for all of it, so the procedure may begin anew.")

    def on_mount(self) -> None:
        self.query_one(ChoiceList).focus()

    def on_choice_list_kept(self, event: ChoiceList.Kept) -> None:
        event.stop()
        self.dismiss(event.value)
