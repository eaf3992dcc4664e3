"""Walks through a plan: the ways a checkout can go, followed for one step's standing at a time.

Walking all states of a checkout explodes. Whether one step's pass still counts depends only on where the checkout is
and on that standing, so each walk carries one small standing and leaves budgets of attempts aside: it sees every run
there is, and a few that budgets forbid. What it accepts is right; now and then it refuses what budgets would save.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final, TypeAlias

from procedures.routing import Edge, Plan, edges

Path: TypeAlias = tuple[Edge, ...]
"""Edges one after the other, from the first step on."""

Standing: TypeAlias = int
"""What a walk keeps track of, as bits. One bit for "this step's pass counts" mostly."""

MOST_STATES: Final = 50_000


class TooTangled(Exception):  # noqa: N818  said of a profile, in the words of the proof
    """A walk met more states than anybody could follow."""


@dataclass(frozen=True)
class Graph:
    """A plan with its edges worked out once: those that lead on and those that end well. Others cannot go wrong.

    `without` are remedies (step, place) that are left out.
    """

    plan: Plan
    without: frozenset[tuple[str, int]] = frozenset()
    ways: Mapping[str, tuple[Edge, ...]] = field(init=False)

    def __post_init__(self) -> None:
        ways = {
            step.id: tuple(
                edge
                for edge in edges(self.plan, step.id)
                if (edge.to or edge.ending == "fit for use") and (edge.step, edge.remedy) not in self.without
            )
            for step in self.plan.steps
        }
        object.__setattr__(self, "ways", ways)

    def action(self, edge: Edge) -> str:
        """The action of the remedy an edge takes, or ""."""
        return "" if edge.remedy is None else self.plan.step(edge.step).remedies[edge.remedy].action

    @cached_property
    def shortest(self) -> Mapping[str, Path]:
        """A shortest path to each step that can be reached."""
        found: dict[str, Path] = {self.plan.first: ()}
        waiting = deque([self.plan.first])
        while waiting:
            step = waiting.popleft()
            for edge in self.ways[step]:
                if edge.to and edge.to not in found:
                    found[edge.to] = (*found[step], edge)
                    waiting.append(edge.to)
        return found


def walk(
    graph: Graph,
    after: Callable[[Edge, Standing], Standing],
    wrong: Callable[[Edge, Standing], bool],
) -> Iterator[Path]:
    """Shortest paths, from the first step with standing 0, whose last edge is `wrong` with the standing after it.

    Every edge out of every (step, standing) is looked at once. Raises TooTangled.
    """
    start = (graph.plan.first, 0)
    came: dict[tuple[str, Standing], tuple[tuple[str, Standing], Edge] | None] = {start: None}
    waiting = deque([start])
    while waiting:
        state = waiting.popleft()
        step, standing = state
        for edge in graph.ways[step]:
            later = after(edge, standing)
            if wrong(edge, later):
                yield (*_back(came, state), edge)
            following = (edge.to, later)
            if edge.to and following not in came:
                came[following] = (state, edge)
                waiting.append(following)
        if len(came) > MOST_STATES:
            raise TooTangled


def _back(
    came: Mapping[tuple[str, Standing], tuple[tuple[str, Standing], Edge] | None], state: tuple[str, Standing]
) -> Path:
    path: list[Edge] = []
    while (step := came[state]) is not None:
        state, edge = step
        path.append(edge)
    return tuple(reversed(path))


def _counting(graph: Graph, watched: Sequence[str]) -> Callable[[Edge, Standing], Standing]:
    """How an edge changes which of the `watched` steps have a pass that counts: bit n for the nth of them."""
    plan = graph.plan
    bit = {step: 1 << place for place, step in enumerate(watched)}
    kept: dict[tuple[str, str], int] = {}

    def keeps(edge: Edge) -> int:
        action = graph.action(edge)
        key = (edge.to, action)
        if key not in kept:
            back = plan.place(edge.to)
            kept[key] = sum(
                bit[each] for each in watched if plan.place(each) < back and action not in plan.step(each).disturbed_by
            )
        return kept[key]

    def after(edge: Edge, standing: Standing) -> Standing:
        own = bit.get(edge.step, 0)
        if edge.outcome == "pass":
            return standing | own
        standing &= ~own
        return standing if edge.remedy is None else standing & keeps(edge)

    return after


def fit_without(graph: Graph, step: str) -> Path | None:
    """A way to the ending "fit for use" on which `step`, a required one, has no pass that counts."""
    after = _counting(graph, (step,))
    return next(walk(graph, after, lambda edge, standing: edge.ending == "fit for use" and not standing), None)


def arrivals_without(graph: Graph, providers: Collection[str], at: Collection[str]) -> dict[str, Path]:
    """For each step of `at`, where there is one, a way to it on which none of `providers` has a pass that counts."""
    found: dict[str, Path] = {}
    if graph.plan.first in at:
        found[graph.plan.first] = ()
    after = _counting(graph, tuple(providers))
    for path in walk(graph, after, lambda edge, standing: not standing and edge.to in at):
        found.setdefault(path[-1].to, path)
    return found


def repeated_without_cause(graph: Graph, step: str) -> Path | None:
    """A way on which `step` fails and is done again though nothing was done that disturbs it."""
    disturbed_by = graph.plan.step(step).disturbed_by

    def after(edge: Edge, standing: Standing) -> Standing:
        if edge.remedy is not None and graph.action(edge) in disturbed_by:
            return 0
        if edge.step == step:
            return 0 if edge.outcome == "pass" else 1
        return standing

    return next(walk(graph, after, lambda edge, standing: standing == 1 and edge.to == step), None)


def free_circle(graph: Graph) -> Path | None:
    """A way that comes back to where it was without spending an attempt, so that a run need never end."""
    free = {step: [e for e in ways if e.to and e.remedy is None] for step, ways in graph.ways.items()}
    done: set[str] = set()
    for start in graph.shortest:
        circle = _circle_from(start, free, done)
        if circle is not None:
            return (*graph.shortest[circle[0].step], *circle)
    return None


def _circle_from(start: str, free: Mapping[str, list[Edge]], done: set[str]) -> Path | None:
    trail: list[Edge] = []
    on_trail = {start: 0}
    open_ways = [iter(() if start in done else free[start])]
    while open_ways:
        edge = next(open_ways[-1], None)
        if edge is None:
            open_ways.pop()
            step = trail.pop().to if trail else start
            on_trail.pop(step, None)
            done.add(step)
        elif edge.to in on_trail:
            return (*trail[on_trail[edge.to] :], edge)
        elif edge.to not in done:
            trail.append(edge)
            on_trail[edge.to] = len(trail)
            open_ways.append(iter(free[edge.to]))
    return None


def senders(plan: Plan, step: str) -> tuple[str, ...]:
    """The required steps whose failure can lead to `step` by `on_fail`, in file order."""
    found, waiting = {step}, [step]
    while waiting:
        to = waiting.pop()
        for each in plan.steps:
            if each.can_fail and each.on_fail == to and each.id not in found:
                found.add(each.id)
                waiting.append(each.id)
    return tuple(each.id for each in plan.steps if each.required and each.id in found - {step})


def sent(plan: Plan, first: str, step: str) -> Path:
    """The failures by which `first` sends on to `step`: nothing when they are the same, or when it does not."""
    found: dict[str, Path] = {first: ()}
    waiting = deque([first])
    while waiting:
        each = waiting.popleft()
        to = plan.step(each).on_fail if plan.step(each).can_fail else ""
        if to and to not in found:
            found[to] = (*found[each], Edge(each, "fail", to=to))
            waiting.append(to)
    return found.get(step, ())


def in_words(graph: Graph, path: Path) -> str:
    """A path as step ids and outcomes: `zero fail → desiccant fail → (desiccant-changed) → zero`."""
    parts: list[str] = []
    for edge in path:
        parts.append(f"{edge.step} {edge.outcome}")
        if action := graph.action(edge):
            parts.append(f"({action})")
    if path:
        parts.append(path[-1].to or str(path[-1].ending))
    return " → ".join(parts)
