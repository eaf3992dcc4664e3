"""The beginning of practice: what to practise, in a few large choices."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, ClassVar, cast

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from checklist_tui.actions import bindings_for
from checklist_tui.screens.base import BaseScreen
from checklist_tui.widgets.choice_list import ChoiceList
from checklist_tui.widgets.instruction import Instruction
from procedures.sheets import Deed
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from checklist_tui.practice_cases import PracticeUseCases
    from procedures.site.views import PersonView

CHOICES = (
    ("free", "Free practice: with hints when you ask for them"),
    ("drill", "A drill: perhaps something is wrong. You decide"),
    ("go on", "Go on with what was set aside"),
    ("done", "What you did before, with what to look for next time"),
    ("room", "Exams, the class, everything else"),
    ("new", "I am new here: put my name on the list"),
)


class PracticeHomeScreen(BaseScreen[None]):
    """Asks what to practise, then on which instrument, then how fast waits go."""

    place = "practice"
    help_text = "Choose with the arrows or a number, Enter keeps it. The instrument is simulated: nothing here is real."
    BINDINGS: ClassVar[list[BindingType]] = bindings_for("practice")

    def __init__(self) -> None:
        super().__init__()
        self._who = Static(markup=False)

    @property
    def cases(self) -> PracticeUseCases:
        return cast("PracticeUseCases", self.main.use_cases)

    def content(self) -> ComposeResult:
        yield self._who
        yield Instruction("What do you want to practise?")
        with VerticalScroll(classes="body", can_focus=False):
            yield ChoiceList(CHOICES)

    def on_mount(self) -> None:
        self.reload()
        self.query_one(ChoiceList).focus()

    def reload(self) -> None:
        person = self.main.person
        name = f"{person.name} practises" if person else "nobody yet: F2 says who practises"
        self._who.update(Content.styled(f" {name}", "bold"))

    def on_choice_list_kept(self, event: ChoiceList.Kept) -> None:
        event.stop()
        self.trouble(None)
        match event.value:
            case "new":
                self._enrol()
            case "free" | "drill":
                self._with_trainee(lambda person: self._which(person, free=event.value == "free"))
            case "go on":
                self._with_trainee(self._go_on)
            case "done":
                self._with_trainee(self._done)
            case _:
                self._with_trainee(lambda _: self.main.go(Deed("Practice", "sheet", "practice")))

    def _with_trainee(self, then: Callable[[PersonView], None]) -> None:
        self.main.with_person(then)

    def _enrol(self) -> None:
        def named(name: str | None) -> None:
            if name is None:
                return
            try:
                self.main.person = self.cases.enrol(name)
            except Trouble as trouble:
                self.trouble(trouble)
                return
            self.reload()
            self.tell(f"{self.main.person.name} is on the list of practice.", "Choose what to practise.")

        self.open(
            "reason:ReasonScreen",
            "What is your name?",
            what="It is kept with what you practise here, and nowhere else.",
            yes="Yes, that is my name",
            example="Tila Novice",
            then=named,
        )

    def _which(self, person: PersonView, *, free: bool) -> None:
        def chosen(kind: str | None) -> None:
            if kind is not None:
                self._how_fast(person, "" if kind == "any" else kind, free=free)

        options = (*self.cases.kinds(), ("any", "Any of them"))
        self.open("choose:ChooseScreen", "On which instrument?", options, then=chosen)

    def _how_fast(self, person: PersonView, kind: str, *, free: bool) -> None:
        def chosen(speed: str | None) -> None:
            if speed is not None:
                self._begin(person, kind, free=free, speed=int(speed))

        more = "Only time goes faster. The speed stands in the record."
        self.open("choose:ChooseScreen", "How fast do waits go?", self.cases.speeds(), more=more, then=chosen)

    def _begin(self, person: PersonView, kind: str, *, free: bool, speed: int) -> None:
        try:
            session = self.cases.begin(person.id, kind, free=free, speed=speed)
        except Trouble as trouble:
            self.trouble(trouble)
            return
        self.main.show_checkout(session)

    def _go_on(self, person: PersonView) -> None:
        def chosen(session: str | None) -> None:
            if session is not None:
                self.main.show_checkout(session)

        found = self.cases.unfinished(person.id)
        if not found:
            self.trouble(Trouble("nothing of yours was set aside", do="Begin free practice, or a drill."))
            return
        self.open("choose:ChooseScreen", "Which one do you go on with?", found, then=chosen)

    def _done(self, person: PersonView) -> None:
        def chosen(session: str | None) -> None:
            if session is not None:
                self.main.go(Deed("Debrief", "sheet", "practice-debrief", session))

        found = self.cases.finished(person.id)
        if not found:
            self.trouble(Trouble("you have finished nothing yet", do="Begin free practice, or a drill."))
            return
        self.open("choose:ChooseScreen", "Which one do you want to look at?", found, then=chosen)

    def take_scan(self, text: str) -> None:
        """A badge says who practises."""
        try:
            self.main.person = self.main.use_cases.who(text)
        except Trouble as trouble:
            self.trouble(trouble)
            return
        self.reload()
