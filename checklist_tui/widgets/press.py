"""A button: for a key, a mouse or a gloved finger. Shows its label as it is, and where the focus is without colour."""

from __future__ import annotations

from typing import ClassVar

from rich.cells import cell_len
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.events import Click
from textual.geometry import Size
from textual.message import Message
from textual.widgets import Static

from checklist_tui.tables import wrapped


class Press(Static, can_focus=True):
    """A button with a `value`. `help_text` is shown by the help screen while it has the focus.

    Enter presses it, and Space does not: a label that is scanned at the wrong moment may have a blank in it.
    """

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "press", "Press it", show=False)]

    class Pressed(Message):
        """It was pressed."""

        def __init__(self, press: Press) -> None:
            self.press = press
            super().__init__()

        @property
        def control(self) -> Press:
            return self.press

    def __init__(
        self, label: str, value: str = "", *, help_text: str = "", classes: str = ""
    ) -> None:  # fmt: skip
        super().__init__(classes=classes, markup=False)
        self.label = label
        self.value = value
        self.help_text = help_text or f"Enter or a tap: {label}."

    hang: ClassVar[int] = 0
    """Cells that later lines of a long label begin further in."""

    def render(self) -> Content:
        return Content("\n").join(Content(each) for each in self._lines(max(2, self.size.width)))

    def _lines(self, width: int) -> list[str]:
        fits = cell_len(self.label) < width
        first, *more = [self.label] if fits else wrapped(self.label, width - 1, hang=self.hang)
        return [f"{'▸' if self.has_focus else ' '}{first}", *(f" {each}" for each in more)]

    def get_content_height(self, _container: Size, _viewport: Size, width: int) -> int:
        """As many lines as the label takes, where its height is not fixed."""
        return len(self._lines(max(2, width)))

    def relabel(self, label: str) -> None:
        """Shows another label."""
        if label != self.label:
            self.label = label
            self.refresh(layout=self.styles.auto_dimensions)

    def get_content_width(self, *_sizes: object) -> int:
        return Content(self.label).cell_length + 1

    def on_focus(self) -> None:
        self.refresh()

    def on_blur(self) -> None:
        self.refresh()

    def on_click(self, event: Click) -> None:
        event.stop()
        self.tapped()

    def tapped(self) -> None:
        """A tap or click."""
        self.action_press()

    def action_press(self) -> None:
        if not self.disabled:
            self.post_message(self.Pressed(self))
