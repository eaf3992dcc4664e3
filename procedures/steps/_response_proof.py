"""What the proof of a profile looks at in a response step: limits that leave a window, and whom they would fail."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from statistics import NormalDist

from procedures.acceptance import chance_outside, guard_band
from procedures.facts import ScaleFacts
from procedures.steps._response_profile import DecisionTable, LimitsTable, ResponseParameters
from procedures.steps._scales import division, in_unit, on_scale
from procedures.steps.base import InstrumentSpec, LimitChance, Need, Problem, seconds
from procedures.steps.common import IS_ON, span
from procedures.trouble import Trouble
from procedures.units import Quantity, kind_of, number_in

REFERENCE_ASSUMED = 0.02
"""Relative standard uncertainty of a reference reading, assumed where a profile is proved. A judgement, no source."""

SCATTER_ASSUMED = 0.03
"""Relative scatter of one reading of a healthy instrument, where the profile states none. A judgement, no source."""


def needs(parameters: ResponseParameters, spec: InstrumentSpec) -> tuple[Need, ...]:
    """What must have passed before a response shows anything."""
    found = [IS_ON]
    scale = spec.scale(parameters.scale)
    if spec.has_window:
        found.append(Need(frozenset({"window"}), "the window is looked at before a source comes near it"))
    if spec.needs_zero and scale is not None:
        tags = frozenset(f"zero:{each.selector.name}" for each in spec.scales if _as_sensitive(each, scale))
        found.append(Need(tags, f"a settled zero on {parameters.scale} or a more sensitive scale comes first"))
    if spec.air_density == "correct":
        why = "temperature and pressure are needed to correct for air density"
        found.append(Need(frozenset({"environment"}), why))
    if parameters.smallest_over_background is not None:
        found.append(Need(frozenset({"background"}), "smallest_over_background compares with a background"))
    return tuple(found)


def _as_sensitive(one: ScaleFacts, other: ScaleFacts) -> bool:
    if kind_of(one.selector.unit) != kind_of(other.selector.unit):
        return False
    return in_unit(Quantity(one.full_scale, one.selector.unit), other) <= other.full_scale


def check(parameters: ResponseParameters, spec: InstrumentSpec) -> tuple[Problem, ...]:
    """What is wrong with the parameters on this type of instrument."""
    limits = parameters.limits
    levels = {"limits.low": limits.low, "limits.high": limits.high, "returns_within": parameters.returns_within}
    found = (
        *on_scale(parameters.scale, spec, spread=parameters.spread, **levels),
        *_spread_problems(parameters.spread),
        *_counting_problems(parameters, spec),
        *_limit_problems(limits),
        *_decision_problems(parameters.decision),
    )
    scale = spec.scale(parameters.scale)
    if found or scale is None:
        return found
    return tuple(_window_problems(parameters, scale))


def _limit_problems(limits: LimitsTable) -> Iterator[Problem]:
    low, high, warn = limits.low, limits.high, limits.warn
    if low.unit == "%" and low.value > 0:
        yield Problem("limits.low", f"{low} would fail a perfect instrument", "at most 0 %")
    if low.unit != "%" and low.value == 0:
        yield Problem("limits.low", f"{low} would pass a dead instrument", "more than 0")
    if high.unit == "%" and high.value < 0:
        yield Problem("limits.high", f"{high} would fail a perfect instrument", "0 % or more")
    if (low.unit == "%") == (high.unit == "%") and kind_of(low.unit) == kind_of(high.unit):
        if low.value >= number_in(high, low.unit):
            yield Problem("limits.low", f"{low} is not below the high limit of {high}", "less than the high limit")
        elif warn is not None and low.unit == "%" and warn.value >= max(-low.value, high.value):
            yield Problem("limits.warn", f"{warn} is not inside the limits: nobody is ever told", "less than they are")


def _spread_problems(spread: Quantity | None) -> Iterator[Problem]:
    if spread is not None and spread.value == 0:
        yield Problem("spread", f"{spread} would fail readings that differ by a hair", "more than 0")


def _decision_problems(decision: DecisionTable) -> Iterator[Problem]:
    if decision.rule == "guarded" and decision.false_accept is None:
        yield Problem("decision.false_accept", "is missing: a guarded rule needs its chance", "such as 0.05")
    if decision.rule == "simple" and decision.false_accept is not None:
        yield Problem("decision.false_accept", "means nothing to the simple rule", 'leave it out, or rule = "guarded"')


def _counting_problems(parameters: ResponseParameters, spec: InstrumentSpec) -> Iterator[Problem]:
    scale = spec.scale(parameters.scale)
    if parameters.count_time is None:
        for key in ("minimum_net", "recount"):
            if getattr(parameters, key):
                yield Problem(key, "belongs to counts, and no count_time is stated", "leave it out, or add count_time")
        return
    if parameters.minimum_net is None:
        yield Problem("minimum_net", "is missing: too few counts show nothing", "such as 400")
    if parameters.spread is not None:
        yield Problem("spread", "does not judge counts, whose scatter is known", "leave it out")
    if scale is not None and kind_of(scale.selector.unit) != "count rate":
        shows = f"scale {parameters.scale} shows {scale.selector.unit}, which is no count rate"
        yield Problem("count_time", shows, "leave it out")


def _window_problems(parameters: ResponseParameters, scale: ScaleFacts) -> Iterator[Problem]:
    step, full = division(scale), scale.full_scale
    returns = parameters.returns_within
    if step is not None and returns is not None and in_unit(returns, scale) < step / 2:
        yield Problem("returns_within", f"{returns} cannot be read on this scale", f"at least half of {step:f}")
    if parameters.limits.low.unit != "%" and in_unit(parameters.limits.low, scale) >= full:
        yield Problem("limits.low", "is beyond the end of the scale", f"below {full:f} {scale.selector.unit}")
    false_accept = parameters.decision.false_accept
    if false_accept is None:
        return
    healthy = _healthy(parameters, scale)
    try:
        guard_band(false_accept, healthy.sigma, healthy.upper - healthy.lower)
    except Trouble as trouble:
        why = f"the acceptance window is empty for a healthy instrument ({healthy.assumed}): {trouble.what}"
        yield Problem("decision.false_accept", why, "more readings, wider limits, or the simple rule")


@dataclass(frozen=True, slots=True)
class _Healthy:
    """A healthy instrument as the proof imagines it, in the unit of the scale.

    `sigma` is the standard deviation of observed less expected, `one` that of a single reading.
    """

    expected: float
    lower: float
    upper: float
    sigma: float
    one: float
    assumed: str


def _healthy(parameters: ResponseParameters, scale: ScaleFacts) -> _Healthy:
    low, high = parameters.limits.low, parameters.limits.high
    expected, where = _imagined(low, high, scale)
    share, how = _scatter(parameters)
    step = 0.0 if parameters.count_time is not None else float(division(scale) or Decimal(0))
    one = share * expected
    once = math.hypot(REFERENCE_ASSUMED * expected, step / math.sqrt(12))
    return _Healthy(
        expected,
        _at(low, expected, scale),
        _at(high, expected, scale),
        sigma=math.hypot(once, one / math.sqrt(parameters.readings)),
        one=one,
        assumed=f"expected at {where}, {how}, reference reading known to {REFERENCE_ASSUMED:.0%}, division once",
    )


def _imagined(low: Quantity, high: Quantity, scale: ScaleFacts) -> tuple[float, str]:
    """What a healthy instrument is expected to show, where nothing but limits and scale is known; and why that."""
    if low.unit == high.unit == "%":
        return float(scale.full_scale) / 2, "the middle of the scale"
    if low.unit != "%" and high.unit != "%":
        return float(in_unit(low, scale) + in_unit(high, scale)) / 2, "the middle of the limits"
    as_far = "where one limit is as far as the other"
    if low.unit == "%":
        return float(in_unit(high, scale)) / (1 - float(low.value) / 100), as_far
    share = float(high.value) / 100
    level = float(in_unit(low, scale))
    return (level / (1 - share), as_far) if share < 1 else (2 * level, "twice the low limit")


def _scatter(parameters: ResponseParameters) -> tuple[float, str]:
    if parameters.scatter is not None:
        return float(parameters.scatter.value) / 100, f"scatter of {parameters.scatter} a reading as declared"
    if parameters.minimum_net is not None:
        return 1 / math.sqrt(parameters.minimum_net), f"counts at their fewest, {parameters.minimum_net}"
    return SCATTER_ASSUMED, f"scatter of {SCATTER_ASSUMED:.0%} a reading"


def _at(limit: Quantity, expected: float, scale: ScaleFacts) -> float:
    if limit.unit == "%":
        return expected * (1 + float(limit.value) / 100)
    return float(in_unit(limit, scale))


def limits(parameters: ResponseParameters, spec: InstrumentSpec) -> tuple[LimitChance, ...]:
    """The chance that a healthy instrument fails the limits, and the spread limit where there is one."""
    scale = spec.scale(parameters.scale)
    if scale is None:
        return ()
    healthy = _healthy(parameters, scale)
    lower, upper = healthy.lower, healthy.upper
    false_accept = parameters.decision.false_accept
    if false_accept is not None:
        try:
            guard = guard_band(false_accept, healthy.sigma, upper - lower)
        except Trouble:
            guard = (upper - lower) / 2
        lower, upper = lower + guard, upper - guard
    name = f"response {parameters.limits.low} to {parameters.limits.high}, {parameters.decision.rule}"
    rows = [LimitChance(name, chance_outside(healthy.expected, lower, upper, healthy.sigma), healthy.assumed)]
    allowed = parameters.spread
    if allowed is not None and parameters.readings > 1 and healthy.one > 0:
        share = allowed.unit == "%"
        width = float(allowed.value) / 100 * healthy.expected if share else float(in_unit(allowed, scale))
        rows.append(
            LimitChance(f"spread {allowed}", range_beyond(width / healthy.one, parameters.readings), healthy.assumed)
        )
    return tuple(rows)


def range_beyond(width: float, count: int) -> float:
    """The chance that the range of `count` standard normal figures is more than `width`.

    1 − n·∫φ(x)·[Φ(x+w) − Φ(x)]^(n−1) dx (distribution of the range), by Simpson's rule.
    """
    normal = NormalDist()
    steps, low, high = 400, -8.0 - width, 8.0
    h = (high - low) / steps

    def density(x: float) -> float:
        inside = max(0.0, normal.cdf(x + width) - normal.cdf(x))
        return float(normal.pdf(x) * inside ** (count - 1))

    total = density(low) + density(high)
    total += sum((4 if k % 2 else 2) * density(low + k * h) for k in range(1, steps))
    return min(1.0, max(0.0, 1 - count * total * h / 3))


def duration(parameters: ResponseParameters) -> tuple[float, float]:
    """Shortest and longest seconds of a visit: a recount and a second look belong to the longest."""
    settle = 0.0 if parameters.settle is None else seconds(parameters.settle)
    count = 0.0 if parameters.count_time is None else seconds(parameters.count_time)
    n, asks = parameters.readings, 1 if parameters.count_time is None else 2
    shortest = span(4 + asks * n, 0)[0] + settle + n * count
    longest = span(0, 12 + 2 * asks * n)[1] + 2 * settle + (2 * n + 4) * count
    return shortest, longest
