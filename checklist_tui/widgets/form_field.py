"""One field of a form: its label at the left, its entry at the right, help while it has the focus, trouble in place."""

from __future__ import annotations

from typing import Final, cast

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.events import DescendantBlur, DescendantFocus
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Static

from checklist_tui.widgets.entries import YES_NO, ChoiceEntry, Entry, LineEntry
from checklist_tui.widgets.hanging import Hanging
from checklist_tui.widgets.several import ReadingsEntry, RowsEntry
from procedures.sheets import FormField
from procedures.trouble import Trouble

_HOW: Final = {
    "choice": "Left and Right choose, or its number or first letter.",
    "yes-no": "Left and Right choose, or its first letter.",
    "date": "Year-month-day, such as 2026-11-25.",
    "scan": "Scan the label, or type it as it is marked.",
    "secret": "It is not shown.",
    "readings": "One figure, then Enter. Enter alone goes on.",
    "rows": "Enter after each cell. Enter alone goes on.",
}


class FormFieldView(Vertical):
    """Draws any kind of field. Posts `Next` when it is done, `Leaves` when the focus goes elsewhere."""

    class Leaves(Message):
        """The focus has left this field."""

        def __init__(self, view: FormFieldView) -> None:
            self.view = view
            super().__init__()

    def __init__(self, field: FormField, value: str) -> None:
        """`value` is what was entered so far, the field's own to begin with."""
        super().__init__(classes=f"field -{field.kind}")
        self.asks = field
        self._entry = None if field.fixed else _entry(field)
        self._value = value
        self._mark = Static("  ", classes="mark", markup=False)
        self._label = Static(classes="label", markup=False)
        self._more = Static(Content("\n").join(Content(each) for each in _helps(field)), classes="more", markup=False)
        self._more.display = False
        self._trouble = Hanging(classes="wrong")
        self._trouble.display = False
        self._refused: str | None = None
        self._say_label(focused=False)

    @property
    def entry(self) -> Entry | None:
        """What takes the value; None for a field that only shows."""
        return self._entry

    def compose(self) -> ComposeResult:
        with Horizontal(classes="pair"):
            yield self._mark
            yield self._label
            if self._entry is None:
                yield Static(Content(_shown(self.asks, self._value)), classes="fixed", markup=False)
            else:
                yield cast("Widget", self._entry)
        yield self._more
        yield self._trouble

    def on_mount(self) -> None:
        if self._entry is not None and self._value != self.asks.value:
            self._entry.put(self._value)

    def _say_label(self, *, focused: bool) -> None:
        optional = "" if self.asks.needed or self.asks.fixed else " (optional)"
        self._mark.update("▸ " if focused else "  ")
        self._label.update(Content.assemble((self.asks.say, "bold" if focused else ""), optional))

    # -- its value

    def value(self) -> str:
        """What was entered. Raises Trouble for what cannot be taken."""
        return self._value if self._entry is None else self._entry.value()

    def show(self, trouble: Trouble | None) -> None:
        """Says in place what is wrong with it, or takes that away."""
        self._trouble.display = trouble is not None
        if trouble is not None:
            self._refused = self._stands()
            self._trouble.say_trouble(trouble)

    def _stands(self) -> str | None:
        """What stands in it, None for what cannot be taken."""
        try:
            return self.value()
        except Trouble:
            return None

    @property
    def answered_anew(self) -> bool:
        """Whether something else stands in it than what is said to be wrong."""
        return bool(self._trouble.display) and self._stands() != self._refused

    def begin(self) -> None:
        """Takes the focus."""
        if self._entry is not None:
            self._entry.begin()

    # -- the focus

    def on_descendant_focus(self, _event: DescendantFocus) -> None:
        self._say_label(focused=True)
        self._more.display = bool(_helps(self.asks))

    def on_descendant_blur(self, _event: DescendantBlur) -> None:
        self.call_after_refresh(self._look_for_focus)

    def _look_for_focus(self) -> None:
        if not self.is_attached or self.has_focus_within:
            return
        self._say_label(focused=False)
        self._more.display = False
        self.post_message(self.Leaves(self))


def _entry(field: FormField) -> Entry:
    help_text = " ".join(_helps(field)) or f"{field.say}."
    if field.kind in ("choice", "yes-no"):
        options = field.options if field.kind == "choice" else field.options or YES_NO
        return ChoiceEntry(options, field.value, help_text, needed=field.needed)
    if field.kind == "readings":
        return ReadingsEntry(field, help_text)
    if field.kind == "rows":
        return RowsEntry(field, help_text)
    return LineEntry(field, help_text)


def _helps(field: FormField) -> list[str]:
    """What helps with this field, while it has the focus."""
    how = "" if field.kind == "scan" and field.more else _HOW.get(field.kind, "")
    if field.kind == "choice" and not field.needed:
        how += " Backspace chooses none."
    example = f"Such as {field.example}." if field.example and field.kind not in ("date", "secret") else ""
    return [each for each in (field.more, " ".join(filter(None, (example, how)))) if each]


def _shown(field: FormField, value: str) -> str:
    """The value of a field that only shows."""
    options = field.options or (YES_NO if field.kind == "yes-no" else ())
    if field.kind == "secret":
        return "not shown"
    return next((each.say for each in options if each.value == value), value) or "–"
