"""The digital display: a figure that is put up now and then, to its last digit, with a sign for too much."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Final

OVERLOAD: Final = "OL"
"""What is shown for more than the display reaches."""


@dataclass(frozen=True, slots=True)
class DisplayModel:
    """A display that puts up a new figure every `update` seconds."""

    update: float


@dataclass(slots=True)
class Display:
    """A display in use. `text` is what it shows, "" while it is dark."""

    model: DisplayModel
    text: str = ""
    _due: float = 0.0

    def advance(self, seconds: float, value: float, division: Decimal, full_scale: float) -> None:
        """Go on for a time with a value; a new figure comes up when one is due."""
        self._due -= seconds
        if self._due > 1e-9 and self.text:
            return
        self._due = self.model.update
        self.text = figure(value, division, full_scale)

    def dark(self) -> None:
        self.text, self._due = "", 0.0


def figure(value: float, division: Decimal, full_scale: float) -> str:
    """A value to the last digit of a display: whole steps of `division`, OVERLOAD above the full scale."""
    if value > full_scale:
        return OVERLOAD
    steps = (Decimal(repr(value)) / division).quantize(Decimal(1), rounding=ROUND_HALF_EVEN)
    shown = steps * division
    return f"{shown if shown else abs(shown):f}"
