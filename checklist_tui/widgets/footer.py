"""The foot of every screen: what can be done here, each with its key and as a button."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Grid

from checklist_tui.actions import Place, caption, footer_for
from checklist_tui.widgets.press import Press


class ActionPress(Press):
    """A button for an action of the registry; its value is the action's id."""


class Footer(Grid):
    """The buttons of one kind of screen, made from the registry of actions."""

    def __init__(self, place: Place) -> None:
        super().__init__()
        self._place = place

    def compose(self) -> ComposeResult:
        for action in footer_for(self._place):
            yield ActionPress(caption(action), action.id, help_text=f"{action.title}. {action.help}", classes="action")
