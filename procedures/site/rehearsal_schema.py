"""What an answers file may say: what stands around an imagined checkout, what happens in it, what is expected of it."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any, Final, Literal, Self, TypeVar

from pydantic import AfterValidator, AwareDatetime, Field, model_validator
from pydantic_core import PydanticCustomError, core_schema

from procedures.answers import LONGEST_SCAN, clean_line
from procedures.steps.base import Bounded, Identifier, Level, Line, Strict
from procedures.units import Quantity

MOST_ROWS: Final = 1_000
MOST_GIVEN: Final = 100

ACTS: Final = ("give", "done", "let_go", "pause", "judge", "abandon")
"""What a row may say was done; each row says one of them."""


FIRST_YEAR: Final = 1950
LAST_YEAR: Final = 2150
"""Years of the dates in a file: beyond them nothing is checked, and calendars end."""

D = TypeVar("D", date, datetime)


def _in_these_years(when: D) -> D:
    if FIRST_YEAR <= when.year <= LAST_YEAR:
        return when
    told_of = {"allowed": f"years {FIRST_YEAR} to {LAST_YEAR}", "example": "2031-05-06"}
    raise PydanticCustomError("years", "nothing is rehearsed in such a year", told_of)


def _as_scanned(label: str) -> str:
    if clean_line(label) == label:
        return label
    told_of = {"allowed": "no spaces at its ends, and single ones within", "example": '"QO-01"'}
    raise PydanticCustomError("label", "no scanner reads this label as it stands here", told_of)


Moment = Annotated[AwareDatetime, AfterValidator(_in_these_years)]
Day = Annotated[date, AfterValidator(_in_these_years)]
Label = Annotated[str, Field(max_length=LONGEST_SCAN), AfterValidator(_as_scanned)]


class Given:
    """Reads an answer as a person would type it, or a list of answers that are used one after another."""

    example: Final = "1.62"

    def read(self, value: object) -> tuple[str, ...]:
        listed = (value,) if isinstance(value, str) else value
        if isinstance(listed, tuple) and 0 < len(listed) <= MOST_GIVEN and all(isinstance(one, str) for one in listed):
            return listed
        told_of = {"allowed": "text in quotes, or a list of such texts, used one after another", "example": '"1.62"'}
        raise PydanticCustomError("given", "this is no answer as a person would type it", told_of)

    def __get_pydantic_core_schema__(self, _source: Any, _handler: Any) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)


class InstrumentRow(Strict):
    """The imagined instrument."""

    label: Annotated[Label, Field(min_length=1, examples=["SL-03"], description="As its barcode carries it. Required.")]
    serial: Annotated[str, Field(description="Default: none.")] = ""
    type: Annotated[str, Field(description="Default: none.")] = ""
    detector: Annotated[Label, Field(description="Label of a detector that can be swapped. Default: none.")] = ""
    cable: Annotated[Label, Field(description="Label of a cable that can be swapped. Default: none.")] = ""
    calibrated_on: Annotated[Day | None, Field(description="Date of its calibration. Default: none.")] = None
    calibration_due: Annotated[Day | None, Field(description="Last day of its calibration. Default: none.")] = None


class SourceRow(Strict):
    """A source that the site is imagined to have bound to a role."""

    role: Annotated[Line, Field(examples=["daily"], description="Role in the profile. Required.")]
    label: Annotated[Label, Field(min_length=1, examples=["CS-02"], description="As its barcode carries it. Required.")]
    nuclide: Annotated[Line, Field(examples=["Cs-137"], description="Required.")]
    jig: Annotated[Label, Field(description="Label of the jig that holds it. Default: none.")] = ""
    emits: Annotated[str, Field(description="What it emits. Default: nothing said.")] = ""
    strong: Annotated[bool, Field(description="Whether it is a strong one. Default: false.")] = False
    trouble: Annotated[str, Field(description="Why it may not be used, in words. Default: it may.")] = ""


class ReferenceRow(Strict):
    """A reference reading, net of background."""

    role: Annotated[Line, Field(examples=["daily"], description="Role of its source. Required.")]
    scale: Annotated[Line, Field(examples=["x1"], description="Name of the scale. Required.")]
    geometry: Annotated[str, Field(description="As the profile's step names it. Default: none.")] = ""
    value: Annotated[Level, Field(examples=["1.66 mR/h"], description="Mean of the readings. Required.")]
    at: Annotated[Moment, Field(description="When, as 2031-01-16T09:00:00Z. Required.")]
    temperature: Annotated[
        Annotated[Quantity, Bounded("°C", "-60 degC", "100 degC", "21 degC")] | None,
        Field(description="Air temperature then. Default: not recorded."),
    ] = None
    pressure: Annotated[
        Annotated[Quantity, Bounded("kPa", "30 kPa", "120 kPa", "99.4 kPa")] | None,
        Field(description="Station pressure then. Default: not recorded."),
    ] = None
    relative_uncertainty: Annotated[
        Annotated[Quantity, Bounded("%", "0 %", "50 %", "1 %")] | None,
        Field(description="Standard uncertainty of the mean. Default: as if it had none."),
    ] = None


class Row(Strict):
    """One thing that happens. Rows of one step happen in the order in which they stand."""

    step: Annotated[Identifier, Field(description="Id of the step. Required.")]
    ask: Annotated[
        str, Field(max_length=80, description="Key of the ask. Default: whatever observation the step asks next.")
    ] = ""
    give: Annotated[
        Annotated[tuple[str, ...], Given()] | None,
        Field(description="The answer as a person would type it, or a list of them, one after another."),
    ] = None
    done: Annotated[bool | None, Field(description="Whether the remedy on offer was carried out.")] = None
    let_go: Annotated[
        Annotated[Quantity, Bounded("s", "0 s", "4 h", "3 s")] | None,
        Field(description="The button held down is let go after this time."),
    ] = None
    pause: Annotated[
        Annotated[Quantity, Bounded("s", "0 s", "30 d", "25 min")] | None,
        Field(description="The checkout is set aside for this time."),
    ] = None
    switched_off: Annotated[bool, Field(description="With pause: the instrument was switched off. Default false.")] = (
        False
    )
    another_person: Annotated[bool, Field(description="With pause: somebody else goes on. Default false.")] = False
    judge: Annotated[Line | None, Field(description="The person fails the step, for this reason.")] = None
    abandon: Annotated[Line | None, Field(description="The checkout is given up, for this reason.")] = None
    after: Annotated[
        Annotated[Quantity, Bounded("s", "0 s", "24 h", "6 s")] | None,
        Field(description="How long it takes, from when it was asked. Default 4 s."),
    ] = None

    @model_validator(mode="after")
    def _one_act(self) -> Self:
        acts = [name for name in ACTS if getattr(self, name) is not None]
        if len(acts) != 1:
            found = " and ".join(acts) or "none of them"
            context = {"key": acts[1] if acts else "step", "allowed": "one of: " + ", ".join(ACTS), "example": ""}
            raise PydanticCustomError(
                "act", "each answer says one thing that happens, and here it is " + found, context
            )
        if self.pause is None and (self.switched_off or self.another_person):
            context = {"key": "switched_off" if self.switched_off else "another_person", "allowed": "beside pause only"}
            raise PydanticCustomError("act", "nothing of this kind happens without a pause", context)
        return self


class Expect(Strict):
    """What the writer of the file expects of it."""

    ending: Annotated[
        Literal["fit for use", "locked out", "not checked", "abandoned"], Field(description="How it ends. Required.")
    ]
    reasons: Annotated[tuple[str, ...], Field(description="Reason codes of the lockout. Default: none.")] = ()


class Answers(Strict):
    """An answers file."""

    format: Annotated[Literal[1], Field(examples=[1], description="Format of the file: 1. Required.")]
    profile: Annotated[Identifier, Field(examples=["vented-chamber-analog"], description="Id of it. Required.")]
    about: Annotated[str, Field(max_length=300, description="What the file shows. Default: nothing said.")] = ""
    start: Annotated[Moment, Field(description="When it begins, with its offset, as 2031-05-06T06:30:00Z. Required.")]
    instrument: Annotated[InstrumentRow, Field(description="The imagined instrument. Required.")]
    source: Annotated[tuple[SourceRow, ...], Field(max_length=20, description="Default: none.")] = ()
    reference: Annotated[tuple[ReferenceRow, ...], Field(max_length=100, description="Default: none.")] = ()
    settings: Annotated[dict[str, str], Field(default_factory=dict, description="Settings of the site. Default: none.")]
    answer: Annotated[tuple[Row, ...], Field(max_length=MOST_ROWS, description="Default: none.")] = ()
    expect: Annotated[Expect | None, Field(description="Default: nothing is expected.")] = None
