"""Going on with a paused checkout: who goes on, and was the instrument switched off meanwhile?"""

from __future__ import annotations

from textual.app import ComposeResult

from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.widgets.choice_list import ChoiceList

_ANSWERS = (
    ("on", "It stayed on all the time"),
    ("off", "It was switched off"),
    ("unknown", "I cannot say"),
)


class ResumeScreen(DialogScreen[bool]):
    """Hands back whether it was switched off. Whoever cannot say is taken to have switched it off."""

    help_text = "Warm-up counts from switching on, so what happened to it meanwhile decides where the checkout goes on."

    def __init__(self, label: str) -> None:
        super().__init__()
        self._label = label

    def question(self) -> str:
        return f"Was {self._label} switched off meanwhile?"

    def body(self) -> ComposeResult:
        yield ChoiceList(_ANSWERS)

    def on_mount(self) -> None:
        self.query_one(ChoiceList).focus()

    def take_scan(self, text: str) -> None:
        """A scanned answer is chosen, not kept."""
        if not self.query_one(ChoiceList).choose_text(text):
            super().take_scan(text)

    def on_choice_list_kept(self, event: ChoiceList.Kept) -> None:
        event.stop()
        self.dismiss(event.value != "on")
