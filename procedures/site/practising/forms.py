"""Forms of practice: putting somebody on the list, setting an exam, writing its paper and taking one in."""
# ruff: noqa: ARG002  what a form is asked is the same for all of them

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Final

from procedures.asks import Option
from procedures.sheets import Deed, Done, Form, FormField, Look
from procedures.site.forms.common import Taken, one_of
from procedures.site.practising import beginning, exams, room
from procedures.trouble import Trouble
from procedures.units import read_number

if TYPE_CHECKING:
    from procedures.site.forms import Task
    from procedures.site.opening import Site

Entered = Mapping[str, str]
_SPEEDS: Final = tuple(Option(*each) for each in beginning.SPEEDS)
_CAN_TAKE: Final = "Everybody on the list can take it."
_WHO: Final = (Option("trainee", "somebody who learns"), Option("trainer", "a trainer"))


def task(name: str) -> Task:
    """A form's task by its name. Raises Trouble for a name that there is not."""
    found = FORMS.get(name)
    if found is None:
        raise Trouble(f"practice has no form called {name[:40]!r}", allowed=", ".join(FORMS), do="Name one of them.")
    return found


def form(site: Site, name: str, about: str, person: str, entered: Entered, page: int) -> Form:
    """A page of a form as it stands with what was entered."""
    return task(name).form(site, about, person, entered, page)


def _whole(text: str) -> int:
    number = read_number(text)
    if number != int(number):
        raise Trouble(f"{number} is no whole number", allowed="a whole number", do="Enter it again.")
    return int(number)


class Enrol:
    """Puts somebody on the list of practice."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        return Form(
            "practice-enrol",
            "PRACTICE: somebody new",
            "Enter the name.",
            (
                FormField("name", "name", example="Tila Novice"),
                FormField("what", "who is it", "choice", "trainee", options=_WHO),
            ),
            says=("It is kept with what is practised here, and nowhere else.",),
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        return self._taken(site, person, entered).look()

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        taken = self._taken(site, person, entered)
        taken.whole()
        made = beginning.enrol(site, taken.text("name"), trainer=taken.text("what") == "trainer")
        return Done(f"{made.name} is on the list of practice.", f"Badge: {made.label}, or type the name.")

    def _taken(self, site: Site, person: str, entered: Entered) -> Taken:
        taken = Taken(entered)
        taken.read("name", beginning.name_meant)
        what = taken.read("what", one_of(_WHO))
        if what == "trainer":
            taken.check("what", lambda: _may_make_trainers(site, person))
        return taken


def _may_make_trainers(site: Site, person: str) -> None:
    """The first trainer is whoever says so; after that a trainer puts others on the list."""
    known = site.journal.people(limit=-1)
    if any("trainer" in each.roles for each in known) and not room.is_trainer(site, person):
        raise Trouble("only a trainer makes somebody a trainer", allowed="somebody who learns", do="Choose that.")


class SetExam:
    """Sets an exam."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        return Form(
            "practice-exam-set",
            "PRACTICE: set an exam",
            "Say what the exam is.",
            (
                FormField("title", "title", example="March, first group"),
                FormField("instruments", "instruments", "figure", "3", more="From 1 to 40, drawn with hidden faults."),
                FormField("minutes", "minutes for all", "figure", "60"),
                FormField("speed", "waits", "choice", "1", options=_SPEEDS),
                FormField("seed", "seed", needed=False, more="Empty: one is drawn. The same seed, the same exam."),
            ),
            says=("There are no hints. The time allowed runs from the first instrument on.",),
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        return self._taken(entered).look()

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        taken = self._taken(entered)
        taken.whole()
        made = exams.set_one(
            site,
            person,
            title=taken.text("title"),
            instruments=_whole(taken.text("instruments")),
            minutes=float(read_number(taken.text("minutes"))),
            seed=taken.text("seed"),
            speed=int(taken.text("speed") or "1"),
        )
        return Done("The exam is set.", _CAN_TAKE, Deed("Open", "sheet", "practice-exam", made))

    def _taken(self, entered: Entered) -> Taken:
        taken = Taken(entered)
        taken.read("title", lambda text: text)
        instruments = taken.read("instruments", _whole)
        minutes = taken.read("minutes", read_number)
        if instruments is not None:
            taken.check("instruments", lambda: exams.allowed(instruments, 1))
        if minutes is not None:
            taken.check("minutes", lambda: exams.allowed(1, float(minutes)))
        taken.read("speed", one_of(_SPEEDS))
        return taken


class TakeExam:
    """Asks once more before the time begins. What keeps it is the desk."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        exam = exams.read(site, about)
        ends = exams.until(site, about, person)
        return Form(
            "practice-exam-take",
            f"PRACTICE: exam “{exam.title}”",
            "Go on with it." if ends else "Begin when you are ready.",
            (),
            about=about,
            says=(
                f"{len(exam.paper.drills)} instruments, {exam.paper.seconds / 60:g} minutes for all of them. No hints.",
                "Each may be sound or not. After each one come back here for the next.",
            ),
            keep="Go on" if ends else "Begin: the time runs from now",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        return Look()

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        raise Trouble("an exam is taken at the desk of practice", do="Begin it on the screen.")


class PaperOut:
    """Writes the paper of an exam."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        return Form(
            "practice-exam-out",
            f"PRACTICE: the paper of “{exams.read(site, about).title}”",
            "Say where to.",
            (FormField("path", "file", example="exam.toml"),),
            about=about,
            says=("It tells what is wrong with each instrument: not for those who take it.",),
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        return self._taken(entered).look()

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        taken = self._taken(entered)
        taken.whole()
        path = exams.write_paper(site, person, about, Path(taken.text("path")))
        return Done(f"Written: {path}", "Another room takes it in with: Take an exam in from a file.")

    def _taken(self, entered: Entered) -> Taken:
        taken = Taken(entered)
        taken.read("path", lambda text: text)
        return taken


class PaperIn:
    """Takes the paper of an exam in."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        return Form(
            "practice-exam-in",
            "PRACTICE: take an exam in",
            "Say where it is.",
            (FormField("path", "file", example="exam.toml"),),
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        return self._taken(entered).look()

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        taken = self._taken(entered)
        taken.whole()
        made = exams.take_in_paper(site, person, Path(taken.text("path")))
        return Done("The exam is here.", _CAN_TAKE, Deed("Open", "sheet", "practice-exam", made))

    def _taken(self, entered: Entered) -> Taken:
        taken = Taken(entered)
        taken.read("path", lambda text: text)
        return taken


FORMS: Final[Mapping[str, Task]] = {
    "practice-enrol": Enrol(),
    "practice-exam-set": SetExam(),
    "practice-exam-take": TakeExam(),
    "practice-exam-out": PaperOut(),
    "practice-exam-in": PaperIn(),
}
