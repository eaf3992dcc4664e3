"""A reading, observed in parts: selector position, the figure as the scale prints it, the unit. The program multiplies.

Expected value and limits are nowhere on this form: whoever sees them reads them into the needle.
"""

from __future__ import annotations

from typing import cast

from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.content import Content
from textual.events import Key
from textual.widgets import Static

from checklist_tui.widgets.echo import Echo
from checklist_tui.widgets.field import Field
from checklist_tui.widgets.press import Press
from checklist_tui.widgets.typed_form import TypedForm
from checklist_tui.words import BEYOND
from procedures.asks import Selector, State
from procedures.site.views import Typed


class SelectorPress(Press):
    """One position of the selector."""

    help_text = "The position the selector stands at. Up and Down in the figure's field choose it too."

    def __init__(self, selector: Selector) -> None:
        super().__init__(f"( ) {selector.name}", selector.name, help_text=self.help_text, classes="selector")
        self.selector = selector

    def mark(self, chosen: bool) -> None:
        self.set_class(chosen, "-chosen")
        self.relabel(f"({'x' if chosen else ' '}) {self.selector.name}")


class ReadingForm(TypedForm):
    """Selector, figure, unit; or what no figure can say. Enter shows what it comes to, Enter again keeps it."""

    help_text = (
        "Choose the selector position with Up and Down, type the figure where the needle rests as the scale prints "
        "it, then Enter. The program multiplies and says what it understood: Enter keeps it, typing corrects it."
    )

    def __init__(self, *given: object) -> None:
        super().__init__(*given)
        selectors: tuple[Selector, ...] = self.ask.selectors
        self.selector = selectors[0].name if len(selectors) == 1 else ""

    def compose(self) -> ComposeResult:
        selectors: tuple[Selector, ...] = self.ask.selectors
        with Horizontal(classes="row"):
            yield Static("selector ", classes="label", markup=False)
            if len(selectors) == 1:
                yield Static(Content(selectors[0].name), classes="fixed", markup=False)
            else:
                for each in selectors:
                    yield SelectorPress(each)
                yield Static("(Up, Down)", classes="quiet", markup=False)
        with Horizontal(classes="row"):
            yield Static("counts   " if self.ask.whole else "figure   ", classes="label", markup=False)
            yield Field("whole number" if self.ask.whole else "as the scale prints it", help_text=self.help_text)
            yield Static(Content(self._unit()), classes="unit", markup=False)
        if self.ask.beyond:
            with Horizontal(classes="row"):
                yield Static("or       ", classes="label", markup=False)
                for state in self.ask.beyond:
                    yield Press(BEYOND[state], state, help_text=f"The needle: {BEYOND[state]}.", classes="beyond")
        yield Echo("Keep this reading")

    def begin(self) -> None:
        self.query_one(Field).focus()

    def _unit(self) -> str:
        units = {each.unit for each in self.ask.selectors if not self.selector or each.name == self.selector}
        return units.pop() if len(units) == 1 else "unit?"

    def choose(self, name: str) -> None:
        """The selector stands at `name`."""
        if name == self.selector:
            return
        self.selector = name
        for each in self.query(SelectorPress):
            each.mark(each.value == name)
        self.query_one(".unit", Static).update(Content(self._unit()))
        self.forget()

    def on_key(self, event: Key) -> None:
        names = [each.name for each in self.ask.selectors]
        if event.key in ("up", "down") and len(names) > 1:
            event.stop()
            step = 1 if event.key == "down" else -1
            at = names.index(self.selector) + step if self.selector else (0 if step > 0 else -1)
            self.choose(names[at % len(names)])

    def take_scan(self, text: str) -> bool:
        field = self.query_one(Field)
        field.value = text
        field.focus()
        return True

    def typed(self, text: str, state: str = "") -> Typed:
        """The parts as they stand on the form."""
        return Typed(text, selector=self.selector, state=cast("State", state))

    def on_press_pressed(self, event: Press.Pressed) -> None:
        event.stop()
        if isinstance(event.press, SelectorPress):
            self.choose(event.press.value)
            self.query_one(Field).focus()
        else:
            self.propose(self.typed("", event.press.value))
            self.query_one(".keep", Press).focus()

    def on_field_sent(self, event: Field.Sent) -> None:
        event.stop()
        typed = self.typed(event.text)
        if self._understood == typed and not event.by_tab:
            self.keep()
        else:
            self.propose(typed)
