"""What the screens of sheets and listings share: what they show, what can be done from it, writing it to a file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from textual.content import Content

from checklist_tui.screens.base import BaseScreen
from checklist_tui.widgets.reader import Reader
from checklist_tui.widgets.who import titled
from procedures.sheets import Deed, Query
from procedures.site.views import PersonView
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from checklist_tui.app import ChecklistApp


class PageScreen(BaseScreen[None]):
    """Something to read that `deed` opens. It is read anew whenever it is shown again."""

    def __init__(self, deed: Deed) -> None:
        super().__init__()
        self.deed = deed

    def read(self, main: ChecklistApp) -> None:
        """Reads what is shown. Raises Trouble when it cannot be."""
        raise NotImplementedError

    def show(self) -> None:
        """Shows what was read."""
        raise NotImplementedError

    def query_asked(self) -> Query:
        """What a listing was asked; a sheet has none."""
        return Query()

    def deeds(self) -> Sequence[Deed]:
        """What can be done from here."""
        raise NotImplementedError

    def reload(self) -> None:
        """Reads it anew: what was done from here may have changed it."""
        if not self.is_mounted:
            return
        try:
            self.read(self.main)
        except Trouble as trouble:
            self.trouble(trouble)
            return
        self.show()

    def on_resize(self) -> None:
        if self.is_mounted:
            self.show()

    def looks(self, main: ChecklistApp) -> str:
        """The id of whoever looks, "" while nobody has said so."""
        return main.person.id if main.person is not None else ""

    def on_reader_opened(self, event: Reader.Opened) -> None:
        event.stop()
        self.main.go(event.deed)

    def action_deeds(self) -> None:
        if not self.deeds():
            self.trouble(Trouble("There is nothing to do here but read.", do="Esc goes back."))
            return

        def chosen(deed: Deed | None) -> None:
            if deed is not None:
                self.main.go(deed)

        self.open("deeds:DeedsScreen", tuple(self.deeds()), then=chosen)

    def action_print(self) -> None:
        self.open("print:PrintScreen", self.deed, self.query_asked())


def head(title: str, line: str, who: PersonView | None, width: int) -> Content:
    """The title of a page with whoever works here at its right, and the line under it."""
    lines = [titled(Content.styled(title, "bold"), who, width), *([Content(line)] if line else [])]
    return Content("\n").join(lines)
