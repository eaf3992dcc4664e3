"""Beginning: what can be practised, and what somebody has done so far."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from procedures.practice.drills import Drill, drawn_case, drill_of, free_practice
from procedures.practice.kit import kits
from procedures.site import local_time, lookups, system
from procedures.site.practising import keeping, room
from procedures.site.views import InstrumentRow, PersonView
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.opening import Site
    from procedures.site.practising.desk import PracticeDesk

SPEEDS: Final = (
    ("1", "As long as they are: 1 ×"),
    ("4", "Four times as fast: 4 ×"),
    ("10", "Ten times as fast: 10 ×"),
)
"""How fast waits may go, each with the words for it."""
SHOWN: Final = 12
"""Sessions that are named one by one."""
_LONGEST_NAME: Final = 80


def kinds() -> tuple[tuple[str, str], ...]:
    """The kinds of instrument there are, by the id of their profile, in words."""
    return tuple((name, kit.model.title) for name, kit in sorted(kits().items()))


def begin(site: Site, desk: PracticeDesk, trainee: str, kind: str, *, free: bool, speed: int) -> str:
    """Begin free practice, or a drill with hidden faults, on this kind of instrument or on any; the session's id.

    What it has is drawn anew each time: half of the drills are of the cases on the shelf, half of the whole catalogue.
    """
    from random import Random

    seed = system.new_seed()
    chance = Random(f"{seed}/kind")
    profile = kind or chance.choice(sorted(kits()))
    kit = room.kit_of(profile)
    now = site.clock.now().utc
    cases = [each for each in room.shelf(site).cases.values() if each.profile == profile]
    if free:
        hinted = [each for each in cases if each.hints]
        drill = free_practice(kit, chance.choice(hinted) if hinted else None, seed, now)
    elif cases and chance.random() < 0.5:
        drill = drill_of(cases, seed, now)
    else:
        drill = Drill(drawn_case(kit, chance), seed, now)
    return desk.begin(trainee, _at(drill, speed)).checkout


def _at(drill: Drill, speed: int) -> Drill:
    from dataclasses import replace

    return replace(drill, speed=speed)


def unfinished(site: Site, trainee: str) -> tuple[tuple[str, str], ...]:
    """This person's sessions that are not over and belong to no exam, newest first, by id, in words."""
    begun = site.journal.about(trainee, kinds=(keeping.BEGUN,), limit=SHOWN)
    over = {each.body["session"] for each in site.journal.about(trainee, kinds=(keeping.ENDED,), limit=-1)}
    return tuple(
        (each.hash, f"{_kind(each.body['drill'])}, begun {local_time.said(site, each.utc)}:{each.utc:%S}")
        for each in begun
        if each.hash not in over and not each.body["exam"]
    )


def finished(site: Site, trainee: str) -> tuple[tuple[str, str], ...]:
    """What this person has done, newest first, by id, in words."""
    rows = []
    for each in site.journal.about(trainee, kinds=(keeping.ENDED,), limit=SHOWN):
        body = each.body
        passed = "passed" if body["score"]["passed"] else "NOT passed"
        name = kits()[body["profile"]].model.title if body["profile"] in kits() else body["profile"]
        rows.append((body["session"], f"{passed}, {body['score']['percent']:.0f} %: {name}, {body['case']}"))
    return tuple(rows)


def _kind(drill: dict[str, object]) -> str:
    case = drill.get("case")
    profile = str(case.get("profile", "")) if isinstance(case, dict) else ""
    return kits()[profile].model.title if profile in kits() else profile


def name_meant(text: str) -> str:
    """A name as it was typed. Raises Trouble for none."""
    name = " ".join(text.split())
    if not 2 <= len(name) <= _LONGEST_NAME:
        raise Trouble("that is no name", allowed=f"2 to {_LONGEST_NAME} characters", do="Type the name.")
    return name


def enrol(site: Site, name: str, *, trainer: bool = False) -> PersonView:
    """Put a new name on the list of practice. Raises Trouble for none, or one that is there already."""
    name = name_meant(name)
    known = site.journal.people(limit=-1)
    if any(each.name.casefold() == name.casefold() for each in known):
        raise Trouble(f"{name} is on the list already", do="Choose the name there, or add something to tell you apart.")
    number = 1 + len(known)
    while site.journal.labelled(f"T-{number}"):
        number += 1
    return lookups.person(site, room.enrol(site, f"T-{number}", name, trainer=trainer))


def row(desk: PracticeDesk, session: str) -> InstrumentRow | None:
    """A session as the row of an instrument whose checkout is open."""
    try:
        view = desk.view(session)
    except Trouble:
        return None
    return InstrumentRow(
        id=session,
        label=view.label,
        serial=view.serial,
        type=view.type,
        fitness="needs check",
        why="practice",
        reasons=(),
        until=None,
        whereabouts="here",
        holder="",
        contaminated=False,
        calibration_due=None,
        due=(),
        checkout=session,
    )
