"""Writing a sheet or a listing to a file, for the printer or for another program."""

from __future__ import annotations

from typing import Final

from textual.app import ComposeResult

from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.widgets.choice_list import ChoiceList
from procedures.sheets import Deed, Query
from procedures.trouble import Trouble

_KINDS: Final = (
    ("html", "a page for the printer (HTML)"),
    ("csv", "a table for a spreadsheet (CSV)"),
    ("json", "data for another program (JSON)"),
)


class PrintScreen(DialogScreen[None]):
    """The site names the file and keeps it in its own folder; the full path is told."""

    help_text = "Choose one with the arrows or its number, Enter writes it. Nothing on record changes."

    def __init__(self, deed: Deed, query: Query) -> None:
        super().__init__()
        self._deed = deed
        self._query = query

    def question(self) -> str:
        return "Write this to a file. What kind?"

    def body(self) -> ComposeResult:
        yield ChoiceList(_KINDS)

    def on_mount(self) -> None:
        self.query_one(ChoiceList).focus()

    def on_choice_list_kept(self, event: ChoiceList.Kept) -> None:
        event.stop()
        person = self.main.person.id if self.main.person is not None else ""
        try:
            path = self.main.use_cases.write_report(event.value, self._deed, self._query, person)
        except Trouble as trouble:
            self.trouble(trouble)
            return
        self.dismiss(None)
        self.main.tell(f"Written: {path}", "Open it in a browser to print it." if event.value == "html" else "")
