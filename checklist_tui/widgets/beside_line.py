"""The other checkouts that are open beside this one, with the time left of their waits: one quiet line."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content
from textual.widget import Widget

from checklist_tui.symbols import PHASE, sign
from checklist_tui.watch import Beside
from checklist_tui.words import wait_left


class BesideLine(Widget):
    """Hidden while nothing else is open. Redrawn only when it says something else."""

    def __init__(self) -> None:
        super().__init__()
        self._said = ""
        self.display = False

    def show(self, others: Sequence[Beside]) -> None:
        """Another state of the other checkouts."""
        said = "   ".join(_words(each) for each in others)
        if said != self._said:
            self._said = said
            self.display = bool(said)
            self.refresh()

    def render(self) -> Content:
        return Content(f" beside: {self._said}").truncate(max(1, self.size.width), ellipsis=True)


def _words(other: Beside) -> str:
    mark = sign(PHASE, other.phase)
    return f"{other.label} {mark.symbol} {mark.word}{f' {wait_left(other.remaining)}' if other.remaining else ''}"
