"""The checkouts that are open here, those whose wait has ended first."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from checklist_tui.actions import bindings_for
from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.widgets.checkout_list import CheckoutList, CheckoutPress
from procedures.site.views import OpenCheckout
from procedures.trouble import Trouble


class SwitcherScreen(DialogScreen[None]):
    """Arrows and Enter, or a tap, or the label scanned."""

    help_text = CheckoutPress.help_text
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings_for("dialog"),
        Binding("up", "app.focus_previous", show=False),
        Binding("down", "app.focus_next", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._known: tuple[OpenCheckout, ...] = ()

    def question(self) -> str:
        return "Which checkout?"

    def body(self) -> ComposeResult:
        yield CheckoutList()
        yield self.quiet("No checkout is open here.")

    def on_mount(self) -> None:
        self.reload()
        self.call_after_refresh(self._focus_first)

    def _focus_first(self) -> None:
        for press in self.query(CheckoutPress):
            press.focus()
            return

    def _read(self) -> tuple[OpenCheckout, ...]:
        try:
            known = self.main.use_cases.home(limit=1).checkouts
        except Trouble as trouble:
            self.trouble(trouble)
            return ()
        live = self.main.live(known)
        return tuple(sorted(live, key=lambda each: each.checkout not in self.main.lookout.calls))

    def reload(self) -> None:
        """Reads which checkouts are open."""
        self._known = self._read()
        self._show()

    def _show(self) -> None:
        self.query_one(CheckoutList).show(self.main.live(self._known))
        self.query_one(".quiet").display = not self._known

    def on_tick(self) -> None:
        self._show()

    def take_scan(self, text: str) -> None:
        """The label of an instrument whose checkout is open."""
        for each in self._known:
            if each.label.casefold() == text.casefold():
                self.main.show_checkout(each.checkout)
                return
        super().take_scan(text)

    def on_checkout_list_opened(self, event: CheckoutList.Opened) -> None:
        event.stop()
        self.main.show_checkout(event.checkout)
