"""What every kind of step is made of: its parameters, its one pure function, and what the proof must know of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING, Annotated, Any, Generic, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError, core_schema

from procedures.asks import Answer, Ask
from procedures.facts import Facts, ScaleFacts
from procedures.findings import Finding
from procedures.routing import ACTIONS
from procedures.trouble import Trouble
from procedures.units import Quantity, kind_of, number_in, read_quantity

IDENTIFIER = r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$"
"""Ids of profiles and steps, and reason codes: lower-case words joined by hyphens."""

LONGEST_WAIT = 4 * 3600
"""Seconds. A wait longer than this belongs to a shelf, not to a checkout."""

MOST_ATTEMPTS = 2


@dataclass(frozen=True, slots=True)
class Bounded:
    """Reads a quantity of the kind of `unit`, between `low` and `high` (text with unit, both inclusive).

    Profiles write quantities as text with a unit; a bare number is refused, because its unit would be a guess. The
    bounds stand in the JSON schema too, from which an editor form and the reference page are made.
    """

    unit: str
    low: str | None = None
    high: str | None = None
    example: str = ""

    @property
    def shown(self) -> str:
        return self.example or f"1 {self.unit}"

    @property
    def bounds(self) -> str:
        """The bounds in words, "" when there are none."""
        parts = (f"at least {self.low}" if self.low else "", f"at most {self.high}" if self.high else "")
        return " and ".join(part for part in parts if part)

    def read(self, value: object) -> Quantity:
        if isinstance(value, Quantity):
            return value
        text = as_text(value, self.shown)
        try:
            found = read_quantity(text, like=self.unit)
            size = number_in(found, self.unit)
            under = self.low is not None and size < number_in(read_quantity(self.low), self.unit)
            over = self.high is not None and size > number_in(read_quantity(self.high), self.unit)
        except Trouble as trouble:
            raise as_pydantic(trouble, self.shown) from None
        if under or over:
            raise PydanticCustomError(
                "quantity_bounds",
                "{found} is outside what is allowed",
                {"found": text, "allowed": self.bounds, "example": f'"{self.shown}"'},
            )
        return found

    def __get_pydantic_core_schema__(self, _source: Any, _handler: Any) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read, serialization=core_schema.to_string_ser_schema())

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: Any) -> dict[str, Any]:
        described = {"type": "string", "description": f"text with a unit, like {self.shown}", "examples": [self.shown]}
        return described | {"x-unit": self.unit, "x-bounds": self.bounds}


@dataclass(frozen=True, slots=True)
class EitherOf:
    """Reads a quantity that may be of one kind or another, each with bounds of its own."""

    kinds: tuple[Bounded, ...]

    def read(self, value: object) -> Quantity:
        if isinstance(value, Quantity):
            return value
        first = self.kinds[0]
        text = as_text(value, first.shown)
        try:
            unit = read_quantity(text).unit
        except Trouble as trouble:
            raise as_pydantic(trouble, first.shown) from None
        return next((each for each in self.kinds if kind_of(each.unit) == kind_of(unit)), first).read(text)

    def __get_pydantic_core_schema__(self, _source: Any, _handler: Any) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read, serialization=core_schema.to_string_ser_schema())

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: Any) -> dict[str, Any]:
        shown = [each.shown for each in self.kinds]
        described = {"type": "string", "description": f"text with a unit, like {' or '.join(shown)}", "examples": shown}
        bounds = "; or ".join(each.bounds for each in self.kinds)
        return described | {"x-unit": " or ".join(each.unit for each in self.kinds), "x-bounds": bounds}


def as_text(value: object, example: str) -> str:
    """The text a profile must give for a quantity, or the error that says how."""
    if not isinstance(value, str):
        raise PydanticCustomError(
            "quantity", "a quantity is text with a unit, such as {example}", {"example": f'"{example}"'}
        )
    return value


def as_pydantic(trouble: Trouble, example: str) -> PydanticCustomError:
    """Trouble with a quantity as pydantic carries it."""
    allowed = trouble.allowed or f'a quantity such as "{example}"'
    return PydanticCustomError(
        "quantity", "{what}", {"what": trouble.what, "allowed": allowed, "example": f'"{example}"'}
    )


def quantity(unit: str, *, low: str | None = None, high: str | None = None, example: str = "") -> Any:
    """An annotated Quantity of the kind of `unit`, bounded by `low` and `high`: see Bounded."""
    return Annotated[Quantity, Bounded(unit, low, high, example)]


Duration = Annotated[Quantity, Bounded("s", "1 s", "4 h", "8 s")]
Percent = Annotated[Quantity, Bounded("%", "0 %", "1000 %", "20 %")]

READING_KINDS = ("exposure rate", "dose equivalent rate", "absorbed dose or air kerma rate", "count rate")
"""The kinds of quantity that a survey instrument's scale shows."""

LARGEST_READING = Decimal("1e9")


@dataclass(frozen=True, slots=True)
class OfScale:
    """Reads a quantity such as a scale shows, from 0 to 1e9 in its own unit, and `or_percent` as a share too.

    Shares run from `lowest_percent` to 1000 %. Which kind a scale shows is known only to the whole profile, so the
    proof compares that.
    """

    example: str = "0.05 mR/h"
    or_percent: bool = False
    lowest_percent: Decimal = Decimal(0)

    @property
    def allowed(self) -> str:
        rate = f"{', '.join(READING_KINDS)}, 0 or more"
        return f"{rate}; or {self.lowest_percent} % to 1000 %" if self.or_percent else rate

    def read(self, value: object) -> Quantity:
        if isinstance(value, Quantity):
            return value
        text = as_text(value, self.example)
        try:
            found = read_quantity(text)
        except Trouble as trouble:
            raise as_pydantic(trouble, self.example) from None
        share = self.or_percent and found.unit == "%"
        if share and self.lowest_percent <= found.value <= 1000:
            return found
        if not share and kind_of(found.unit) in READING_KINDS and 0 <= found.value <= LARGEST_READING:
            return found
        raise PydanticCustomError(
            "quantity",
            "{found} is not what is wanted here",
            {"found": text, "allowed": self.allowed, "example": f'"{self.example}"'},
        )

    def __get_pydantic_core_schema__(self, _source: Any, _handler: Any) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read, serialization=core_schema.to_string_ser_schema())

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: Any) -> dict[str, Any]:
        described = {"type": "string", "description": f"text with a unit, like {self.example}"}
        return described | {"examples": [self.example], "x-unit": "of the scale", "x-bounds": self.allowed}


Level = Annotated[Quantity, OfScale()]
"""A level of what a scale shows, such as "0.05 mR/h"."""

Limit = Annotated[Quantity, OfScale("-20 %", or_percent=True, lowest_percent=Decimal(-100))]
"""A limit: a signed share of what is expected ("-20 %"), or a level of the scale ("1.2 mR/h")."""

NotBefore = Annotated[Quantity, Bounded("s", "1 min", "90 d", "24 h")]
"""How long a lockout must last before it can be cleared: new desiccant dries nothing in seconds."""

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
    """A pass that must still count when this step is reached: one of `any_of` tags; `why` is said when it is not."""

    any_of: frozenset[str]
    why: str


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


def _no_limits(_parameters: Any, _spec: InstrumentSpec) -> tuple[LimitChance, ...]:
    return ()


@dataclass(frozen=True, slots=True)
class StepKind(Generic[P]):
    """A kind of step.

    `next(parameters, facts, answers)` is pure: the answers of this visit so far, in order, lead to the next ask or to
    the finding; the same answers always lead to the same. `disturbed_by` are the remedy actions after which its pass
    no longer counts. `provides` are tags its pass stands for, `needs` those it must come after (tags: "switched-on",
    "warm-up", "window", "zero:<scale>", "background", "environment"). `duration` gives shortest and longest seconds of
    one visit. `rule` names the rule and its version, as findings record it. `codes` are reason codes that a failure may
    carry in place of the step's own `lockout`, where its cause is another one.
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


def seconds(length: Quantity) -> float:
    """A duration in seconds."""
    return float(number_in(length, "s"))


def percent_to_ratio(share: Quantity) -> Decimal:
    """A percentage as a plain ratio: 20 % is 0.2."""
    return number_in(share, "%") / 100
