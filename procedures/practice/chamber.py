"""The ion chamber: what it makes of the radiation that reaches it, in the unit of the scales."""

from __future__ import annotations

import math
from dataclasses import dataclass

from procedures.air import ReferenceAir, density_factor


@dataclass(frozen=True, slots=True)
class ChamberModel:
    """An ion chamber with its electrometer's response. Levels in the unit of the scales, seconds, °C, kPa.

    `noise` is the standard deviation at nothing, `shot` what is added in variance for each unit of reading. Below
    `slow_below` it follows with `slow_time_constant`.
    """

    vented: bool
    temperature_c: float
    pressure_kpa: float
    time_constant: float
    noise: float
    shot: float
    time_constants: tuple[tuple[str, float], ...] = ()
    slow_below: float = 0.0
    slow_time_constant: float = 0.0

    def tau(self, scale: str, reading: float) -> float:
        """The time constant on a scale at a reading, in seconds."""
        if reading < self.slow_below:
            return self.slow_time_constant
        return dict(self.time_constants).get(scale, self.time_constant)

    def sigma(self, reading: float) -> float:
        """The standard deviation at a reading: charge comes in grains, so its variance grows with the reading."""
        return math.sqrt(self.noise**2 + self.shot * max(0.0, reading))


def air_response(model: ChamberModel, temperature_c: float, pressure_kpa: float) -> float:
    """The response against that at the air of calibration: a vented chamber holds less air when warm or high up.

    The inverse of `procedures.air.density_factor`. A sealed chamber keeps its gas.
    """
    if not model.vented:
        return 1.0
    reference = ReferenceAir("calibration", model.temperature_c, model.pressure_kpa, "the model's own")
    return 1.0 / density_factor(temperature_c, pressure_kpa, reference)
