"""Lock an instrument out by a person's own judgement: which one, a reason, one confirmation."""

from __future__ import annotations

from textual.app import ComposeResult

from checklist_tui.screens.dialog import DialogScreen
from checklist_tui.screens.reason import ReasonScreen
from checklist_tui.screens.which import which_instrument
from checklist_tui.widgets.field import Field
from checklist_tui.widgets.press import Press
from procedures.site.views import PersonView
from procedures.trouble import Trouble

LOCKS_OUT = (
    "This locks the instrument out at once, for everybody. It ends only by a repair, a clearing and a new checkout."
)
EXAMPLE = "case cracked, rattles when tilted"


def fail_screen(label: str) -> ReasonScreen:
    """Failing the checkout in progress by judgement."""
    return ReasonScreen(f"{label} fails. Why?", what=LOCKS_OUT, yes=f"Yes, {label} fails", example=EXAMPLE)


class LockOutScreen(DialogScreen[None]):
    """Locks out an instrument that is in no checkout."""

    help_text = "Scan the instrument's label, or take the one that is named. Then give your reason."

    def __init__(self, instrument: tuple[str, str] | None) -> None:
        super().__init__()
        self._instrument = instrument

    def question(self) -> str:
        return "Which instrument is to be locked out?"

    def body(self) -> ComposeResult:
        if self._instrument is not None:
            yield Press(f"{self._instrument[1]}", "this", classes="wide", help_text=self.help_text)
            yield self.quiet("or another one:")
        yield Field("scan or type its label", help_text=self.help_text)

    def on_mount(self) -> None:
        press = self.query(Press).filter(".wide")
        (press.first() if press else self.query_one(Field)).focus()

    def pressed(self, value: str) -> None:
        if value == "this" and self._instrument is not None:
            self._ask_reason(*self._instrument)

    def on_field_sent(self, event: Field.Sent) -> None:
        event.stop()
        if event.text:
            self.take_scan(event.text)

    def take_scan(self, text: str) -> None:
        """The label of the instrument meant."""
        try:
            instrument = which_instrument(self.main.use_cases, text)
        except Trouble as trouble:
            self.trouble(trouble)
            return
        self._ask_reason(*instrument)

    def _ask_reason(self, instrument: str, label: str) -> None:
        def lock(person: PersonView, say: str) -> None:
            try:
                self.main.use_cases.lock_out(instrument, person.id, say)
            except Trouble as trouble:
                self.trouble(trouble)
                return
            self.main.to_home()
            self.main.tell(f"{label} is locked out.", "Tag it and tell the site lead.")

        def reason(say: str | None) -> None:
            if say:
                self.main.with_person(lambda person: lock(person, say))

        self.trouble(None)
        self.app.push_screen(
            ReasonScreen(f"{label} is locked out. Why?", what=LOCKS_OUT, yes=f"Yes, lock {label} out", example=EXAMPLE),
            reason,
        )
