"""The debrief of a practice checkout: the decision, what was wrong, what was done, and what the instrument showed.

Values and a `Sheet` of them, so that every front end and the printer tell it alike. The decision comes first and stands
alone. What to look for next time is said in the words of the catalogue of faults.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from procedures.headless import MICROSECOND
from procedures.practice.answer_key import FIT, Key, mended, observation
from procedures.practice.catalogue import Fault
from procedures.practice.evidence import Evidence
from procedures.practice.kit import Kit
from procedures.practice.pairs import look_alikes
from procedures.practice.scoring import Score, found_at
from procedures.sheets import Column, Grid, Lines, Pairs, Row, Section, Sheet, Tone

NAME = "practice-debrief"


@dataclass(frozen=True, slots=True)
class Told:
    """One line of the timeline. `at` are seconds since the session began; `really` is "" where it was as entered."""

    at: float
    step: str
    what: str
    entered: str
    really: str
    good: bool


@dataclass(frozen=True, slots=True)
class Lesson:
    """A fault in plain words: what was wrong, what is seen of it, and what looks like it.

    `shown_at` is the step that shows it when nothing else is wrong, "" when none does. `harmless`: it is no fault.
    """

    kind: str
    wrong: str
    seen: str
    shown_at: str
    alike: tuple[str, ...]
    harmless: bool


@dataclass(frozen=True, slots=True)
class Debrief:
    """What is told after a session. `decision` is the one sentence that comes first."""

    decision: str
    tone: Tone
    score: Score
    lessons: tuple[Lesson, ...]
    timeline: tuple[Told, ...]
    next_time: tuple[str, ...]


def debrief_of(score: Score, evidence: Evidence, kit: Kit, key: Key) -> Debrief:
    """The debrief of a session that was scored."""
    lessons = tuple(_lesson(each, evidence, kit) for each in evidence.bench.case.faults)
    return Debrief(
        decision=_decision(score),
        tone="bad" if score.worst or not score.passed else "good",
        score=score,
        lessons=lessons,
        timeline=_timeline(evidence, kit),
        next_time=_next_time(score, evidence, kit, key, lessons),
    )


def _decision(score: Score) -> str:
    said = score.line("decision").why
    if score.worst:
        return f"WRONG: {said}"
    line = score.line("decision")
    if not line.possible:
        return f"NOT SCORED: {said}"
    return f"{'RIGHT' if line.gained == line.possible else 'WRONG'}: {said}"


def _lesson(fault: Fault, evidence: Evidence, kit: Kit) -> Lesson:
    what, bench = fault.what, evidence.bench
    alone = observation(kit, replace(bench.case, faults=(fault,)), bench.seed, bench.start)
    return Lesson(
        kind=fault.kind,
        wrong=what.say,
        seen=what.seen,
        shown_at=_title(kit, alone.first) if alone.first else "",
        alike=tuple(
            f"{kind_say(each.other if each.one == fault.kind else each.one)} {each.told_apart}"
            for each in look_alikes(fault.kind)
        ),
        harmless=what.of == "nothing",
    )


def kind_say(kind: str) -> str:
    """What a kind of fault is, in the words of the catalogue."""
    return Fault(kind).what.say


def _title(kit: Kit, step: str) -> str:
    return kit.profile.procedure.titles.get(step, step)


def _timeline(evidence: Evidence, kit: Kit) -> tuple[Told, ...]:
    """What was seen, read and found, in the order of time; waits and order where they failed."""
    told = [
        Told(
            each.at / MICROSECOND,
            _title(kit, each.step),
            each.ask,
            each.entered,
            "" if each.entered == each.really else each.really,
            each.good,
        )
        for each in evidence.shown
        if each.sort in ("seen", "readings") or not (each.good or each.sort == "care")
    ]
    state = evidence.bench.run.state
    for made in state.made:
        at = (made.at - state.opened.utc).total_seconds()
        good = made.finding.outcome not in ("fail", "could not check")
        told.append(Told(at, _title(kit, made.finding.step), made.finding.outcome, made.finding.say, "", good))
    return tuple(sorted(told, key=lambda each: each.at))


def _next_time(score: Score, evidence: Evidence, kit: Kit, key: Key, lessons: tuple[Lesson, ...]) -> tuple[str, ...]:
    """What to look for next time, the gravest first."""
    said: list[str] = []
    if score.worst:
        said.append("In doubt it is not fit for use. Lock it out, and say what you saw.")
    if key.first and not found_at(evidence):
        said.append(f"Step “{_title(kit, key.first)}” shows it: {key.own.say or 'look there again'}")
    if score.line("fault").gained < score.line("fault").possible:
        said += [f"{lesson.wrong} {lesson.seen}" for lesson in lessons if not lesson.harmless]
    if key.hole:
        said.append("Its checkout does not look there. Fail by judgement what you see, and tell the site lead.")
    weak = [each for each in score.lines if each.name not in ("decision", "fault") and each.gained < each.possible]
    said += [f"{each.title}: {each.why}" for each in weak]
    return tuple(said) or ("Nothing: do it like this with a real one.",)


def sheet_of(debrief: Debrief, evidence: Evidence, kit: Kit, key: Key) -> Sheet:
    """The debrief as a sheet, the decision first. Its title says that it is practice."""
    score, case = debrief.score, evidence.bench.case
    sections: tuple[Section, ...] = (
        Lines((debrief.decision,), "Decision", debrief.tone),
        Lines(score.in_words()[-1:], tone="good" if score.passed else "bad"),
        _truth(evidence, key, score),
        *(_lesson_lines(each) for each in debrief.lessons),
        Lines(debrief.next_time, "Next time"),
        _score_grid(score),
        _timeline_grid(debrief.timeline),
    )
    return Sheet(NAME, f"PRACTICE: {kit.model.title}", sections, line=case.title if not score.passed else "")


def _truth(evidence: Evidence, key: Key, score: Score) -> Pairs:
    rows = [("You ended it as", score.ending), ("It was", key.before.verdict)]
    if remedies := mended(evidence.bench.moments):
        rows.append(("You did", ", ".join(remedies)))
    if key.own.remedies:
        rows.append(("After the remedies of the profile", key.after.verdict))
    rows.append(("A practised person ends it as", key.own.ending))
    rows += [("Beside it", each) for each in key.before.outside]
    rows += [("Beyond its limits", each.say) for each in key.before.deviations]
    if key.hole and key.own.ending == FIT:
        rows.append(("The profile", "does not show this fault"))
    return Pairs(tuple(rows), "What was true")


def _lesson_lines(lesson: Lesson) -> Lines:
    lines = [lesson.wrong, f"What is seen: {lesson.seen}"]
    if lesson.shown_at:
        lines.append(f"The step that shows it: {lesson.shown_at}.")
    lines += [f"It looks like this: {each}" for each in lesson.alike]
    return Lines(tuple(lines), "No fault" if lesson.harmless else "What was wrong", "quiet" if lesson.harmless else "")


def _score_grid(score: Score) -> Grid:
    columns = (Column("what"), Column("points", figures=True), Column("of", figures=True), Column("why", gives_way=1))
    rows = [
        Row((each.title, f"{each.gained:.1f}", f"{each.possible:g}", each.why), tone=_tone(each.gained, each.possible))
        for each in score.lines
    ]
    total = Row(("Sum", f"{score.gained:.1f}", f"{score.possible:g}", f"{score.percent:.0f} %"))
    return Grid(columns, (*rows, total), "Score")


def _tone(gained: float, possible: float) -> Tone:
    return "quiet" if not possible else "good" if gained == possible else "bad" if gained == 0 else "warn"


def _timeline_grid(timeline: tuple[Told, ...]) -> Grid:
    columns = (
        Column("time", figures=True),
        Column("step", gives_way=2),
        Column("what", gives_way=1),
        Column("entered"),
        Column("really"),
    )
    rows = tuple(
        Row(
            (f"{int(each.at) // 60}:{int(each.at) % 60:02d}", each.step, each.what, each.entered, each.really),
            tone="" if each.good else "bad",
        )
        for each in timeline
    )
    return Grid(columns, rows, "What happened", "Nothing was entered.")
