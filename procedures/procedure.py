"""A procedure: a profile that was read and compiled, ready to be run. A light value that needs no schema to exist."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from procedures.asks import Answer, Ask
from procedures.facts import Facts, ScaleFacts
from procedures.findings import Finding
from procedures.routing import Plan

Next = Callable[[Facts, tuple[Answer, ...]], Ask | Finding]
"""A step with its parameters filled in: the answers of this visit lead to the next ask or to the finding."""

Dropped = Callable[[Facts, tuple[Answer, ...]], Finding | None]


@dataclass(frozen=True, slots=True)
class ReturnQuestion:
    """One question at the return of an instrument. An answer that is not in `good` locks it out with `code`.

    An answer in `contaminated` says besides that it is contaminated.
    """

    say: str
    choices: tuple[str, ...]
    good: tuple[str, ...]
    code: str
    contaminated: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Procedure:
    """What a checkout runs.

    `sha256` is of the profile's text, by which an adoption names it. `lasts` and `longest_pause` are seconds.
    `titles` gives each step a short name for people. `reasons` gives each declared reason code (words, what to do).
    `dropped` gives, by step, what a visit that is given up before its finding shows already (None: nothing bad).
    `not_before` gives, by step, the seconds a lockout from it must last before a clearing. `operating` bounds the
    environment by name (temperature in °C, pressure in kPa, humidity in %). `steps` are the steps by id. `at_return` is
    what is asked when the instrument comes back.
    """

    id: str
    title: str
    revision: int
    sha256: str
    plan: Plan
    steps: Mapping[str, Next]
    titles: Mapping[str, str]
    scales: tuple[ScaleFacts, ...]
    detector: str
    lasts: float
    longest_pause: float
    air_density: str = "none"
    operating: Mapping[str, tuple[Decimal, Decimal]] = field(default_factory=dict)
    soak_seconds: float = 0.0
    measures: tuple[str, ...] = ()
    not_for: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    reasons: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    not_before: Mapping[str, float] = field(default_factory=dict)
    dropped: Mapping[str, Dropped] = field(default_factory=dict)
    at_return: tuple[ReturnQuestion, ...] = ()
