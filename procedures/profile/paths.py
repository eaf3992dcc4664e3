"""The path table of a profile: what a checkout looks like for each ending, each single failure and each remedy.

Each row is a witness: one run, played through the same transitions as a real one. Its `shortest` seconds are those of
waits that cannot be skipped and of the quickest answers; its `longest` seconds allow each kind of step the longest time
it states for one visit. Nobody can bound a person, so neither is a promise. `bounds` holds for all runs of a profile.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal, TypeAlias

from procedures.findings import Ending, Outcome
from procedures.profile.compile import kind_of_step, plan_of, spec_of
from procedures.profile.schema import Profile
from procedures.profile.walks import Graph, sent
from procedures.routing import VOIDS_CALIBRATION, Plan, Track, advance, begin, judged_unfit, remedied
from procedures.steps.base import LimitChance

JUDGED: Final = "judged-unfit"
"""Stands in the table for the reason that a person gives."""


Times: TypeAlias = Mapping[str, tuple[float, float]]
"""Shortest and longest seconds of one visit, by step."""


@dataclass(frozen=True, slots=True)
class Hop:
    """One thing that happens in a run: a step's outcome, or a remedy `action` carried out or declined."""

    step: str
    outcome: Outcome | Literal["done", "declined", "judged unfit"]
    action: str = ""

    def __str__(self) -> str:
        return f"({self.action} {self.outcome})" if self.action else f"{self.step} {self.outcome}"


@dataclass(frozen=True, slots=True)
class PathRow:
    """One witness. `shows` is what it is a witness of, `codes` are the reason codes it ends with, times in seconds."""

    shows: str
    hops: tuple[Hop, ...]
    ending: Ending
    codes: tuple[str, ...]
    shortest: float
    longest: float

    @property
    def steps(self) -> tuple[str, ...]:
        """The steps done, in order, each as often as it was done."""
        return tuple(hop.step for hop in self.hops if not hop.action)

    @property
    def remedies(self) -> tuple[str, ...]:
        """The actions carried out, in order."""
        return tuple(hop.action for hop in self.hops if hop.action and hop.outcome == "done")

    def to_json(self) -> dict[str, Any]:
        return {
            "shows": self.shows,
            "hops": [{"step": hop.step, "outcome": hop.outcome, "action": hop.action} for hop in self.hops],
            "steps": list(self.steps),
            "remedies": list(self.remedies),
            "ending": self.ending,
            "codes": list(self.codes),
            "shortest_seconds": self.shortest,
            "longest_seconds": self.longest,
        }


@dataclass(frozen=True, slots=True)
class StepLimit:
    """One limit of a step, with the chance that a healthy instrument fails it."""

    step: str
    limit: LimitChance


@dataclass(frozen=True, slots=True)
class _Script:
    """What is found in a run: these steps fail until one of `takes`, a (step, remedy), is carried out; others pass."""

    fails: frozenset[str] = frozenset()
    takes: tuple[str, int] | None = None


def path_table(profile: Profile) -> tuple[PathRow, ...]:
    """A witness for each ending, for each single failure, and for each remedy that helps, in the order of the file.

    `profile` must be proved: a plan with endless runs has no such table.
    """
    return tuple(path_rows(plan_of(profile), times_of(profile)))


def times_of(profile: Profile) -> Times:
    """What each kind of step states for one visit with these parameters."""
    return {each.id: kind_of_step(each).duration(each) for each in profile.step}


def path_rows(plan: Plan, times: Times) -> Iterator[PathRow]:
    """The rows of a plan's path table."""
    yield _row("everything passes", *_played(plan, _Script()), times)
    first = plan.first
    could_not = advance(plan, begin(plan), "could not check")
    yield _row(f"{first} could not be checked", (Hop(first, "could not check"),), could_not, times)
    judged = judged_unfit(begin(plan), JUDGED)
    yield _row(f"{first} failed by judgement", (Hop(first, "judged unfit"),), judged, times)
    yield PathRow("given up before anything failed", (), "abandoned", (), 0.0, 0.0)
    for step in plan.steps:
        if not step.can_fail:
            continue
        chain = _failing(plan, step.id)
        yield _row(f"{step.id} fails", *_played(plan, _Script(chain)), times)
        for place, remedy in enumerate(step.remedies):
            words = "ends it" if remedy.action in VOIDS_CALIBRATION else "helps"
            script = _Script(chain, (step.id, place))
            yield _row(f"{step.id} fails, {remedy.action} {words}", *_played(plan, script), times)


def _failing(plan: Plan, step: str) -> frozenset[str]:
    """The steps that have to fail so that `step` fails: itself, and those that send to it."""
    if plan.step(step).required:
        return frozenset({step})
    chains = (sent(plan, first, step) for first in plan.required)
    return frozenset({step, *(edge.step for edge in next((chain for chain in chains if chain), ()))})


def _played(plan: Plan, script: _Script) -> tuple[tuple[Hop, ...], Track]:
    """The run in which that is found, with its last track. Remedies other than the one that helps are declined."""
    track, hops, fails = begin(plan), [], script.fails
    while track.stop is None:
        step = track.step
        if track.offer is not None:
            done = (step, track.offer) == script.takes
            hops.append(Hop(step, "done" if done else "declined", plan.step(step).remedies[track.offer].action))
            fails = frozenset() if done else fails
            track = remedied(plan, track, done=done)
        else:
            outcome: Outcome = "fail" if step in fails else "pass"
            hops.append(Hop(step, outcome))
            track = advance(plan, track, outcome)
    return tuple(hops), track


def _row(shows: str, hops: tuple[Hop, ...], track: Track, times: Times) -> PathRow:
    stop = track.stop
    if stop is None:
        raise ValueError("this run has not ended")
    done = [times[hop.step] for hop in hops if not hop.action]
    codes = tuple(dict.fromkeys(each.code for each in stop.standing))
    return PathRow(
        shows, hops, stop.ending, codes, sum(shortest for shortest, _ in done), sum(longest for _, longest in done)
    )


def bounds(profile: Profile) -> tuple[float, float]:
    """Seconds that a checkout fit for use takes at least, and that any checkout takes at most: see run_bounds."""
    return run_bounds(plan_of(profile), times_of(profile))


def run_bounds(plan: Plan, times: Times) -> tuple[float, float]:
    """The shortest run that ends fit for use, and a bound that no run without a pause exceeds, in seconds.

    At least: the required steps once. At most: between two remedies no step is done twice, since a proved plan has no
    way back but by a remedy; so every step counts once for the start and once more for each attempt there is.
    """
    attempts = sum(remedy.attempts for step in plan.steps if step.can_fail for remedy in step.remedies)
    shortest = sum(times[step][0] for step in plan.required)
    longest = sum(times[step][1] for step in Graph(plan).shortest)
    return shortest, longest * (attempts + 1)


def limit_chances(profile: Profile) -> tuple[StepLimit, ...]:
    """For each limit the chance that a healthy instrument fails it: people stop believing what rejects good ones."""
    spec = spec_of(profile)
    return tuple(StepLimit(each.id, limit) for each in profile.step for limit in kind_of_step(each).limits(each, spec))
