"""A checkout of practice: the same questions, and the simulated instrument to be worked and read beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, cast

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.widgets import Static

from checklist_tui.actions import bindings_for
from checklist_tui.bench_words import seen_closely
from checklist_tui.screens.checkout import CheckoutScreen
from checklist_tui.widgets.ask import AskWidget
from checklist_tui.widgets.bench_panel import BenchPanel
from checklist_tui.widgets.choice_list import ChoiceList
from procedures.site.views import CheckoutView
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from checklist_tui.practice_cases import PracticeUseCases

TICKS_A_LOOK = 4
"""Looks at the waits between two questions whether the session goes on at all."""


class PracticeCheckoutScreen(CheckoutScreen, inherit_bindings=False):
    """The checkout screen with a panel. One key goes between both; on a small screen one of them is shown."""

    place = "bench"
    help_text = (
        "Work the instrument as you would a real one, then answer with what you see on it. F7 goes between the "
        "checkout and the instrument."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings_for("bench"),
        Binding("tab", "app.focus_next", show=False),
        Binding("shift+tab", "app.focus_previous", show=False),
        Binding("pageup", "page(-1)", "Scroll up", show=False),
        Binding("pagedown", "page(1)", "Scroll down", show=False),
    ]

    def __init__(self, view: CheckoutView) -> None:
        super().__init__(view)
        self._ticks = 0
        self._exam = Static("", classes="quiet", markup=False)
        self._exam.display = False

    @property
    def cases(self) -> PracticeUseCases:
        return cast("PracticeUseCases", self.main.use_cases)

    def content(self) -> ComposeResult:
        yield self._head
        yield self._exam
        yield BenchPanel(self.cases.desk, self.checkout)
        with Vertical(classes="bench-checkout"):
            yield self._instruction
            yield VerticalScroll(classes="body", can_focus=False)

    @property
    def panel(self) -> BenchPanel:
        return self.query_one(BenchPanel)

    def on_tick(self) -> None:
        self._ticks += 1
        if self._ticks % TICKS_A_LOOK == 0:
            self._look_on()
        self._head.show(self.view, self.main.lookout.seconds(self.checkout))
        self.call_next(self._catch_up)

    def _look_on(self) -> None:
        """Time may have ended it; of an exam it says how much is left."""
        try:
            self.main.lookout.take(self.cases.desk.tick(self.checkout))
            left = self.cases.desk.left(self.checkout)
            self._exam.display = left is not None
            self._exam.update(f" Exam: {(left or 0) / 60:.0f} min left for all of it")
        except Trouble as trouble:
            self.trouble(trouble)

    async def _draw(self) -> None:
        worked = self.panel.has_focus
        await super()._draw()
        if worked:
            self.panel.focus()

    # -- between both

    def action_to_instrument(self) -> None:
        if self.panel.has_focus:
            self.remove_class("-at-instrument")
            self._to_answer()
        else:
            self.add_class("-at-instrument")
            self.panel.focus()

    def _to_answer(self) -> None:
        for drawn in self.query(AskWidget):
            drawn.begin()
            return
        for choices in self.query(ChoiceList):
            choices.focus()

    def on_bench_panel_refused(self, event: BenchPanel.Refused) -> None:
        event.stop()
        self.trouble(event.trouble)

    def on_bench_panel_asked(self, event: BenchPanel.Asked) -> None:
        event.stop()
        self.trouble(None)
        if event.what == "look":
            desk = self.cases.desk
            seen = (*desk.labels(self.checkout), *seen_closely(desk.face(self.checkout)))
            self.open("seen:SeenScreen", "You look closely", seen)
        elif event.what == "hands":
            options = tuple(self.cases.desk.remedies(self.checkout).items())
            self.open("choose:ChooseScreen", "What do your hands do?", options, then=self._by_hand)
        else:
            self._number(event.what)

    def _by_hand(self, action: str | None) -> None:
        if action is None:
            return
        try:
            self.cases.desk.mend(self.checkout, action)
        except Trouble as trouble:
            self.trouble(trouble)
        else:
            self.tell("It is done on the instrument.", "Say so in the checkout when it asks for it.")

    def _number(self, control: str) -> None:
        def said(text: str | None) -> None:
            if text is None:
                return
            try:
                self.cases.desk.work(self.checkout, control, float(text.replace(",", ".")))
            except ValueError:
                self.trouble(Trouble(f"“{text}” is no figure", allowed="a figure such as 60", do="Try it again."))
            except Trouble as trouble:
                self.trouble(trouble)

        what = {
            "count": ("For how many seconds does it count?", "60"),
            "alarm": ("At which level is the alarm set?", "10"),
            "further": ("How many millimetres further off is the source?", "100"),
        }[control]
        self.open(
            "reason:ReasonScreen",
            what[0],
            what="It is set on the instrument.",
            yes="Set it",
            example=what[1],
            then=said,
        )

    def action_fail(self) -> None:
        """As at the real desk, in words that are true of a simulated instrument."""

        def reason(say: str | None) -> None:
            if say:
                self.call_later(self._do, lambda: self.cases.desk.fail_by_judgement(self.checkout, say))

        if self.view.paused:
            self.trouble(Trouble("this session is set aside", do="Go on with it first."))
            return
        self.open(
            "reason:ReasonScreen",
            f"{self.view.label} fails. Why?",
            what="A real one would be locked out at once. Here the session ends, and the debrief follows.",
            yes=f"Yes, {self.view.label} fails",
            example="the window is torn",
            then=reason,
        )

    def action_hint(self) -> None:
        try:
            self.tell(self.cases.desk.hint(self.checkout))
        except Trouble as trouble:
            self.trouble(trouble)
