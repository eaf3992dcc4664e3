"""Leaving the program: open checkouts are paused first, and said so."""

from __future__ import annotations

from textual.app import ComposeResult

from checklist_tui.screens.confirm import ConfirmScreen
from checklist_tui.words import plural
from procedures.trouble import Trouble

WHY = "the program was left"


class LeaveScreen(ConfirmScreen):
    """Pauses whatever is open, then leaves."""

    def __init__(self) -> None:
        super().__init__("Leave the program?", "Yes, leave")

    def body(self) -> ComposeResult:
        self._to_pause = [each for each in self.main.lookout.views.values() if not each.paused and each.ending is None]
        if self._to_pause:
            names = ", ".join(each.label for each in self._to_pause)
            yield self.quiet(f"{plural(len(self._to_pause), 'checkout')} will be paused: {names}. Nothing is lost.")
        if any(getattr(each, "typed", False) for each in self.app.screen_stack):
            yield self.quiet("What was typed into the form is not kept.")
        yield from super().body()

    def answered(self, yes: bool) -> None:
        if not yes:
            self.dismiss(False)
            return
        for each in self._to_pause:
            try:
                self.main.lookout.take(self.main.use_cases.desk.pause(each.checkout, WHY))
            except Trouble as trouble:
                self.trouble(trouble)
                return
        self.app.exit(return_code=0)
