"""Who works here: a badge scanned, or initials or a name typed."""

from __future__ import annotations

from textual.app import ComposeResult

from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.widgets.field import Field
from procedures.site.views import PersonView
from procedures.trouble import Trouble


class WhoScreen(DialogScreen[PersonView]):
    """Hands back the person, or None when nobody says so."""

    help_text = "Scan your badge, or type your initials or your name, then Enter. Everything is recorded under it."

    def __init__(self, question: str = "Scan your badge, or type your initials.") -> None:
        super().__init__()
        self._question = question

    def question(self) -> str:
        return self._question

    def body(self) -> ComposeResult:
        yield Field("badge, initials or name", help_text=self.help_text)

    def on_mount(self) -> None:
        self.query_one(Field).focus()

    def take_scan(self, text: str) -> None:
        """A badge scanned or typed."""
        try:
            person = self.main.use_cases.who(text)
        except Trouble as trouble:
            self.query_one(Field).reset()
            self.trouble(trouble)
            return
        self.dismiss(person)

    def on_field_sent(self, event: Field.Sent) -> None:
        event.stop()
        if event.text:
            self.take_scan(event.text)
