"""The face of an instrument: all that can be seen, heard and read of it, and of the room, at one moment.

Values only. Two equal faces look the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from procedures.asks import Selector

BATTERY: str = "BATT"
"""The position of a selector that tests the battery."""


@dataclass(frozen=True, slots=True)
class NeedleFace:
    """A needle and what is printed behind it.

    `position` is a fraction of the scale, below 0 and above 1 as far as the stops. `figures` are those printed, each
    with its place as such a fraction; `divisions` is how many the scale has.
    """

    position: float
    figures: tuple[tuple[float, str], ...]
    divisions: int


@dataclass(frozen=True, slots=True)
class DigitsFace:
    """A display: its text, "" while dark, and the unit beside it. `counts`: it shows counts, not a rate."""

    text: str
    unit: str
    counts: bool = False


@dataclass(frozen=True, slots=True)
class BatteryFace:
    """What the battery test shows while it is on.

    `places` are marked in the order of the scale, separated at the fractions `edges`; a display has `text` instead, and
    a needle that shows volts goes by `full_volts`.
    """

    places: tuple[str, ...] = ()
    edges: tuple[float, ...] = ()
    full_volts: float = 0.0
    division: float = 0.0
    text: str = ""
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Look:
    """What it looks like when somebody looks. Words are those of the steps; "" where it cannot be seen now.

    `calibrated` and `due` are the dates on its label, None when there is no label that can be read. `remarks` are
    oddities that are no faults.
    """

    case: str
    cable: str
    window: str
    desiccant: str
    outside: str
    calibrated: date | None
    due: date | None
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RoomFace:
    """What the thermometer, the barometer and the hygrometer on the bench show: °C, kPa, %."""

    temperature_c: float
    pressure_kpa: float
    humidity: float


@dataclass(frozen=True, slots=True)
class Face:
    """One moment.

    `on` is where the power switch stands, not whether anything works. `clicks` are heard a second, 0 while silent;
    `pulses` counts them all, so that a front end can tell new ones. `sounds` and `lamps` name what sounds and is lit.
    `held` are the buttons kept down. `source` is the role of the source in its jig, "" when all are away.
    `counting` are the seconds still to come of a count, 0 when none runs.
    """

    seconds: float
    on: bool
    selector: Selector | None
    needle: NeedleFace | None
    digits: DigitsFace | None
    battery: BatteryFace | None
    lamps: tuple[str, ...]
    sounds: tuple[str, ...]
    clicks: float
    pulses: int
    held: tuple[str, ...]
    slide: str
    cover: str
    place: str
    case: str
    source: str
    counting: float
    alarm_at: float | None
    look: Look
    room: RoomFace
