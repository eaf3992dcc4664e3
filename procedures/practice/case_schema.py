"""What a trainer may write in a case: the instrument, its faults, the room, and what to say of it."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import Field

from procedures.practice.model_schema import Pressure, Share, Temperature
from procedures.steps.base import Identifier, Line, Strict

MOST_FAULTS: Final = 6


class InstrumentTable(Strict):
    """Which type of instrument it is."""

    profile: Annotated[
        Identifier, Field(examples=["vented-chamber-analog"], description="Id of its profile. Required.")
    ]


class RoomTable(Strict):
    """The room, where it is another than the model's."""

    temperature: Annotated[Temperature | None, Field(description="Default: the model's.")] = None
    pressure: Annotated[Pressure | None, Field(description="Station pressure. Default: the model's.")] = None
    humidity: Annotated[Share | None, Field(description="Relative humidity. Default: the model's.")] = None


class FaultRow(Strict):
    """One fault, or one oddity that is no fault."""

    kind: Annotated[str, Field(max_length=60, examples=["response-low"], description="From the catalogue. Required.")]
    level: Annotated[
        str, Field(max_length=60, examples=["-30 %"], description="How large it is, for kinds that have a size.")
    ] = ""
    begins: Annotated[
        str,
        Field(
            max_length=60,
            examples=["start"],
            description='"start", a time of being on such as "90 s", or "at" and a control. Default "start".',
        ),
    ] = "start"
    scale: Annotated[str, Field(max_length=30, description="The range it is about, for kinds about one range.")] = ""
    note: Annotated[str, Field(max_length=300, description="The trainer's own words. Default: none.")] = ""


class CaseFile(Strict):
    """A case."""

    format: Annotated[Literal[1], Field(examples=[1], description="Format of the file: 1. Required.")]
    title: Annotated[Line, Field(examples=["Damp chamber"], description="For the trainer's list. Required.")]
    about: Annotated[str, Field(max_length=600, description="What is behind it, in the trainer's words.")] = ""
    hints: Annotated[
        tuple[Line, ...], Field(max_length=10, description="Said one after another to a trainee who asks.")
    ] = ()
    instrument: Annotated[InstrumentTable, Field(description="The type of instrument. Required.")]
    room: Annotated[RoomTable, Field(description="The room. Default: the model's.")] = RoomTable()
    fault: Annotated[
        tuple[FaultRow, ...], Field(max_length=MOST_FAULTS, description="What is wrong. Default: nothing.")
    ] = ()
