"""The room of practice: a folder with a journal of its own, in which nothing is a real record.

It is another file than the site's, marked as practice from its first record on, so no program opens one for the other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from procedures.site import inventory, lookups
from procedures.site.opening import JOURNAL, Site, create_site, open_site
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.clock import Clock
    from procedures.practice.cases import Case
    from procedures.practice.kit import Kit
    from procedures.practice.rubric import Rubric

NAME: Final = "Practice"
CASES: Final = "cases"
"""Folder beside the journal with the cases that a trainer of this site wrote, as TOML."""
MOST_CASES: Final = 500
RUBRIC: Final = "rubric.toml"
"""File beside the journal by which a trainer of this site weighs what is scored."""


def open_room(folder: Path, clock: Clock, *, station: str) -> Site:
    """The records of practice in this folder; they are begun when there are none. Raises Trouble as opening does."""
    if (folder / JOURNAL["practice"]).exists():
        return open_site(folder, clock, marking="practice")
    return create_site(folder, clock, station=station, name=NAME, zone="Etc/UTC", marking="practice")


def enrol(site: Site, label: str, name: str, *, trainer: bool = False) -> str:
    """Put a trainee (or a trainer) on the list of practice; their id comes back. Raises Trouble for a label in use."""
    practice_only(site)
    roles = ("trainer",) if trainer else ("technician",)
    initials = "".join(word[0] for word in name.split() if word)[:4] or label[:4]
    return inventory.register_person(site, label=label, name=name, initials=initials, roles=roles, trained_until=None)


def practice_only(site: Site) -> None:
    """Raises Trouble where real records are kept: nothing of practice is written there."""
    if site.marking != "practice":
        raise Trouble(
            "these are not the records of practice",
            where=str(site.folder),
            allowed="a folder of practice",
            do="Begin it with: checklist-tui practice",
        )


def is_trainer(site: Site, person: str) -> bool:
    """Whether this person may look at what all trainees did, and set exams."""
    return bool({"trainer", "lead"} & lookups.roles(site, person))


@dataclass(frozen=True, slots=True)
class Shelf:
    """The cases there are, by name, and what is wrong with those that cannot be read, in lines."""

    cases: Mapping[str, Case]
    troubles: tuple[str, ...] = ()


def shelf(site: Site) -> Shelf:
    """The cases that come along, and those of the folder of this room; one of the same name goes before."""
    from procedures.practice import packaged
    from procedures.practice.cases import load_case
    from procedures.practice.pages import PracticeErrors

    found = dict(packaged.cases())
    troubles: list[str] = []
    folder = site.folder / CASES
    try:
        files = sorted(folder.glob("*.toml"))[:MOST_CASES] if folder.is_dir() else []
    except OSError as fault:
        files, troubles = [], [f"the folder {CASES} cannot be read ({fault.strerror})"]
    for file in files:
        try:
            found[file.stem] = load_case(file, packaged.models())
        except PracticeErrors as errors:
            troubles += [str(each) for each in errors.errors]
        except Trouble as trouble:
            troubles.append(f"{file.name}: {trouble.what}")
    return Shelf(found, tuple(troubles))


def rubric_of(site: Site) -> Rubric:
    """How sessions are scored here: by the file that a trainer put beside the records, else as usual.

    Raises PracticeErrors with every mistake of that file: nothing is scored by half a rubric.
    """
    from procedures.practice.rubric import load_rubric, rubric

    own = site.folder / RUBRIC
    return load_rubric(own) if own.exists() else rubric()


def kit_of(profile: str) -> Kit:
    """The kit of a profile. Raises Trouble when there is no simulated instrument for it."""
    from procedures.practice.kit import kits

    known = kits().get(profile)
    if known is None:
        raise Trouble(
            f"there is no simulated instrument for “{profile[:60]}”",
            allowed=", ".join(sorted(kits())),
            do="Choose one of these.",
        )
    return known
