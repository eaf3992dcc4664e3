"""What is around the instrument: the air of the room, the radiation of the place, a radio that is keyed nearby."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

LIGHT: Final = {"covered": 0.0, "room": 0.02, "bright": 1.0}
"""Light on the window, as a part of bright light, by where the window is."""

RADIO_ON_S: Final = 3.0
RADIO_OFF_S: Final = 12.0
"""Mean seconds for which a radio near the bench is keyed, and for which it is not: invented."""

BROKEN_FOR_S: Final = 0.8
"""Mean seconds for which a wire that touches now and then does not: invented."""


@dataclass(frozen=True, slots=True)
class Room:
    """The room as its instruments show it: °C, kPa, %; `background` in the unit of the instrument's scales."""

    temperature_c: float
    pressure_kpa: float
    humidity: float
    background: float
