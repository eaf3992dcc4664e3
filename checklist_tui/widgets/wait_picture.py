"""A wait as a picture: large figures, a bar, and what happens inside the instrument meanwhile."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Digits, Static

from checklist_tui.widgets.ask import AskWidget
from checklist_tui.widgets.bar import Bar
from checklist_tui.words import left
from procedures.site.views import WaitView


class Countdown(Vertical, can_focus=True):
    """Figures, bar and words. Only what changes is touched, so a tick costs next to nothing."""

    def __init__(self, wait: WaitView, help_text: str) -> None:
        super().__init__()
        self._wait = wait
        self._said = ""
        self.help_text = help_text

    def compose(self) -> ComposeResult:
        self._said = left(self._wait.remaining)
        yield Digits(self._said)
        yield Static("", classes="unit", markup=False)
        yield Bar()
        yield Static(Content(self._wait.meanwhile), classes="quiet", markup=False)

    def on_mount(self) -> None:
        self.show(self._wait)

    def show(self, wait: WaitView) -> None:
        """Another moment of the same wait."""
        said = left(wait.remaining)
        if said != self._said:
            self._said = said
            self.query_one(Digits).update(said)
        self.query_one(".unit", Static).update("minutes" if ":" in said else "seconds")
        self.query_one(Bar).show(1 - wait.remaining / wait.seconds if wait.seconds > 0 else 1.0)


class WaitPicture(AskWidget):
    """A wait begins and ends by itself. Nobody can skip it; other checkouts can be worked on meanwhile."""

    help_text = (
        "This wait cannot be skipped. It ends with a bell and by itself. F3 and F5 lead to other instruments "
        "meanwhile: the wait goes on and calls for this one by name."
    )

    def compose(self) -> ComposeResult:
        wait = self.view.wait or WaitView("wait", self.ask.seconds, self.ask.seconds, self.ask.meanwhile)
        yield Countdown(wait, self.help_text)

    def begin(self) -> None:
        self.query_one(Countdown).focus()

    def show_wait(self, wait: WaitView) -> None:
        self.query_one(Countdown).show(wait)
