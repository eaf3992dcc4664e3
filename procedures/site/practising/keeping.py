"""Sessions of practice as records: how one began, each thing that was done, and what it came to.

A session is written down moment by moment, so that a kill loses nothing; read back it is played again, which gives the
instrument as it stood to the last digit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from procedures.journal.fields import is_hash
from procedures.practice.drills import Drill, drill_from_json, drill_to_json
from procedures.practice.kit import Papers, SourceLabels, kits
from procedures.practice.scoring import Score, score_to_json
from procedures.practice.session import Session, moment_from_json, moment_to_json
from procedures.site.practising.room import kit_of, practice_only
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.envelope import Event
    from procedures.practice.bench import Bench
    from procedures.practice.moments import Moment
    from procedures.practice.rubric import Rubric
    from procedures.site.opening import Site

BEGUN, MOMENT, HINTED, ENDED = "practice-begun", "practice-moment", "practice-hinted", "practice-ended"


@dataclass(frozen=True, slots=True)
class Kept:
    """A session as it is recorded. `exam` is the exam it belongs to and `place` its number there, "" and 0 for none."""

    id: str
    trainee: str
    drill: Drill
    papers: Papers
    session: Session
    exam: str = ""
    place: int = 0
    ended: Event | None = None


def begin(site: Site, trainee: str, drill: Drill, papers: Papers, *, exam: str = "", place: int = 0) -> str:
    """Write down that a session begins; its id comes back."""
    practice_only(site)
    kit = kit_of(drill.profile)
    body = {
        "trainee": trainee,
        "drill": drill_to_json(drill),
        "papers": {
            "label": papers.label,
            "serial": papers.serial,
            "sources": [{"role": s.role, "label": s.label, "jig": s.jig} for s in papers.sources],
        },
        "profile_sha256": kit.profile.sha256,
        "model_sha256": kit.model_sha256,
        "exam": exam,
        "place": place,
    }
    about = (trainee, exam) if exam else (trainee,)
    return site.record(BEGUN, body, about=about, person=trainee).hash


def add(site: Site, kept: str, trainee: str, moment: Moment) -> None:
    """Write down one thing that was done in it."""
    site.record(MOMENT, {"session": kept, "moment": moment_to_json(moment)}, about=(kept,), person=trainee)


def hinted(site: Site, kept: str, trainee: str, number: int) -> None:
    """Write down that a hint was asked for."""
    site.record(HINTED, {"session": kept, "number": number}, about=(kept,), person=trainee)


def end(
    site: Site, kept: Kept, score: Score, decision: str, first: str, faults: tuple[str, ...], rubric: Rubric
) -> Event:
    """Write down what it came to, and by which rubric: another one later does not change what was scored."""
    body = {
        "session": kept.id,
        "trainee": kept.trainee,
        "profile": kept.drill.profile,
        "case": kept.drill.case.title,
        "sort": kept.drill.sort,
        "speed": kept.session.speed,
        "hints": kept.session.hints,
        "seconds": kept.session.ended / 1e6,
        "score": score_to_json(score),
        "decision": decision,
        "first": first,
        "faults": list(faults),
        "exam": kept.exam,
        "place": kept.place,
        "rubric": rubric.model_dump(mode="json"),
    }
    about = (kept.id, kept.trainee, kept.exam) if kept.exam else (kept.id, kept.trainee)
    return site.record(ENDED, body, about=about, person=kept.trainee)


def is_ended(site: Site, session: str) -> bool:
    """Whether what a session came to is written down."""
    return bool(site.journal.about(session, kinds=(ENDED,), limit=1))


def read(site: Site, session: str) -> Kept:
    """A session with all that was done in it. Raises Trouble for none, and for one that cannot be read here."""
    events = site.journal.checkout_events(session) if is_hash(session) else ()
    begun = next((each for each in events if each.hash == session and each.kind == BEGUN), None)
    if begun is None:
        raise Trouble("there is no such session of practice here", do="Choose one from the list.")
    drill = drill_from_json(begun.body["drill"], kits())
    kit = kit_of(drill.profile)
    mine = [each for each in events if each.body.get("session") == session]
    moments = tuple(
        moment_from_json(each.body["moment"], kit, f"moment {number}")
        for number, each in enumerate((each for each in mine if each.kind == MOMENT), start=1)
    )
    ended = next((each for each in mine if each.kind == ENDED), None)
    last = moments[-1].at if moments else 0
    papers = _papers(begun.body["papers"])
    return Kept(
        id=session,
        trainee=begun.body["trainee"],
        drill=drill,
        papers=papers,
        session=Session(
            profile=kit.id,
            profile_sha256=begun.body["profile_sha256"],
            model_sha256=begun.body["model_sha256"],
            case=drill.case,
            papers=papers,
            seed=drill.seed,
            start=drill.start,
            moments=moments,
            ended=last if ended is None else max(last, round(ended.body["seconds"] * 1e6)),
            speed=drill.speed,
            hints=sum(each.kind == HINTED for each in mine),
        ),
        exam=begun.body["exam"],
        place=begun.body["place"],
        ended=ended,
    )


def as_far_as(kept: Kept, bench: Bench, hints: int) -> Kept:
    """The same session as it stands at its bench now."""
    from dataclasses import replace

    from procedures.practice.session import session_of

    return replace(kept, session=session_of(bench, speed=kept.drill.speed, hints=hints))


def _papers(body: Mapping[str, Any]) -> Papers:
    sources = tuple(SourceLabels(row["role"], row["label"], row["jig"]) for row in body["sources"])
    return Papers(body["label"], body["serial"], sources)
