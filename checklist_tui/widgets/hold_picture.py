"""A button of the instrument kept down: begun by the person, broken by letting go, over by itself."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.events import Key

from checklist_tui.widgets.ask import AskWidget
from checklist_tui.widgets.press import Press
from checklist_tui.widgets.wait_picture import Countdown
from checklist_tui.words import wait_left
from procedures.site.views import WaitView

_HELP = (
    "Press the instrument's button, then Enter here in the same moment. Keep it down until the program says so. "
    "If you let go too early, say so with Backspace or the button: the hold begins anew. No gap is forgiven, "
    "because nobody can vouch for the finger."
)


class HoldPicture(AskWidget):
    """Before: one button that begins it. During: the countdown, and a button for having let go."""

    help_text = _HELP

    def compose(self) -> ComposeResult:
        if self.view.wait is None:
            yield Press(f"I press it now: {wait_left(self.ask.seconds)}", "hold", help_text=_HELP, classes="wide")
        else:
            yield Countdown(self.view.wait, _HELP)
            yield Press("I let go (Backspace)", "let-go", help_text=_HELP, classes="wide")

    def begin(self) -> None:
        # Not on the button for having let go: the Enter that began the hold, held down, would break it.
        if self.view.wait is None:
            self.query_one(Press).focus()
        else:
            self.query_one(Countdown).focus()

    def show_wait(self, wait: WaitView) -> None:
        for countdown in self.query(Countdown):
            countdown.show(wait)

    def on_key(self, event: Key) -> None:
        if event.key == "backspace" and self.view.wait is not None:
            event.stop()
            self.post_message(self.LetGo())

    def on_press_pressed(self, event: Press.Pressed) -> None:
        event.stop()
        self.post_message(self.Held() if event.press.value == "hold" else self.LetGo())
