"""Run rules: each fires on its own pattern, and all of them cry wolf as often as was published."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from statistics import NormalDist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.run_rules import RULES, RuleSet, signals

SIGMAS = st.lists(st.floats(-6, 6), max_size=40)


def last(points: Sequence[float], rules: RuleSet) -> set[str]:
    """Names of the rules that the last point completes."""
    return {rule.name for rule in signals(points, RULES[rules])[-1]}


# Western Electric, Statistical Quality Control Handbook 1956, and Nelson 1984 (8 and 9 on one side: quoted; the rest
# memory). Each row: just the pattern, then the same one point short.
PATTERNS: list[tuple[RuleSet, str, list[float], list[float]]] = [
    ("western-electric", "1 beyond 3 sigma", [3.1], [3.0]),
    ("western-electric", "2 of 3 beyond 2 sigma", [2.1, 0, 2.1], [2.1, 0, 0, 2.1]),
    ("western-electric", "2 of 3 beyond 2 sigma", [-2.1, -2.1], [-2.1, 2.1]),
    ("western-electric", "4 of 5 beyond 1 sigma", [1.1, 1.1, 0, 1.1, 1.1], [1.1, 1.1, 0, 1.1, 0, 1.1]),
    ("western-electric", "8 on one side", [0.1] * 8, [0.1] * 7),
    ("western-electric", "8 on one side", [-0.1] * 8, [-0.1] * 7 + [0.0]),
    ("nelson", "9 on one side", [0.1] * 9, [0.1] * 8),
    ("nelson", "6 trending", [0.5, 0.4, 0.1, -0.1, -0.2, -0.5], [0.4, 0.1, -0.1, -0.2, -0.5]),
    ("nelson", "14 alternating", [0.5, -0.5] * 7, [0.5, -0.5] * 6 + [0.5]),
    ("nelson", "15 within 1 sigma", [0.5, -0.5, 0.2] * 5, [0.5, -0.5] * 7),
    ("nelson", "8 beyond 1 sigma, either side", [1.1, -1.1] * 4, [1.1, -1.1, 1.1] * 2 + [1.1]),
]


@pytest.mark.parametrize(("rules", "name", "pattern", "short"), PATTERNS)
def test_each_rule_counts_as_its_author_does(
    rules: RuleSet, name: str, pattern: list[float], short: list[float]
) -> None:
    """It fires on its pattern, and not one point earlier."""
    assert name in last(pattern, rules)
    assert name not in last(short, rules)


def test_a_signal_names_its_author() -> None:
    """Eight on one side is a signal to one author and none to the other, so the name is part of the answer."""
    eight = [0.5] * 8
    assert [str(rule) for rule in signals(eight, RULES["western-electric"])[-1]] == ["8 on one side (Western Electric)"]
    assert signals(eight, RULES["nelson"])[-1] == ()
    assert [str(rule) for rule in signals([0.5] * 9, RULES["nelson"])[-1]] == ["9 on one side (Nelson)"]


@given(SIGMAS, st.sampled_from(["western-electric", "nelson"]))
def test_upside_down_the_same_rules_fire(points: list[float], rules: RuleSet) -> None:
    """High and low are treated alike."""
    assert signals(points, RULES[rules]) == signals([-point for point in points], RULES[rules])


@given(SIGMAS, SIGMAS, st.sampled_from(["western-electric", "nelson"]))
def test_what_comes_later_changes_no_earlier_signal(earlier: list[float], later: list[float], rules: RuleSet) -> None:
    """A signal is given when the point comes, and stands."""
    assert signals(earlier + later, RULES[rules])[: len(earlier)] == signals(earlier, RULES[rules])


ZONES = (-3.5, -2.5, -1.5, -0.5, 0.5, 1.5, 2.5, 3.5)
"""One point in each zone that the Western Electric rules know."""


def chance(zone: float) -> float:
    normal, low = NormalDist(), abs(zone) - 0.5
    return normal.cdf(-low) - (0.0 if low == 3 else normal.cdf(-low - 1))


@cache
def quiet_after(history: tuple[float, ...], zone: float, zone_rules: bool) -> bool:
    rules = RULES["western-electric"] if zone_rules else RULES["western-electric"][:1]
    return not signals([*history, zone], rules)[-1]


@pytest.mark.parametrize(("zone_rules", "run"), [(False, 370.4), (True, 91.75)])
def test_false_alarms_come_as_seldom_as_was_published(zone_rules: bool, run: float) -> None:
    """Once in 371 points by 3 sigma alone, in 91.75 by the Western Electric rules (Champ and Woodall 1987, quoted).

    Worked out exactly: the chance of every history of zones that is still quiet, point by point. All that rules can
    see of a history is its last four points and how long it has been on one side.
    """
    states: dict[tuple[float, ...], float] = {(): 1.0}
    mean, before = 0.0, 1.0
    for _ in range(60):
        alive = sum(states.values())
        mean, before = mean + alive, alive
        after: dict[tuple[float, ...], float] = {}
        for history, weight in states.items():
            for zone in ZONES:
                if quiet_after(history, zone, zone_rules):
                    key = remembered((*history, zone))
                    after[key] = after.get(key, 0.0) + weight * chance(zone)
        states = after
    kept = sum(states.values()) / before
    assert mean + before * kept / (1 - kept) == pytest.approx(run, abs=0.01 if zone_rules else 0.1)


def remembered(history: tuple[float, ...]) -> tuple[float, ...]:
    """The last four points, before them as many on the same side as there were in a row, at most seven in all."""
    side = history[-1] > 0
    run = 0
    while run < len(history) and (history[-1 - run] > 0) == side:
        run += 1
    near = 0.5 if side else -0.5
    return (*[near] * (min(run, 7) - 4), *history[-4:])
