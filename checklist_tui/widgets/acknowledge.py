"""Something done or read, in its own words."""

from __future__ import annotations

from textual.app import ComposeResult

from checklist_tui.widgets.ask import AskWidget
from checklist_tui.widgets.press import Press
from procedures.site.views import Typed


class AcknowledgeButton(AskWidget):
    """One button. It says what it stands for, not "OK"."""

    help_text = "Do what the instruction says first. Then Enter or a tap says that it is done."

    def compose(self) -> ComposeResult:
        yield Press(self.ask.done, "yes", help_text=self.help_text, classes="wide")

    def begin(self) -> None:
        self.query_one(Press).focus()

    def on_press_pressed(self, event: Press.Pressed) -> None:
        event.stop()
        self.post_message(self.Given(Typed(event.press.value)))
