"""Run rules: patterns in a row of points that chance alone seldom makes, each by its name and by who counts how many.

Authors count differently: the Western Electric handbook (1956) takes 8 points on one side of the centre line, Nelson
(1984) 9. So a signal always names whose rule it is. More rules find a drift sooner and cry wolf more often: in a
process that is in order, 3 sigma limits alone do so once in 371 points, the four Western Electric rules once in about
92 (Champ and Woodall 1987).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

RuleSet = Literal["western-electric", "nelson"]
RULE_SETS: Final[tuple[RuleSet, ...]] = ("western-electric", "nelson")

WESTERN_ELECTRIC: Final = "Western Electric"
NELSON: Final = "Nelson"

_HARDLY: Final = 1e-9
"""Sigmas within which a point counts as on a line, and so as not beyond it."""


@dataclass(frozen=True, slots=True)
class Rule:
    """A run rule: its name, whose count it is, over how many points it looks, and whether they make its pattern.

    `holds` is given the last `span` points in sigmas from the centre line, the newest last, but no fewer than `least`:
    two points beyond 2 sigma are 2 of 3 before there is a third.
    """

    name: str
    author: str
    least: int
    span: int
    holds: Callable[[Sequence[float]], bool]

    def __str__(self) -> str:
        return f"{self.name} ({self.author})"


def signals(sigmas: Sequence[float], rules: Sequence[Rule]) -> tuple[tuple[Rule, ...], ...]:
    """For each point the rules whose pattern it completes; points are sigmas from the centre line, in time order."""
    return tuple(
        tuple(rule for rule in rules if at >= rule.least and rule.holds(sigmas[max(0, at - rule.span) : at]))
        for at in range(1, len(sigmas) + 1)
    )


def _beyond(size: float, least: int) -> Callable[[Sequence[float]], bool]:
    """At least so many of the points beyond so many sigmas on the side of the newest, which is one of them."""

    def holds(points: Sequence[float]) -> bool:
        side = 1 if points[-1] > 0 else -1
        far = [side * point > size + _HARDLY for point in points]
        return far[-1] and sum(far) >= least

    return holds


def _trending(points: Sequence[float]) -> bool:
    steps = _steps(points)
    return all(step > _HARDLY for step in steps) or all(step < -_HARDLY for step in steps)


def _alternating(points: Sequence[float]) -> bool:
    steps = _steps(points)
    moving = all(abs(step) > _HARDLY for step in steps)
    return moving and all((one > 0) != (other > 0) for one, other in pairwise(steps))


def _steps(points: Sequence[float]) -> list[float]:
    return [later - earlier for earlier, later in pairwise(points)]


def _hugging(points: Sequence[float]) -> bool:
    return all(abs(point) < 1 - _HARDLY for point in points)


def _shunning(points: Sequence[float]) -> bool:
    return all(abs(point) > 1 + _HARDLY for point in points)


def _zones(author: str, on_one_side: int) -> tuple[Rule, ...]:
    """The rules that both sets share but for the count of points on one side."""
    return (
        Rule("1 beyond 3 sigma", author, 1, 1, _beyond(3, 1)),
        Rule("2 of 3 beyond 2 sigma", author, 2, 3, _beyond(2, 2)),
        Rule("4 of 5 beyond 1 sigma", author, 4, 5, _beyond(1, 4)),
        Rule(f"{on_one_side} on one side", author, on_one_side, on_one_side, _beyond(0, on_one_side)),
    )


RULES: Final[Mapping[RuleSet, tuple[Rule, ...]]] = {
    "western-electric": _zones(WESTERN_ELECTRIC, 8),
    "nelson": (
        *_zones(NELSON, 9),
        Rule("6 trending", NELSON, 6, 6, _trending),
        Rule("14 alternating", NELSON, 14, 14, _alternating),
        Rule("15 within 1 sigma", NELSON, 15, 15, _hugging),
        Rule("8 beyond 1 sigma, either side", NELSON, 8, 8, _shunning),
    ),
}
"""Western Electric, Statistical Quality Control Handbook (1956); Nelson, Journal of Quality Technology 16 (1984)."""
