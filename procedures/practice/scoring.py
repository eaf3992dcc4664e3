"""The score of a practice checkout: a line for everything that is judged, with its points, its reason and the sum.

Everything comes from the session replayed and from the computed key. The decision is the largest line. Calling a faulty
instrument fit for use fails the drill whatever else was done well; failing a faulty one by judgement costs nothing, be
its profile blind to the fault. Lines that had no occasion are left out of the sum.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from procedures.practice.answer_key import FIT, Key, mended, truth_after
from procedures.practice.evidence import Evidence, Shown, Sort, evidence_of
from procedures.practice.kit import Kit
from procedures.practice.rubric import Rubric, rubric
from procedures.practice.session import Session
from procedures.practice.truth import Truth

TITLES: Final = {
    "decision": "Decision",
    "fault": "Fault found",
    "seen": "What was seen",
    "readings": "Readings",
    "waits": "Waits kept",
    "order": "Done before it was said",
    "care": "Time to look",
    "time": "Time taken",
}


@dataclass(frozen=True, slots=True)
class Line:
    """One line. `possible` is 0 for one that had no occasion; `step` is where it was decided, "" when nowhere."""

    name: str
    gained: float
    possible: float
    why: str
    step: str = ""

    @property
    def title(self) -> str:
        return TITLES[self.name]


@dataclass(frozen=True, slots=True)
class Score:
    """The whole. `worst`: a faulty instrument was called fit for use. `ending` is the trainee's."""

    lines: tuple[Line, ...]
    ending: str
    worst: bool
    pass_at: float

    @property
    def gained(self) -> float:
        return sum(line.gained for line in self.lines)

    @property
    def possible(self) -> float:
        return sum(line.possible for line in self.lines)

    @property
    def percent(self) -> float:
        """Of what was possible; 0 after the worst decision."""
        return 0.0 if self.worst or not self.possible else 100 * self.gained / self.possible

    @property
    def passed(self) -> bool:
        return not self.worst and self.percent >= self.pass_at

    def line(self, name: str) -> Line:
        """A line by name; KeyError when there is none."""
        return {each.name: each for each in self.lines}[name]

    def in_words(self) -> tuple[str, ...]:
        """Every line, then the sum."""
        said = [f"{each.title}: {each.gained:g} of {each.possible:g}. {each.why}" for each in self.lines]
        total = f"Sum: {self.gained:g} of {self.possible:g}, {self.percent:.0f} %."
        if self.worst:
            total = f"Sum: {self.gained:g} of {self.possible:g}, and it counts for nothing."
        return (*said, f"{total} {'Passed' if self.passed else 'Not passed'} (from {self.pass_at:g} %).")


def score(session: Session, kit: Kit, key: Key, by: Rubric | None = None) -> tuple[Score, Evidence]:
    """The score of a session, and the evidence it rests on. A checkout that was not ended counts as given up.

    Raises Trouble when the session cannot be replayed with this kit.
    """
    by = rubric() if by is None else by
    evidence = evidence_of(session, kit, within=by.readings.within, display=by.readings.display)
    return score_of(evidence, kit, key, by), evidence


def score_of(evidence: Evidence, kit: Kit, key: Key, by: Rubric) -> Score:
    """The score of a session that was replayed."""
    bench = evidence.bench
    body = bench.run.state.ending
    ending = "abandoned" if body is None else str(body["ending"])
    truth = truth_after(kit, bench.case, mended(bench.moments))
    decision, worst = _decision(ending, truth, key, by)
    lines = (
        decision,
        _fault(evidence, truth, key, by),
        _share("seen", evidence.shown, by.seen.points, "What was entered is what the instrument showed."),
        _share("readings", evidence.shown, by.readings.points, f"All within {by.readings.within:g} of a division."),
        _waits(evidence, by),
        _share("order", evidence.shown, by.order.points, "Everything was done before it was said to be."),
        _share("care", evidence.shown, by.care.points, "No answer was faster than a look."),
        _time(evidence, decision, key, by),
    )
    return Score(lines, ending, worst, by.pass_at)


# --- the decision --------------------------------------------------------------------------------------------------


def _decision(ending: str, truth: Truth, key: Key, by: Rubric) -> tuple[Line, bool]:
    """The line, and whether this was the worst that can be done. `truth` is that after the trainee's own remedies."""
    whole = by.decision.points
    if truth.near_limit or not key.scored:
        return Line("decision", 0, 0, "It is so near its limit that a reading error decides: not scored."), False
    if ending == FIT:
        return _passed(truth, key, whole)
    if ending == "locked out":
        if truth.verdict == "faulty":
            return Line("decision", whole, whole, f"It was faulty: {_deviation(truth)}"), False
        if key.failing_is_right:
            return Line("decision", whole, whole, "Its checkout calls for a lockout."), False
        return Line("decision", by.decision.needless, whole, "A needless lockout: it was sound."), False
    if ending == "not checked" and key.not_checked_is_right:
        return Line("decision", whole, whole, "Something that it needs was missing, and that was said."), False
    if truth.verdict == "faulty" or key.failing_is_right:
        why = f"It ended as {ending}, and it should have been locked out. Nobody carries it off all the same."
        return Line("decision", by.decision.cautious, whole, why), False
    return Line("decision", by.decision.needless, whole, f"It ended as {ending}, and it was fit for use."), False


def _passed(truth: Truth, key: Key, whole: float) -> tuple[Line, bool]:
    if truth.verdict == "faulty":
        if key.hole:
            why = f"Its checkout does not look there, so passing it is not counted against you: {_deviation(truth)}"
            return Line("decision", whole, whole, why), False
        if key.after.verdict == "faulty" and key.chance:
            return Line("decision", 0, 0, f"Chance decides whether it shows: not scored. {_deviation(truth)}"), False
        return Line("decision", 0, whole, f"A faulty instrument was called fit for use: {_deviation(truth)}"), True
    if key.passing_is_right:
        return Line("decision", whole, whole, "It was sound, and it was shown to be."), False
    return Line("decision", 0, whole, f"It was called fit for use, and {_outside(key)}"), False


def _outside(key: Key) -> str:
    return key.after.outside[0] if key.after.outside else f"its checkout does not end so: {key.own.say}"


def _deviation(truth: Truth) -> str:
    return truth.deviations[0].say if truth.deviations else ""


# --- the fault -----------------------------------------------------------------------------------------------------


def found_at(evidence: Evidence) -> str:
    """The step at which the trainee first found something, be it by judgement; "" when nothing was found."""
    made = evidence.bench.run.state.made
    wrong = (each.finding.step for each in made if each.finding.outcome in ("fail", "could not check"))
    return next(wrong, evidence.judged)


def _fault(evidence: Evidence, truth: Truth, key: Key, by: Rubric) -> Line:
    whole, found, first = by.fault.points, found_at(evidence), key.own.first
    if not first:
        faulty = key.before.verdict == "faulty" or truth.verdict == "faulty"
        if faulty and found:
            return Line("fault", whole, whole, "Found, where its checkout may well not show it.", found)
        return Line("fault", 0, 0, "Its checkout shows no fault.")
    if not found:
        return Line("fault", 0, whole, f"Missed. Step {first} shows it: {key.own.say}", first)
    order = list(evidence.bench.kit.profile.plan.required)
    early = evidence.judged == found and found in order and first in order and order.index(found) <= order.index(first)
    if found == first or early:
        return Line("fault", whole, whole, f"Found at step {found}.", found)
    return Line("fault", by.fault.later, whole, f"Found at step {found}; step {first} shows it.", found)


# --- the rest ------------------------------------------------------------------------------------------------------


def _share(name: Sort, shown: tuple[Shown, ...], points: float, well: str) -> Line:
    """The part that was done well of all that was to be done."""
    some = [each for each in shown if each.sort == name]
    wrong = [each for each in some if not each.good]
    if not some:
        return Line(name, 0, 0, "There was no occasion.")
    if not wrong:
        return Line(name, points, points, well)
    one = wrong[0]
    why = f"{len(wrong)} of {len(some)} not so, first at step {one.step}, “{one.ask}”: {one.entered}; {one.really}."
    return Line(name, points * (len(some) - len(wrong)) / len(some), points, why, one.step)


def _waits(evidence: Evidence, by: Rubric) -> Line:
    wrong = [each for each in evidence.shown if each.sort == "waits" and not each.good]
    of = max(len(wrong), evidence.bench.waits_kept + sum(each.entered == "let go" for each in wrong))
    if not of:
        return Line("waits", 0, 0, "There was nothing to wait for.")
    points = by.waits.points
    if not wrong:
        return Line("waits", points, points, "Every wait was kept.")
    one = wrong[0]
    why = f"{len(wrong)} of {of} not, first at step {one.step}: {one.entered}, and {one.really}."
    return Line("waits", points * (of - len(wrong)) / of, points, why, one.step)


def _time(evidence: Evidence, decision: Line, key: Key, by: Rubric) -> Line:
    """Being quick is worth nothing where the decision was wrong."""
    took, least, points = evidence.bench.seconds, max(1.0, key.own.seconds), by.time.points
    said = f"{took:.0f} s; a practised person takes about {least:.0f} s."
    if decision.possible and decision.gained < decision.possible:
        return Line("time", 0, points, f"{said} With a wrong decision it counts for nothing.")
    part = (by.time.most - took / least) / (by.time.most - by.time.enough)
    return Line("time", points * min(1.0, max(0.0, part)), points, said)


def score_to_json(found: Score) -> dict[str, Any]:
    """Plain JSON values."""
    return {
        "ending": found.ending,
        "worst": found.worst,
        "passed": found.passed,
        "gained": found.gained,
        "possible": found.possible,
        "percent": found.percent,
        "lines": [
            {"name": each.name, "gained": each.gained, "possible": each.possible, "why": each.why, "step": each.step}
            for each in found.lines
        ],
    }
