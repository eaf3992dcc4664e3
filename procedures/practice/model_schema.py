"""What a model's file may say: the invented values of a type of instrument, as text with units."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from procedures.steps.base import Bounded, Identifier, Level, Line, Strict
from procedures.units import Quantity

Volts = Annotated[Quantity, Bounded("V", "0 V", "1000 V", "6.4 V")]
Share = Annotated[Quantity, Bounded("%", "0 %", "100 %", "50 %")]
Load = Annotated[Quantity, Bounded("%", "0 %", "2000 %", "150 %")]
Damping = Annotated[Quantity, Bounded("%", "20 %", "95 %", "70 %")]
Swing = Annotated[Quantity, Bounded("s", "0.1 s", "10 s", "0.5 s")]
Time = Annotated[Quantity, Bounded("s", "0.05 s", "30 d", "5 s")]
Age = Annotated[Quantity, Bounded("d", "0 d", "20 y", "25 d")]
DeadTime = Annotated[Quantity, Bounded("s", "0 s", "0.01 s", "0.00009 s")]
Rate = Annotated[Quantity, Bounded("cps", "0 cps", "1000000000 cps", "40000 cps")]
PerUnit = Annotated[Quantity, Bounded("cps", "0.000001 cps", "1000000 cps", "0.15 cps")]
Distance = Annotated[Quantity, Bounded("mm", "1 mm", "10 m", "40 mm")]
Placing = Annotated[Quantity, Bounded("mm", "0 mm", "100 mm", "0.3 mm")]
Temperature = Annotated[Quantity, Bounded("°C", "-60 degC", "70 degC", "20 degC")]
Pressure = Annotated[Quantity, Bounded("kPa", "30 kPa", "120 kPa", "99.4 kPa")]
Beta = Annotated[Quantity, Bounded("%", "0 %", "10000 %", "60 %")]


class RoomTable(Strict):
    """The room where it is checked."""

    temperature: Annotated[Temperature, Field(description="Required.")]
    pressure: Annotated[Pressure, Field(description="Station pressure. Required.")]
    humidity: Annotated[Share, Field(description="Relative humidity. Required.")]
    background: Annotated[Level, Field(description="Background reading of the place. Required.")]


class CellsTable(Strict):
    """The cells. Loads are parts of the basic load, which is the instrument switched on and nothing else."""

    fresh: Annotated[Volts, Field(description="Without load, when full. Required.")]
    flat: Annotated[Volts, Field(description="Without load, when flat. Required.")]
    drop: Annotated[Volts, Field(description="Lost to the basic load when full. Required.")]
    drop_flat: Annotated[Volts, Field(description="Lost to the basic load when flat. Required.")]
    slow: Annotated[Share, Field(description="Part of the drop that takes its time. Required.")]
    recovers: Annotated[Time, Field(description="Time constant of that part. Required.")]
    life: Annotated[Time, Field(examples=["200 h"], description="How long they carry the basic load. Required.")]
    regulates_above: Annotated[Volts, Field(description="Below, the response sinks with the cells. Required.")]
    stops_below: Annotated[Volts, Field(description="Below, nothing works. Required.")]
    light: Annotated[Load | None, Field(description="Further load of the light. Default: none.")] = None
    speaker: Annotated[Load | None, Field(description="Further load of the speaker. Default: none.")] = None
    test: Annotated[Load | None, Field(description="Further load of the battery test. Default: none.")] = None


class BatteryTable(Strict):
    """How the battery test shows the cells. Its places are those of the profile."""

    by: Annotated[Literal["selector", "button"], Field(examples=["button"], description="How it is put on. Required.")]
    full: Annotated[Volts, Field(description="End of the scale, or 100 %. Required.")]
    empty: Annotated[Volts | None, Field(description="0 %. For a battery that is shown in %.")] = None
    edges: Annotated[
        tuple[Volts, ...], Field(max_length=8, description="Voltages between the places, ascending. For places.")
    ] = ()
    division: Annotated[Volts | None, Field(description="Smallest step of volts. For volts.")] = None


class ChamberTable(Strict):
    """An ion chamber and its response."""

    temperature: Annotated[Temperature, Field(description="Air of its calibration. Required.")]
    pressure: Annotated[Pressure, Field(description="Air of its calibration. Required.")]
    time_constant: Annotated[Time, Field(description="First-order time constant. Required.")]
    time_constants: Annotated[dict[str, Time], Field(default_factory=dict, description="By scale, where it differs.")]
    slow_below: Annotated[Level | None, Field(description="Reading below which it is slower. Default: none.")] = None
    slow_time_constant: Annotated[Time | None, Field(description="Time constant below. With slow_below.")] = None
    noise: Annotated[Level, Field(description="Standard deviation at nothing. Required.")]
    scatter: Annotated[Share, Field(description="Standard deviation beside the first source. Required.")]


class ZeroTable(Strict):
    """Zero of the electrometer."""

    offset: Annotated[Level, Field(description="How far off it is when warm. Required.")]
    warm_up: Annotated[Level, Field(description="How far off it is when just switched on. Required.")]
    warms: Annotated[Time, Field(description="Time constant of warming up. Required.")]
    per_degree: Annotated[Level, Field(description="What each °C away from calibration moves. Required.")]
    kick: Annotated[Level | None, Field(description="What letting the button go throws in. With a button.")] = None
    kick_fades: Annotated[Time | None, Field(description="Time constant of that. With a button.")] = None
    knob: Annotated[Level | None, Field(description="What one turn of the knob moves. Default: no knob.")] = None
    auto_after: Annotated[
        Time | None, Field(description="When after switching on it sets its own zero. Default: it does not.")
    ] = None


class DesiccantTable(Strict):
    """Desiccant. The colours of its gel are those of the profile."""

    leakage: Annotated[Level, Field(description="False reading of a chamber all damp. Required.")]
    turning_at: Annotated[Share, Field(description="Dampness at which the gel begins to turn. Required.")]
    spent_at: Annotated[Share, Field(description="Dampness at which it is spent. Required.")]
    dries: Annotated[Time, Field(examples=["6 h"], description="Time constant of drying. Required.")]


class CounterTable(Strict):
    """A detector that counts pulses."""

    per_unit: Annotated[
        PerUnit | None, Field(description="Pulses at a reading of 1. Required where scales show no count rate.")
    ] = None
    dead_time: Annotated[DeadTime, Field(description="Required.")]
    time_constant: Annotated[Time, Field(description="Of the ratemeter. Required.")]
    time_constants: Annotated[dict[str, Time], Field(default_factory=dict, description="By scale, where it differs.")]
    silent_above: Annotated[Rate, Field(description="Pulses above which it falls silent. Required.")]
    scaler: Annotated[bool, Field(description="Whether it counts for a time that is set. Default false.")] = False


class NeedleTable(Strict):
    """A needle."""

    period: Annotated[Swing, Field(description="Of its swing without damping. Required.")]
    damping: Annotated[Damping, Field(description="Part of critical. Required.")]


class DisplayTable(Strict):
    """A digital display."""

    update: Annotated[Time, Field(description="Time between two figures. Required.")]


class PartsTable(Strict):
    """What there is to be worked or looked at."""

    slide: Annotated[bool, Field(description="Default false.")] = False
    cable: Annotated[bool, Field(description="Default false.")] = False
    light: Annotated[bool, Field(description="Default false.")] = False
    speaker: Annotated[bool, Field(description="Default false.")] = False


class SourceRow(Strict):
    """A check source, with the reference reading of it."""

    role: Annotated[Identifier, Field(examples=["daily"], description="Role in the profile. Required.")]
    nuclide: Annotated[Line, Field(examples=["Cs-137"], description="Required.")]
    reading: Annotated[Level, Field(description="Reference reading, net of background. Required.")]
    scale: Annotated[Line, Field(examples=["x1"], description="On which scale. Required.")]
    geometry: Annotated[str, Field(max_length=60, description="As the profile names it. Default: none.")] = ""
    age: Annotated[Age, Field(description="How long before the session. Required.")]
    temperature: Annotated[Temperature, Field(description="Air then. Required.")]
    pressure: Annotated[Pressure, Field(description="Air then. Required.")]
    uncertainty: Annotated[Share, Field(description="Standard uncertainty of it. Required.")]
    distance: Annotated[Distance, Field(description="From source to middle of detector. Required.")]
    placing: Annotated[Placing, Field(description="Standard deviation of placing it. Required.")]
    beta: Annotated[Beta | None, Field(description="What opening the slide adds. Default: nothing.")] = None


class ModelFile(Strict):
    """A model's file."""

    format: Annotated[Literal[1], Field(examples=[1], description="Format of the file: 1. Required.")]
    profile: Annotated[
        Identifier, Field(examples=["vented-chamber-analog"], description="Id of its profile. Required.")
    ]
    room: Annotated[RoomTable, Field(description="The room. Required.")]
    cells: Annotated[CellsTable, Field(description="The cells. Required.")]
    battery: Annotated[BatteryTable, Field(description="The battery test. Required.")]
    parts: Annotated[PartsTable, Field(description="Parts. Default: none of them.")] = PartsTable()
    chamber: Annotated[ChamberTable | None, Field(description="For ion chambers.")] = None
    zero: Annotated[ZeroTable | None, Field(description="For ion chambers.")] = None
    desiccant: Annotated[DesiccantTable | None, Field(description="Default: no desiccant.")] = None
    counter: Annotated[CounterTable | None, Field(description="For all other detectors.")] = None
    needle: Annotated[NeedleTable | None, Field(description="For a needle.")] = None
    display: Annotated[DisplayTable | None, Field(description="For a digital display.")] = None
    source: Annotated[tuple[SourceRow, ...], Field(min_length=1, max_length=10, description="One is required.")]
