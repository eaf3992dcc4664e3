"""What can be done, as a numbered list. What may not be done now is there too, and says why."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from checklist_tui.actions import bindings_for
from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.widgets.document import WHAT_TO_DO, deeds_page
from checklist_tui.widgets.instruction import Instruction
from checklist_tui.widgets.reader import Reader
from procedures.sheets import Deed
from procedures.trouble import Trouble


class DeedsScreen(DialogScreen[Deed]):
    """Hands back what was chosen, None for nothing."""

    help_text = "Arrows or a number mark one, Enter opens it. Esc goes back."
    BINDINGS: ClassVar[list[BindingType]] = [*bindings_for("dialog"), Binding("f4", "back", show=False)]

    def __init__(self, deeds: Sequence[Deed]) -> None:
        super().__init__()
        self._deeds = tuple(deeds)

    def question(self) -> str:
        return WHAT_TO_DO

    def content(self) -> ComposeResult:
        yield Instruction(self.question())
        yield Reader(lambda width: deeds_page(self._deeds, width), help_text=self.help_text)

    def on_mount(self) -> None:
        self.query_one(Reader).focus()

    def on_reader_opened(self, event: Reader.Opened) -> None:
        event.stop()
        if event.deed.may_not:
            self.trouble(Trouble(f"Not now: {event.deed.may_not}"))
        else:
            self.dismiss(event.deed)
