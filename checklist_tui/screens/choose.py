"""One of some things, chosen and kept."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult

from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.widgets.choice_list import ChoiceList


class ChooseScreen(DialogScreen[str]):
    """Hands back the value of what was chosen, or None."""

    help_text = ChoiceList.help_text

    def __init__(self, question: str, options: Sequence[tuple[str, str]], *, more: str = "") -> None:
        super().__init__()
        self._question = question
        self._options = tuple(options)
        self._more = more

    def question(self) -> str:
        return self._question

    def body(self) -> ComposeResult:
        if self._more:
            yield self.quiet(self._more)
        yield ChoiceList(self._options)

    def on_mount(self) -> None:
        self.query_one(ChoiceList).focus()

    def on_choice_list_kept(self, event: ChoiceList.Kept) -> None:
        event.stop()
        self.dismiss(event.value)
