"""What line mode says of findings and endings. Pure: nothing is printed here.

Expected value and limits stand here alone: they may be known only after the reading was kept.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from checklist_tui.line_words import sentence
from checklist_tui.words import SHOWN, capital, plural, says_figure
from procedures.findings import Number, Outcome
from procedures.site.found_words import number_words
from procedures.site.views import CheckoutView, EndingView, FindingView

OUTCOME_WORDS: Final[dict[Outcome, str]] = {
    "pass": "passed",
    "warn": "passed, with a warning",
    "fail": "FAILED",
    "could not check": "could not be checked",
    "not applicable": "does not apply",
}


def number_line(number: Number) -> str:
    return f"  {number.label}: {number_words(number)}"


_COMPARED: Final = ("observed", "expected", "low", "high")


def finding_lines(made: FindingView) -> list[str]:
    """A finding just made: the outcome, why, and what the reading was compared with, which may be known now."""
    finding = made.finding
    lines = [sentence(f"{made.title}: {OUTCOME_WORDS[finding.outcome]}", finding.say)]
    compared = [each for each in finding.numbers if each.name in _COMPARED]
    if len(compared) > 1:
        lines.append(sentence(capital(", ".join(f"{each.label.lower()} {number_words(each)}" for each in compared))))
    lines += [sentence(f"Goes with the instrument: {line}") for line in finding.carry]
    lines += [sentence(f"Tell the site lead: {line}") for line in finding.tell]
    return lines


def numbers_lines(findings: Iterable[FindingView]) -> list[str]:
    """All numbers of these findings."""
    lines: list[str] = []
    for made in findings:
        lines.append(sentence(f"{made.title}: {OUTCOME_WORDS[made.finding.outcome]}", f"Rule {made.finding.rule}"))
        lines += [number_line(number) for number in made.finding.numbers]
        if made.finding.as_found is not None:
            found = made.finding.as_found
            lines.append("  " + sentence(f"As found: {OUTCOME_WORDS[found.outcome]}", found.say))
            lines += [number_line(number) for number in found.numbers]
    return lines or ["No numbers yet."]


_ENDING_WORDS: Final = {
    "fit for use": "FIT FOR USE",
    "locked out": "LOCKED OUT",
    "not checked": "NOT CHECKED, so not fit for use",
    "abandoned": "ABANDONED, so not fit for use",
}


def ending_lines(view: CheckoutView, ending: EndingView) -> list[str]:
    """The ending in full: the word, fit for what and until when or why not, and what to do with the instrument now."""
    mark = "" if view.marking == "real" else f"{view.marking.upper()} "
    lines = [f"{mark}{_ENDING_WORDS[ending.ending]}: {view.label}."]
    lines += [sentence(f"Reason {reason.code}: {reason.say}") for reason in ending.reasons]
    lines += [sentence(f"LOOK AT THE SOURCE: {each}") for each in ending.suspects]
    head = "Given up" if ending.ending == "abandoned" else "Missing"
    lines += [sentence(f"{head}: {missing}") for missing in ending.missing]
    lines.append(sentence(f"Withdrawn: {ending.withdrawn}" if ending.withdrawn else ""))
    if ending.ending == "fit for use":
        until = f"Until {ending.until_local}" if ending.until_local else ""
        lines.append(sentence(_listed("Fit for", ending.fit_for), until))
        lines += [sentence(f"Scale {scale}: {SHOWN.get(how, how)}") for scale, how in ending.scales]
    lines.append(sentence(_listed("Not for", ending.not_for)))
    if ending.factor and not any(says_figure(warning, ending.factor) for warning in ending.warnings):
        lines.append(sentence(f"Multiply every reading by {ending.factor}"))
    lines += [sentence(f"WARNING: {warning}") for warning in ending.warnings]
    lines += [sentence(f"Tell the site lead: {line}") for line in ending.tell]
    if ending.doubt:
        lines.append(f"In doubt now: {plural(ending.doubt, 'use')} since its last good check.")
    lines.append(sentence(f"Tag {ending.tag}" if ending.tag else ""))
    now = dict.fromkeys([*ending.do, *(reason.do for reason in ending.reasons)])
    lines += [sentence(f"Do now: {line}") for line in now if line]
    lines.append(sentence(ending.exchanged))
    return [line for line in lines if line]


def _listed(head: str, words: tuple[str, ...]) -> str:
    return f"{head} {', '.join(words)}" if words else ""
