"""Findings and answers in the words of sheets and printed records: outcomes, figures, what was observed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any, Final

from procedures.answers import value_from_json
from procedures.asks import Reading
from procedures.figures import SHOWN, figure
from procedures.findings import AsFound, Finding, Number, Outcome
from procedures.sheets import Tone
from procedures.units import Quantity

OUTCOME_WORDS: Final[dict[Outcome, str]] = {
    "pass": "passed",
    "warn": "passed, with a warning",
    "fail": "FAILED",
    "could not check": "could not be checked",
    "not applicable": "does not apply",
}

OUTCOME_TONES: Final[dict[Outcome, Tone]] = {
    "pass": "good",
    "warn": "warn",
    "fail": "bad",
    "could not check": "warn",
    "not applicable": "quiet",
}

ENDING_WORDS: Final = {
    "fit for use": "FIT FOR USE",
    "locked out": "LOCKED OUT",
    "not checked": "NOT CHECKED, so not fit for use",
    "abandoned": "ABANDONED, so not fit for use",
    "": "not ended",
}

ENDING_TONES: Final[dict[str, Tone]] = {"fit for use": "good", "locked out": "bad", "not checked": "warn"}


STATES: Final = {"below zero": "needle below zero", "pegged": "off the end", "no response": "no movement"}


def number_words(number: Number | None) -> str:
    """A number with its unit; "" for none. A chance and a time are said as people say them."""
    if number is None:
        return ""
    try:
        value = float(number.value)
    except ValueError:
        value = float("nan")
    if number.name.startswith("chance") and 0 <= value <= 1:
        return chance_words(value)
    if number.unit == "d" and 0 < abs(value) < 1:
        hours = value * 24
        return f"{hours:.3g} h" if abs(hours) >= 2 else f"{hours * 60:.3g} min"
    return f"{figure(number.value)} {number.unit}".rstrip()


def chance_words(chance: float) -> str:
    """A chance from 0 to 1 in words: what is under one in a thousand is no figure to go by."""
    if chance < 0.001:
        return "under 1 in 1000"
    if chance > 0.999:
        return "over 999 in 1000"
    return f"{100 * chance:.2g} %" if chance < 0.1 else f"{100 * chance:.3g} %"


def number_rows(numbers: Iterable[Number], before: str = "") -> tuple[tuple[str, str], ...]:
    """Numbers as names and what they are."""
    return tuple((f"{before}{each.label or each.name}", number_words(each)) for each in numbers)


def finding_rows(finding: Finding) -> tuple[tuple[str, str], ...]:
    """Everything a finding says, as names and what they are: as found apart from after."""
    rows = [("Outcome", OUTCOME_WORDS[finding.outcome]), ("Found", finding.say), ("Rule", finding.rule)]
    rows += [("Reason code", finding.code)] if finding.code else []
    rows += [("Missing", finding.missing)] if finding.missing else []
    rows += number_rows(finding.numbers)
    if finding.as_found is not None:
        rows += as_found_rows(finding.as_found)
    rows += [("Tell the site lead", line) for line in finding.tell]
    rows += [("Goes with the instrument", line) for line in finding.carry]
    rows += [("Factor", finding.factor)] if finding.factor else []
    rows += [(f"Scale {scale}", SHOWN.get(how, how)) for scale, how in finding.shows]
    return tuple(rows)


def as_found_rows(found: AsFound) -> list[tuple[str, str]]:
    """What was found before anything was adjusted."""
    first = ("As found", f"{OUTCOME_WORDS[found.outcome]}: {found.say}" if found.say else OUTCOME_WORDS[found.outcome])
    return [first, *number_rows(found.numbers, "As found, ")]


def value_words(body: Any) -> str:
    """An answer as the record keeps it, in words: "4.2 on x10 = 42 mR/h"."""
    value = value_from_json(body)
    if isinstance(value, Reading):
        if value.state != "on scale":
            return f"{STATES[value.state]} on {value.selector}"
        total = Quantity(value.value, value.unit)
        return f"{value.figure:f} on {value.selector} = {total}" if value.times != 1 else str(total)
    if isinstance(value, tuple):
        return str(Quantity(*value))
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, bool):
        return "done" if value else "not done"
    return "there is none" if value is None else str(value)


def title(step: str) -> str:
    """A step's or an ask's name as people read it."""
    return step.replace("-", " ").capitalize()


def field_words(factor: str, warnings: Sequence[str]) -> tuple[str, ...]:
    """What goes with an instrument into the field. A warning that has the factor in it stands for it."""
    figure = re.compile(rf"(?<![\d.]){re.escape(factor)}(?!\d|\.\d)")
    said = any(figure.search(each) for each in warnings)
    first = (f"Multiply every reading by {factor}.",) if factor and not said else ()
    return (*first, *dict.fromkeys(warnings))


def duration(seconds: float) -> str:
    """Seconds in words: "2 min 5 s"."""
    whole = round(seconds)
    figures = (whole // 3600, "h"), (whole // 60 % 60, "min"), (whole % 60, "s")
    return " ".join(f"{count} {unit}" for count, unit in figures if count) or "0 s"
