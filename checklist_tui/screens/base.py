"""What all screens share: the mark, the line that calls, trouble in place, the foot, and the guards against haste."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING, ClassVar, TypeVar, cast

from textual.app import ComposeResult
from textual.events import Key, Paste, ScreenResume
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Input

from checklist_tui.actions import Place
from checklist_tui.typing_in import Burst, checked
from checklist_tui.widgets.call_line import CallLine
from checklist_tui.widgets.choice_list import ChoiceList
from checklist_tui.widgets.field import Field
from checklist_tui.widgets.footer import ActionPress, Footer
from checklist_tui.widgets.marking_bar import MarkingBar
from checklist_tui.widgets.press import Press
from checklist_tui.widgets.trouble_panel import TroublePanel
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from checklist_tui.app import ChecklistApp

Result = TypeVar("Result")

QUIET = 0.15
"""Seconds without a key before Enter presses a button: a scanner's Enter, or a key held down, presses none."""


class BaseScreen(Screen[Result]):
    """A screen of this program. Subclasses give `content`, and may act on ticks, scans and being shown again."""

    AUTO_FOCUS = ""
    place: ClassVar[Place] = "dialog"
    help_text = ""

    def __init__(self) -> None:
        super().__init__()
        self._burst = Burst()
        self._last_key = float("-inf")
        self._last_enter = float("-inf")
        self.call_line = CallLine()
        self._trouble = TroublePanel()

    @property
    def last_key(self) -> float:
        """When the last key came, by the clock of `now`."""
        return self._last_key

    @property
    def main(self) -> ChecklistApp:
        """The app, by its own type."""
        return cast("ChecklistApp", self.app)

    def compose(self) -> ComposeResult:
        yield MarkingBar(self.main.use_cases.marking)
        yield self.call_line
        yield from self.content()
        yield self._trouble
        yield Footer(self.place)

    def content(self) -> ComposeResult:
        """What stands between the head and the foot."""
        yield from ()

    def now(self) -> float:
        """Seconds of the site's clock that only goes forward."""
        return self.main.lookout.now()

    def trouble(self, trouble: Trouble | None) -> None:
        """Shows trouble in place, or takes it away."""
        self._trouble.show(trouble)

    def tell(self, what: str, do: str = "") -> None:
        """Says in place that something was done."""
        self._trouble.tell(what, do)

    def on_tick(self) -> None:
        """Four times a second."""

    def reload(self) -> None:
        """Shown again, or something may have changed."""

    def leaving(self) -> None:
        """The screen is taken away for another one that was called for."""

    def on_screen_resume(self, _event: ScreenResume) -> None:
        self.call_line.show(tuple(self.main.lookout.calls.values()))
        self.reload()

    # -- keys, scans and haste

    def on_key(self, event: Key) -> None:
        now, before, enter_before = self.now(), self._last_key, self._last_enter
        self._last_key = now
        if event.key == "enter":
            self._last_enter = now
        if isinstance(self.focused, Input):
            return
        if event.is_printable and event.character:
            self._burst.add(event.character, now)
            if self._burst.scanning:
                self._unchoose()
        elif event.key in ("enter", "tab"):
            if scanned := self._burst.take(now):
                event.stop()
                event.prevent_default()
                self._scanned(scanned)
            elif event.key == "enter" and (now - before < QUIET or now - enter_before < QUIET):
                event.stop()
                event.prevent_default()

    def on_paste(self, event: Paste) -> None:
        event.stop()
        self._scanned(event.text.splitlines()[0] if event.text else "")

    def _unchoose(self) -> None:
        """A figure in a label chooses like a finger: nothing stays chosen that nobody has looked for."""
        for choices in self.query(ChoiceList):
            choices.unchoose("A label was scanned: nothing is chosen. Look, then choose.")

    def _scanned(self, raw: str) -> None:
        self._unchoose()
        try:
            text = checked(raw)
        except Trouble as trouble:
            self.trouble(trouble)
            return
        if text:
            self.take_scan(text)

    def take_scan(self, text: str) -> None:
        """A label scanned while no field had the focus."""
        self.trouble(
            Trouble(
                f"“{text}” was scanned, but nothing is asked for that a scan could answer.",
                do="Look, then use a button or key.",
            )
        )

    def on_field_refused(self, event: Field.Refused) -> None:
        event.stop()
        self.trouble(event.trouble)

    # -- actions

    async def on_press_pressed(self, event: Press.Pressed) -> None:
        event.stop()
        if isinstance(event.press, ActionPress):
            await self.run_action(event.press.value)
        else:
            self.pressed(event.press.value)

    def pressed(self, value: str) -> None:
        """One of the screen's own buttons was pressed."""

    def runner(self, action: str) -> Callable[[], Awaitable[object]]:
        """Runs one of this screen's actions, for menu and palette."""

        async def run() -> None:
            await self.run_action(action)

        return run

    def on_call_line_answered(self, event: CallLine.Answered) -> None:
        event.stop()
        self.main.show_checkout(event.checkout)

    def open(self, name: str, *given: object, then: Callable[..., None] | None = None, **named: object) -> None:
        """Opens a dialog "module:Class" above this screen; `then` gets what it hands back."""
        from checklist_tui.app import screen

        self.trouble(None)
        self.app.push_screen(screen(name, *given, **named), then)

    def action_help(self) -> None:
        self.open("help:HelpScreen", self.place, _help_of(self.focused) or self.help_text)

    def action_menu(self) -> None:
        def chosen(action: str | None) -> None:
            if action:
                self.call_later(self.run_action, action)

        self.open("menu:MenuScreen", self.place, then=chosen)

    def action_home(self) -> None:
        self.main.to_home()

    def action_person(self) -> None:
        self.main.ask_person()

    def action_records(self) -> None:
        from procedures.sheets import Deed

        self.main.go(Deed("Records", "sheet", "site"))

    def action_others(self) -> None:
        self.open("switcher:SwitcherScreen")

    def action_matters(self) -> None:
        self.open("matters:MattersScreen")

    def action_keypad(self) -> None:
        """For the field that has the focus, or the first one there is."""
        fields = [self.focused] if isinstance(self.focused, Field) else list(self.query(Field))
        if not fields:
            self.trouble(Trouble("there is no field to type in here", do="Use the buttons."))
            return
        field = fields[0]

        def typed(text: str | None) -> None:
            if text is not None:
                field.focus()
                field.send(text)

        self.open("keypad:KeypadScreen", field.value, self.asks_for(), secret=field.password, then=typed)

    def asks_for(self) -> str:
        """The instruction of this screen, for the keypad that hides it."""
        return ""

    def action_bell(self) -> None:
        self.main.rings = not self.main.rings
        self.tell(f"The bell is {'on' if self.main.rings else 'off'} now.")

    def action_light_dark(self) -> None:
        from checklist_tui.themes import DARK, LIGHT

        self.app.theme = DARK.name if self.app.theme == LIGHT.name else LIGHT.name

    def action_leave(self) -> None:
        self.open("leave:LeaveScreen")

    def action_back(self) -> None:
        self.dismiss(None)

    def instrument_in_front(self) -> tuple[str, str] | None:
        """Id and label of the instrument this screen is about."""
        return None

    def action_end_readiness(self) -> None:
        self.open("end_readiness:EndReadinessScreen", self.instrument_in_front())

    def action_lock_out(self) -> None:
        """The form for it. Among several instruments it is asked first which one is meant."""
        front = self.instrument_in_front()
        if front is not None and self.place != "home":
            self._lock_out(front)
        else:
            self.open("which:WhichScreen", "Which instrument is to be locked out?", front, then=self._lock_out)

    def _lock_out(self, instrument: tuple[str, str] | None) -> None:
        from procedures.sheets import Deed

        if instrument is not None:
            self.main.go(Deed(f"Lock {instrument[1]} out", "form", "lock-out", instrument[0]))


def _help_of(widget: Widget | None) -> str:
    """Help of the focused widget, or of the nearest one around it that has some."""
    for each in widget.ancestors_with_self if widget is not None else ():
        if isinstance(each, Widget) and not isinstance(each, Screen) and (text := getattr(each, "help_text", "")):
            return str(text)
    return ""
