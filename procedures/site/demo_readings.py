"""What the demo's invented instruments show: figures worked out from decay, air, and how far off an instrument is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from procedures.air import IAEA, density_factor
from procedures.nuclides import decay_factor, elapsed_days, half_life
from procedures.site.demo_things import ALPHA, NEUTRON, PANCAKE, SEALED, VENTED, Kind

SCATTER: Final = (1.0, 1.012, 0.991, 1.006, 0.994)
"""What readings of one source differ by, one after another."""

WEATHER: Final = ((17.5, 100.9), (18.0, 100.2), (16.0, 99.6), (19.5, 101.3), (20.5, 101.8), (18.5, 100.5))
"""Temperature in °C and pressure in kPa of the demo's days."""

REFERENCE_WEATHER: Final = (21.0, 99.4)


@dataclass(frozen=True, slots=True)
class Expectation:
    """The reference reading of a type: scale and geometry as its profile names them, value in `unit`, net.

    `step` is the smallest difference that is read; `times` the multiplier of the scale.
    """

    nuclide: str
    scale: str
    geometry: str
    value: float
    unit: str
    step: float
    times: float = 1.0


EXPECTED: Final[Mapping[str, Expectation]] = {
    VENTED.type: Expectation("Cs-137", "x1", "slide closed, on the stop", 1.66, "mR/h", 0.02),
    SEALED.type: Expectation("Cs-137", "auto", "on the base plate", 42.6, "µSv/h", 0.1),
    PANCAKE.type: Expectation("Cs-137", "x10", "on the pins", 3420.0, "cpm", 100.0, 10.0),
    ALPHA.type: Expectation("Am-241", "scaler", "on the spacer", 31240.0, "cpm", 2.0),
    NEUTRON.type: Expectation("Cf-252", "x10", "bench, 40 cm", 212.0, "µSv/h", 5.0, 10.0),
}


@dataclass(frozen=True, slots=True)
class Day:
    """One checkout's circumstances. `label` is the date on the calibration label, `ratio` how far off it reads."""

    label: str
    referenced: datetime
    at: datetime
    number: int = 0
    ratio: float = 1.0

    @property
    def weather(self) -> tuple[float, float]:
        return WEATHER[self.number % len(WEATHER)]


def reference_readings(kind: Kind) -> list[str]:
    """Ten readings as they were taken after the calibration, as decimal text in the unit of the scale."""
    expected = EXPECTED[kind.type]
    return [_figure(expected.value * SCATTER[n % len(SCATTER)], expected.step) for n in range(10)]


def reference_mean(kind: Kind) -> float:
    """The mean of these readings."""
    figures = [float(text) for text in reference_readings(kind)]
    return sum(figures) / len(figures)


def responses(kind: Kind, day: Day, count: int) -> list[str]:
    """So many readings of the check source, as the scale prints them."""
    expected = EXPECTED[kind.type]
    decay = decay_factor(half_life(expected.nuclide).days, elapsed_days(day.referenced, day.at))
    value = reference_mean(kind) * decay * day.ratio
    if kind is VENTED:
        value *= density_factor(*REFERENCE_WEATHER, IAEA) / density_factor(*day.weather, IAEA)
    if kind is ALPHA:
        return [str(round(value / 2 * SCATTER[(day.number + n) % 5] ** 0.25 + 1)) for n in range(count)]
    shown = [value * SCATTER[(day.number + n) % 5] for n in range(count)]
    return [_figure(each / expected.times, expected.step / expected.times) for each in shown]


def good_day(kind: Kind, day: Day) -> dict[str, str]:
    """The answers of a checkout in which everything but the response is as it should be."""
    return {
        "look-over/case": "whole",
        "look-over/cable": "whole",
        "look-over/outside": "below limit",
        "look-over/label": day.label,
        "window/window": "whole",
        **_OF_KIND[kind.type],
        "air/temperature": str(day.weather[0]),
        "air/pressure": str(day.weather[1]),
        "response/seated": "in place",
        **{f"response/reading-{n}": text for n, text in enumerate(responses(kind, day, 5), 1)},
    }


_OF_KIND: Final[Mapping[str, Mapping[str, str]]] = {
    VENTED.type: {
        "air/soak": "no",
        "battery/battery": "in the band",
        "zero/stowed": "all away",
        "zero/as-found": "0.05",
        "zero/adjust": "on zero",
        "zero/zero": "0",
        "response/returned": "0",
    },
    SEALED.type: {
        "surroundings/temperature": "19.5",
        "surroundings/humidity": "52",
        "surroundings/soak": "no",
        "battery/battery": "82 %",
        "alarm/test-button": "both",
        "alarm/set-point": "25",
        "response/returned": "0.1",
    },
    PANCAKE.type: {
        "battery/battery": "6.1 V",
        "background/stowed": "all away",
        "background/background-1": "42",
        "background/background-2": "38",
        "background/background-3": "40",
        "response/returned": "4",
    },
    ALPHA.type: {
        "battery/battery": "5.9 V",
        "window/dark": "2",
        "window/bright-reading": "3",
        "background/stowed": "all away",
        "background/background-1": "2",
        "response/returned": "3",
    },
    NEUTRON.type: {"battery/battery": "right of the mark", "response/returned": "0"},
}


def _figure(value: float, step: float) -> str:
    """A figure read to the nearest `step`, as decimal text."""
    places = 2 if step < 0.1 else 1 if step < 1 else 0
    return f"{round(value / step) * step:.{places}f}"
