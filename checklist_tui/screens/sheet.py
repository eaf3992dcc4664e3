"""The one document: a sheet about one thing, read by arrows and pages, and what can be done from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from checklist_tui.actions import bindings_for
from checklist_tui.screens.page import PageScreen, head
from checklist_tui.widgets.document import FEW, sheet_page
from checklist_tui.widgets.reader import Page, Reader
from procedures.sheets import Deed, Sheet
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from checklist_tui.app import ChecklistApp


class SheetScreen(PageScreen):
    """Draws any sheet; knows no subject. Where many things can be done, they stand at its end, and F4 lists them."""

    place = "sheet"
    help_text = Reader.help_text
    BINDINGS: ClassVar[list[BindingType]] = bindings_for("sheet")

    def __init__(self, deed: Deed) -> None:
        super().__init__(deed)
        self._sheet = Sheet(deed.name, deed.say, ())
        self._head = Static(classes="page-head", markup=False)
        self._reader = Reader(self._make)

    def content(self) -> ComposeResult:
        yield self._head
        yield self._reader

    def on_mount(self) -> None:
        self.show()
        self._reader.focus()

    def read(self, main: ChecklistApp) -> None:
        self._sheet = main.use_cases.sheet(self.deed.name, self.deed.about, self.looks(main))
        # A sheet may settle what it is about: the number of a form that is shown is the one that is printed.
        self.deed = replace(self.deed, about=self._sheet.about)

    def show(self) -> None:
        sheet = self._sheet
        said = head(sheet.title, sheet.line, self.main.person, self.size.width - 2)
        if len(sheet.deeds) > FEW:
            said += Content.styled(f"\n{len(sheet.deeds)} things can be done here: F4", "$secondary")
        self._head.update(said)
        self._reader.show()

    def deeds(self) -> Sequence[Deed]:
        return self._sheet.deeds

    def _make(self, width: int) -> Page:
        return sheet_page(self._sheet, width)

    def take_scan(self, text: str) -> None:
        """A label: whatever it stands on. A badge says who works here."""
        try:
            found = self.main.use_cases.find(text)
            if found.kind == "person":
                self.main.person = self.main.use_cases.who(text)
                self.reload()
                return
        except Trouble as trouble:
            self.trouble(trouble)
            return
        if found.kind in ("instrument", "source", "jig"):
            self.main.go(Deed(found.label, "sheet", found.kind, found.id))
        else:
            super().take_scan(text)
