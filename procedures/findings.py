"""What a step concluded, as value types that the journal can keep word for word."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final, Literal, cast

Outcome = Literal["pass", "warn", "fail", "could not check", "not applicable"]
OUTCOMES: Final[tuple[Outcome, ...]] = ("pass", "warn", "fail", "could not check", "not applicable")
Ending = Literal["fit for use", "locked out", "not checked", "abandoned"]

COUNTS_AS_PASS: Final[frozenset[Outcome]] = frozenset({"pass", "warn", "not applicable"})


@dataclass(frozen=True, slots=True)
class Number:
    """One number a finding used. `value` is decimal text, so that it can be judged again to the last digit."""

    name: str
    label: str
    value: str
    unit: str = ""


def number(name: str, label: str, value: Decimal | float | int, unit: str = "") -> Number:
    """A Number from a figure: decimals as they were typed, floats unrounded."""
    return Number(name, label, str(value) if isinstance(value, Decimal | int) else repr(value), unit)


@dataclass(frozen=True, slots=True)
class AsFound:
    """What was found before anything was adjusted. A fail here opens uses in doubt whatever the ending."""

    outcome: Outcome
    say: str = ""
    numbers: tuple[Number, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What a step concluded.

    `say` is plain words for the person. `code` is the reason code of a fail, `missing` what was missing when it could
    not check. `rule` names the rule and its version. `tell` are warnings for the site lead, `carry` what goes with the
    instrument into the field, `factor` a correction the user must apply there (decimal text). `shows` are the scales
    that this finding shows to work, each with how ("source", "zero"). `facts` are values later steps may use
    (temperature, pressure, background).
    """

    step: str
    kind: str
    outcome: Outcome
    say: str
    rule: str
    code: str = ""
    missing: str = ""
    numbers: tuple[Number, ...] = ()
    as_found: AsFound | None = None
    tell: tuple[str, ...] = ()
    carry: tuple[str, ...] = ()
    factor: str = ""
    shows: tuple[tuple[str, str], ...] = ()
    facts: tuple[tuple[str, str], ...] = ()

    def fact(self, name: str) -> str:
        """The value of one of `facts`, or "" when this finding has none of that name."""
        return next((value for key, value in self.facts if key == name), "")

    def number(self, name: str) -> Number | None:
        return next((each for each in self.numbers if each.name == name), None)


def _number_json(each: Number) -> dict[str, str]:
    return {"name": each.name, "label": each.label, "value": each.value, "unit": each.unit}


def _numbers(rows: Any) -> tuple[Number, ...]:
    return tuple(Number(row["name"], row["label"], row["value"], row["unit"]) for row in rows)


def finding_to_json(finding: Finding) -> dict[str, Any]:
    """The finding as plain JSON values, for an event's body."""
    found = finding.as_found
    return {
        "step": finding.step,
        "kind": finding.kind,
        "outcome": finding.outcome,
        "say": finding.say,
        "rule": finding.rule,
        "code": finding.code,
        "missing": finding.missing,
        "numbers": [_number_json(each) for each in finding.numbers],
        "as_found": None
        if found is None
        else {"outcome": found.outcome, "say": found.say, "numbers": [_number_json(each) for each in found.numbers]},
        "tell": list(finding.tell),
        "carry": list(finding.carry),
        "factor": finding.factor,
        "shows": [list(pair) for pair in finding.shows],
        "facts": [list(pair) for pair in finding.facts],
    }


def finding_from_json(body: Mapping[str, Any]) -> Finding:
    """The finding an event's body holds. KeyError and TypeError mean that the event is malformed."""
    found = body["as_found"]
    return Finding(
        step=body["step"],
        kind=body["kind"],
        outcome=cast("Outcome", body["outcome"]),
        say=body["say"],
        rule=body["rule"],
        code=body["code"],
        missing=body["missing"],
        numbers=_numbers(body["numbers"]),
        as_found=None if found is None else AsFound(found["outcome"], found["say"], _numbers(found["numbers"])),
        tell=tuple(body["tell"]),
        carry=tuple(body["carry"]),
        factor=body["factor"],
        shows=tuple((scale, how) for scale, how in body["shows"]),
        facts=tuple((name, value) for name, value in body["facts"]),
    )
