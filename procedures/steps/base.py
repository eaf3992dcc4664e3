"""What every kind of step is made of: its parameters, its one pure function, and what the proof must know of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING, Annotated, Any, Generic, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field

from procedures.asks import Answer, Ask
from procedures.facts import Facts, ScaleFacts
from procedures.findings import Finding
from procedures.routing import ACTIONS
from procedures.steps._quantities import Bounded, Duration, EitherOf, Level, Limit, NotBefore, OfScale, Percent
from procedures.units import Quantity, number_in

__all__ = [
    "IDENTIFIER",
    "LONGEST_WAIT",
    "MOST_ATTEMPTS",
    "Action",
    "Bounded",
    "Duration",
    "EitherOf",
    "Identifier",
    "InstrumentSpec",
    "Level",
    "Limit",
    "LimitChance",
    "Line",
    "Need",
    "NotBefore",
    "OfScale",
    "Percent",
    "Problem",
    "RemedyParameters",
    "StepKind",
    "StepParameters",
    "Strict",
    "percent_to_ratio",
    "seconds",
]

IDENTIFIER = r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$"
"""Ids of profiles and steps, and reason codes: lower-case words joined by hyphens."""

LONGEST_WAIT = 4 * 3600
"""Seconds. A wait longer than this belongs to a shelf, not to a checkout."""

MOST_ATTEMPTS = 2

Identifier = Annotated[str, Field(pattern=IDENTIFIER, max_length=60)]
Line = Annotated[str, Field(min_length=1, max_length=300)]
"""One line of text for people. It is data: never markup, never code."""

if TYPE_CHECKING:
    Action = str
else:
    Action = Literal[tuple(ACTIONS)]


class Strict(BaseModel):
    """Unknown keys are errors, values never change, and nothing is guessed from another type."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, arbitrary_types_allowed=True)


class RemedyParameters(Strict):
    """Something a person may do about a failure before the step is done again."""

    action: Action
    say: Line
    repeat_from: Identifier
    attempts: Annotated[int, Field(ge=1, le=MOST_ATTEMPTS)] = 1
    caution: str = ""


class StepParameters(Strict):
    """What every step may state. Kinds add their own."""

    id: Identifier
    kind: str
    say: Annotated[str, Field(max_length=300)] = ""
    caution: Annotated[str, Field(max_length=300)] = ""
    lockout: Annotated[str, Field(pattern=IDENTIFIER + "|^$", max_length=60)] = ""
    on_fail: Annotated[str, Field(max_length=60)] = ""
    on_pass: Annotated[str, Field(max_length=60)] = ""
    only_when_sent: bool = False
    not_before: NotBefore | None = None
    remedy: tuple[RemedyParameters, ...] = ()


@dataclass(frozen=True, slots=True)
class InstrumentSpec:
    """What a step may ask about the type of instrument when a profile is proved."""

    detector: str
    scales: tuple[ScaleFacts, ...]
    air_density: str = "none"
    needs_zero: bool = False
    has_window: bool = False

    def scale(self, name: str) -> ScaleFacts | None:
        return next((each for each in self.scales if each.selector.name == name), None)


@dataclass(frozen=True, slots=True)
class Need:
    """A pass that must still count when this step is reached: one of `any_of` tags; `why` is said when it is not.

    `add` says what to add to a profile in which no step gives it.
    """

    any_of: frozenset[str]
    why: str
    add: str = ""


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong with a step's parameters that only the whole profile shows. `key` is the key at fault."""

    key: str
    message: str
    allowed: str = ""


@dataclass(frozen=True, slots=True)
class LimitChance:
    """One limit of a step and the chance (0 to 1) that a healthy instrument fails it, with the scatter assumed."""

    name: str
    chance: float
    assumed: str


P = TypeVar("P", bound=StepParameters)


def _no_needs(_parameters: Any, _spec: InstrumentSpec) -> tuple[Need, ...]:
    return ()


def _no_tags(_parameters: Any) -> frozenset[str]:
    return frozenset()


def _no_problems(_parameters: Any, _spec: InstrumentSpec) -> tuple[Problem, ...]:
    return ()


def _nothing_shown(_parameters: Any, _facts: Facts, _answers: tuple[Answer, ...]) -> Finding | None:
    return None


def _no_limits(_parameters: Any, _spec: InstrumentSpec) -> tuple[LimitChance, ...]:
    return ()


@dataclass(frozen=True, slots=True)
class StepKind(Generic[P]):
    """A kind of step.

    `next(parameters, facts, answers)` is pure: the answers of this visit so far, in order, lead to the next ask or to
    the finding; the same answers always lead to the same. `disturbed_by` are the remedy actions after which its pass
    no longer counts. `provides` are tags its pass stands for, `needs` those it must come after (tags: "identity",
    "switched-on", "warm-up", "window", "zero:<scale>", "background", "environment", "response:<scale>"); a step that
    provides "response" or "response:<scale>" tries a check source: it comes after "identity", and is repeated only
    after an action that disturbs it.
    `duration` gives shortest and longest seconds of one visit. `rule` names the rule and its version, as findings
    record it. `codes` are reason codes that a failure may carry in place of the step's own `lockout`, where its cause
    is another one. `dropped` says what the answers of a visit that is given up before its finding show already, so
    that a bad reading cannot be walked away from.
    """

    name: str
    about: str
    parameters: type[P]
    next: Callable[[P, Facts, tuple[Answer, ...]], Ask | Finding]
    rule: str
    duration: Callable[[P], tuple[float, float]]
    disturbed_by: frozenset[str] = frozenset()
    can_fail: bool = True
    codes: tuple[str, ...] = ()
    provides: Callable[[P], frozenset[str]] = field(default=_no_tags)
    needs: Callable[[P, InstrumentSpec], tuple[Need, ...]] = field(default=_no_needs)
    check: Callable[[P, InstrumentSpec], tuple[Problem, ...]] = field(default=_no_problems)
    limits: Callable[[P, InstrumentSpec], tuple[LimitChance, ...]] = field(default=_no_limits)
    dropped: Callable[[P, Facts, tuple[Answer, ...]], Finding | None] = field(default=_nothing_shown)


def seconds(length: Quantity) -> float:
    """A duration in seconds."""
    return float(number_in(length, "s"))


def percent_to_ratio(share: Quantity) -> Decimal:
    """A percentage as a plain ratio: 20 % is 0.2."""
    return number_in(share, "%") / 100
