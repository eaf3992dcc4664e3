"""Where a needle rests: the places in the order the scale shows them, side by side where there is room."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.events import Resize

from checklist_tui.widgets.choice_ask import ChoiceAsk
from checklist_tui.widgets.choice_list import ChoiceList

_EACH = 6


class PlaceScale(ChoiceAsk):
    """A scale with a place to choose on it. Stands upright, first place on top, when it is too narrow to lie flat."""

    def pairs(self) -> tuple[tuple[str, str], ...]:
        return tuple((each, each) for each in self.ask.places)

    def compose(self) -> ComposeResult:
        yield ChoiceList(self.pairs(), classes="scale")

    def on_resize(self, event: Resize) -> None:
        widest = max((len(each) for each in self.ask.places), default=0)
        flat = len(self.ask.places) * (widest + _EACH) <= event.size.width
        self.query_one(ChoiceList).set_class(flat, "-flat")
