"""The check source in its jig: decay, distance, and what of it a slide lets through."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from procedures.nuclides import decay_factor


@dataclass(frozen=True, slots=True)
class SourceModel:
    """A check source of a type of instrument, and its reference reading.

    `reading` is that reading, net of background, in the unit of the scales, taken `age_days` before the session at
    `temperature_c` and `pressure_kpa`. `distance_mm` is from the source to the middle of the detector, `placing_mm` the
    standard deviation of placing it. `beta` is what opening the slide adds, as a part of `reading`.
    """

    role: str
    nuclide: str
    half_life_days: float
    reading: float
    unit: str
    scale: str
    geometry: str
    age_days: float
    temperature_c: float
    pressure_kpa: float
    relative_u: float
    distance_mm: float
    placing_mm: float
    beta: float = 0.0

    def referenced(self, start: datetime) -> datetime:
        """When the reference reading was taken, for a session that begins at `start`."""
        return start - timedelta(days=self.age_days)


def inverse_square(distance_mm: float, further_mm: float) -> float:
    """What is left of a small source's radiation so much further away: (d/(d + x))², never nearer than a millimetre.

    Inverse-square law of a point source; air and the jig's scatter are left out.
    """
    return (distance_mm / max(1.0, distance_mm + further_mm)) ** 2


def arriving(source: SourceModel, elapsed_days: float, further_mm: float, passes: float) -> float:
    """What reaches the detector, as a part of the reference reading: photons, and the betas that a slide lets through.

    `elapsed_days` since the session began; `passes` is 1 with the slide open, 0 with it closed.
    """
    decay = decay_factor(source.half_life_days, source.age_days + elapsed_days)
    return decay * inverse_square(source.distance_mm, further_mm) * (1 + source.beta * passes)
