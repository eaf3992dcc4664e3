"""What is due, which sources are out, what waits, and notices: everything of it, where home has one line each."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from checklist_tui.actions import bindings_for
from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.words import clock_time
from procedures.site.views import SourceOut
from procedures.trouble import Trouble

_MANY = 500


def source_out(source: SourceOut) -> str:
    """A source that is out, and where: "S-7 (with C-101, since 06:05)"."""
    return f"{source.label} (with {source.instrument}, since {clock_time(source.since)})"


class MattersScreen(DialogScreen[None]):
    """A list to read. Arrows scroll, Esc goes back."""

    help_text = "Everything that is due or out. A source is brought back by scanning its label on the first screen."
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings_for("dialog"),
        Binding("up", "scroll_by(-1)", show=False),
        Binding("down", "scroll_by(1)", show=False),
        Binding("pageup", "scroll_by(-8)", show=False),
        Binding("pagedown", "scroll_by(8)", show=False),
        Binding("f4", "back", show=False),
    ]

    def question(self) -> str:
        return "What is due, what is out"

    def body(self) -> ComposeResult:
        yield Static(Content("\n").join(self._lines()), markup=False)

    def _lines(self) -> list[Content]:
        try:
            home = self.main.use_cases.home(limit=_MANY)
            exchanged = self.main.use_cases.last_exchange()
        except Trouble as trouble:
            return [Content(line) for line in trouble.lines()]
        lines = [Content.styled(f"! {each}", "bold $error") for each in home.notices]
        lines += [Content.styled(f"! source out: {source_out(each)}", "$warning") for each in home.sources_out]
        lines += [Content.styled(f"! {each} (F3 on the first screen)", "$warning") for each in home.waiting]
        lines += [Content.styled(f"! {each}", "$warning") for each in home.due]
        lines = lines or [Content("Nothing is due, and every source is in its store.")]
        told = [each for each in (home.exchanged, *exchanged) if each]
        if told:
            lines += [Content(""), Content.styled("Other laptops", "bold"), *(Content(each) for each in told)]
        return lines

    def on_mount(self) -> None:
        self.query_one(VerticalScroll).focus()

    def action_scroll_by(self, lines: int) -> None:
        self.query_one(VerticalScroll).scroll_relative(y=lines, animate=False)
