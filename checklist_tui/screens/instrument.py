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
from checklist_tui.symbols import contamination, fitness, stands
from checklist_tui.widgets.press import Press
from checklist_tui.widgets.who import titled
from checklist_tui.words import capital, day_time
from procedures.sheets import Deed
from procedures.site.views import InstrumentRow
from procedures.trouble import Trouble

HAND, EVERYTHING = "hand", "everything"
_ABOUT = "Calibration, reference readings, lockouts, uses and all its checkouts, and what can be done with it."
RELOAD = 15.0
"""Seconds. Readiness ends with the clock, so how it stands is read anew while somebody looks."""


class InstrumentScreen(BaseScreen[None]):
    """Fitness, whereabouts and contamination are three things. One button begins a checkout, one hands it out."""

    place = "instrument"
    help_text = (
        "How this instrument stands. Enter on a button does what it says. A checkout ends the readiness it has and "
        "asks first. Esc goes back to the list, F12 shows everything that can be done."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings_for("instrument"),
        Binding("up", "app.focus_previous", show=False),
        Binding("down", "app.focus_next", show=False),
    ]

    def __init__(self, row: InstrumentRow) -> None:
        super().__init__()
        self.row = row
        self._read = 0.0

    def content(self) -> ComposeResult:
        yield Static(classes="head", markup=False)
        with VerticalScroll(classes="body"):
            yield Static(self._state(), classes="state", markup=False)
            yield Static("", classes="notice obstacles", markup=False)
            yield Press(self._does(), "checkout", classes="wide", help_text=self.help_text)
            yield Static("", classes="notice refused", markup=False)
            yield Press("", HAND, classes="wide", help_text="Opens the form that hands it out or takes it back.")
            yield Press("Everything about it (F4)", EVERYTHING, classes="wide", help_text=_ABOUT)

    def _does(self) -> str:
        return "Go on with its checkout" if self.row.checkout else "Begin its checkout"

    def _state(self) -> Content:
        row = self.row
        lines = [fitness(row).content() + Content(f"  {capital(row.why)}")]
        if row.until is not None:
            lines.append(Content(f"ready until {day_time(row.until, self.main.use_cases.clock.now().utc)}"))
        if row.reasons:
            lines.append(Content(f"reason codes: {', '.join(row.reasons)}"))
        lines.append(stands(row.whereabouts, row.holder) + contamination(row.contaminated))
        if row.calibration_due is not None:
            lines.append(Content(f"calibration due {row.calibration_due.isoformat()}"))
        lines += [Content.styled(f"! {each}", "$warning") for each in row.due]
        return Content("\n").join(lines) + Content("\n")

    def on_mount(self) -> None:
        self._show()
        button = self._button
        hand = self.query(Press).filter(".wide")[1]
        # Enter must lead to nothing that is refused, and what is ready is more often taken out than checked anew.
        (hand if hand.display else self.query_one(VerticalScroll) if button.disabled else button).focus()

    @property
    def _button(self) -> Press:
        return self.query(Press).filter(".wide").first(Press)

    def _handing(self) -> Deed | None:
        """Handing it out while it is ready and here, taking it back while somebody has it."""
        row = self.row
        if row.whereabouts == "handed out":
            return Deed("Take it back", "form", "take-back", row.id)
        if row.fitness == "ready" and row.whereabouts == "here":
            return Deed("Hand it out", "form", "hand-out", row.id)
        return None

    def _show_head(self) -> None:
        row = self.row
        title = Content.assemble((f" {row.label}", "bold"), f"  {row.type}  serial {row.serial}")
        self.query_one(".head", Static).update(titled(title, self.main.person, self.size.width - 1))

    def on_resize(self) -> None:
        self._show_head()

    def _show(self) -> None:
        """How it stands, what a checkout could not come to, and whether one may be begun."""
        row, button = self.row, self._button
        self._show_head()
        self.query_one(".state", Static).update(self._state())
        button.relabel(self._does())
        button.disabled = bool(row.may_begin) and not row.checkout
        refused = self.query_one(".refused", Static)
        refused.update(Content(f"Not now: {row.may_begin}"))
        refused.display = button.disabled
        obstacles = () if button.disabled else self.main.use_cases.obstacles(row.id)
        said = self.query_one(".obstacles", Static)
        said.update(Content(f"! It cannot become fit for use now: {'; '.join(obstacles)}."))
        said.display = bool(obstacles)
        handing = self._handing()
        hand = self.query(Press).filter(".wide")[1]
        hand.display = handing is not None
        hand.relabel(handing.say if handing else "")

    def reload(self) -> None:
        """How it stands by now: the clock goes on, and what was done from here may have ended its readiness."""
        if not self.is_mounted:
            return
        try:
            latest = self.main.use_cases.instrument(self.row.id)
        except Trouble as trouble:
            self.trouble(trouble)
            return
        self._read = self.now()
        if latest is None:
            self.main.to_home()
            return
        self.row = latest
        self._show()

    def on_tick(self) -> None:
        if self.now() - self._read >= RELOAD:
            self.reload()

    def action_everything(self) -> None:
        self.main.go(Deed(self.row.label, "sheet", "instrument", self.row.id))

    def pressed(self, value: str) -> None:
        handing = self._handing()
        if value == EVERYTHING:
            self.action_everything()
        elif value == HAND:
            if handing is not None:
                self.main.go(handing)
        elif self.row.checkout:
            self.main.show_checkout(self.row.checkout)
        else:
            self.main.begin_checkout(self.row.id)

    def instrument_in_front(self) -> tuple[str, str] | None:
        return self.row.id, self.row.label
