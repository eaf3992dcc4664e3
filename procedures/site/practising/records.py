"""What people read of practice: the beginning, a debrief, one trainee, the class, every session.

All but the debrief is read from what was written down when sessions ended, so that a class of any size is told at once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from typing import TYPE_CHECKING, Any, Final

from procedures.asks import Option
from procedures.practice.rubric import rubric
from procedures.readiness import zone_of
from procedures.sheets import Column, Deed, Filter, Grid, Lines, Listing, Pairs, Plot, PlotDot, PlotLine, Row, Sheet
from procedures.site import local_time, naming
from procedures.site.practising import exams, keeping, room
from procedures.site.practising.done import MOST, Done, done
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from pathlib import Path

    from procedures.sheets import Query, Section
    from procedures.site.opening import Site

MOST_FAULTS: Final = 20
_SORTS: Final = {"free": "free practice", "drill": "drill", "exam": "exam"}
_ONLY_TRAINERS: Final = "only a trainer looks at what others did"


# --- by name -------------------------------------------------------------------------------------------------------


def sheet(site: Site, name: str, about: str, person: str) -> Sheet:
    """A sheet of practice by its name. Raises Trouble for a name that it has not."""
    make = SHEETS.get(name)
    if make is None:
        raise Trouble(f"practice has no sheet called {name[:40]!r}", allowed=", ".join(SHEETS), do="Name one of them.")
    return make(site, about, person)


def listing(site: Site, name: str, about: str, person: str, query: Query) -> Listing:
    """A listing of practice by its name. Raises Trouble for a name that it has not."""
    if name != "practice-sessions":
        raise Trouble(f"practice has no list called {name[:40]!r}", allowed="practice-sessions", do="Name this one.")
    return _sessions(site, about, person, query)


def write(site: Site, kind: str, deed: Deed, query: Query, person: str) -> Path:
    """Write what a deed opens as a file, with PRACTICE in its name and its head; its full path."""
    from procedures.site import printing

    given: Any = kind
    return printing.write(site, deed.name, deed.about, goes=deed.goes, kind=given, person=person, query=query).resolve()


# --- sheets --------------------------------------------------------------------------------------------------------


def _beginning(site: Site, about: str, person: str) -> Sheet:
    """Where everything of practice is reached from."""
    del about
    mine = done(site, person) if person else ()
    trainer = "" if not person or room.is_trainer(site, person) else _ONLY_TRAINERS
    open_exams = exams.listed(site)
    shelf = room.shelf(site)
    sections: list[Section] = [
        Pairs(
            (
                ("who practises", naming.name(site, person) if person else "nobody yet"),
                ("done so far", f"{len(mine)}, {sum(each.passed for each in mine)} passed"),
                ("cases to draw from", str(len(shelf.cases))),
            )
        )
    ]
    if shelf.troubles:
        sections.append(Lines(shelf.troubles, "Cases that cannot be used", "bad"))
    deeds = [
        Deed("What I did", "sheet", "practice-trainee", person, may_not="" if person else "nobody has said who it is"),
        Deed("Every session", "listing", "practice-sessions", "" if not trainer else person),
        Deed("The class", "sheet", "practice-class", may_not=trainer),
        Deed("Set an exam", "form", "practice-exam-set", may_not=trainer),
        Deed("Take an exam in from a file", "form", "practice-exam-in", may_not=trainer),
        Deed("Put somebody on the list", "form", "practice-enrol"),
    ]
    deeds += [Deed(f"Take the exam “{each.title}”", "form", "practice-exam-take", each.id) for each in open_exams]
    deeds += [Deed(f"Results of “{each.title}”", "sheet", "practice-exam", each.id) for each in open_exams]
    return Sheet("practice", "PRACTICE", tuple(sections), line="Nothing here is real.", deeds=tuple(deeds))


def _debrief(site: Site, about: str, person: str) -> Sheet:
    """What a session came to: for whoever worked it, and for trainers. It holds the answers of an exam."""
    from procedures.site.practising.scored import debrief_sheet

    _may_look(site, person, keeping.read(site, about).trainee)
    return debrief_sheet(site, about)


def _trainee(site: Site, about: str, person: str) -> Sheet:
    """What one trainee did, with progress and what was missed."""
    _may_look(site, person, about)
    mine = done(site, about)
    name = naming.name(site, about)
    sections: tuple[Section, ...] = (
        Pairs(_counts(mine), "So far"),
        _progress(site, mine),
        _faults(mine),
        Grid(_SESSIONS, tuple(_session(site, each) for each in mine), "Every session", "Nothing was finished yet."),
    )
    return Sheet("practice-trainee", f"PRACTICE: {name}", sections, about, line=_line(mine))


def _class(site: Site, about: str, person: str) -> Sheet:
    """All trainees with what they did, and the faults that are missed most."""
    del about
    if not room.is_trainer(site, person):
        raise Trouble(_ONLY_TRAINERS, allowed="a trainer", do="Have a trainer say who they are (F2).")
    every = done(site)
    by_trainee: dict[str, list[Done]] = {}
    for each in every:
        by_trainee.setdefault(each.trainee, []).append(each)
    rows = tuple(_of_class(site, trainee, mine) for trainee, mine in sorted(by_trainee.items(), key=_by_name(site)))
    sections: tuple[Section, ...] = (
        *([Lines((f"The newest {MOST:,} sessions are told.",), tone="quiet")] if len(every) == MOST else ()),
        Grid(_CLASS, rows, "Trainees", "Nobody has finished anything yet."),
        _faults(every),
        _matrix(site, by_trainee),
        _progress(site, every),
    )
    return Sheet("practice-class", "PRACTICE: the class", sections, line=_line(every), breaks=(2,))


def _exam(site: Site, about: str, person: str) -> Sheet:
    """What came of an exam: everybody who took it, one's own for a trainee."""
    exam = exams.read(site, about)
    all_of_it = done(site, about)
    mine = all_of_it if room.is_trainer(site, person) else tuple(each for each in all_of_it if each.trainee == person)
    by_trainee: dict[str, list[Done]] = {}
    for each in mine:
        by_trainee.setdefault(each.trainee, []).append(each)
    total = len(exam.paper.drills)
    ranked = sorted(by_trainee.items(), key=lambda one: -sum(each.percent for each in one[1]) / total)
    rows = tuple(
        Row(
            (
                naming.name(site, trainee),
                f"{len(sessions)} of {total}",
                f"{sum(each.passed for each in sessions)}",
                f"{sum(each.worst for each in sessions)}",
                f"{sum(each.percent for each in sessions) / total:.0f} %",
                f"{sum(each.body['seconds'] for each in sessions) / 60:.0f} min",
            ),
            Deed("Open", "sheet", "practice-trainee", trainee),
            "bad" if any(each.worst for each in sessions) else "",
            trainee,
        )
        for trainee, sessions in ranked
    )
    sections: tuple[Section, ...] = (
        Pairs(
            (
                ("instruments", str(total)),
                ("time allowed", f"{exam.paper.seconds / 60:g} min"),
                ("waits", f"{exam.paper.speed} ×"),
                ("set by", naming.name(site, exam.setter)),
                ("seed", exam.paper.seed),
            )
        ),
        Grid(_EXAM, rows, "Results", "Nobody has finished an instrument of it yet."),
        Grid(_SESSIONS, tuple(_session(site, each) for each in mine), "Every instrument"),
    )
    trainer = "" if room.is_trainer(site, person) else "only a trainer hands its paper on"
    deeds = (
        Deed("Take it", "form", "practice-exam-take", about),
        Deed("Write its paper to a file", "form", "practice-exam-out", about, may_not=trainer),
    )
    return Sheet("practice-exam", f"PRACTICE: exam “{exam.paper.title}”", sections, about, deeds=deeds)


SHEETS: Final[Mapping[str, Callable[[Site, str, str], Sheet]]] = {
    "practice": _beginning,
    "practice-debrief": _debrief,
    "practice-trainee": _trainee,
    "practice-class": _class,
    "practice-exam": _exam,
}


# --- the list of sessions ------------------------------------------------------------------------------------------


def _sessions(site: Site, about: str, person: str, query: Query) -> Listing:
    """Every session that is over, newest first: those of one trainee or exam, or all of them for a trainer."""
    if not room.is_trainer(site, person) and about != person:
        about = person
        if not person:
            raise Trouble(_ONLY_TRAINERS, allowed="a trainer, or your own", do="Say who you are (F2).")
    wanted = query.filters.get("result", "")
    found = [each for each in done(site, about) if _fits(each, wanted)]
    text = query.search.strip().casefold()
    rows = [_session(site, each) for each in found]
    if text:
        rows = [each for each in rows if any(text in cell.casefold() for cell in each.cells)]
    page = rows[query.offset : query.offset + query.limit] if query.limit >= 0 else rows[query.offset :]
    return Listing(
        "practice-sessions",
        "PRACTICE: every session",
        _SESSIONS,
        tuple(page),
        len(rows),
        query.offset,
        about,
        filters=(
            Filter(
                "result",
                "result",
                (
                    Option("passed", "passed"),
                    Option("failed", "not passed"),
                    Option("worst", "a faulty one was called fit"),
                ),
            ),
        ),
    )


def _fits(one: Done, wanted: str) -> bool:
    return {"passed": one.passed, "failed": not one.passed, "worst": one.worst}.get(wanted, True)


# --- parts ---------------------------------------------------------------------------------------------------------

_SESSIONS: Final = (
    Column("when", least=16),
    Column("who", least=8),
    Column("instrument", gives_way=2, least=12),
    Column("case", least=12),
    Column("kind", gives_way=3),
    Column("result", least=10),
    Column("score", figures=True, least=5),
    Column("waits", gives_way=4, least=4),
    Column("hints", figures=True, gives_way=4, least=5),
)
_CLASS: Final = (
    Column("who", least=10),
    Column("done", figures=True, least=4),
    Column("passed", figures=True),
    Column("a faulty one called fit", figures=True, least=8),
    Column("needless lockouts", figures=True, gives_way=1, least=8),
    Column("mean score", figures=True, least=6),
    Column("last", gives_way=2, least=16),
)
_EXAM: Final = (
    Column("who", least=10),
    Column("finished", least=7),
    Column("passed", figures=True),
    Column("a faulty one called fit", figures=True, least=8),
    Column("score", figures=True, least=6),
    Column("time", figures=True, gives_way=1),
)


def _may_look(site: Site, person: str, trainee: str) -> None:
    if person != trainee and not room.is_trainer(site, person):
        raise Trouble(_ONLY_TRAINERS, allowed="a trainer, or your own", do="Say who you are (F2).")


def _by_name(site: Site) -> Callable[[tuple[str, Sequence[Done]]], str]:
    return lambda one: naming.name(site, one[0]).casefold()


def _line(some: Sequence[Done]) -> str:
    worst = sum(each.worst for each in some)
    return f"{worst} time{'' if worst == 1 else 's'} a faulty instrument was called fit for use." if worst else ""


def _counts(some: Sequence[Done]) -> tuple[tuple[str, str], ...]:
    mean = sum(each.percent for each in some) / len(some) if some else 0.0
    return (
        ("finished", str(len(some))),
        ("passed", str(sum(each.passed for each in some))),
        ("a faulty one called fit for use", str(sum(each.worst for each in some))),
        ("mean score", f"{mean:.0f} %" if some else "none yet"),
    )


def _needless(one: Done) -> bool:
    lines = {line["name"]: line for line in one.body["score"]["lines"]}
    decision = lines.get("decision", {"gained": 0, "possible": 0})
    return bool(one.body["score"]["ending"] == "locked out" and decision["gained"] < decision["possible"])


def _of_class(site: Site, trainee: str, mine: Sequence[Done]) -> Row:
    mean = sum(each.percent for each in mine) / len(mine)
    return Row(
        (
            naming.name(site, trainee),
            str(len(mine)),
            str(sum(each.passed for each in mine)),
            str(sum(each.worst for each in mine)),
            str(sum(_needless(each) for each in mine)),
            f"{mean:.0f} %",
            local_time.said(site, mine[0].event.utc),
        ),
        Deed("Open", "sheet", "practice-trainee", trainee),
        "bad" if mine[0].worst else "",
        trainee,
    )


def _matrix(site: Site, by_trainee: Mapping[str, Sequence[Done]]) -> Grid:
    """Trainees against kinds of instrument: passed of done."""
    from procedures.practice.kit import kits

    profiles = sorted({str(each.body["profile"]) for mine in by_trainee.values() for each in mine})
    titles = [kits()[each].model.title.split(",")[0] if each in kits() else each for each in profiles]
    columns = (Column("who", least=10), *(Column(title, figures=True, least=7) for title in titles))
    rows = []
    for trainee, mine in sorted(by_trainee.items(), key=_by_name(site)):
        cells = [naming.name(site, trainee)]
        for profile in profiles:
            some = [each for each in mine if each.body["profile"] == profile]
            cells.append(f"{sum(each.passed for each in some)} of {len(some)}" if some else "—")
        rows.append(Row(tuple(cells), Deed("Open", "sheet", "practice-trainee", trainee), key=trainee))
    return Grid(columns, tuple(rows), "Passed of done, by instrument")


def _faults(some: Iterable[Done]) -> Grid:
    """Which faults were missed most."""
    from procedures.practice.debrief import kind_say

    there: Counter[str] = Counter()
    missed: Counter[str] = Counter()
    for each in some:
        for kind in each.body["faults"]:
            found = each.found(kind)
            if found is not None:
                there[kind] += 1
                missed[kind] += not found
    ranked = sorted(missed, key=lambda kind: (-missed[kind] / there[kind], -there[kind], kind))
    rows = tuple(
        Row((kind_say(kind), f"{missed[kind]} of {there[kind]}"), tone="warn", key=kind)
        for kind in ranked[:MOST_FAULTS]
        if missed[kind]
    )
    columns = (Column("fault", least=20), Column("missed", figures=True, least=9))
    return Grid(columns, rows, "Faults that were missed", "No fault was missed that was there to be found.")


def _progress(site: Site, some: Sequence[Done]) -> Plot:
    zone = zone_of(site.settings()["zone"])
    passes = rubric()
    with suppress(Trouble):  # a broken one is told where something is scored
        passes = room.rubric_of(site)
    dots = tuple(
        PlotDot(
            each.event.utc.astimezone(zone),
            each.percent,
            "x" if each.worst else "",
            "a faulty one was called fit for use" if each.worst else "",
        )
        for each in sorted(some, key=lambda one: one.event.utc)
    )
    return Plot("Score over time", "%", dots, (PlotLine(passes.pass_at, "passed from here"),))


def _session(site: Site, each: Done) -> Row:
    from procedures.practice.kit import kits

    body = each.body
    title = kits()[body["profile"]].model.title if body["profile"] in kits() else str(body["profile"])
    result = "FIT: WRONG" if each.worst else "passed" if each.passed else "not passed"
    return Row(
        (
            local_time.said(site, each.event.utc),
            naming.name(site, each.trainee),
            title,
            str(body["case"]),
            _SORTS.get(str(body["sort"]), str(body["sort"])),
            result,
            f"{each.percent:.0f} %",
            f"{body['speed']} ×",
            str(body["hints"]),
        ),
        Deed("Open", "sheet", "practice-debrief", str(body["session"])),
        "bad" if each.worst else "" if each.passed else "warn",
        str(body["session"]),
    )
