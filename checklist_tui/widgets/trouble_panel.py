"""Trouble in three parts, in place: what is wrong, what is allowed, what to do."""

from __future__ import annotations

from typing import ClassVar

from textual.binding import Binding, BindingType

from checklist_tui.widgets.hanging import Hanging
from procedures.trouble import Trouble


class TroublePanel(Hanging, can_focus=True):
    """Hidden until something is wrong, and again when it is put right."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "scroll_up", show=False),
        Binding("down", "scroll_down", show=False),
    ]

    help_text = "What is wrong, what is allowed, and what to do. It goes away when the next answer is right."

    def __init__(self) -> None:
        super().__init__()
        self.display = False
        self.trouble: Trouble | None = None

    def tell(self, what: str, do: str = "") -> None:
        """Says in the same place that something was done, and what comes next."""
        self.trouble = None
        self.display = True
        self.add_class("-good")
        self.say("✓", [what, *([do] if do else [])])

    def show(self, trouble: Trouble | None) -> None:
        """Shows trouble, or takes away whatever stands here."""
        self.trouble = trouble
        self.remove_class("-good")
        self.display = trouble is not None
        if trouble is not None:
            self.say_trouble(trouble)
