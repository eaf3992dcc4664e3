"""All numbers of a checkout: every finding, what it used, and the rule it followed."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from checklist_tui.actions import bindings_for
from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.symbols import OUTCOME, sign
from procedures.findings import Number
from procedures.site.found_words import number_words
from procedures.site.views import CheckoutView, FindingView


class NumbersScreen(DialogScreen[None]):
    """Scrolls; Esc goes back."""

    help_text = "Figures are shown to four digits; the record keeps every one. Arrows and Page Up, Page Down scroll."
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings_for("dialog"),
        Binding("up", "scroll_by(-1)", show=False),
        Binding("down", "scroll_by(1)", show=False),
        Binding("pageup", "scroll_by(-8)", show=False),
        Binding("pagedown", "scroll_by(8)", show=False),
        Binding("f2", "back", show=False),
    ]

    def __init__(self, view: CheckoutView) -> None:
        super().__init__()
        self._view = view

    def question(self) -> str:
        return f"{self._view.label}: all numbers"

    def body(self) -> ComposeResult:
        ending = self._view.ending
        for found in ending.findings if ending else ():
            yield Static(finding_lines(found), classes="finding", markup=False)

    def on_mount(self) -> None:
        self.query_one(VerticalScroll).focus()

    def action_scroll_by(self, lines: int) -> None:
        self.query_one(VerticalScroll).scroll_relative(y=lines, animate=False)


def finding_lines(found: FindingView) -> Content:
    """One finding with its numbers."""
    finding = found.finding
    mark = sign(OUTCOME, finding.outcome)
    counts = "" if found.counts else "  (no longer counts)"
    lines = [
        Content.styled(f"{mark.symbol} {found.title}: {mark.word}{counts}", f"bold {mark.colour}"),
        Content(finding.say),
    ]
    lines += [_number(each) for each in finding.numbers]
    if finding.as_found is not None:
        as_found = sign(OUTCOME, finding.as_found.outcome)
        lines.append(Content(f"as found: {as_found.symbol} {as_found.word}. {finding.as_found.say}"))
        lines += [_number(each) for each in finding.as_found.numbers]
    lines.append(Content.styled(f"rule {finding.rule}", "italic"))
    return Content("\n").join(lines)


def _number(each: Number) -> Content:
    return Content(f"  {each.label}: {number_words(each)}".rstrip())
