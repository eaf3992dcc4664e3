"""The PIN of whoever runs a checkout, where the site says that a badge is not enough."""

from __future__ import annotations

from textual.app import ComposeResult

from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.widgets.field import Field


class PinScreen(DialogScreen[str]):
    """Hands back what was typed, or None. It is looked at by the site, and shown nowhere."""

    help_text = "Your PIN on this laptop, then Enter. It is not shown. After a wrong one the next try has to wait."

    def __init__(self, name: str) -> None:
        super().__init__()
        self._name = name

    def question(self) -> str:
        return f"{self._name}: type your PIN."

    def body(self) -> ComposeResult:
        field = Field("your PIN, not shown", help_text=self.help_text)
        field.password = True
        yield field

    def on_mount(self) -> None:
        self.query_one(Field).focus()

    def on_field_sent(self, event: Field.Sent) -> None:
        event.stop()
        if event.text:
            self.dismiss(event.text)
