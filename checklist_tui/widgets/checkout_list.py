"""The checkouts open side by side: which one asks, waits, has waited enough, or is paused."""

from __future__ import annotations

from collections.abc import Sequence

from textual.containers import Vertical
from textual.message import Message

from checklist_tui.symbols import PHASE, sign
from checklist_tui.widgets.press import Press
from checklist_tui.words import shorten, wait_left
from procedures.site.views import OpenCheckout


class CheckoutPress(Press):
    """One open checkout."""

    help_text = "An open checkout. Enter or a tap goes on with it."


class CheckoutList(Vertical):
    """One button a checkout, at most `most` of them; labels change in place, so the focus stays where it is."""

    class Opened(Message):
        """A person goes to this checkout."""

        def __init__(self, checkout: str) -> None:
            self.checkout = checkout
            super().__init__()

    def __init__(self, most: int = 0) -> None:
        super().__init__()
        self._most = most
        self._ids: tuple[str, ...] = ()

    def show(self, checkouts: Sequence[OpenCheckout]) -> None:
        """Another state of the open checkouts."""
        shown = tuple(checkouts[: self._most or None])
        self.display = bool(shown)
        ids = tuple(each.checkout for each in shown)
        if ids != self._ids:
            self._ids = ids
            self.remove_children()
            self.mount_all(CheckoutPress(_line(each), each.checkout) for each in shown)
            return
        presses = {each.value: each for each in self.query(CheckoutPress)}
        for each in shown:
            if each.checkout in presses:
                presses[each.checkout].relabel(_line(each))

    def on_press_pressed(self, event: Press.Pressed) -> None:
        event.stop()
        self.post_message(self.Opened(event.press.value))


def _line(open_one: OpenCheckout) -> str:
    mark = sign(PHASE, open_one.phase)
    time = f" {wait_left(open_one.remaining)}" if open_one.remaining else ""
    failed = "  ■ failed" if open_one.failed else ""
    return f"{mark.symbol} {shorten(open_one.label, 14):<9} {mark.word}{time}  {shorten(open_one.step, 24)}{failed}"
