"""One instrument: how it stands, in full, and what can be done with it."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from checklist_tui.actions import bindings_for
from checklist_tui.screens.base import BaseScreen
from checklist_tui.symbols import FITNESS, contamination, sign, whereabouts
from checklist_tui.widgets.press import Press
from checklist_tui.words import day_time
from procedures.site.views import InstrumentRow


class InstrumentScreen(BaseScreen[None]):
    """Fitness, whereabouts and contamination are three things. The button begins a checkout."""

    place = "instrument"
    help_text = "How this instrument stands. Enter on the button begins its checkout; that ends the readiness it has."
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings_for("instrument"),
        Binding("up", "app.focus_previous", show=False),
        Binding("down", "app.focus_next", show=False),
    ]

    def __init__(self, row: InstrumentRow) -> None:
        super().__init__()
        self.row = row

    def content(self) -> ComposeResult:
        row = self.row
        yield Static(
            Content.assemble((f" {row.label}", "bold"), f"  {row.type}  serial {row.serial}"),
            classes="head",
            markup=False,
        )
        with VerticalScroll(classes="body"):
            yield Static(self._state(), markup=False)
            if row.checkout:
                yield Press("Go on with its checkout", "go-on", classes="wide", help_text=self.help_text)
            else:
                yield Press("Begin its checkout", "begin", classes="wide", help_text=self.help_text)

    def _state(self) -> Content:
        row = self.row
        now = self.main.use_cases.clock.now()
        lines = [sign(FITNESS, row.fitness).content() + Content(f"  {row.why}")]
        if row.until is not None:
            lines.append(Content(f"ready until {day_time(row.until, now.offset, now.utc)}"))
        lines += [Content(f"■ {each}") for each in row.reasons]
        lines.append(whereabouts(row.whereabouts, row.holder) + contamination(row.contaminated))
        if row.calibration_due is not None:
            lines.append(Content(f"calibration due {row.calibration_due.isoformat()}"))
        lines += [Content.styled(f"! {each}", "$warning") for each in row.due]
        return Content("\n").join(lines) + Content("\n")

    def on_mount(self) -> None:
        self.query(Press).filter(".wide").first().focus()

    def pressed(self, value: str) -> None:
        if value == "begin":
            self.main.begin_checkout(self.row.id)
        else:
            self.main.show_checkout(self.row.checkout)

    def instrument_in_front(self) -> tuple[str, str] | None:
        return self.row.id, self.row.label
