"""The one form: its instruction always in sight, its fields one under another, one button that keeps them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, Final

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widgets import Static

from checklist_tui.actions import actions_for, bindings_for, caption, key_name
from checklist_tui.screens.base import BaseScreen
from checklist_tui.typing_in import clean
from checklist_tui.widgets.entries import Chosen
from checklist_tui.widgets.field import Field
from checklist_tui.widgets.footer import ActionPress
from checklist_tui.widgets.form_field import FormFieldView
from checklist_tui.widgets.form_page import KEEP, FormPage
from checklist_tui.widgets.instruction import Instruction
from checklist_tui.widgets.several import ReadingsEntry, RowsEntry, Several
from checklist_tui.words import shorten
from procedures.sheets import Deed, Form, Look
from procedures.site.views import PersonView
from procedures.trouble import Trouble

_KEEP: Final = next(each for each in actions_for("form") if each.id == "keep")


class FormScreen(BaseScreen[None]):
    """Shows a form of the site and hands what was entered back to it. Knows no subject and decides nothing."""

    place = "form"
    help_text = (
        "Enter goes to the next field, Up and Down between fields. The last button keeps it; nothing is kept before. "
        "Esc goes back, and asks first when something was typed."
    )
    BINDINGS: ClassVar[list[BindingType]] = bindings_for("form")

    def __init__(self, deed: Deed, person: PersonView, form: Form, draft: Mapping[str, str]) -> None:
        """`draft` is what this person had typed into it when it was left for something else."""
        super().__init__()
        self.deed = deed
        self._person = person
        self._form = form
        self._entered = dict(draft)
        self._restored = bool(draft)
        self._given: dict[str, str] = {}
        """What stood in the fields to begin with."""
        self._on_page: dict[str, int] = {}
        self._secret: set[str] = set()
        self._head = Static(classes="form-head", markup=False)
        self._instruction = Instruction()
        self._caution = Static(classes="caution above-form", markup=False)
        self._page = FormPage()

    def content(self) -> ComposeResult:
        yield self._head
        yield self._instruction
        yield self._caution
        yield self._page

    async def on_mount(self) -> None:
        await self._draw(self._form)
        if self._restored:
            self.call_after_refresh(self.tell, "What you had typed is here again.", "Nothing of it is kept yet.")

    def on_resize(self) -> None:
        self._show_head()

    # -- pages

    async def _draw(self, form: Form) -> None:
        self._form = form
        for field in form.fields:
            untouched = field.id not in self._entered or (
                field.id in self._given and self._entered[field.id] == self._given[field.id]
            )
            if field.fixed or untouched:
                # Answers on an earlier page may have changed what this one begins with.
                self._entered[field.id] = field.value
            self._given[field.id] = field.value
            self._on_page[field.id] = form.page
            if field.kind == "secret":
                self._secret.add(field.id)
        self._show_head()
        self._instruction.say(form.instruction)
        self._caution.display = bool(form.caution)
        self._caution.update(Content(f"! {form.caution}"))
        last = form.page >= form.pages
        self._page.name_button(form.keep if last else f"Go on: page {form.page + 1} of {form.pages}")
        self._foot("keep", caption(_KEEP) if last else f"{key_name(_KEEP.keys[0])} next page")
        with self.app.batch_update():
            await self._page.draw(form.fields, form.says, self._entered)
        self._look()

    async def _load(self, page: int, *, troubles: bool = False) -> None:
        """Another page, given what was entered so far."""
        try:
            form = self._ask_for(page)
        except Trouble as trouble:
            self.trouble(trouble)
            return
        self.trouble(None)
        await self._draw(form)
        if troubles:
            self._all_in_order()

    def _ask_for(self, page: int) -> Form:
        deed = self.deed
        return self.main.use_cases.form(deed.name, deed.about, self._person.id, dict(self._entered), page)

    def _show_head(self) -> None:
        form = self._form
        right = f"page {form.page} of {form.pages}  " if form.pages > 1 else ""
        right += f"{shorten(self._person.name, max(8, self.size.width // 4))} "
        left = shorten(f" {form.title}", max(8, self.size.width - len(right) - 2))
        gap = " " * max(1, self.size.width - len(left) - len(right))
        self._head.update(Content.assemble((left, "bold"), gap, right))

    def _foot(self, action: str, label: str = "", *, shown: bool = True) -> None:
        """What the foot says of an action, which may mean another thing, or nothing, on another page."""
        for press in self.query(ActionPress):
            if press.value == action:
                press.display = shown
                if label:
                    press.relabel(label)

    # -- what was entered

    def _collect(self) -> dict[str, Trouble]:
        """Takes what stands in the fields; what cannot be taken, by field."""
        values, troubles = self._page.values()
        self._entered.update(values)
        return troubles

    @property
    def typed(self) -> bool:
        """Whether anything was typed that would be lost."""
        own = self._collect()
        return bool(own) or any(self._entered[each] != given for each, given in self._given.items())

    def _what_comes(self) -> Look:
        deed = self.deed
        try:
            return self.main.use_cases.look(deed.name, deed.about, self._person.id, dict(self._entered))
        except Trouble as trouble:
            self.trouble(trouble)
            return Look()

    def _look(self) -> None:
        """What comes of it by now, and what is wrong with fields that were left."""
        own = self._collect()
        several = self._page.several
        self._foot("take_back", shown=several is not None and several.can_take_back)
        self._page.show(self._what_comes(), own)

    def _all_in_order(self) -> Look | None:
        """As `_look`, of every field of the page; None, and to the first one that is wrong, when any is."""
        own = self._collect()
        look = self._what_comes()
        if self._page.show(look, own, everything=True):
            self._page.to_trouble({**look.troubles, **own})
            return None
        return look

    def on_form_field_view_leaves(self, event: FormFieldView.Leaves) -> None:
        event.stop()
        self._page.left(event.view)
        self._look()

    def on_several_taken(self, event: Several.Taken) -> None:
        event.stop()
        self._look()

    def on_field_edited(self, event: Field.Edited) -> None:
        event.stop()
        if event.text:
            self.trouble(None)
        self._page.edited()

    def on_chosen(self, event: Chosen) -> None:
        event.stop()
        self._page.edited()

    # -- keeping it

    def pressed(self, value: str) -> None:
        if value == KEEP:
            self.action_keep()
        else:
            self.action_take_back()

    def action_keep(self) -> None:
        """On to the next page, or keeps it, once nothing is wrong."""
        self.trouble(None)
        look = self._all_in_order()
        if look is None:
            return
        try:
            pages = self._ask_for(self._form.page).pages
        except Trouble as trouble:
            self.trouble(trouble)
            return
        if self._form.page < pages:
            self.call_next(self._load, self._form.page + 1)
            return
        if look.troubles:
            field, wrong = next(iter(look.troubles.items()))
            if page := self._on_page.get(field, 0):
                self.call_next(self._load, page, troubles=True)
            else:
                self.trouble(wrong)
            return
        self._sure()

    def _sure(self) -> None:
        """Asks once more what cannot be undone."""
        if not self._form.dangerous:
            self._keep()
            return

        def confirmed(yes: bool | None) -> None:
            if yes:
                self.call_later(self._keep)

        self.open("confirm:ConfirmScreen", self._form.dangerous, self._form.keep, safe=False, then=confirmed)

    def _keep(self) -> None:
        deed = self.deed
        try:
            done = self.main.use_cases.keep(deed.name, deed.about, self._person.id, dict(self._entered))
        except Trouble as trouble:
            self._page.empty_secrets()
            self.trouble(trouble)
            return
        self.main.form_kept(done)

    # -- readings, rows, labels

    def action_take_back(self) -> None:
        several = self._page.several
        if several is None or not several.can_take_back:
            self.trouble(Trouble("there is nothing to undo here", do="Go to the field of readings or rows."))
            return
        self.trouble(None)
        if isinstance(several, RowsEntry):
            several.take_back()
            several.begin()
            self._look()
        else:
            self._reject(several)

    def _reject(self, readings: ReadingsEntry) -> None:
        def said(why: str | None) -> None:
            if why:
                readings.reject(clean(why))
                readings.begin()
                self._look()

        self.open(
            "reason:ReasonScreen",
            f"Reject {shorten(readings.lines[-1], 40)}. Why?",
            what="It stays in the record with your reason, and does not count.",
            yes="Yes, reject it",
            example="the source had slipped",
            then=said,
        )

    def _unchoose(self) -> None:
        self._page.unscan()

    def take_scan(self, text: str) -> None:
        """A label that came while no line had the focus."""
        if self._page.take_scan(text):
            self.trouble(None)
        else:
            super().take_scan(text)

    def asks_for(self) -> str:
        return self._form.instruction

    # -- leaving it

    def leaving(self) -> None:
        """Left for something else: what was typed waits for this person, PINs excepted."""
        if self.typed:
            kept = {field: value for field, value in self._entered.items() if field not in self._secret}
            self.main.drafts[self.key] = kept

    @property
    def key(self) -> tuple[str, str, str]:
        """What a draft of this form is known by."""
        return self.deed.name, self.deed.about, self._person.id

    def action_leave_form(self) -> None:
        if self._form.page > 1:
            self._collect()
            self.call_next(self._load, self._form.page - 1)
            return
        if not self.typed:
            self._leave()
            return

        def confirmed(yes: bool | None) -> None:
            if yes:
                self.call_later(self._leave)

        self.open(
            "confirm:ConfirmScreen",
            "Throw away what was typed?",
            "Yes, throw it away",
            more="Nothing of it is kept.",
            safe=False,
            then=confirmed,
        )

    def _leave(self) -> None:
        self.main.drafts.pop(self.key, None)
        self.dismiss(None)
