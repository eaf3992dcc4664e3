"""Practice in line mode: the same questions, and the simulated instrument told in words and worked by words.

Whatever begins with "do" is done to the instrument, at any question: "do set selector x10", "do press zero", "do look".
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from typing import Final

from checklist_tui import line_told, output
from checklist_tui.bench_words import seen_closely
from checklist_tui.line_answers import chosen
from checklist_tui.line_checkout import Conversation
from checklist_tui.line_input import Lines, leaving_on_signals, standard_input
from checklist_tui.line_mode import writer
from checklist_tui.line_stop import confirmed
from checklist_tui.line_talk import InputEnded, Talk
from checklist_tui.line_words import option_lines, sentence
from checklist_tui.practice_cases import PracticeUseCases
from procedures.asks import Option
from procedures.site.practising.views import in_words
from procedures.site.views import PersonView
from procedures.trouble import Trouble

WORD: Final = "do"
HELP: Final = (
    "At any question a line that begins with “do” is done to the instrument:",
    "  do face: what it shows, in words. do look: what is seen closely, and its labels.",
    "  do set CONTROL VALUE, such as: do set power on; do set selector x10; do set source daily; do set count 60.",
    "  do press zero, do let go zero: a button stays down until it is let go. Likewise battery and test.",
    "  do turn 0.1: the zero knob, in turns; less than nothing turns it back.",
    "  do hands ACTION, such as: do hands fresh-cells. do controls: all controls and actions there are.",
    "  do hint: the next hint, in free practice.",
)
_CHOICES: Final = (
    Option("free", "Free practice, with hints"),
    Option("drill", "A drill: perhaps something is wrong"),
    Option("leave", "Leave"),
)


def run(cases: PracticeUseCases, *, bell: bool = True) -> int:
    """Practice on this process's streams; the exit code."""
    lines = standard_input()
    with leaving_on_signals(lines):
        write, ring = writer(bell=bell)
        return PracticeLines(cases, lines, write, ring).run()


class BenchTalk(Talk):
    """A conversation in which lines that begin with "do" work the instrument, and are no answers."""

    def __init__(
        self, cases: PracticeUseCases, lines: Lines, write: Callable[[str], None], ring: Callable[[], None] | None
    ) -> None:
        super().__init__(cases, lines, write, ring)
        self._cases = cases
        self._ways: dict[str, Callable[[str, list[str]], None]] = {
            "face": lambda session, _: self._face(session),
            "look": self._look,
            "set": self._set,
            "press": lambda session, words: self._held(session, words, "down"),
            "let": lambda session, words: self._held(session, words[1:], "up"),
            "turn": self._turn,
            "hands": self._hands,
            "controls": self._controls,
            "hint": lambda session, _: self.tell(cases.desk.hint(session)),
            "help": lambda *_: self.tell(*HELP),
        }

    def ask(self, prompt: str, front: str = "") -> str:
        while True:
            text = super().ask(prompt, front)
            if not self._done(text, front):
                return text

    def listen(self, front: str) -> str | None:
        text = super().listen(front)
        return None if text is not None and self._done(text, front) else text

    def _done(self, text: str, session: str) -> bool:
        """Whether this was for the instrument; then it is done, or said why not."""
        word, *words = text.split()[:20] or [""]
        if word.casefold() != WORD or not session:
            return False
        way = self._ways.get(words[0].casefold() if words else "help")
        try:
            if way is None:
                raise Trouble(f"“{words[0][:40]}” is nothing that can be done", allowed=", ".join(self._ways))
            way(session, words[1:])
        except Trouble as trouble:
            self.tell_trouble(trouble)
        return True

    def _face(self, session: str) -> None:
        self.tell(*in_words(self._cases.desk.face(session)))

    def _look(self, session: str, _words: list[str]) -> None:
        desk = self._cases.desk
        self.tell(*(sentence(line) for line in (*desk.labels(session), *seen_closely(desk.face(session)))))

    def _set(self, session: str, words: list[str]) -> None:
        if len(words) < 2:
            raise Trouble("a control and its value are wanted", allowed="such as: do set power on")
        name, value = words[0].casefold(), " ".join(words[1:])
        takes = self._cases.desk.controls(session).get(name)
        if takes is not None and not takes:
            self._cases.desk.work(session, name, _figure(value))
        else:
            named = next((each for each in takes or () if each.casefold() == value.casefold()), value)
            self._cases.desk.work(session, name, named)
        self._face(session)

    def _held(self, session: str, words: list[str], way: str) -> None:
        if len(words) != 1:
            raise Trouble("a button is wanted", allowed="such as: do press zero, do let go zero")
        self._cases.desk.work(session, words[0].casefold(), way)
        self._face(session)

    def _turn(self, session: str, words: list[str]) -> None:
        self._cases.desk.turn(session, _figure(" ".join(words)))
        self._face(session)

    def _hands(self, session: str, words: list[str]) -> None:
        self._cases.desk.mend(session, " ".join(words).casefold())
        self.tell("It is done.")

    def _controls(self, session: str, _words: list[str]) -> None:
        desk = self._cases.desk
        for name, takes in desk.controls(session).items():
            self.tell(f"{name}: {', '.join(takes) or 'a figure'}")
        self.tell("Hands: " + ", ".join(desk.remedies(session)) + ".")


def _figure(text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise Trouble(f"“{text[:40]}” is no figure", allowed="a figure such as 0.1") from None


class PracticeLines:
    """One sitting: who practises, one session after another, each with its debrief."""

    def __init__(
        self,
        cases: PracticeUseCases,
        lines: Lines,
        write: Callable[[str], None],
        ring: Callable[[], None] | None = None,
    ) -> None:
        self._cases = cases
        self._talk = BenchTalk(cases, lines, write, ring)

    def run(self) -> int:
        """Talk until somebody leaves or no more lines come; what is open is set aside then. The exit code."""
        self._talk.tell("PRACTICE. Nothing here is a real instrument.", *HELP)
        try:
            person = self._somebody()
            while self._one(person):
                pass
        except InputEnded as ended:
            with suppress(InputEnded):
                self._talk.tell("", ended.end.say)
            self._set_aside()
            return ended.end.code
        self._set_aside()
        return output.OK

    def _set_aside(self) -> None:
        for row in self._cases.desk.open_checkouts():
            with suppress(Trouble):
                self._cases.desk.pause(row.checkout)

    def _somebody(self) -> PersonView:
        while True:
            name = self._talk.ask("Who practises? Type your name")
            try:
                return self._cases.who(name)
            except Trouble as trouble:
                unknown = trouble
            try:
                if confirmed(self._talk, f"Put {name} on the list of practice"):
                    return self._cases.enrol(name)
                self._talk.tell_trouble(unknown)
            except Trouble as trouble:
                self._talk.tell_trouble(trouble)

    def _one(self, person: PersonView) -> bool:
        """One session; False when nobody wants another."""
        what = self._chosen("What do you want to practise?", _CHOICES)
        if what == "leave":
            return False
        kinds = (*(Option(*each) for each in self._cases.kinds()), Option("", "Any of them"))
        kind = self._chosen("On which instrument?", kinds)
        speed = int(self._chosen("How fast do waits go?", tuple(Option(*each) for each in self._cases.speeds())))
        try:
            session = self._cases.begin(person.id, kind, free=what == "free", speed=speed)
            Conversation(self._talk, self._cases.desk.view(session), person.id, lambda _: None).run()
            self._talk.watch.forget(session)
            sheet = self._cases.sheet("practice-debrief", session, person.id)
            self._talk.tell("", *line_told.sheet_lines(sheet, line_told.Openable()))
        except Trouble as trouble:
            self._talk.tell_trouble(trouble)
        return True

    def _chosen(self, question: str, options: tuple[Option, ...]) -> str:
        self._talk.tell("", question, *option_lines(options))
        while True:
            try:
                return chosen(options, self._talk.ask("Answer")).value
            except Trouble as trouble:
                self._talk.tell_trouble(trouble)
