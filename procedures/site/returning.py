"""The look at an instrument that comes back: the questions of its profile, and what a bad answer does."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from procedures.answers import clean_line
from procedures.journal.envelope import Draft
from procedures.journal.states import InstrumentState
from procedures.reasons import reason
from procedures.site.opening import Site
from procedures.site.profiles import adopted_procedure, procedure_for
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.procedure import Procedure, ReturnQuestion

Check = Literal["good", "bad", "not done"]
NOT_DONE: Final[Check] = "not done"


@dataclass(frozen=True, slots=True)
class Answered:
    """One question with the answer it got; `code` is why that locks the instrument out, "" when the answer is good."""

    say: str
    answer: str
    code: str
    contaminated: bool


def procedure_of_use(site: Site, state: InstrumentState) -> Procedure | None:
    """The procedure that an instrument which is out was checked by, else the one in force; None where there is none."""
    profile = str(state.fields.get("profile", ""))
    use = site.journal.by_hash(state.handed.event) if state.handed else None
    opened = site.journal.by_hash(str(use.body.get("checkout"))) if use and use.body.get("checkout") else None
    try:
        if opened is not None and opened.kind == "opened":
            named = opened.body["profile"]
            return adopted_procedure(site, named["id"], named["sha256"])
        return procedure_for(site, profile)
    except Trouble:
        # Two revisions adopted apart, or none: nothing is asked, and the record says that no look was taken.
        return None


def questions(site: Site, state: InstrumentState) -> tuple[ReturnQuestion, ...]:
    """What is asked when this instrument comes back."""
    procedure = procedure_of_use(site, state)
    return procedure.at_return if procedure else ()


def answer_to(question: ReturnQuestion, text: str) -> Answered:
    """One answer, judged. Raises Trouble for what is not one of the choices."""
    line = clean_line(text).casefold()
    chosen = next((each for each in question.choices if each.casefold() == line), None)
    if chosen is None:
        raise Trouble(
            f"“{line[:40]}” is no answer to: {question.say}" if line else f"this is not answered: {question.say}",
            allowed="; ".join(question.choices),
            do="Look at the instrument, and choose what you see.",
        )
    code = "" if chosen in question.good else question.code
    return Answered(question.say, chosen, code, chosen in question.contaminated)


def judged(asked: Sequence[ReturnQuestion], answers: Sequence[str]) -> tuple[Answered, ...]:
    """All the answers, judged in the order of the questions. Raises Trouble unless each question has one."""
    given = [*answers, *("" for _ in asked[len(answers) :])]
    if len(given) > len(asked):
        raise Trouble(f"there are {len(answers)} answers to {len(asked)} questions", allowed="one to each question")
    return tuple(answer_to(question, text) for question, text in zip(asked, given, strict=True))


def outcome(answered: Sequence[Answered]) -> Check:
    """What the look came to."""
    if not answered:
        return NOT_DONE
    return "bad" if any(each.code for each in answered) else "good"


def findings(answered: Sequence[Answered]) -> list[dict[str, object]]:
    """The look as the journal keeps it."""
    return [{"say": each.say, "answer": each.answer, "good": not each.code, "code": each.code} for each in answered]


def what_follows(
    instrument: str, answered: Sequence[Answered], person: str | None, tag: str, procedure: Procedure | None
) -> tuple[Draft, ...]:
    """The lockout, and the contamination, that bad answers bring about; nothing for good ones."""
    bad = [each for each in answered if each.code]
    if not bad:
        return ()
    declared = procedure.reasons if procedure else None
    reasons = [{"code": each.code, "say": _words(each, declared)} for each in bad]
    drafts = [Draft("locked-out", {"reasons": reasons, "tag": tag}, (instrument,), person=person)]
    dirty = [f"{each.say} {each.answer}" for each in bad if each.contaminated]
    if dirty:
        drafts.append(Draft("contamination", {"found": True, "say": "; ".join(dirty)}, (instrument,), person=person))
    return tuple(drafts)


def _words(each: Answered, declared: Mapping[str, tuple[str, str]] | None) -> str:
    said = f"When it came back: {each.say} {each.answer}."
    return f"{reason(each.code, declared).say} {said}" if declared and each.code in declared else said
