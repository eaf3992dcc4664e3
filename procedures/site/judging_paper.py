"""A check on paper judged again: do its answers lead, by the revision printed on the form, to what was recorded of it?

A form is typed in whole, so it is run whole: with the values that were understood then, by the facts stored with it. An
answer whose text would be understood otherwise now is told as what would come out otherwise today. Pure.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from procedures.answers import value_from_json
from procedures.checkout import Happened
from procedures.facts import Facts, facts_from_json
from procedures.findings import Finding, finding_from_json
from procedures.journal.moments import utc_moment
from procedures.procedure import Procedure
from procedures.readiness import zone_of
from procedures.site.judging import Difference, Sort, finding_differences
from procedures.site.paper_run import Given, Ran, Taken, asked_id, begun_at, reasons_of, run, understood
from procedures.trouble import Trouble


def judge_paper(procedure: Procedure, events: Sequence[Happened]) -> tuple[Difference, ...]:
    """Judge a form that was typed in again. `events` are its entry and, where one was recorded with it, the lockout.

    KeyError, TypeError, ValueError and the like: the record is not as this program writes it.
    """
    entered, locked = events[0], tuple(events[1:])
    body, seq = entered.body, int(getattr(entered, "seq", 0))
    facts, observed = facts_from_json(body["facts"]), utc_moment(body["observed"])
    given = Given(
        answers={_id(row): str(row["text"]) for row in body["answers"]},
        stop=body["stop"],
        why=str(body["why"]),
        values={_id(row): value_from_json(row["value"]) for row in body["answers"]},
    )
    said = list(_of_head(facts, observed == facts.opened, entered))
    try:
        made = run(procedure, facts, str(body["observed_by"]), begun_at(observed, _zone(facts)), given)
    except Trouble as refused:
        # A step refuses a value that its ask does not take: nothing can come of the rest.
        return tuple(Difference("own version", seq, what) for what in (*said, refused.what))
    said += _of_answers(made)
    found = [Difference("own version", seq, what) for what in said]
    sort: Sort = "own version"
    for sort, what in _of_all_findings(body["findings"], made):
        found.append(Difference(sort, seq, what))
    newer = any(each.sort == "today" for each in found)
    if made.state.ending is not None:
        sort = "today" if newer else "own version"
        found += [Difference(sort, seq, what) for what in _of_ending(procedure, body, made, locked)]
    return (*found, *(Difference("today", seq, what) for what in _read_otherwise(made.taken)))


def _id(row: Mapping[str, Any]) -> str:
    return asked_id(int(row["visit"]), str(row["step"]), str(row["ask"]))


def _zone(facts: Facts) -> Any:
    return zone_of(facts.settings.get("zone", "Etc/UTC"))


def _of_head(facts: Facts, of_its_time: bool, entered: Happened) -> list[str]:
    said = []
    if not of_its_time:
        said.append("its facts are those of another time than the one on the form")
    if facts.instrument.id not in getattr(entered, "about", (facts.instrument.id,)):
        said.append("its facts are those of another instrument")
    return said


def _of_answers(made: Ran) -> list[str]:
    said = [f"{key.partition('.')[2]} is answered and was not asked" for key in made.unused]
    if made.due is not None:
        said.append(f"{made.due.step}: “{made.due.ask.key}” is due, and has no answer")
    elif made.trouble is not None:
        said.append(made.trouble.what)
    return said


def _of_all_findings(rows: Sequence[Mapping[str, Any]], made: Ran) -> list[tuple[Sort, str]]:
    recorded, again = [finding_from_json(row) for row in rows], [each.finding for each in made.state.made]
    said: list[tuple[Sort, str]] = []
    sort: Sort = "own version"
    for one, other in zip(recorded, again, strict=False):
        if one.rule != other.rule and one.step == other.step:
            # What follows from a step that is judged by a newer rule does too.
            sort = "today"
        said += [(sort, f"{one.step}: {what}") for what in finding_differences(one, other)]
    said += [(sort, f"{one.step}: its answers do not lead to “{one.outcome}”") for one in recorded[len(again) :]]
    said += [(sort, _not_recorded(other)) for other in again[len(recorded) :]]
    return said


def _not_recorded(finding: Finding) -> str:
    return f"{finding.step}: its answers lead to “{finding.outcome}”, which is not recorded"


def _of_ending(procedure: Procedure, body: Mapping[str, Any], made: Ran, locked: Sequence[Happened]) -> list[str]:
    ending, reasons = made.state.ending or {}, reasons_of(procedure, made)
    due = [(each["code"], each["step"]) for each in reasons]
    said = []
    if body["ending"] != ending["ending"]:
        said.append(f"it ended “{body['ending']}”, judged again it ends “{ending['ending']}”")
    if [(each["code"], each["step"]) for each in body["reasons"]] != due:
        said.append("the reason codes of its ending")
    if bool(body["missing"]) != bool(ending["missing"]):
        said.append("whether something was missing")
    codes = [[row["code"] for row in each.body["reasons"]] for each in locked]
    if codes != ([[code for code, _ in due]] if due else []):
        said.append("whether it locked the instrument out, and for what")
    return said


def _read_otherwise(taken: Sequence[Taken]) -> list[str]:
    said = []
    for each in taken:
        try:
            value = understood(each.asked.ask, each.text)[0]
        except Trouble as refused:
            said.append(f"{each.asked.step}: “{each.text}” is not understood: {refused.what}")
            continue
        if value != each.value:
            said.append(f"{each.asked.step}: “{each.text}” is understood otherwise")
    return said
