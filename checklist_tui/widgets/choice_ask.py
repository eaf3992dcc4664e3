"""One of a few observations."""

from __future__ import annotations

from textual.app import ComposeResult

from checklist_tui.widgets.ask import AskWidget
from checklist_tui.widgets.choice_list import ChoiceList
from procedures.site.views import Typed


class ChoiceAsk(AskWidget):
    """The options as numbered answers."""

    help_text = ChoiceList.help_text

    def pairs(self) -> tuple[tuple[str, str], ...]:
        """Value and words of each answer."""
        return tuple((each.value, each.say) for each in self.ask.options)

    def compose(self) -> ComposeResult:
        yield ChoiceList(self.pairs())

    def begin(self) -> None:
        self.query_one(ChoiceList).focus()

    def take_scan(self, text: str) -> bool:
        return self.query_one(ChoiceList).choose_text(text)

    def on_choice_list_kept(self, event: ChoiceList.Kept) -> None:
        event.stop()
        self.post_message(self.Given(Typed(event.value)))
