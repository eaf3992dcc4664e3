"""The fields of a form one under another: going from one to the next, what stands in them, what is wrong with them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from checklist_tui.symbols import TONE, sign
from checklist_tui.widgets.entries import ChoiceEntry, LineEntry, Next
from checklist_tui.widgets.form_field import FormFieldView
from checklist_tui.widgets.press import Press
from checklist_tui.widgets.several import ReadingsEntry, RowsEntry
from procedures.sheets import FormField, Look
from procedures.trouble import Trouble

KEEP = "keep"


class FormPage(VerticalScroll, can_focus=False):
    """Enter and a scanner's Tab go to the next field, Up and Down between fields, after the last one to the button."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "go(-1)", "Field above", show=False),
        Binding("down", "go(1)", "Field below", show=False),
        Binding("enter", "go(1)", "Next field", show=False),
        Binding("pageup", "leaf(-1)", "Scroll up", show=False),
        Binding("pagedown", "leaf(1)", "Scroll down", show=False),
    ]

    def __init__(self) -> None:
        super().__init__(classes="body form")
        self._outcome = Static(classes="outcome", markup=False)
        self._button = Press("", KEEP, classes="wide keep-all")
        self._left: set[str] = set()

    async def draw(self, fields: tuple[FormField, ...], says: tuple[str, ...], values: Mapping[str, str]) -> None:
        """Another page: `values` are what was entered so far, by field."""
        await self.remove_children()
        self._left = set()
        self._outcome = Static(classes="outcome", markup=False)
        self._button = Press(self._button.label, KEEP, classes="wide keep-all")
        said = [Static(Content(each), classes="says", markup=False) for each in says]
        views = [FormFieldView(each, values.get(each.id, each.value)) for each in fields]
        await self.mount_all([*said, *views, self._outcome, self._button])
        self._outcome.display = False
        self.scroll_home(animate=False)
        open_ones = [each for each in views if each.entry is not None]
        # Where there is nothing to choose, the first thing to type or scan comes first.
        first = next((each for each in open_ones if not _settled(each)), next(iter(open_ones), None))
        if first is not None:
            first.begin()
        else:
            self._button.focus()

    def name_button(self, label: str) -> None:
        """What the last button says."""
        self._button.relabel(label)
        self._button.help_text = f"Enter or a tap: {label}."

    # -- fields

    @property
    def views(self) -> list[FormFieldView]:
        return list(self.query(FormFieldView))

    @property
    def present(self) -> FormFieldView | None:
        """The field that has the focus."""
        return next((each for each in self.views if each.has_focus_within), None)

    def values(self) -> tuple[dict[str, str], dict[str, Trouble]]:
        """What stands in the fields, and what cannot be taken, both by field."""
        values: dict[str, str] = {}
        troubles: dict[str, Trouble] = {}
        for view in self.views:
            try:
                values[view.asks.id] = view.value()
            except Trouble as trouble:
                troubles[view.asks.id] = trouble
        return values, troubles

    def left(self, view: FormFieldView) -> None:
        """The focus has left a field: from now on it says what is wrong with it."""
        self._left.add(view.asks.id)

    def edited(self) -> None:
        """Something else is typed or chosen: what was wrong is not said of it before it has been left again."""
        view = self.present
        if view is not None and view.answered_anew:
            self._left.discard(view.asks.id)
            view.show(None)

    def show(self, look: Look, own: Mapping[str, Trouble], *, everything: bool = False) -> bool:
        """Shows what comes of it, and troubles at fields that were left, or at all; whether any field has one."""
        troubles = {**look.troubles, **own}
        wrong = False
        for view in self.views:
            if everything:
                self._left.add(view.asks.id)
            trouble = troubles.get(view.asks.id)
            view.show(trouble if view.asks.id in self._left else None)
            wrong = wrong or trouble is not None
        tone = sign(TONE, look.tone)
        lines = [Content.styled(f"{tone.symbol} {each}".strip(), tone.colour) for each in look.lines]
        self._outcome.display = bool(lines)
        self._outcome.update(Content("\n").join(lines))
        if (present := self.present) is not None:
            # What is said above it now may have pushed it out of sight.
            self.in_sight(present)
        return wrong

    def to_trouble(self, troubles: Mapping[str, Trouble]) -> None:
        """To the first field that something is wrong with."""
        view = next((each for each in self.views if each.asks.id in troubles), None)
        if view is not None:
            view.begin()
            self.in_sight(view)

    def empty_secrets(self) -> None:
        """A PIN is typed for one try: empties those fields, and goes to the first."""
        secret = [each for each in self.views if each.asks.kind == "secret" and each.entry is not None]
        for each in secret:
            if each.entry is not None:
                each.entry.empty()
        if secret:
            secret[0].begin()
            self.in_sight(secret[0])

    def unscan(self) -> None:
        """A label came while a choice had the focus."""
        for each in self.query(ChoiceEntry):
            if each.has_focus:
                each.unscan()

    def take_scan(self, text: str) -> bool:
        """A label that came while no line had the focus: a choice by its words, or the next empty field for a label."""
        present = self.present
        if present is not None and isinstance(present.entry, ChoiceEntry) and present.entry.choose_text(text):
            return True
        for view in self.views:
            if view.asks.kind == "scan" and isinstance(view.entry, LineEntry) and not view.entry.value():
                view.entry.put(text)
                view.begin()
                return True
        return False

    @property
    def several(self) -> ReadingsEntry | RowsEntry | None:
        """The field of readings or rows that has the focus, or the only one there is."""
        present = self.present
        if present is not None and isinstance(present.entry, ReadingsEntry | RowsEntry):
            return present.entry
        found = [each.entry for each in self.views if isinstance(each.entry, ReadingsEntry | RowsEntry)]
        return found[0] if len(found) == 1 else None

    # -- the focus

    def action_go(self, step: int) -> None:
        """To the field above or below; below the last one stands the button."""
        stops: list[FormFieldView | Press] = [each for each in self.views if each.entry is not None]
        stops.append(self._button)
        here = self.present or self._button
        at = stops.index(here) + step
        if not 0 <= at < len(stops):
            if at < 0:
                self.scroll_home(animate=False)
            return
        stop = stops[at]
        if isinstance(stop, FormFieldView):
            stop.begin()
        else:
            stop.focus()
        self.in_sight(stop)

    def in_sight(self, widget: Widget) -> None:
        """Scrolls so that all of it is seen, its help and trouble included, once they have been laid out."""
        self.call_after_refresh(self._bring_in, widget)

    def _bring_in(self, widget: Widget) -> None:
        if not widget.is_attached:
            return
        self.scroll_to_widget(widget, animate=False)
        if self.screen.focused is not None and widget.size.height > self.size.height:
            self.scroll_to_widget(self.screen.focused, animate=False)

    def action_leaf(self, by: int) -> None:
        self.scroll_relative(y=by * max(1, self.size.height - 1), animate=False)

    def on_next(self, event: Next) -> None:
        event.stop()
        self.action_go(1)


def _settled(view: FormFieldView) -> bool:
    """Whether a field is a choice of one, made already."""
    return view.asks.kind == "choice" and len(view.asks.options) == 1 and view.asks.value == view.asks.options[0].value
