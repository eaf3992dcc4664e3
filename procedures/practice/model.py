"""A model: the invented values of a type of instrument, with what its profile says of scales, gel and battery.

Levels are in the unit of the scales throughout, which is one unit for all scales of a model.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from procedures.facts import ScaleFacts
from procedures.practice.cells import CellsModel
from procedures.practice.chamber import ChamberModel
from procedures.practice.counter import CounterModel
from procedures.practice.display import DisplayModel
from procedures.practice.electrometer import DesiccantModel, ZeroModel
from procedures.practice.needle import NeedleModel
from procedures.practice.sources import SourceModel
from procedures.practice.surroundings import Room

Reads = Literal["places", "volts", "percent"]


@dataclass(frozen=True, slots=True)
class BatteryModel:
    """How the instrument shows its cells.

    `full` volts take a needle to the end of its scale, or are 100 %; `empty` volts are 0 %. `places` are separated by
    the voltages `edges`. `division` is the smallest step that can be read, in V or %. `on_selector`: the test is a
    position of the selector, "BATT"; else it is a button.
    """

    reads: Reads
    on_selector: bool
    full: float
    empty: float
    division: float
    places: tuple[str, ...] = ()
    edges: tuple[float, ...] = ()

    def place(self, volts: float) -> str:
        """Between which marks the needle rests."""
        return self.places[sum(volts >= edge for edge in self.edges)]

    def percent(self, volts: float) -> float:
        return 100 * min(1.0, max(0.0, (volts - self.empty) / (self.full - self.empty)))


@dataclass(frozen=True, slots=True)
class Parts:
    """What there is on the instrument to be worked or looked at."""

    slide: bool = False
    window: bool = False
    cable: bool = False
    light: bool = False
    speaker: bool = False
    alarm: float | None = None
    """Set point of its alarm, in the unit of the scales; None: it has no alarm."""
    scaler: bool = False


@dataclass(frozen=True, slots=True)
class Model:
    """A type of instrument that can be simulated. Either `chamber` and `zero`, or `counter`; `needle`, or `display`."""

    profile: str
    title: str
    detector: str
    scales: tuple[ScaleFacts, ...]
    unit: str
    cells: CellsModel
    battery: BatteryModel
    parts: Parts
    room: Room
    sources: tuple[SourceModel, ...]
    chamber: ChamberModel | None = None
    zero: ZeroModel | None = None
    desiccant: DesiccantModel | None = None
    counter: CounterModel | None = None
    needle: NeedleModel | None = None
    display: DisplayModel | None = None

    def scale(self, name: str) -> ScaleFacts:
        """A scale by its name; KeyError when there is none."""
        for each in self.scales:
            if each.selector.name == name:
                return each
        raise KeyError(name)

    def source(self, role: str) -> SourceModel:
        """A source by its role; KeyError when there is none."""
        for each in self.sources:
            if each.role == role:
                return each
        raise KeyError(role)

    @property
    def labels(self) -> frozenset[str]:
        """Words that say what it has, by which the catalogue of faults knows which faults it can have."""
        parts = self.parts
        has = {
            "chamber": self.chamber is not None,
            "counter": self.counter is not None,
            "vented": self.chamber is not None and self.chamber.vented,
            "gas": self.detector in ("sealed ion chamber", "moderated neutron detector"),
            "tube": self.detector == "Geiger-Müller tube",
            "scintillator": self.detector == "scintillator",
            "zero button": self.zero is not None and self.zero.button,
            "zero knob": self.zero is not None and self.zero.knob > 0,
            "desiccant": self.desiccant is not None,
            "needle": self.needle is not None,
            "display": self.display is not None,
            "several scales": len(self.scales) > 1,
            "slide": parts.slide,
            "window": parts.window,
            "cable": parts.cable,
            "speaker": parts.speaker,
            "alarm": parts.alarm is not None,
        }
        return frozenset(label for label, there in has.items() if there)


def division_of(scale: ScaleFacts) -> float:
    """The smallest division or last digit of a scale, as a true value in its unit."""
    return float((scale.selector.division or Decimal(1)) * scale.selector.times)


def full_scale_of(scale: ScaleFacts) -> float:
    return float(scale.full_scale)
