"""A line at the top of every screen: a wait that ended calls for its instrument by name."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content
from textual.events import Click
from textual.message import Message
from textual.widgets import Static

from checklist_tui.watch import Call


class CallLine(Static):
    """Hidden while nothing calls. A tap goes to the checkout that called first; F5 does the same from a list."""

    class Answered(Message):
        """A person taps the line."""

        def __init__(self, checkout: str) -> None:
            self.checkout = checkout
            super().__init__()

    def __init__(self) -> None:
        super().__init__(markup=False)
        self._calls: tuple[Call, ...] = ()
        self.display = False

    def show(self, calls: Sequence[Call]) -> None:
        """Shows what calls; touches the screen only when it is something else than before."""
        if tuple(calls) == self._calls:
            return
        self._calls = tuple(calls)
        self.display = bool(calls)
        said = "   ".join(f"{each.label}: {each.say}" for each in calls)
        self.update(Content(f"* {said}   (F5)"))

    def on_click(self, event: Click) -> None:
        event.stop()
        if self._calls:
            self.post_message(self.Answered(self._calls[0].checkout))
