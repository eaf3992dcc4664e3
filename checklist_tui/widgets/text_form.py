"""Asks that are answered in one field: text, a date, a number with its unit, a label."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import Static

from checklist_tui.widgets.echo import Echo
from checklist_tui.widgets.field import Field
from checklist_tui.widgets.press import Press
from checklist_tui.widgets.typed_form import TypedForm
from procedures.site.views import Typed


class TextForm(TypedForm):
    """Free text, one line."""

    help_text = "Type it, then Enter: the program says what it understood. Enter again keeps it."
    keep_words = "Keep this"
    example = ""

    def about(self) -> str:
        """A quiet line under the field: what is taken."""
        return f"up to {self.ask.longest} characters"

    def compose(self) -> ComposeResult:
        yield Field(self.example, help_text=self.help_text)
        if about := self.about():
            yield Static(Content(about), classes="quiet", markup=False)
        yield Echo(self.keep_words)

    def begin(self) -> None:
        self.query_one(Field).focus()

    def take_scan(self, text: str) -> bool:
        field = self.query_one(Field)
        field.value = text
        field.focus()
        self.propose(Typed(text))
        return True

    def on_field_sent(self, event: Field.Sent) -> None:
        event.stop()
        self.sent(event.text, by_tab=event.by_tab)

    def sent(self, text: str, *, by_tab: bool) -> None:
        """Text was sent: shown first, kept when it was shown."""
        if self._understood is not None and self._understood.text == text and not by_tab:
            self.keep()
        else:
            self.propose(Typed(text))


class DateForm(TextForm):
    """A date as it stands on a label."""

    help_text = "Type the date as year-month-day, then Enter. Enter again keeps it."
    keep_words = "Keep this date"
    example = "year-month-day, such as 2026-11-25"

    def about(self) -> str:
        return ""

    def compose(self) -> ComposeResult:
        yield from super().compose()
        if self.ask.absent:
            yield Press(self.ask.absent, self.ask.absent, classes="wide absent")

    def on_press_pressed(self, event: Press.Pressed) -> None:
        event.stop()
        self.propose(Typed(event.press.value))


class QuantityForm(TextForm):
    """A number with its unit."""

    help_text = "Type the number; with no unit the first one named is meant. Enter, look, Enter."
    keep_words = "Keep this figure"

    def about(self) -> str:
        return f"in {' or '.join(self.ask.units)}"


class ScanForm(TextForm):
    """A label, scanned or typed as it is marked. It is compared at once: a wrong one keeps nothing that counts."""

    help_text = "Scan the label, or type it exactly as it is marked and press Enter. The program compares."
    example = "scan or type the label"

    def about(self) -> str:
        return ""

    def take_scan(self, text: str) -> bool:
        self.post_message(self.Given(Typed(text)))
        return True

    def sent(self, text: str, *, by_tab: bool) -> None:
        del by_tab
        # Emptied at once: the next scan must not be written behind a wrong one.
        self.query_one(Field).reset()
        if text:
            self.post_message(self.Given(Typed(text)))
