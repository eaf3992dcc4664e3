"""The checkout: one instruction in the middle, drawn by the kind of ask; everything else is quieter."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll

from checklist_tui.actions import Place, bindings_for
from checklist_tui.screens import body_parts
from checklist_tui.screens.base import BaseScreen
from checklist_tui.widgets.ask import AskWidget
from checklist_tui.widgets.beside_line import BesideLine
from checklist_tui.widgets.choice_list import ChoiceList
from checklist_tui.widgets.head_line import HeadLine
from checklist_tui.widgets.instruction import Instruction
from checklist_tui.widgets.trail import Trail
from procedures.site.views import CheckoutView, PersonView, Typed
from procedures.trouble import Trouble


class CheckoutScreen(BaseScreen[None]):
    """Shows the latest view of one checkout and hands answers to the desk. Decides nothing."""

    place: ClassVar[Place] = "checkout"
    help_text = "Do what the instruction says, then answer with what you see. Every answer is kept at once."
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings_for("checkout"),
        Binding("pageup", "page(-1)", "Scroll up", show=False),
        Binding("pagedown", "page(1)", "Scroll down", show=False),
    ]

    def __init__(self, view: CheckoutView) -> None:
        super().__init__()
        self.view = view
        self.checkout = view.checkout
        self._head = HeadLine(view)
        self._trail = Trail(view.trail)
        self._instruction = Instruction()
        self._beside = BesideLine()
        self._drawn: CheckoutView | None = None

    def content(self) -> ComposeResult:
        yield self._head
        yield self._trail
        yield self._instruction
        yield VerticalScroll(classes="body", can_focus=False)
        yield self._beside

    async def on_mount(self) -> None:
        await self._draw()

    # -- showing

    def reload(self) -> None:
        """Shown again: the view may have moved on meanwhile."""
        if self.is_mounted:
            self.call_next(self._catch_up)

    def on_tick(self) -> None:
        self._head.show(self.view, self.main.lookout.seconds(self.checkout))
        self._beside.show(self.main.lookout.beside(self.checkout))
        self.call_next(self._catch_up)

    async def _catch_up(self) -> None:
        latest = self.main.lookout.views.get(self.checkout)
        if latest is None or latest is self.view:
            return
        before, self.view = self.view, latest
        if latest.ending is not None:
            if self.is_current:
                self.main.show_ending(latest)
        elif _same_question(before, latest):
            if latest.wait is not None:
                for widget in self.query(AskWidget):
                    widget.show_wait(latest.wait)
        else:
            await self._draw()

    async def show(self, view: CheckoutView) -> None:
        """What an answer led to."""
        self.main.lookout.take(view, answered=True)
        self.trouble(None)
        self.view = view
        if view.ending is not None:
            self.main.show_ending(view)
        else:
            await self._draw()

    async def _draw(self) -> None:
        view = self._drawn = self.view
        self._head.show(view, self.main.lookout.seconds(self.checkout))
        self._trail.show(view.trail)
        body = self.query_one(".body", VerticalScroll)
        answer, instruction, part = body_parts.answer(view, self._understand)
        self._instruction.say(instruction, part)
        with self.app.batch_update():
            await body.remove_children()
            await body.mount_all([*body_parts.above(view), answer, *body_parts.below(view)])
            body.scroll_home(animate=False)
            if isinstance(answer, AskWidget):
                answer.begin()
            else:
                answer.focus()

    # -- answering

    def _understand(self, typed: Typed) -> str:
        ask = self.view.ask
        return self.main.use_cases.desk.understand(self.checkout, ask.key if ask else "", typed).echo

    async def _do(self, act: Callable[[], CheckoutView]) -> None:
        """Asks the desk; it is in the record when this goes on."""
        try:
            view = act()
        except Trouble as trouble:
            await self._look_again()
            self.trouble(trouble)
            return
        await self.show(view)

    async def _look_again(self) -> None:
        """Another window may have gone on with this checkout: show where it stands now."""
        try:
            latest = self.main.use_cases.desk.view(self.checkout)
        except Trouble:
            return
        if not _same_question(self.view, latest):
            await self.show(latest)

    async def on_ask_widget_given(self, event: AskWidget.Given) -> None:
        event.stop()
        ask = self.view.ask
        # An answer to a question that a tick has taken away meanwhile answers nothing.
        if ask is None or (self._drawn is not self.view and (self._drawn is None or self._drawn.ask != ask)):
            return
        took = self.main.lookout.took(self.checkout)
        await self._do(lambda: self.main.use_cases.desk.answer(self.checkout, ask.key, event.typed, took=took))

    def on_ask_widget_troubled(self, event: AskWidget.Troubled) -> None:
        event.stop()
        self.trouble(event.trouble if isinstance(event.trouble, Trouble) else None)

    async def on_ask_widget_held(self, event: AskWidget.Held) -> None:
        event.stop()
        await self._do(lambda: self.main.use_cases.desk.hold(self.checkout))

    async def on_ask_widget_let_go(self, event: AskWidget.LetGo) -> None:
        event.stop()
        await self._do(lambda: self.main.use_cases.desk.let_go(self.checkout))

    async def on_choice_list_kept(self, event: ChoiceList.Kept) -> None:
        event.stop()
        if event.choices.name == body_parts.REMEDY:
            await self._do(lambda: self.main.use_cases.desk.remedy(self.checkout, done=event.value == "done"))
        elif event.value == "resume":
            self.action_pause()
        else:
            self.main.to_home()

    def take_scan(self, text: str) -> None:
        """A label scanned while no field had the focus: an answer here, or another open checkout's instrument."""
        choices = self.query(ChoiceList)
        drawn = self.query(AskWidget)
        if (drawn and drawn.first().take_scan(text)) or (choices and choices.first().choose_text(text)):
            self.trouble(None)
            return
        for view in self.main.lookout.views.values():
            if view.label.casefold() == text.casefold() and view.checkout != self.checkout:
                self.main.show_checkout(view.checkout)
                return
        super().take_scan(text)

    # -- actions

    def action_page(self, step: int) -> None:
        body = self.query_one(".body", VerticalScroll)
        body.scroll_relative(y=step * max(1, body.size.height - 1), animate=False)

    def asks_for(self) -> str:
        return self.view.ask.say if self.view.ask else ""

    def instrument_in_front(self) -> tuple[str, str] | None:
        return self.view.instrument, self.view.label

    def action_pause(self) -> None:
        if self.view.paused:
            self.resume()
            return

        def confirmed(yes: bool | None) -> None:
            if yes:
                self.call_later(self._pause)

        self.open(
            "confirm:ConfirmScreen",
            f"Pause {self.view.label}?",
            "Yes, pause it",
            more="Everything answered is kept. A wait in progress begins anew when you go on.",
            then=confirmed,
        )

    async def hand_over(self, to: str) -> None:
        """Sets it aside for another person, who then goes on with it as with any that was paused."""
        await self._do(lambda: self.main.use_cases.desk.pause(self.checkout, f"handed over to {to}"))
        if self.view.paused:
            self.resume()

    async def _pause(self) -> None:
        await self._do(lambda: self.main.use_cases.desk.pause(self.checkout))
        if self.view.paused:
            self.main.to_home()

    def resume(self) -> None:
        """Goes on with a paused checkout: who, and was it switched off meanwhile?"""

        def go_on(person: PersonView) -> None:
            def answered(switched_off: bool | None) -> None:
                if switched_off is not None:
                    whose = self.view.person
                    self.main.with_pin(person, lambda pin: self._resume(person, switched_off, pin), whose=whose)

            self.open("resume:ResumeScreen", self.view.label, then=answered)

        self.main.with_person(go_on)

    def _resume(self, person: PersonView, switched_off: bool, pin: str | None) -> None:
        desk = self.main.use_cases.desk
        self.call_later(self._do, lambda: desk.resume(self.checkout, person.id, switched_off=switched_off, pin=pin))

    def action_fail(self) -> None:
        from checklist_tui.screens.judge import fail_screen

        def reason(say: str | None) -> None:
            if say:
                self.call_later(self._do, lambda: self.main.use_cases.desk.fail_by_judgement(self.checkout, say))

        self.trouble(None)
        self.app.push_screen(fail_screen(self.view.label), reason)

    def action_note(self) -> None:
        def said(text: str | None) -> None:
            if not text:
                return
            try:
                self.main.use_cases.desk.note(self.checkout, text)
            except Trouble as trouble:
                self.trouble(trouble)
            else:
                self.tell("The note is in the record.")

        self._ask_words(
            "A note for the record",
            "It is kept with this checkout and changes no verdict.",
            "Keep the note",
            "sun on the scale",
            said,
        )

    def action_abandon(self) -> None:
        def said(why: str | None) -> None:
            if why:
                self.call_later(self._do, lambda: self.main.use_cases.desk.abandon(self.checkout, why))

        what = "The checkout ends here. The instrument is not fit for use; after a failed finding it is locked out."
        self._ask_words(
            f"Give the checkout of {self.view.label} up. Why?", what, "Yes, give it up", "called away", said
        )

    def action_withdraw(self) -> None:
        def said(why: str | None) -> None:
            if why:
                self.call_later(self._do, lambda: self.main.use_cases.desk.withdraw(self.checkout, why))

        what = "The record is kept and struck through. It gives no readiness."
        self._ask_words(
            f"Withdraw the checkout of {self.view.label}. Why?", what, "Yes, withdraw it", "wrong instrument", said
        )

    def _ask_words(self, question: str, what: str, yes: str, example: str, then: Callable[[str | None], None]) -> None:
        self.open("reason:ReasonScreen", question, what=what, yes=yes, example=example, then=then)


def _same_question(before: CheckoutView, after: CheckoutView) -> bool:
    """Whether only time went by between the two."""
    return (
        before.ask == after.ask
        and before.remedy == after.remedy
        and before.paused == after.paused
        and before.notice == after.notice
        and before.step == after.step
        and (before.wait is None) == (after.wait is None)
    )
