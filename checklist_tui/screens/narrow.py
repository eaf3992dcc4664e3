"""Narrowing a list: what it can be narrowed by, as fields."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from textual.app import ComposeResult

from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.widgets.form_field import FormFieldView
from checklist_tui.widgets.form_page import FormPage
from checklist_tui.widgets.instruction import Instruction
from procedures.asks import Option
from procedures.sheets import Filter, FormField, Look


class NarrowScreen(DialogScreen[dict[str, str]]):
    """Hands back what the list is narrowed by; what is left open narrows nothing."""

    help_text = "Choose or type what has to fit. What is left open narrows nothing. The last button shows the list."

    def __init__(self, filters: Sequence[Filter], chosen: Mapping[str, str]) -> None:
        super().__init__()
        self._fields = tuple(_field(each, chosen.get(each.id, "")) for each in filters)
        self._page = FormPage()

    def question(self) -> str:
        return "Show only what fits this"

    def content(self) -> ComposeResult:
        yield Instruction(self.question())
        yield self._page

    async def on_mount(self) -> None:
        self._page.name_button("Show these")
        await self._page.draw(self._fields, (), {})

    def on_form_field_view_leaves(self, event: FormFieldView.Leaves) -> None:
        event.stop()

    def pressed(self, value: str) -> None:
        del value
        values, troubles = self._page.values()
        if troubles:
            self._page.show(Look(), troubles, everything=True)
            self._page.to_trouble(troubles)
        else:
            self.dismiss({name: value for name, value in values.items() if value})

    def _unchoose(self) -> None:
        self._page.unscan()


def _field(each: Filter, value: str) -> FormField:
    if each.options:
        # Where a list says itself what it shows when nothing is chosen, that stands first.
        unchosen = next((option for option in each.options if not option.value), Option("", "any"))
        options = (unchosen, *(option for option in each.options if option.value))
        return FormField(each.id, each.say, "choice", value, needed=False, options=options)
    return FormField(each.id, each.say, "text", value, needed=False, example=each.example)
