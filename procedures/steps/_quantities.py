"""Quantities as profiles write them: text with a unit, bounded, with errors that say what is allowed.

The bounds stand in the JSON schema too, from which an editor form and the reference page are made.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, Any

from pydantic_core import PydanticCustomError, core_schema

from procedures.trouble import Trouble
from procedures.units import READING_KINDS, Quantity, kind_of, number_in, read_quantity


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


Duration = Annotated[Quantity, Bounded("s", "1 s", "4 h", "8 s")]
Percent = Annotated[Quantity, Bounded("%", "0 %", "1000 %", "20 %")]

LARGEST_READING = Decimal("1e9")


@dataclass(frozen=True, slots=True)
class OfScale:
    """Reads a quantity such as a scale shows, from 0 to 1e9 in its own unit, and `or_percent` as a share too.

    Shares run from `lowest_percent` to `highest_percent`, for the reason said in `practice`. Which kind a scale shows
    is known only to the whole profile, so the proof compares that.
    """

    example: str = "0.05 mR/h"
    or_percent: bool = False
    lowest_percent: Decimal = Decimal(0)
    highest_percent: Decimal = Decimal(1000)
    practice: str = ""

    @property
    def allowed(self) -> str:
        rate = f"{', '.join(READING_KINDS)}, 0 or more"
        if not self.or_percent:
            return rate
        why = f" ({self.practice})" if self.practice else ""
        return f"{rate}; or {self.lowest_percent} % to {self.highest_percent} %{why}"

    def read(self, value: object) -> Quantity:
        if isinstance(value, Quantity):
            return value
        text = as_text(value, self.example)
        try:
            found = read_quantity(text)
        except Trouble as trouble:
            raise as_pydantic(trouble, self.example) from None
        share = self.or_percent and found.unit == "%"
        if share and self.lowest_percent <= found.value <= self.highest_percent:
            return found
        if not share and kind_of(found.unit) in READING_KINDS and 0 <= found.value <= LARGEST_READING:
            return found
        too_wide = share and abs(found.value) > self.highest_percent
        raise PydanticCustomError(
            "quantity",
            "{found} would pass an instrument that is far off, if not a dead instrument"
            if too_wide
            else "{found} is not what is wanted here",
            {"found": text, "allowed": self.allowed, "example": f'"{self.example}"'},
        )

    def __get_pydantic_core_schema__(self, _source: Any, _handler: Any) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read, serialization=core_schema.to_string_ser_schema())

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: Any) -> dict[str, Any]:
        described = {"type": "string", "description": f"text with a unit, like {self.example}"}
        return described | {"examples": [self.example], "x-unit": "of the scale", "x-bounds": self.allowed}


Level = Annotated[Quantity, OfScale()]
"""A level of what a scale shows, such as "0.05 mR/h"."""

Limit = Annotated[
    Quantity,
    OfScale(
        "-20 %",
        or_percent=True,
        lowest_percent=Decimal(-50),
        highest_percent=Decimal(50),
        practice="common practice is ±20 %, some sites have 10 %",
    ),
]
"""A limit: a signed share of what is expected ("-20 %"), or a level of the scale ("1.2 mR/h").

±20 % of the reading after the last calibration: Illinois licensee radiation manual (read); 10 %: Indiana University
manual app. BB, Iowa State guide s. 19 (read). That beyond 50 % is no check is a judgement, no source.
"""

Spread = Annotated[Quantity, OfScale("10 %", or_percent=True, highest_percent=Decimal(50))]
"""How far readings may be apart: a share of their mean, or a level of the scale."""

NotBefore = Annotated[Quantity, Bounded("s", "1 min", "90 d", "24 h")]
"""How long a lockout must last before it can be cleared: new desiccant dries nothing in seconds."""
