"""Cells: what they give at their terminals under a load. A cell that is nearly spent looks good while nothing is drawn.

The closed set of units has neither ohm nor ampere, so the inner resistance is stated as the volts that the basic load
(switched on, nothing else) makes them drop, and other loads as multiples of the basic one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class CellsModel:
    """A set of cells. Volts, seconds; `light`, `speaker` and `test` are loads in addition to the basic load of 1.

    `drop` and `drop_flat` are the volts lost to the basic load when full and when flat. `slow` is the part of the drop
    that takes `recovers` seconds (polarisation). `life` is the time a full set carries the basic load. Below
    `regulates_above` the high voltage sinks with the cells, below `stops_below` nothing works.
    """

    fresh: float
    flat: float
    drop: float
    drop_flat: float
    slow: float
    recovers: float
    life: float
    regulates_above: float
    stops_below: float
    light: float = 0.0
    speaker: float = 0.0
    test: float = 0.0


def open_circuit(model: CellsModel, charge: float, wrong: float = 0.0) -> float:
    """Volts without load at a charge of 0 to 1; `wrong` is the part by which other cells than the right ones give more.

    The root is an invented curve: nearly level at first, steep at the end.
    """
    return (model.flat + (model.fresh - model.flat) * math.sqrt(max(0.0, charge))) * (1 + wrong)


def drop_per_load(model: CellsModel, charge: float, tired: float = 1.0) -> float:
    """Volts lost to the basic load in the end; it rises towards the end of the charge. `tired` multiplies it."""
    return (model.drop + (model.drop_flat - model.drop) * (1 - charge) ** 3) * tired


def under_load(model: CellsModel, charge: float, load: float, *, tired: float = 1.0, wrong: float = 0.0) -> float:
    """Volts at the terminals when a load has lasted: what a battery check sees."""
    return max(0.0, open_circuit(model, charge, wrong) - load * drop_per_load(model, charge, tired))


def regulated(model: CellsModel, volts: float) -> float:
    """The part of its response that a detector keeps at this voltage: all of it while the high voltage is regulated.

    Below, it falls with the cube of the voltage: an invented curve.
    """
    return 1.0 if volts >= model.regulates_above else (volts / model.regulates_above) ** 3


@dataclass(slots=True)
class Cells:
    """Cells in use: their charge of 0 to 1, and the slow part of the drop as it is now, in volts."""

    model: CellsModel
    charge: float = 1.0
    sag: float = 0.0

    def advance(self, seconds: float, load: float, tired: float = 1.0) -> None:
        """The slow part follows the load with its time constant, exact for a load that stays; charge runs down."""
        model = self.model
        aim = model.slow * load * drop_per_load(model, self.charge, tired)
        self.sag = aim + (self.sag - aim) * math.exp(-seconds / model.recovers)
        self.charge = max(0.0, self.charge - load * seconds / model.life)

    def volts(self, load: float, tired: float = 1.0, wrong: float = 0.0) -> float:
        """At the terminals, now."""
        fast = (1 - self.model.slow) * load * drop_per_load(self.model, self.charge, tired)
        return max(0.0, open_circuit(self.model, self.charge, wrong) - fast - self.sag)

    def renew(self) -> None:
        """Fresh ones are fitted."""
        self.charge, self.sag = 1.0, 0.0
