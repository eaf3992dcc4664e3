"""One checkout in line mode: puts what is due, takes the answer, says what came of it, until it ends or is left.

Every decision is the desk's. What is typed is repeated before it is kept, so that a slip is mended while it can be.
"""

from __future__ import annotations

from collections.abc import Callable

from checklist_tui import line_results, line_words
from checklist_tui.line_answers import chosen, command_in, typed_for
from checklist_tui.line_stop import confirmed
from checklist_tui.line_talk import Talk
from checklist_tui.words import paused_words
from procedures.asks import Acknowledge, Ask, Hold, Option, Scan
from procedures.site.views import CheckoutView, FindingView, RemedyView
from procedures.trouble import Trouble

_WHOSE = (Option("mine", "I take it over; the procedure may begin anew"), Option("theirs", "Leave it as it is"))
_SWITCHED = (Option("on", "It stayed switched on"), Option("off", "It was switched off, or nobody knows"))


class _Moved(Exception):  # noqa: N818  control flow
    """A command changed the checkout: what is due has to be looked at again."""


class _Leave(Exception):  # noqa: N818  control flow
    """The person goes to the other instruments."""


class Conversation:
    """Talks one checkout through. `person` is the id of who is at the keyboard.

    `pin` is called with whose checkout it is, and asks for the PIN where it takes one to go on with it.
    """

    def __init__(self, talk: Talk, view: CheckoutView, person: str, pin: Callable[[str], str | None]) -> None:
        self._talk = talk
        self._desk = talk.use_cases.desk
        self._person, self._pin = person, pin
        self._checkout = view.checkout
        self._findings: list[FindingView] = []
        self._step = ""
        self.withdrawn = False
        self._commands: dict[str, Callable[[], None]] = {
            "?": lambda: talk.tell(*line_words.HELP_CHECKOUT),
            "where": lambda: talk.tell(*line_words.trail(self.view)),
            "numbers": self._numbers,
            "left": self._left,
            "again": self._again,
            "pause": self._pause,
            "home": self._home,
            "fail": self._fail,
            "note": self._note,
            "abandon": self._abandon,
            "wrong": self._wrong,
        }
        self._take(view)

    @property
    def view(self) -> CheckoutView:
        """The checkout as it was last seen."""
        return self._talk.watch.views[self._checkout]

    def run(self) -> CheckoutView:
        """Talk until the checkout has ended and its ending was read, or the person left it. Raises InputEnded."""
        self._talk.watch.visited(self._checkout)
        self._talk.tell("", *line_words.checkout_head(self.view))
        try:
            self._take_over()
            while self.view.ending is None:
                try:
                    self._one_turn()
                except _Moved:
                    continue
                except Trouble as trouble:
                    self._talk.tell_trouble(trouble)
                    self._take(self._desk.view(self._checkout))
            while True:
                try:
                    self._ended()
                    break
                except _Moved:
                    continue
        except _Leave:
            pass
        return self.view

    def _take_over(self) -> None:
        """Of a checkout that somebody else has begun: nobody answers under another name, or vouches for another's."""
        view = self.view
        if view.ending is not None or view.paused or view.person == self._person:
            return
        self._talk.tell(
            line_words.sentence(f"The checkout of {view.label} is {view.person_name}'s. Who goes on with it?")
        )
        while True:
            try:
                if self._choice(_WHOSE).value == "mine":
                    self._take(self._desk.pause(self._checkout, "handed over to somebody else"))
                    return
            except Trouble as trouble:
                self._talk.tell_trouble(trouble)
                continue
            self._talk.tell(f"Whoever is {view.person_name} scans that badge at the list first.")
            raise _Leave

    # --- turns -----------------------------------------------------------------------------------------------------

    def _one_turn(self) -> None:
        view = self.view
        self._tell_news(view)
        if view.paused:
            self._resume(view)
        elif view.remedy is not None:
            self._remedy(view.remedy)
        elif view.wait is not None:
            self._wait(view)
        elif isinstance(view.ask, Hold):
            self._begin_hold(view.ask)
        elif view.ask is not None:
            self._answer(view.ask)
        else:
            raise Trouble("this checkout asks for nothing and has not ended", do="Leave it, and tell the site lead.")

    def _tell_news(self, view: CheckoutView) -> None:
        """What came of the last answer, and the head of a step when it is a new one."""
        if view.result is not None and view.result not in self._findings:
            self._findings.append(view.result)
            self._talk.tell("", *line_results.finding_lines(view.result))
        if view.notice:
            self._talk.tell(line_words.sentence(view.notice))
        head = line_words.step_head(view)
        if view.ending is None and head != self._step:
            self._step = head
            self._talk.tell("", head)

    def _answer(self, ask: Ask) -> None:
        self._talk.tell(*line_words.ask_lines(ask))
        typed = typed_for(ask, self._line("Answer", ask))
        while not isinstance(ask, Scan | Acknowledge):
            echo = self._desk.understand(self._checkout, ask.key, typed).echo
            again = self._line(f"{line_words.sentence('That is: ' + echo)} Enter keeps it; or type it again", ask)
            if not again:
                break
            typed = typed_for(ask, again)
        took = self._talk.watch.took(self._checkout)
        self._take(self._desk.answer(self._checkout, ask.key, typed, took=took), answered=True)

    def _begin_hold(self, ask: Hold) -> None:
        self._talk.tell(*line_words.ask_lines(ask))
        if self._line("Enter begins", ask):
            raise Trouble("a hold begins with an empty line", do="Press Enter when you press the button.")
        self._take(self._desk.hold(self._checkout))

    def _wait(self, view: CheckoutView) -> None:
        """Until the wait or hold is over, or a line breaks the hold, or a command leads elsewhere."""
        self._talk.tell(*line_words.wait_lines(view))
        while self.view.wait is not None and self.view.ask == view.ask:
            text = self._talk.listen(self._checkout)
            if text is None:
                continue
            if view.wait is not None and view.wait.kind == "hold":
                self._take(self._desk.let_go(self._checkout))
                return
            if not self._obey(command_in(text)):
                self._talk.tell("Not taken: nothing is asked during a wait. Type ? for help.")
        if not self.view.notice:
            self._talk.tell("The time is over.")

    def _remedy(self, remedy: RemedyView) -> None:
        self._talk.tell(*line_words.remedy_lines(remedy))
        done = self._choice(line_words.REMEDY_OPTIONS)
        self._take(self._desk.remedy(self._checkout, done=done.value == "done"))

    def _resume(self, view: CheckoutView) -> None:
        self._talk.tell(line_words.sentence(paused_words(view.label, view.paused)))
        self._talk.tell("Was the instrument switched off since?")
        switched_off = self._choice(_SWITCHED).value == "off"
        pin = self._pin(view.person)
        self._take(self._desk.resume(self._checkout, self._person, switched_off=switched_off, pin=pin))

    def _ended(self) -> None:
        """Say the ending in full. One that is not fit for use is left by a word, never by a key pressed in haste."""
        self._tell_news(self.view)
        ending = self.view.ending
        assert ending is not None
        self._findings = list(ending.findings) or self._findings
        self._talk.tell("", *line_results.ending_lines(self.view, ending))
        fit = ending.ending == "fit for use"
        prompt = "Enter leaves; or numbers, note, wrong" if fit else "Type home when you have done this; or numbers"
        while True:
            text = self._line(prompt, None)
            if fit and not text:
                return
            self._talk.tell("Type home to leave this ending, numbers for its figures, ? for help.")

    # --- asking ----------------------------------------------------------------------------------------------------

    def _line(self, prompt: str, ask: Ask | None) -> str:
        """The next line that is no command; commands are obeyed on the way."""
        while True:
            text = self._talk.ask(prompt, self._checkout)
            if not self._obey(command_in(text, ask)):
                return text

    def _choice(self, options: tuple[Option, ...]) -> Option:
        self._talk.tell(*line_words.option_lines(options))
        choice = chosen(options, self._line("Answer", None))
        while again := self._line(f"That is: {choice.say}. Enter keeps it; or type it again", None):
            choice = chosen(options, again)
        return choice

    def _words(self, prompt: str) -> str:
        """Free words, in which no word is a command. Empty: never mind."""
        return self._talk.ask(f"{prompt} (Enter alone: never mind)", self._checkout)

    def _take(self, view: CheckoutView, *, answered: bool = False) -> None:
        self._talk.watch.take(view, answered=answered)

    # --- commands --------------------------------------------------------------------------------------------------

    def _obey(self, command: str) -> bool:
        if not command:
            return False
        self._commands[command]()
        return True

    def _numbers(self) -> None:
        self._talk.tell(*line_results.numbers_lines(self._findings))

    def _left(self) -> None:
        remaining = self._talk.watch.remaining(self._checkout)
        left = "No wait is going on here." if remaining is None else f"{line_words.duration(remaining)} left."
        self._talk.tell(left)

    def _again(self) -> None:
        self._step = ""
        raise _Moved

    def _pause(self) -> None:
        if self.view.ending is None and not self.view.paused:
            self._take(self._desk.pause(self._checkout))
            self._talk.tell("Paused. Everything is kept.")
        raise _Leave

    def _home(self) -> None:
        raise _Leave

    def _fail(self) -> None:
        if self._over("It has ended. Lock the instrument out by hand if you doubt it."):
            return
        self._talk.tell(f"In your judgement {self.view.label} fails: it is locked out at once, with your reason.")
        say = self._words("Reason")
        if say and self._confirmed(f"{self.view.label} fails: {say}"):
            self._take(self._desk.fail_by_judgement(self._checkout, say))
            raise _Moved
        self._talk.tell("Nothing was failed.")

    def _abandon(self) -> None:
        if self._over("It has ended already."):
            return
        why = self._words("Why is this checkout given up")
        if why and self._confirmed(f"Give up the checkout of {self.view.label}: {why}"):
            self._take(self._desk.abandon(self._checkout, why))
            raise _Moved
        self._talk.tell("It goes on.")

    def _wrong(self) -> None:
        why = self._words("What was wrong: which instrument, which person")
        if why and self._confirmed(f"Withdraw the checkout of {self.view.label}: {why}"):
            self._take(self._desk.withdraw(self._checkout, why))
            self.withdrawn = True
            self._talk.tell("Withdrawn: it is kept, struck through, and makes nothing fit for use.")
            raise _Leave
        self._talk.tell("Nothing was withdrawn.")

    def _note(self) -> None:
        text = self._words("Note")
        if text:
            self._desk.note(self._checkout, text)
        self._talk.tell("Written into the record." if text else "Nothing was written.")

    def _over(self, say: str) -> bool:
        if self.view.ending is not None:
            self._talk.tell(say)
        return self.view.ending is not None

    def _confirmed(self, what: str) -> bool:
        return confirmed(self._talk, what, self._checkout)
