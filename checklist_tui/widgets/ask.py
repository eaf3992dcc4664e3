"""What every drawing of an ask has in common, and the small registry from kinds of ask to drawings.

A new kind of ask costs one file and one line here. Kinds of step are unknown on this side.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import Any, Final

from textual.containers import Vertical
from textual.message import Message

from procedures import asks
from procedures.asks import Ask
from procedures.site.views import CheckoutView, Typed, WaitView

Understand = Callable[[Typed], str]
"""What the program makes of something typed, in words; raises Trouble."""


class AskWidget(Vertical):
    """Draws one ask. Subclasses post `Given` when a person has given an answer."""

    help_text = ""

    class Given(Message):
        """An answer, to be kept."""

        def __init__(self, typed: Typed) -> None:
            self.typed = typed
            super().__init__()

    class Troubled(Message):
        """Something was not understood; None: it is understood now."""

        def __init__(self, trouble: Exception | None) -> None:
            self.trouble = trouble
            super().__init__()

    class Held(Message):
        """The person presses the instrument's button now."""

    class LetGo(Message):
        """The person let go of it."""

    def __init__(self, ask: Any, view: CheckoutView, understand: Understand) -> None:
        super().__init__(classes="ask")
        self.ask = ask
        self.view = view
        self.understand = understand

    def begin(self) -> None:
        """Puts the focus where the answer is given."""

    def show_wait(self, wait: WaitView) -> None:
        """Another moment of the wait or hold in progress. Touches only what changes."""

    def take_scan(self, text: str) -> bool:
        """A label scanned while no field had the focus; whether it means something here."""
        del text
        return False


_DRAWN_BY: Final[dict[type[Ask], str]] = {
    asks.Choice: "choice_ask:ChoiceAsk",
    asks.Place: "place_scale:PlaceScale",
    asks.ReadingAsk: "reading_form:ReadingForm",
    asks.TextAsk: "text_form:TextForm",
    asks.DateAsk: "text_form:DateForm",
    asks.QuantityAsk: "text_form:QuantityForm",
    asks.Scan: "text_form:ScanForm",
    asks.Acknowledge: "acknowledge:AcknowledgeButton",
    asks.Wait: "wait_picture:WaitPicture",
    asks.Hold: "hold_picture:HoldPicture",
}


def draw(ask: Ask, view: CheckoutView, understand: Understand) -> AskWidget:
    """The widget for an ask, found by the ask's class or the nearest class it comes from."""
    for kind in type(ask).__mro__:
        if kind in _DRAWN_BY:
            module, _, name = _DRAWN_BY[kind].partition(":")
            widget = getattr(import_module(f"checklist_tui.widgets.{module}"), name)(ask, view, understand)
            assert isinstance(widget, AskWidget)
            return widget
    raise LookupError(f"no widget draws an ask of kind {type(ask).__name__}")
