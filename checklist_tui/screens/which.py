"""Which instrument something is about: the one in front, or another whose label is scanned."""

from __future__ import annotations

from textual.app import ComposeResult

from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.use_cases import UseCases
from checklist_tui.widgets.field import Field
from checklist_tui.widgets.press import Press
from procedures.trouble import Trouble


def which_instrument(use_cases: UseCases, text: str) -> tuple[str, str]:
    """Id and label of the instrument that `text` names; Trouble when it names none."""
    found = use_cases.find(text)
    if found.kind != "instrument":
        raise Trouble(
            found.say or f"“{text}” is not an instrument here.",
            allowed="the label of one instrument",
            do="Scan the label on the instrument.",
        )
    return found.id, found.label


class WhichScreen(DialogScreen[tuple[str, str]]):
    """Hands back the id and label of an instrument, or None. `marked` is the one that may be meant."""

    help_text = "Scan the instrument's label, or take the one that is named."

    def __init__(self, question: str, marked: tuple[str, str] | None) -> None:
        super().__init__()
        self._question = question
        self._marked = marked

    def question(self) -> str:
        return self._question

    def body(self) -> ComposeResult:
        if self._marked is not None:
            yield Press(f"{self._marked[1]}", "this", classes="wide", help_text=self.help_text)
            yield self.quiet("or another one:")
        yield Field("scan or type its label", help_text=self.help_text)

    def on_mount(self) -> None:
        press = self.query(Press).filter(".wide")
        (press.first() if press else self.query_one(Field)).focus()

    def pressed(self, value: str) -> None:
        if value == "this" and self._marked is not None:
            self.dismiss(self._marked)

    def on_field_sent(self, event: Field.Sent) -> None:
        event.stop()
        if event.text:
            self.take_scan(event.text)

    def take_scan(self, text: str) -> None:
        """The label of the instrument meant."""
        try:
            instrument = which_instrument(self.main.use_cases, text)
        except Trouble as trouble:
            self.trouble(trouble)
            return
        self.dismiss(instrument)
