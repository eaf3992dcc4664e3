"""Exams: set by a trainer, taken by anybody on the list, instrument after instrument, within the time allowed.

What an exam holds follows from its paper, so another room that has the paper gives the very same instruments.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Final

from procedures.journal.fields import is_hash
from procedures.practice.drills import (
    LONGEST_EXAM_S,
    MOST_INSTRUMENTS,
    Paper,
    exam_of,
    paper_from_json,
    paper_from_toml,
    paper_to_json,
    paper_to_toml,
)
from procedures.practice.kit import kits
from procedures.site import system
from procedures.site.practising import keeping, room
from procedures.site.practising.keeping import Kept
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.envelope import Event
    from procedures.site.opening import Site
    from procedures.site.practising.desk import PracticeDesk

KIND: Final = "practice-exam"
SHOWN: Final = 20
LARGEST_FILE: Final = 1_000_000


@dataclass(frozen=True, slots=True)
class Exam:
    """An exam that was set here: its record, its paper, and who set it."""

    id: str
    paper: Paper
    setter: str

    @property
    def title(self) -> str:
        return self.paper.title


def allowed(instruments: int, minutes: float) -> None:
    """Raises Trouble for so many instruments, or so many minutes, that they make no exam."""
    if not 1 <= instruments <= MOST_INSTRUMENTS:
        raise Trouble(
            f"{instruments} instruments are no exam", allowed=f"1 to {MOST_INSTRUMENTS}", do="Enter it again."
        )
    if not 0 < minutes * 60 <= LONGEST_EXAM_S:
        raise Trouble(
            f"{minutes:g} minutes are no time for an exam",
            allowed=f"more than 0, at most {LONGEST_EXAM_S / 60:g}",
            do="Enter it again.",
        )


def set_one(
    site: Site, trainer: str, *, title: str, instruments: int, minutes: float, seed: str = "", speed: int = 1
) -> str:
    """Set an exam on so many instruments drawn from the whole catalogue; its id. Without a seed one is drawn.

    Raises Trouble for somebody who is no trainer, and for numbers that make no exam.
    """
    _trainer_only(site, trainer)
    title = " ".join(title.split())
    if not title:
        raise Trouble("the exam has no title", allowed="a line", do="Give it a title.")
    paper = exam_of(
        kits(),
        seed.strip() or system.new_seed(),
        site.clock.now().utc,
        title=title,
        instruments=instruments,
        seconds=minutes * 60,
        speed=speed,
    )
    return _keep(site, trainer, paper)


def _keep(site: Site, trainer: str, paper: Paper) -> str:
    return site.record(KIND, {"paper": paper_to_json(paper), "setter": trainer}, about=(trainer,), person=trainer).hash


def _trainer_only(site: Site, person: str) -> None:
    room.practice_only(site)
    if not room.is_trainer(site, person):
        raise Trouble("only a trainer sets an exam", allowed="a trainer", do="Have a trainer say who they are (F2).")


def read(site: Site, exam: str) -> Exam:
    """An exam by its id. Raises Trouble for none."""
    event = site.journal.by_hash(exam) if is_hash(exam) else None
    if event is None or event.kind != KIND:
        raise Trouble("there is no such exam here", do="Choose one from the list.")
    return _exam(event)


def _exam(event: Event) -> Exam:
    return Exam(event.hash, paper_from_json(event.body["paper"], kits()), str(event.body["setter"]))


def listed(site: Site) -> tuple[Exam, ...]:
    """The exams that were set here, newest first."""
    found, _ = site.journal.happened((KIND,), limit=SHOWN)
    return tuple(_exam(each) for each in found)


# --- taking one ----------------------------------------------------------------------------------------------------


def take(site: Site, desk: PracticeDesk, exam: str, person: str) -> str:
    """The session that is next for this person: one that was begun, or the next instrument; its id.

    The time allowed runs from the first instrument on, whatever happens meanwhile. Raises Trouble when it is over, or
    all instruments are done.
    """
    wanted = read(site, exam)
    begun = _begun(site, exam, person)
    ends = until(site, exam, person)
    over = {each.body["session"] for each in site.journal.about(exam, kinds=(keeping.ENDED,), limit=-1)}
    if ends is not None and site.clock.now().utc >= ends:
        for each in begun:
            if each.hash not in over:
                with suppress(Trouble):  # such as a rubric that is no good
                    desk.view(each.hash)  # which gives it up, since its time is over
        raise Trouble("the time allowed for this exam is over", do="Look at the results.")
    for each in begun:
        # One that ended while the rubric was no good is over, though nothing is scored yet.
        if each.hash not in over and desk.view(each.hash).ending is None:
            return each.hash
    if len(begun) >= len(wanted.paper.drills):
        raise Trouble("you have been through all instruments of this exam", do="Look at the results.")
    drill = wanted.paper.drills[len(begun)]
    ends = ends or site.clock.now().utc + timedelta(seconds=wanted.paper.seconds)
    return desk.begin(person, drill, exam=exam, place=len(begun) + 1, until=ends).checkout


def _begun(site: Site, exam: str, person: str) -> list[Event]:
    found = site.journal.about(exam, kinds=(keeping.BEGUN,), limit=-1, oldest_first=True)
    return [each for each in found if each.body["trainee"] == person]


def until(site: Site, exam: str, person: str) -> datetime | None:
    """When the time allowed is over for this person; None before they begin, and for what is no exam here."""
    begun = _begun(site, exam, person)
    event = site.journal.by_hash(exam) if is_hash(exam) else None
    if not begun or event is None or event.kind != KIND:
        return None
    return begun[0].utc + timedelta(seconds=_exam(event).paper.seconds)


def until_of(site: Site, kept: Kept) -> datetime | None:
    """The same for the exam that a session belongs to."""
    return until(site, kept.exam, kept.trainee) if kept.exam else None


# --- as a file -----------------------------------------------------------------------------------------------------


def write_paper(site: Site, trainer: str, exam: str, path: Path) -> Path:
    """Write the paper of an exam as a file for another room. It tells what is wrong with the instruments.

    Raises Trouble for somebody who is no trainer, and where there is a file already or none can be written.
    """
    _trainer_only(site, trainer)
    text = paper_to_toml(read(site, exam).paper)
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        raise Trouble("there is a file here already", where=str(path), do="Choose another name.") from None
    except (OSError, ValueError) as fault:
        raise Trouble(f"it cannot be written ({fault})", where=str(path), do="Name another place.") from None
    return path


def take_in_paper(site: Site, trainer: str, path: Path) -> str:
    """Set the exam of a paper that another room wrote; its id. Raises Trouble for anything that is none."""
    _trainer_only(site, trainer)
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise Trouble("this file is too large for an exam", where=str(path), allowed=f"{LARGEST_FILE:,} bytes")
        text = path.read_text(encoding="utf-8")
    except (OSError, ValueError) as fault:
        raise Trouble(f"it cannot be read ({fault})", where=str(path)[:200], do="Name the file of an exam.") from None
    return _keep(site, trainer, paper_from_toml(text, kits()))
