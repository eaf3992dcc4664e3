"""What a profile may say: the models of its file, table by table.

Steps are read by the parameters of their kind, so a new kind of step changes nothing here. Figures of a scale are true
values: a scale x10 that prints 0 to 3 has the full scale "30 mR/h" and the multiplier 10.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Annotated, Any, Final, Literal, Self

from pydantic import AfterValidator, Field, InstanceOf, model_validator
from pydantic_core import PydanticCustomError, core_schema

from procedures.profile.at_return import AtReturn, ReturnQuestion
from procedures.steps.base import Bounded, Identifier, Line, OfScale, StepParameters, Strict
from procedures.trouble import Trouble
from procedures.units import Quantity, number_in

Detector = Literal[
    "vented ion chamber",
    "sealed ion chamber",
    "Geiger-Müller tube",
    "scintillator",
    "proportional counter",
    "moderated neutron detector",
]

WINDOW_UNLESS_STATED: Final[Mapping[str, bool]] = MappingProxyType(
    {
        "vented ion chamber": True,
        "sealed ion chamber": False,
        "Geiger-Müller tube": True,
        "scintillator": True,
        "proportional counter": True,
        "moderated neutron detector": False,
    }
)
"""Whether a kind of detector has a window to look at. In doubt it has one, so that looking at it is not forgotten."""

ION_CHAMBERS: Final = frozenset({"vented ion chamber", "sealed ion chamber"})

MOST_SCALES: Final = 20
MOST_REASONS: Final = 60


def _something(found: Quantity) -> Quantity:
    if found.value <= 0:
        told = {"found": str(found), "allowed": "more than 0", "example": '"3 mR/h"'}
        raise PydanticCustomError("quantity", "{found} is not more than nothing", told)
    return found


Shown = Annotated[Quantity, OfScale("3 mR/h"), AfterValidator(_something)]
"""What a scale shows, and more than nothing."""


class Times:
    """Reads a multiplier exactly: 0.1 is a tenth."""

    def read(self, value: object) -> Decimal:
        if isinstance(value, Decimal):
            return value
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value <= 1_000_000:
            told = {"allowed": "a figure without quotes, more than 0 and at most 1000000", "example": "10"}
            raise PydanticCustomError("multiplier", "this is no multiplier", told)
        return Decimal(str(value))

    def __get_pydantic_core_schema__(self, _source: Any, _handler: Any) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read, serialization=core_schema.to_string_ser_schema())

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: Any) -> dict[str, Any]:
        return {"type": "number", "exclusiveMinimum": 0, "maximum": 1_000_000, "examples": [10]}


class Scale(Strict):
    """One scale, or one selector position. A digital display has no multiplier, and its division is its last digit."""

    name: Annotated[
        str,
        Field(min_length=1, max_length=30, examples=["x1"], description="As the selector is marked. Required."),
    ]
    full_scale: Annotated[Shown, Field(description="Reading at full scale, multiplied. Required.")]
    division: Annotated[Shown, Field(description="Smallest division or last digit, multiplied. Required.")]
    multiplier: Annotated[
        Annotated[Decimal, Times()] | None, Field(description="What the printed figure is multiplied with. Default 1.")
    ] = None
    shown_by: Annotated[
        Literal["source", "zero", "nothing"],
        Field(examples=["source"], description="How this checkout shows that the scale works. Required."),
    ]

    @model_validator(mode="after")
    def _division_fits(self) -> Self:
        told = {"key": "division", "allowed": "", "example": f'"0.1 {self.full_scale.unit}"'}
        try:
            division = number_in(self.division, self.full_scale.unit)
        except Trouble as trouble:
            told |= {"what": trouble.what, "allowed": trouble.allowed}
            raise PydanticCustomError("division", "{what}", told) from None
        if division * 2 > self.full_scale.value:
            told["allowed"] = f"at most half of {self.full_scale}"
            raise PydanticCustomError("division", "a scale with fewer than two divisions cannot be read", told)
        return self


def _ordered(bounds: tuple[Quantity, Quantity] | None) -> tuple[Quantity, Quantity] | None:
    if bounds is not None and number_in(bounds[0], bounds[1].unit) >= bounds[1].value:
        told = {"allowed": "[lowest, highest]"}
        raise PydanticCustomError("order", "the lower of the two bounds comes first", told)
    return bounds


Temperature = Annotated[Quantity, Bounded("°C", "-60 degC", "100 degC", "-10 degC")]
Pressure = Annotated[Quantity, Bounded("kPa", "30 kPa", "120 kPa", "70 kPa")]
Humidity = Annotated[Quantity, Bounded("%", "0 %", "100 %", "85 %")]


class Operating(Strict):
    """The surroundings in which the instrument may be used, each from lowest to highest."""

    temperature: Annotated[
        tuple[Temperature, Temperature] | None,
        AfterValidator(_ordered),
        Field(examples=[["-10 degC", "45 degC"]], description="Lowest and highest. Default: not bounded."),
    ] = None
    pressure: Annotated[
        tuple[Pressure, Pressure] | None,
        AfterValidator(_ordered),
        Field(examples=[["70 kPa", "106 kPa"]], description="Lowest and highest. Default: not bounded."),
    ] = None
    humidity: Annotated[
        tuple[Humidity, Humidity] | None,
        AfterValidator(_ordered),
        Field(examples=[["0 %", "85 %"]], description="Lowest and highest. Default: not bounded."),
    ] = None
    soak: Annotated[
        Annotated[Quantity, Bounded("s", "0 s", "12 h", "20 min")] | None,
        Field(description="How long it stands here after coming from hot or cold. Default: no time."),
    ] = None


class Instrument(Strict):
    """The type of instrument that the profile is for.

    `window` and `zero` say whether it has a window to look at and needs a zero before a reading counts. Left out, a
    window follows WINDOW_UNLESS_STATED, and a zero is needed by ion chambers with a needle: their electrometer drifts
    (common practice, no source), and the doubt falls on the side of looking.
    """

    detector: Annotated[Detector, Field(examples=["vented ion chamber"], description="Kind of detector. Required.")]
    display: Annotated[Literal["needle", "digital"], Field(description='How it shows readings. Default "needle".')] = (
        "needle"
    )
    measures: Annotated[
        tuple[Line, ...],
        Field(min_length=1, max_length=20, examples=[["photon exposure rate"]], description="What for. Required."),
    ]
    not_for: Annotated[
        tuple[Line, ...],
        Field(min_length=1, max_length=20, examples=[["alpha", "neutron"]], description="What not for. Required."),
    ]
    air_density: Annotated[
        Literal["compensated", "correct", "none"],
        Field(
            examples=["none"],
            description='Whether readings follow the density of air: "compensated" by the instrument, "correct" by '
            'this program, "none". Required.',
        ),
    ]
    operating: Annotated[Operating, Field(description="Surroundings for use. Default: not bounded.")] = Operating()
    warnings: Annotated[
        tuple[Line, ...], Field(max_length=20, description="What the user must know. Default: none.")
    ] = ()
    window: Annotated[bool | None, Field(description="Whether it has a window. Default: by the kind of detector.")] = (
        None
    )
    zero: Annotated[
        bool | None, Field(description="Whether it needs a zero. Default: true for ion chambers with a needle.")
    ] = None
    scale: Annotated[
        tuple[Scale, ...], Field(min_length=1, max_length=MOST_SCALES, description="Its scales. One is required.")
    ]

    @property
    def has_window(self) -> bool:
        return WINDOW_UNLESS_STATED[self.detector] if self.window is None else self.window

    @property
    def needs_zero(self) -> bool:
        return (self.detector in ION_CHAMBERS and self.display == "needle") if self.zero is None else self.zero

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if self.display == "digital" and any(scale.multiplier is not None for scale in self.scale):
            told = {"key": "display", "allowed": "no multiplier on a digital display"}
            raise PydanticCustomError("multiplier", "a digital display shows what it means", told)
        if self.air_density == "correct" and self.detector != "vented ion chamber":
            told = {"key": "air_density", "allowed": '"none" or "compensated" for this detector'}
            raise PydanticCustomError("air_density", "only a vented chamber is corrected for air density", told)
        return self


class Ready(Strict):
    """How long a pass may be relied on, and the longest pause within a checkout."""

    lasts: Annotated[
        Quantity, Bounded("s", "1 min", "24 h", "12 h"), Field(description="From the oldest required pass. Required.")
    ]
    longest_pause: Annotated[
        Quantity,
        Bounded("s", "1 min", "4 h", "20 min"),
        Field(description="A longer one sends the checkout back to its first step. Required."),
    ]


class Reason(Strict):
    """A reason code of this profile in words: what is wrong with the instrument, and what is to be done."""

    code: Annotated[Identifier, Field(examples=["window-damaged"], description="The code. Required.")]
    say: Annotated[Line, Field(examples=["The window is torn."], description="What is wrong. Required.")]
    do: Annotated[Line, Field(examples=["Send it to be repaired."], description="What is to be done. Required.")]


class Head(AtReturn):
    """A profile without its steps."""

    format: Annotated[Literal[1], Field(examples=[1], description="Format of the file: 1. Required.")]
    id: Annotated[Identifier, Field(examples=["vented-chamber-analog"], description="By this it is adopted. Required.")]
    title: Annotated[Line, Field(examples=["Vented ion chamber, needle"], description="For people. Required.")]
    revision: Annotated[int, Field(ge=1, le=1_000_000, examples=[1], description="Counts up. Required.")]
    instrument: Annotated[Instrument, Field(description="The type of instrument. Required.")]
    ready: Annotated[Ready, Field(description="How long a pass may be relied on. Required.")]
    reason: Annotated[
        tuple[Reason, ...], Field(max_length=MOST_REASONS, description="Reason codes in words. Default: none.")
    ] = ()

    @property
    def at_return(self) -> tuple[ReturnQuestion, ...]:
        """What is asked when the instrument comes back."""
        asked: tuple[ReturnQuestion, ...] = getattr(self, "return")
        return asked


class Profile(Head):
    """A profile as its file states it. `step` holds the parameters of each step, in file order, each of its kind."""

    step: tuple[InstanceOf[StepParameters], ...]
