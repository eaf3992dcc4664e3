"""Control charts: where an instrument's readings wander when nothing is wrong, and when something is.

Control limits come from the readings themselves and say what is usual. They are no tolerance: whether an instrument may
be used is decided by the limits about its expected reading, and a chart passes and fails nothing. All figures of a
chart are in the unit of its values, but for `k` and `h` of a CUSUM, which are in sigmas.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, stdev
from typing import Final, Literal

from procedures.distributions import student_t_quantile
from procedures.run_rules import RULES, RuleSet, signals
from procedures.trouble import Trouble

Kind = Literal["individuals", "ewma", "cusum", "counts", "check-standard"]

D2: Final = 1.128
"""Mean range of two readings in sigmas, as tables print it and published limits use it; 2/√π = 1.128379 exactly."""

D3: Final = math.sqrt(2 - 4 / math.pi)
"""Standard deviation of the range of two readings, in sigmas."""

D4: Final = 1 + 3 * D3 / (2 / math.sqrt(math.pi))
"""Upper limit of moving ranges over their mean: 3.267 in tables."""

FEWEST: Final = 20
"""Readings before control limits mean anything (ANSI/AARST MS-QA 2019 s. 7.6: some 20 checks)."""

LARGEST: Final = 1e100
_HARDLY: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Scatter:
    """Where readings wander when nothing is wrong: about `center`, by `sigma`. `count` readings told, 0: it was said.

    `mean_moving_range` is that of the readings, None when sigma was said.
    """

    center: float
    sigma: float
    count: int = 0
    mean_moving_range: float | None = None

    def __post_init__(self) -> None:
        if not (abs(self.center) <= LARGEST and 0 < self.sigma <= LARGEST):
            raise Trouble(
                f"there are no limits about {self.center:g} with a sigma of {self.sigma:g}",
                allowed="a finite centre, and a sigma above 0",
            )

    @property
    def enough(self) -> bool:
        """Whether it rests on enough readings to be believed; a sigma that was said is."""
        return not self.count or self.count >= FEWEST

    @property
    def largest_moving_range(self) -> float | None:
        """The upper limit of moving ranges, D₄ times their mean; None when sigma was said."""
        return None if self.mean_moving_range is None else D4 * self.mean_moving_range


@dataclass(frozen=True, slots=True)
class NoLimits:
    """Why there are no control limits, in words."""

    say: str


@dataclass(frozen=True, slots=True)
class ToleranceLimits:
    """What an instrument is allowed, either side left out where there is none. Never derived from its readings."""

    lower: float | None
    upper: float | None

    def holds(self, value: float) -> bool:
        """Whether a value is allowed; one on a limit is."""
        low = self.lower is None or not _beyond(self.lower, value, 0.0)
        return low and (self.upper is None or not _beyond(value, self.upper, 0.0))


@dataclass(frozen=True, slots=True)
class Point:
    """A value, what is charted of it, and what it shows.

    `statistic` is the value itself, the weighted mean, or the upper and lower sum of a CUSUM (both 0 or more). `out`
    says that it is beyond a limit; on the limit is in. `rules` are the run rules it completes, each with its author.
    """

    value: float
    statistic: float | tuple[float, float]
    out: bool
    rules: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart: `center`, `lower` and `upper` are what `statistic` is compared with.

    Of a CUSUM they are 0, −hσ (the lower sum is drawn downwards) and hσ. `lower` is None where there is no lower limit.
    `limits` says in words what the limits are.
    """

    kind: Kind
    center: float
    lower: float | None
    upper: float
    scatter: Scatter
    limits: str
    points: tuple[Point, ...]


def scatter_of(values: Sequence[float], *, fewest: int = FEWEST, d2: float = D2) -> Scatter | NoLimits:
    """Centre and sigma of single readings: their mean, and their mean moving range over d₂.

    NIST/SEMATECH e-Handbook 6.3.2.2. Fewer than `fewest` readings, or readings without any scatter, give no limits, and
    the answer says why. Moving ranges see a slow drift less than a standard deviation would, so that it stands out.
    """
    _want_values(values)
    fewest = max(fewest, 2)
    if len(values) < fewest:
        return NoLimits(f"{len(values)} of the {fewest} readings that control limits need")
    moving = fmean(abs(later - earlier) for earlier, later in pairwise(values))
    if moving == 0:
        return NoLimits(f"all {len(values)} readings are the same, which is too regular to set limits by")
    return Scatter(fmean(values), moving / d2, len(values), moving)


def center_of(values: Sequence[float]) -> float:
    """The mean of the readings, where their sigma is known from elsewhere."""
    _want_values(values)
    return fmean(values)


def individuals(values: Sequence[float], scatter: Scatter, rules: RuleSet = "western-electric") -> Chart:
    """Single readings against centre ± 3 sigma (e-Handbook 6.3.2.2), with run rules."""
    _want_values(values)
    width = 3 * scatter.sigma
    lower, upper = scatter.center - width, scatter.center + width
    found = signals([(value - scatter.center) / scatter.sigma for value in values], RULES[rules])
    points = tuple(
        Point(value, value, _outside(value, lower, upper, scatter.sigma), tuple(map(str, by)))
        for value, by in zip(values, found, strict=True)
    )
    return Chart("individuals", scatter.center, lower, upper, scatter, "3 sigma", points)


def ewma(
    values: Sequence[float], scatter: Scatter, *, weight: float = 0.2, k: float = 3.0, exact: bool = False
) -> Chart:
    """Exponentially weighted means zₜ = λ·xₜ + (1−λ)·zₜ₋₁ with z₀ the centre (e-Handbook 6.3.2.4).

    `weight` is λ, above 0 and at most 1. Limits are centre ± k·σ·√(λ/(2−λ)), the steady state that published examples
    use; `exact` narrows the first ones by √(1 − (1−λ)²ᵗ), and judges each point by its own.
    """
    _want_values(values)
    _want("weight λ", weight, 1.0)
    _want("width k in sigmas", k)
    width = k * scatter.sigma * math.sqrt(weight / (2 - weight))
    mean, points = scatter.center, []
    for t, value in enumerate(values, 1):
        mean = weight * value + (1 - weight) * mean
        here = width * math.sqrt(1 - (1 - weight) ** (2 * t)) if exact else width
        points.append(Point(value, mean, _beyond(abs(mean - scatter.center), here, scatter.sigma)))
    kind = "exact for each point; steady state given" if exact else "steady state"
    lower, upper = scatter.center - width, scatter.center + width
    return Chart("ewma", scatter.center, lower, upper, scatter, f"{k:g} sigma, {kind}", tuple(points))


def cusum(values: Sequence[float], scatter: Scatter, *, k: float = 0.5, h: float = 5.0) -> Chart:
    """Two-sided tabular CUSUM about the centre (e-Handbook 6.3.2.3), with `k` and `h` in sigmas.

    High: Sₜ = max(0, Sₜ₋₁ + x − centre − kσ); low: Sₜ = max(0, Sₜ₋₁ + centre − kσ − x); out beyond hσ. The sums go on
    after a signal.
    """
    _want_values(values)
    _want("slack k in sigmas", k, least=0.0)
    _want("decision interval h in sigmas", h)
    slack, interval = k * scatter.sigma, h * scatter.sigma
    high = low = 0.0
    points = []
    for value in values:
        off = value - scatter.center
        high, low = max(0.0, high + off - slack), max(0.0, low - off - slack)
        points.append(Point(value, (high, low), _beyond(max(high, low), interval, scatter.sigma)))
    return Chart("cusum", 0.0, -interval, interval, scatter, f"h = {h:g} sigma, k = {k:g} sigma", tuple(points))


def count_chart(counts: Sequence[int], mean: float | None = None) -> Chart:
    """Counts, each over the same time, against mean ± 3·√mean (c chart, e-Handbook 6.3.3.1).

    `mean` is that of the counts unless it was said. Below a mean of 9 there is no lower limit: no count is that low.
    """
    _want_values(counts)
    center = fmean(counts) if mean is None else mean
    sigma = math.sqrt(center) if center > 0 else 0.0
    if not sigma:
        raise Trouble("without any counts there is nothing to chart", allowed="a mean above 0")
    scatter = Scatter(center, sigma, len(counts) if mean is None else 0)
    upper, bottom = center + 3 * sigma, center - 3 * sigma
    lower = bottom if bottom > 0 else None
    points = tuple(Point(n, n, _outside(n, bottom, upper, sigma)) for n in counts)
    return Chart("counts", center, lower, upper, scatter, "3 times the root of the mean", points)


def check_standard(values: Sequence[float], confidence: float = 0.95) -> Chart:
    """Measurements of a check standard against mean ± t·s, two-sided (e-Handbook 2.3.5).

    s is their standard deviation, t Student's on one degree of freedom less than their number. Limits of 95 % are
    narrower than 3 sigma: one good measurement in twenty is outside.
    """
    _want_values(values)
    if len(values) < 2 or not stdev(values):
        raise Trouble("these measurements show no scatter", allowed="two or more, not all the same")
    if not 0 < confidence < 1:
        raise Trouble(f"a confidence of {confidence} cannot be", allowed="above 0 and below 1", do="Write 0.95.")
    scatter = Scatter(fmean(values), stdev(values), len(values))
    width = student_t_quantile((1 + confidence) / 2, len(values) - 1) * scatter.sigma
    lower, upper = scatter.center - width, scatter.center + width
    points = tuple(Point(value, value, _outside(value, lower, upper, scatter.sigma)) for value in values)
    return Chart("check-standard", scatter.center, lower, upper, scatter, f"two-sided t, {confidence:.6g}", points)


def _outside(value: float, lower: float, upper: float, sigma: float) -> bool:
    return _beyond(value, upper, sigma) or _beyond(lower, value, sigma)


def _beyond(more: float, limit: float, sigma: float) -> bool:
    """Whether `more` is above `limit` by more than arithmetic in floats can be off."""
    return more - limit > max(_HARDLY * sigma, 1e-12 * max(abs(more), abs(limit)))


def _want_values(values: Sequence[float]) -> None:
    if not values:
        raise Trouble("there is nothing to chart", allowed="one reading or more")
    for at, value in enumerate(values, 1):
        if not abs(value) <= LARGEST:
            raise Trouble(f"reading {at} is {value:g}", allowed=f"figures between −{LARGEST:g} and {LARGEST:g}")


def _want(what: str, size: float, most: float = LARGEST, *, least: float | None = None) -> None:
    low = size > 0 if least is None else size >= least
    if not (low and size <= most):
        bounds = "above 0" if least is None else f"{least:g} or more"
        raise Trouble(
            f"a {what} of {size:g} cannot be", allowed=bounds + (f", at most {most:g}" if most < LARGEST else "")
        )
