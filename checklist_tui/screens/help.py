"""Help for whatever has the focus, and every key of the screen one came from."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from checklist_tui.actions import Place, actions_for, bindings_for, key_name
from checklist_tui.screens.dialog import DialogScreen

_ALWAYS = (
    ("Enter", "goes on, only with a valid answer"),
    ("Tab", "next field or button"),
    ("arrows", "choose"),
    ("Page Up, Page Down", "scroll what does not fit"),
    ("scanner", "a label can be scanned at any time; its Enter or Tab is taken as sending it"),
)


class HelpScreen(DialogScreen[None]):
    """Made from the registry of actions. Closed by Esc or its button, not by any key."""

    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings_for("dialog"),
        Binding("up", "scroll_by(-1)", show=False),
        Binding("down", "scroll_by(1)", show=False),
        Binding("pageup", "scroll_by(-8)", show=False),
        Binding("pagedown", "scroll_by(8)", show=False),
    ]

    def __init__(self, about: Place, text: str) -> None:
        super().__init__()
        self._about = about
        self._text = text

    def question(self) -> str:
        return "Help"

    def body(self) -> ComposeResult:
        lines = [Content(self._text or "Choose a field or button, then ask for help again."), Content("")]
        actions = actions_for(self._about)
        keyless = "menu" if any(each.id == "menu" for each in actions) else "button"
        for action in actions:
            keys = ", ".join(key_name(each) for each in action.keys) or keyless
            lines.append(Content.assemble((f"{keys}  {action.title}. ", "bold"), action.help))
        lines += [Content.assemble((f"{keys}  ", "bold"), what) for keys, what in _ALWAYS]
        yield Static(Content("\n").join(lines), markup=False)

    def on_mount(self) -> None:
        self.query_one(VerticalScroll).focus()

    def action_scroll_by(self, lines: int) -> None:
        self.query_one(VerticalScroll).scroll_relative(y=lines, animate=False)

    def action_help(self) -> None:
        self.dismiss(None)
