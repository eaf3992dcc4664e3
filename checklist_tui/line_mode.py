"""Line mode: the same checkouts as numbered questions on plain streams, for screen readers, serial consoles and pipes.

This is the list of instruments; a checkout itself is in `line_checkout`. docs/line-mode.md describes it for its users.
"""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable
from contextlib import suppress
from typing import Final

from checklist_tui import line_stop, line_words, output
from checklist_tui.line_checkout import Conversation
from checklist_tui.line_input import End, Lines, leaving_on_signals, standard_input
from checklist_tui.line_list import InstrumentList
from checklist_tui.line_pages import RECORDS, Pages, about
from checklist_tui.line_talk import InputEnded, Quit, Talk
from checklist_tui.use_cases import SiteUseCases, UseCases
from checklist_tui.words import ends_readiness
from procedures.findings import Ending
from procedures.site.opening import Site
from procedures.site.views import CheckoutView, InstrumentRow, PersonView
from procedures.trouble import Trouble

CODES: Final[dict[Ending, int]] = {
    "fit for use": output.OK,
    "locked out": output.LOCKED_OUT,
    "not checked": output.NOT_CHECKED,
    "abandoned": output.ABANDONED,
}
_WORST_FIRST: Final = (output.LOCKED_OUT, output.PAUSED, output.NOT_CHECKED, output.ABANDONED, output.OK)


def run(site: Site, *, instrument: str = "", person: str = "", bell: bool = True) -> int:
    """Line mode on this process's streams; the exit code. On a terminal lines are broken at spaces, and `bell` rings.

    Piped input is refused for real instruments: an answer that nobody typed is no observation.
    """
    lines = standard_input()
    if lines.piped and site.marking == "real":
        raise Trouble(
            "piped input would be answers that nobody observed",
            allowed="a terminal; piped input in demo, practice and rehearsal",
            do="Run it at a terminal, or try it with: checklist-tui demo --plain",
        )
    with leaving_on_signals(lines):
        write, ring = writer(bell=bell)
        return LineMode(SiteUseCases(site), lines, write, ring).run(instrument=instrument, person=person)


def writer(*, bell: bool) -> tuple[Callable[[str], None], Callable[[], None] | None]:
    """What writes on this process's output, and what rings, where that is wanted and there is a terminal."""
    terminal = sys.stdout.isatty()
    return _write_wrapped if terminal else _write, output.ring if bell and terminal else None


def _write(text: str) -> None:
    output.write(text, end="")


def _write_wrapped(text: str) -> None:
    """As wide as the terminal is now: its window may have been drawn to another size."""
    _write(output.wrapped(output.fitted(text, sys.stdout.encoding), shutil.get_terminal_size().columns))


class LineMode:
    """One session: who works here, the instruments as they were last told, and how checkouts ended."""

    def __init__(
        self, use_cases: UseCases, lines: Lines, write: Callable[[str], None], ring: Callable[[], None] | None = None
    ) -> None:
        self._use_cases = use_cases
        self._talk = Talk(use_cases, lines, write, ring)
        self._person: PersonView | None = None
        self._list = InstrumentList(self._talk)
        self._pages = Pages(self._talk, self._somebody, self._check_one)
        self._endings: dict[str, int] = {}
        self._nothing_begun = output.OK
        self._commands: dict[str, Callable[[], None]] = {
            "?": lambda: self._talk.tell(*line_words.HELP_HOME),
            "list": self._list.tell,
            "more": self._list.more,
            "home": self._list.tell,
            "open": self._open_checkouts,
            "left": self._open_checkouts,
            "person": self._ask_person,
            "records": lambda: self._pages.open(RECORDS),
            "quit": self._quit,
        }
        self._with_words: dict[str, Callable[[str], None]] = {
            "find": self._list.tell,
            "about": lambda text: self._pages.open(about(self._list.meant(text))),
            "end": lambda text: self._stop(text, line_stop.end_readiness),
            "lock": lambda text: self._stop(text, line_stop.lock_out),
        }

    def run(self, *, instrument: str = "", person: str = "") -> int:
        """Talk until the person leaves or no more lines come; what is open then is paused. The exit code.

        With `instrument` there is nothing but its checkout, and trouble in the way of it is raised, unless it is
        locked out.
        """
        # Whoever names an instrument takes 0 for "fit for use".
        self._nothing_begun = output.NOT_CHECKED if instrument else output.OK
        try:
            return self._run(instrument, person)
        except InputEnded as ended:
            return self._input_ended(ended.end)
        finally:
            # Whatever happens, nothing that was open here is left without a pause.
            self._pause_all("line mode was left")

    def _run(self, instrument: str, person: str) -> int:
        if person:
            self._person = self._entitled(person)
        home = self._use_cases.home(limit=1)
        self._talk.tell(*line_words.home_head(home))
        if instrument:
            return self._only(instrument)
        self._list.tell()
        with suppress(Quit):
            while True:
                self._one_turn()
        self._pause_all("the program was left")
        return self._exit_code()

    def _only(self, label: str) -> int:
        """The checkout of one instrument, and then the end."""
        row = self._list.labelled(label, exact=True)
        try:
            self._talk_through(self._view_of(row))
        except Trouble as trouble:
            if row.fitness != "locked out":
                raise
            self._talk.tell_trouble(trouble)
            return output.LOCKED_OUT
        self._pause_all("left for later")
        return self._exit_code()

    # --- the list --------------------------------------------------------------------------------------------------

    def _one_turn(self) -> None:
        text = self._talk.ask("Instrument (number or label), or ? for help")
        try:
            if not text:
                return
            word, _, rest = text.partition(" ")
            if text.casefold() in self._commands:
                self._commands[text.casefold()]()
            elif rest and word.casefold() in self._with_words:
                self._with_words[word.casefold()](rest.strip())
            else:
                self._check(text)
        except Trouble as trouble:
            self._talk.tell_trouble(trouble)

    def _open_checkouts(self) -> None:
        rows = self._use_cases.desk.open_checkouts()
        self._talk.tell(*([line_words.open_line(row) for row in rows] or ["No checkout stands open."]))

    def _check(self, text: str) -> None:
        """Whatever was scanned or typed: an instrument to check, a source put back, a badge."""
        word, _, rest = text.partition(" ")
        forced = word.casefold() == "label" and bool(rest)
        label = rest.strip() if forced else text
        found = self._use_cases.find(label)
        named = found.label.casefold() == label.casefold() and (forced or self._list.at(label) is None)
        if found.kind == "source" and named:
            back = self._use_cases.source_back(label, self._known_person().id)
            self._talk.tell(f"Source {back} is back in its store.")
        elif found.kind == "person" and named:
            self._person = self._entitled(label)
            self._talk.tell(f"{self._person.name} does the checkouts now.")
        else:
            row = self._list.meant(text)
            self._talk_through(self._view_of(row))
            self._list.tell_one(row)

    def _stop(self, text: str, act: Callable[[Talk, InstrumentRow, PersonView], None]) -> None:
        """End the readiness of an instrument, or lock it out, by anyone on the list of people."""
        row = self._list.meant(text)
        act(self._talk, row, self._somebody())
        self._list.tell_one(row)

    # --- checkouts -------------------------------------------------------------------------------------------------

    def _check_one(self, instrument: str) -> None:
        """The checkout of an instrument that a sheet leads to."""
        row = self._use_cases.instrument(instrument)
        if row is None:
            raise Trouble("this instrument is not in service here", do="Look at the list of instruments.")
        self._talk_through(self._view_of(row))

    def _view_of(self, row: InstrumentRow) -> CheckoutView:
        """The instrument's open checkout, or a new one."""
        desk = self._use_cases.desk
        person = self._known_person()
        open_here = {each.instrument: each.checkout for each in desk.open_checkouts()}
        if row.id in open_here:
            return desk.view(open_here[row.id])
        if loses := ends_readiness(row, self._use_cases.clock.now().utc):
            self._talk.tell(loses)
            if self._talk.ask("Begin it? yes or no").strip().casefold() not in ("yes", "y"):
                raise Trouble("no checkout was begun", do="Nothing is changed: it is ready as before.")
        if not row.may_begin:
            self._talk.tell(*line_words.obstacle_lines(self._use_cases.obstacles(row.id)))
        return desk.start(row.id, person.id, self._pin_of(person))

    def _pin_of(self, person: PersonView, whose: str = "") -> str | None:
        """The PIN to run a checkout with, asked for where a badge is not enough here."""
        wanted = self._use_cases.check_takes_pin(person.id, whose)
        return self._talk.ask_secret(f"PIN of {person.name}") if wanted else None

    def _talk_through(self, view: CheckoutView) -> None:
        person = self._known_person()
        conversation = Conversation(self._talk, view, person.id, lambda whose: self._pin_of(person, whose))
        try:
            conversation.run()
        finally:
            left = conversation.view
            if left.ending is not None:
                self._endings[left.instrument] = max(
                    (CODES[left.ending.ending], output.ABANDONED if conversation.withdrawn else output.OK), key=_badness
                )
                self._talk.watch.forget(left.checkout)

    def _known_person(self) -> PersonView:
        if self._person is None:
            self._ask_person()
        assert self._person is not None
        return self._person

    def _ask_person(self) -> None:
        """Ask until somebody is named who may check instruments."""
        while True:
            try:
                self._person = self._entitled(self._talk.ask("Who checks? Scan or type a badge, initials or name"))
            except Trouble as trouble:
                self._talk.tell_trouble(trouble)
                continue
            return

    def _somebody(self) -> PersonView:
        """Whoever works here: anybody on the list may lock out and end readiness, whatever their training."""
        return self._person or self._use_cases.who(self._talk.ask("Who are you? Scan or type your badge"))

    def _entitled(self, text: str) -> PersonView:
        person = self._use_cases.who(text)
        if person.may_check:
            raise Trouble(
                f"{person.name} may not check instruments: {person.may_check}",
                allowed="a person on the site's list who is entitled",
                do="Let somebody who is entitled do it, or ask the site lead.",
            )
        return person

    # --- leaving ---------------------------------------------------------------------------------------------------

    def _quit(self) -> None:
        raise Quit

    def _input_ended(self, end: End) -> int:
        paused = self._pause_all(end.say)
        with suppress(InputEnded):
            self._talk.tell("", end.say, *(f"{label} is paused. Everything is kept." for label in paused))
        return end.code if end.code != output.PAUSED else self._exit_code()

    def _pause_all(self, why: str) -> list[str]:
        """Pause what is open and was talked about here; the labels."""
        paused = []
        for view in tuple(self._talk.watch.views.values()):
            if view.ending is None:
                self._endings[view.instrument] = output.PAUSED
                with suppress(Trouble):  # it was paused before
                    self._use_cases.desk.pause(view.checkout, why)
                    paused.append(view.label)
            self._talk.watch.forget(view.checkout)
        return paused

    def _exit_code(self) -> int:
        """The worst of what happened."""
        return max(self._endings.values(), key=_badness, default=self._nothing_begun)


def _badness(code: int) -> int:
    return -_WORST_FIRST.index(code)
