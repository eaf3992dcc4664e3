"""A few answers of which one is chosen and then kept: two steps, so that a slip of the hand keeps nothing.

Nothing is chosen to begin with: whoever presses Enter without looking gets no answer recorded.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.events import Key
from textual.message import Message
from textual.widgets import Static

from checklist_tui.widgets.press import Press

_MANY: Final = 4
_STEPS: Final = {"up": -1, "left": -1, "down": 1, "right": 1}


class Possible(Press):
    """One answer of a ChoiceList. A first tap chooses it, a second keeps it."""

    hang = 2

    def tapped(self) -> None:
        choices = next(each for each in self.ancestors if isinstance(each, ChoiceList))
        if choices.chosen is self:
            self.action_press()
        else:
            choices.choose(self)


class ChoiceList(Vertical, can_focus=True):
    """Numbered answers: arrows or a figure choose one, Enter or a second tap keeps it."""

    help_text = (
        "Choose what you see with the arrows or its number; nothing is kept yet. "
        "Enter, or a second tap on it, keeps it. A scanned answer is chosen, Enter keeps it."
    )

    class Kept(Message):
        """An answer was kept."""

        def __init__(self, choices: ChoiceList, value: str) -> None:
            self.choices = choices
            self.value = value
            super().__init__()

        @property
        def control(self) -> ChoiceList:
            return self.choices

    def __init__(self, options: Sequence[tuple[str, str]], *, name: str | None = None, classes: str = "") -> None:
        """`options` are pairs of value and words."""
        super().__init__(name=name, classes=classes)
        self.options = tuple(options)
        self.set_class(len(self.options) > _MANY, "-many")
        self.chosen: Possible | None = None

    def compose(self) -> ComposeResult:
        with Vertical(classes="options"):
            for number, (value, say) in enumerate(self.options, 1):
                yield Possible(f"{number}  {say}", value, help_text=self.help_text, classes="possible")
        yield Static("", classes="hint", markup=False)

    @property
    def possible(self) -> list[Possible]:
        return list(self.query(Possible))

    def choose(self, press: Possible) -> None:
        """Chooses one without keeping it."""
        if self.chosen is not None:
            self.chosen.remove_class("-chosen")
        self.chosen = press
        press.add_class("-chosen")
        press.focus()
        self.query_one(".hint", Static).update("Enter, or a second tap, keeps this answer.")

    def unchoose(self, hint: str = "") -> None:
        """Nothing is chosen any longer, so that Enter keeps nothing; `hint` says why."""
        if self.chosen is None:
            return
        self.chosen.remove_class("-chosen")
        self.chosen = None
        self.focus()
        self.query_one(".hint", Static).update(hint)

    def choose_text(self, text: str) -> bool:
        """Chooses the answer that `text` names by value, words or number; whether there is one."""
        wanted = text.casefold()
        for number, press in enumerate(self.possible, 1):
            value, say = self.options[number - 1]
            if wanted in (value.casefold(), say.casefold(), str(number)):
                self.choose(press)
                return True
        return False

    def on_key(self, event: Key) -> None:
        possible = self.possible
        if step := _STEPS.get(event.key):
            event.stop()
            event.prevent_default()
            first = 0 if step > 0 else -1
            at = first if self.chosen is None else possible.index(self.chosen) + step
            self.choose(possible[at % len(possible)])
        elif event.key.isdecimal() and 0 < int(event.key) <= len(possible):
            self.choose(possible[int(event.key) - 1])
        elif event.key == "enter" and self.has_focus:
            self.query_one(".hint", Static).update("Look first. Then choose with the arrows or a number.")

    def on_press_pressed(self, event: Press.Pressed) -> None:
        event.stop()
        self.post_message(self.Kept(self, event.press.value))
