"""What a check source of a checkout's facts has come down to between two moments: one nuclide, or several together.

A source of one nuclide falls by its half-life. One whose nuclides fall differently is reckoned from the shares on its
certificate, for every pair of moments by itself: no single half-life holds for two reference readings of different age.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from procedures.facts import SourceFacts
from procedures.mixtures import Component, effective_half_life, factor_between
from procedures.nuclides import HalfLife, decay_factor, elapsed_days
from procedures.trouble import Trouble


@dataclass(frozen=True, slots=True)
class Decayed:
    """`left` is the fraction of the earlier reading that is left after `days`.

    `half_life_days` is the half-life that a single nuclide falling as much would have. `sensitivity` is by what
    fraction `left` changes for each fraction by which the half-lives are off, all of them in the worst way.
    """

    days: float
    left: float
    half_life_days: float
    sensitivity: float


def decayed(source: SourceFacts, earlier: datetime, later: datetime) -> Decayed:
    """How far readings of this source have come down from one moment to another.

    One nuclide: 2^(−Δt/T½). Several: Σ sᵢ·2^(−t₂/Tᵢ) / Σ sᵢ·2^(−t₁/Tᵢ), t from the day for which the shares sᵢ are
    stated. Raises Trouble when `later` comes first, or when what the source holds cannot be reckoned with.
    """
    days = elapsed_days(earlier, later)
    if not source.components:
        half_life = source.half_life_days
        return Decayed(days, decay_factor(half_life, days), half_life, math.log(2) * days / half_life)
    if source.shares_on is None:
        raise Trouble(
            f"for which day the shares of source {source.label} are stated is not recorded",
            do="Enter the date of its certificate.",
        )
    parts = tuple(_component(each.nuclide, each.share, each.half_life_days) for each in source.components)
    first = elapsed_days(source.shares_on, earlier)
    then = first + days
    left = factor_between(parts, first, then)
    return Decayed(days, left, effective_half_life(parts, first, then), _sensitivity(parts, first, then))


def _component(nuclide: str, share: Decimal, days: float) -> Component:
    return Component(nuclide, share, HalfLife(nuclide, Decimal(repr(days)), "d", days, None, ""))


def _sensitivity(parts: Sequence[Component], first: float, then: float) -> float:
    """Σ |∂ ln f/∂ ln Tᵢ| for f = L(t₂)/L(t₁): a part's pull at t is ln 2·t/Tᵢ times its share of L(t)."""
    return sum(abs(late - early) for early, late in zip(_pulls(parts, first), _pulls(parts, then), strict=True))


def _pulls(parts: Sequence[Component], day: float) -> list[float]:
    left = [float(each.share) * 2.0 ** (-day / each.half_life.days) for each in parts]
    whole = sum(left)
    return [
        math.log(2) * day / each.half_life.days * one / whole if whole else 0.0
        for each, one in zip(parts, left, strict=True)
    ]
