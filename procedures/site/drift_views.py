"""What the drift of an instrument looks like to a front end: frozen values, in time order, ready to be plotted.

Control limits (`Band`) say what is usual for this instrument since its last calibration or repair. What it is allowed
(`Allowed`) comes from its profile. They are different things and are never merged.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from procedures.findings import Outcome

Watched = Literal["response", "battery", "zero", "background"]
MarkKind = Literal["calibrated", "repaired", "new reference", "new source", "parts changed"]


@dataclass(frozen=True, slots=True)
class PlotPoint:
    """One reading as it was first found in its checkout, before anything was adjusted.

    `charted` says that it counts for the control chart: it was taken since the newest mark, reached a verdict, and its
    checkout was not withdrawn (`struck`). Only then `out` and `rules` say anything. `hasty` says that an answer of its
    step came faster than it can be read.
    """

    at: datetime
    value: float
    checkout: str
    outcome: Outcome
    charted: bool = False
    struck: bool = False
    hasty: bool = False
    out: bool = False
    rules: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Mark:
    """Something after which earlier readings no longer compare with later ones, and a new baseline begins."""

    at: datetime
    kind: MarkKind
    say: str


@dataclass(frozen=True, slots=True)
class Band:
    """Control limits, from the first `count` readings since the newest mark."""

    center: float
    lower: float
    upper: float
    count: int


@dataclass(frozen=True, slots=True)
class Allowed:
    """What the profile allows now; None where it sets no limit on that side."""

    lower: float | None
    upper: float | None


@dataclass(frozen=True, slots=True)
class Forecast:
    """When a straight line through the charted readings would meet `limit`; local days.

    `earliest` is None where there is nothing to tell, `latest` also where it is more than ten years away. `say` tells
    it in words in either case.
    """

    say: str
    limit: float | None = None
    earliest: date | None = None
    latest: date | None = None


@dataclass(frozen=True, slots=True)
class SeriesView:
    """One quantity over time, in `unit` ("" for a ratio).

    `since` is the newest mark that it is charted from, None for the first reading there is. `control` is None where
    there are no control limits, and `no_control` says why. `notices` are what the site lead should look at.
    """

    quantity: Watched
    step: str
    title: str
    unit: str
    points: tuple[PlotPoint, ...]
    marks: tuple[Mark, ...]
    since: Mark | None
    control: Band | None
    no_control: str
    allowed: Allowed
    forecast: Forecast
    notices: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DriftView:
    """How an instrument has behaved with the source of one role: its response first, then what else has figures.

    `left_out` says what was not charted ("" when nothing had to be). `roles` are all that it can be asked for; `older`
    is the opening before which older checkouts are, "" when there are none.
    """

    instrument: str
    label: str
    role: str
    series: tuple[SeriesView, ...]
    left_out: str
    roles: tuple[str, ...] = ()
    older: str = ""
