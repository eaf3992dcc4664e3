"""A line of a person's own words, and one confirmation: failing by judgement, locking out, giving up, a note."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import Static

from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.widgets.field import Field
from checklist_tui.widgets.press import Press
from procedures.trouble import Trouble


class ReasonScreen(DialogScreen[str]):
    """Hands back the reason once it is confirmed. First Enter shows what will happen, the button does it."""

    help_text = "Type your reason, then Enter. The program says what will happen; Enter on its button does it."

    def __init__(self, question: str, *, what: str, yes: str, example: str = "") -> None:
        """`what` says what confirming does, `yes` is the button, `example` a reason as one might write it."""
        super().__init__()
        self._question = question
        self._what = what
        self._yes = yes
        self._example = example
        self._said = ""

    def question(self) -> str:
        return self._question

    def body(self) -> ComposeResult:
        yield Field(self._example, help_text=self.help_text)
        yield Static("", classes="consequence", markup=False)
        yield Press(self._yes, "yes", classes="wide", help_text=self.help_text)

    def on_mount(self) -> None:
        self._hide()
        self.query_one(Field).focus()

    def _hide(self) -> None:
        self.query_one(".consequence").display = False
        self.query(Press).filter(".wide").first().display = False

    def on_field_edited(self, event: Field.Edited) -> None:
        event.stop()
        self._hide()

    def on_field_sent(self, event: Field.Sent) -> None:
        event.stop()
        if not event.text:
            self.trouble(
                Trouble("A reason is needed.", allowed="a line in your own words", do=f"Such as: {self._example}")
            )
            return
        self.trouble(None)
        self._said = event.text
        said = self.query_one(".consequence", Static)
        said.update(Content.assemble(f"{self._what}\n", ("reason: ", "bold"), event.text))
        said.display = True
        press = self.query(Press).filter(".wide").first()
        press.display = True
        press.focus()

    def pressed(self, value: str) -> None:
        if value == "yes":
            self.dismiss(self._said)
