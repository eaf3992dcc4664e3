"""Air density for a vented chamber that the program corrects: the factors for now and for the reference reading.

A check that is corrected says nothing about a survey that is not, so the factor of the day goes with the instrument.
"""

from __future__ import annotations

from dataclasses import dataclass

from procedures.air import ReferenceAir, density_factor, reference_air
from procedures.facts import Facts, ReferenceFacts
from procedures.findings import Number, number
from procedures.steps.common import plain
from procedures.trouble import Trouble

SETTING = "air_reference"
"""The site's setting that names the reference conditions its readings are brought to."""

USUAL = "iaea"


@dataclass(frozen=True, slots=True)
class Air:
    """`now` and `then` bring the reading and the reference reading to the same stated air."""

    now: float
    then: float
    temperature: str
    pressure: str
    to: ReferenceAir

    @property
    def factor(self) -> str:
        return plain(self.now, 4)

    @property
    def carry(self) -> str:
        air = f"{self.temperature} °C and {self.pressure} kPa"
        stated = f"{self.to.temperature_c:g} °C and {self.to.pressure_kpa:g} kPa"
        return f"Multiply every reading by {self.factor}: at {air} the chamber holds other air than at {stated}."

    def numbers(self) -> tuple[Number, ...]:
        return (
            number("air_factor", "Air density factor now", self.now),
            number("air_factor_reference", "Air density factor at the reference reading", self.then),
        )


def air_for(facts: Facts, reference: ReferenceFacts) -> Air:
    """The air of now and of the reference reading. Trouble when temperature or pressure of either is missing."""
    temperature, pressure = facts.fact("temperature_c"), facts.fact("pressure_kpa")
    if not temperature or not pressure:
        raise Trouble("temperature and pressure were not taken, and this chamber is corrected for air density")
    if reference.temperature_c is None or reference.pressure_kpa is None:
        raise Trouble("the reference reading has no temperature and pressure, and this chamber is corrected for them")
    to = reference_air(facts.settings.get(SETTING, USUAL))
    now = density_factor(float(temperature), float(pressure), to)
    then = density_factor(reference.temperature_c, reference.pressure_kpa, to)
    return Air(now, then, plain(float(temperature)), plain(float(pressure), 4), to)
