"""What stands on every report besides its content: whose it is, when it was made, and what vouches for its records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

_NOT_REAL: Final[Mapping[str, str]] = {
    "demo": "DEMO: nothing here is real",
    "practice": "PRACTICE: a simulated instrument, no real record",
}


@dataclass(frozen=True, slots=True)
class Head:
    """The last event of one chain. As text it is what `verify --head` takes."""

    station: str
    seq: int
    hash: str

    def __str__(self) -> str:
        return f"{self.station}:{self.seq}:{self.hash}"


@dataclass(frozen=True, slots=True)
class Printed:
    """The circumstances of one report. `made` is in the site's zone, whose name is `zone`.

    `marking` is "real", "demo" or "practice"; `heads` are those of all chains here, this station's own first.
    """

    site: str
    station: str
    station_name: str
    marking: str
    made: datetime
    zone: str
    heads: tuple[Head, ...]

    @property
    def warning(self) -> str:
        """What says that these are no real records; "" where they are."""
        return "" if self.marking == "real" else _NOT_REAL.get(self.marking, "NOT REAL RECORDS")

    @property
    def when(self) -> str:
        """When it was made: local time, zone, and how far that is from UTC."""
        offset = self.made.utcoffset() or timedelta()
        minutes = round(abs(offset).total_seconds() / 60)
        sign = "-" if offset < timedelta() else "+"
        return f"{self.made:%Y-%m-%d %H:%M}, {self.zone}, UTC{sign}{minutes // 60:02}:{minutes % 60:02}"
