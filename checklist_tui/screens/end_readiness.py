"""End an instrument's readiness: which one, what happened, one confirmation. Anyone can, at any time."""

from __future__ import annotations

from textual.app import ComposeResult

from checklist_tui.screens.confirm import ConfirmScreen
from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.screens.which import which_instrument
from checklist_tui.widgets.choice_list import ChoiceList
from checklist_tui.widgets.field import Field
from procedures.site.views import PersonView
from procedures.trouble import Trouble


class EndReadinessScreen(DialogScreen[None]):
    """The causes come from the site. Another instrument than the one in front is scanned."""

    help_text = "Choose what happened. Scanning a label here changes the instrument meant."

    def __init__(self, instrument: tuple[str, str] | None) -> None:
        super().__init__()
        self._instrument = instrument

    def question(self) -> str:
        if self._instrument is None:
            return "Whose readiness ends? Scan the instrument."
        return f"What happened to {self._instrument[1]}?"

    def body(self) -> ComposeResult:
        if self._instrument is not None:
            yield ChoiceList([(each.value, each.say) for each in self.main.use_cases.causes()])
            yield self.quiet("another instrument:")
        yield Field("scan or type its label", help_text=self.help_text)

    def on_mount(self) -> None:
        choices = self.query(ChoiceList)
        (choices.first() if choices else self.query_one(Field)).focus()

    def on_field_sent(self, event: Field.Sent) -> None:
        event.stop()
        if event.text:
            self.take_scan(event.text)

    def take_scan(self, text: str) -> None:
        """The label of the instrument meant, or a cause."""
        choices = self.query(ChoiceList)
        if choices and choices.first().choose_text(text):
            return
        try:
            instrument = which_instrument(self.main.use_cases, text)
        except Trouble as trouble:
            self.trouble(trouble)
            return
        self.app.switch_screen(EndReadinessScreen(instrument))

    def on_choice_list_kept(self, event: ChoiceList.Kept) -> None:
        event.stop()
        if self._instrument is None:
            return
        instrument, label = self._instrument
        say = next((say for value, say in event.choices.options if value == event.value), event.value)

        def end(person: PersonView) -> None:
            try:
                self.main.use_cases.end_readiness(instrument, person.id, event.value, say)
            except Trouble as trouble:
                self.trouble(trouble)
                return
            self.dismiss(None)
            self.main.tell(f"{label}: readiness has ended ({say}).", "Check it again before use.")

        def confirmed(yes: bool | None) -> None:
            if yes:
                self.main.with_person(end)

        self.app.push_screen(
            ConfirmScreen(
                f"{label}: {say}. Its readiness ends now.",
                f"Yes, {label} needs a new checkout",
                more="Nobody may use it until it has been checked again.",
            ),
            confirmed,
        )
