"""Decay of sources that hold more than one nuclide, each part falling by its own half-life.

A part is stated by its share of what an instrument reads (for neutrons, of what is emitted) on one day. A neutron
source of Cf-252 holds some Cf-250, which outlives it and comes to count for more of the reading every year. A daughter
whose long-lived mother is in the same source (Y-90 of Sr-90) decays as the mother does.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from types import MappingProxyType
from typing import Final

from procedures.data import table
from procedures.nuclides import HalfLife, decay_factor, half_life, time_to_fraction
from procedures.trouble import Trouble
from procedures.units import shown

MOST_PARTS: Final = 8
OFF_FROM_WHOLE: Final = Decimal("0.001")
"""How far shares may add up beside 1: a certificate prints them rounded."""

_SHORTEST_SPAN: Final = 1.0
"""Days. Over less than this the slope stands for a half-life between two moments, which would lose its last figures."""


@dataclass(frozen=True, slots=True)
class Component:
    """One part of a source. `share` is its part of the reading on the day for which shares are stated.

    `half_life` is the one that it falls by: its own, or that of the mother it `follows` ("" for none).
    """

    nuclide: str
    share: Decimal
    half_life: HalfLife
    follows: str = ""


@dataclass(frozen=True, slots=True)
class Chain:
    """A mother that feeds a daughter in `fraction` of her decays."""

    mother: str
    daughter: str
    fraction: float


def chains() -> Mapping[str, Chain]:
    """The packaged pairs of mother and daughter, by daughter."""
    return _chains()


def mixture(parts: Sequence[tuple[str, Decimal]]) -> tuple[Component, ...]:
    """The parts of a source from nuclides and shares (0 to 1), brought to add up to 1.

    Raises Trouble for no part, too many, an unknown nuclide, one named twice, a share that is none, and for shares that
    do not come to the whole.
    """
    if not 0 < len(parts) <= MOST_PARTS:
        raise Trouble(f"{len(parts)} parts", allowed=f"1 to {MOST_PARTS} nuclides", do="Name what the source holds.")
    known = [(half_life(nuclide), share) for nuclide, share in parts]
    names = [each.nuclide for each, _ in known]
    for (each, share), (said, _) in zip(known, parts, strict=True):
        if names.count(each.nuclide) > 1:
            raise Trouble(f"{each.nuclide} is named twice", allowed="each nuclide once", do="Put its shares together.")
        if not share.is_finite() or not 0 < share <= 1:
            raise Trouble(
                f"the share of {shown(said)} cannot be",
                allowed="above 0 %, and 100 % at most",
                do="Enter its share again.",
            )
    whole = sum((share for _, share in known), Decimal(0))
    if abs(whole - 1) > OFF_FROM_WHOLE:
        raise Trouble(
            f"the shares add up to {(100 * whole).normalize():f} %",
            allowed="100 %, give or take 0.1 for rounding",
            do="Enter the share of every nuclide, the main one too.",
        )
    return tuple(_component(each, share / whole, names) for each, share in known)


def single(nuclide: str) -> tuple[Component, ...]:
    """A source of one nuclide: a mixture with a share of 1. Raises Trouble for an unknown one."""
    known = half_life(nuclide)
    return (Component(known.nuclide, Decimal(1), known),)


def _component(own: HalfLife, share: Decimal, names: Sequence[str]) -> Component:
    chain = _chains().get(own.nuclide)
    if chain is not None and chain.mother in names and (mother := half_life(chain.mother)).days > own.days:
        return Component(own.nuclide, share, mother, chain.mother)
    return Component(own.nuclide, share, own)


def one_half_life(parts: Sequence[Component]) -> HalfLife | None:
    """The half-life by which every part falls; None where they differ."""
    first = parts[0].half_life
    return first if all(each.half_life.days == first.days for each in parts) else None


def factor(parts: Sequence[Component], elapsed_days: float) -> float:
    """The fraction of the reading that is left: Σ shareᵢ·2^(−Δt/Tᵢ), from the day for which the shares are stated.

    Raises Trouble when time runs backwards, or when a figure is none.
    """
    return factor_between(parts, 0.0, elapsed_days)


def factor_between(parts: Sequence[Component], first: float, then: float) -> float:
    """What a reading of the day `first` has come down to on the day `then`, as a fraction.

    Both are days from the one for which the shares are stated; either may lie before it. One half-life gives what
    `nuclides.decay_factor` gives. Raises Trouble when `then` comes before `first`, or when a figure is none.
    """
    known = one_half_life(parts)
    if known is not None:
        return decay_factor(known.days, then - first)
    decay_factor(1.0, then - first)
    before = _left(parts, first)
    if before == 0:
        raise _nothing_left()
    return _left(parts, then) / before


def shares_after(parts: Sequence[Component], elapsed_days: float) -> tuple[float, ...]:
    """Each part's share of the reading so many days after the one for which they are stated, in their order."""
    whole = factor(parts, elapsed_days)
    if whole == 0:
        raise _nothing_left()
    return tuple(float(each.share) * decay_factor(each.half_life.days, elapsed_days) / whole for each in parts)


def time_to(parts: Sequence[Component], fraction: float, first: float = 0.0) -> float:
    """Days from `first` until a fraction (0 < fraction ≤ 1) of the reading of that day is left.

    Found by halving between what the shortest and the longest half-life alone would take. Raises Trouble outside.
    """
    known = one_half_life(parts)
    if known is not None:
        return time_to_fraction(known.days, fraction)
    low, high = (time_to_fraction(days, fraction) for days in _extremes(parts))
    for _ in range(200):
        between = (low + high) / 2
        if between in (low, high):
            break
        low, high = (between, high) if factor_between(parts, first, first + between) > fraction else (low, between)
    return (low + high) / 2


def effective_half_life(parts: Sequence[Component], first: float, then: float) -> float:
    """The half-life, in days, of a single nuclide that would fall as much from the day `first` to the day `then`.

    Over less than a day it is the half-life of that moment: ln 2 · f/(−f′). It grows with time, as the parts that live
    longer come to count for more.
    """
    if then - first >= _SHORTEST_SPAN:
        left = factor_between(parts, first, then)
        if 0 < left < 1:
            return -(then - first) / math.log2(left)
    now = _left(parts, first)
    falls = sum(float(each.share) * _part_left(each, first) / each.half_life.days for each in parts)
    if now == 0 or falls == 0:
        raise _nothing_left()
    return now / falls


def ingrowth(mother_days: float, daughter_days: float, elapsed_days: float, fraction: float = 1.0) -> float:
    """A daughter's activity over the activity that the mother, pure at first, began with.

    Bateman's solution for two members: b·λd/(λd − λm)·(e^(−λm·t) − e^(−λd·t)), written so that it holds for equal
    half-lives too. Half-lives and time in days; `fraction` of the mother's decays feed the daughter.
    """
    decay_factor(mother_days, elapsed_days)
    decay_factor(daughter_days, elapsed_days)
    mother, daughter = math.log(2) / mother_days, math.log(2) / daughter_days
    slow, apart = min(mother, daughter), abs(daughter - mother)
    spread = apart * elapsed_days
    mean = -math.expm1(-spread) / spread if spread > 0 else 1.0
    return fraction * daughter * elapsed_days * math.exp(-slow * elapsed_days) * mean


def equilibrium(mother_days: float, daughter_days: float, fraction: float = 1.0) -> float:
    """A daughter's activity over her mother's once grown in: b·Tm/(Tm − Td).

    Raises Trouble unless the mother outlives her: there is no equilibrium then.
    """
    if not 0 < daughter_days < mother_days < math.inf:
        raise Trouble(
            "the mother does not outlive the daughter",
            allowed="a mother with the longer half-life",
            do="Take each by its own half-life.",
        )
    return fraction * mother_days / (mother_days - daughter_days)


def _nothing_left() -> Trouble:
    return Trouble(
        "nothing is left of the source",
        allowed="a time within a few hundred half-lives of the certificate",
        do="Look at the date of its certificate, and at what it is said to hold.",
    )


def _extremes(parts: Sequence[Component]) -> tuple[float, float]:
    days = [each.half_life.days for each in parts]
    return min(days), max(days)


def _left(parts: Sequence[Component], days: float) -> float:
    return sum(float(each.share) * _part_left(each, days) for each in parts)


def _part_left(part: Component, days: float) -> float:
    try:
        return float(2.0 ** (-days / part.half_life.days))
    except OverflowError:
        raise Trouble(
            f"{part.nuclide} cannot be reckoned back {-days:.0f} days",
            allowed="a time within a few hundred half-lives of the certificate",
            do="Look at the date of the certificate, and at what the source is said to hold.",
        ) from None


@cache
def _chains() -> Mapping[str, Chain]:
    rows = table("nuclides")["chain"]
    return MappingProxyType(
        {row["daughter"]: Chain(row["mother"], row["daughter"], float(Decimal(row["fraction"]))) for row in rows}
    )
