"""The proof: a profile is refused, with the offending path written out, unless every run of it ends rightly.

Proved: every step can be reached and every run ends; every failure ends in a remedy or in a reason code of its own; fit
for use is reached only with a pass that counts of every required step; what a remedy disturbs is done again; a check
source is not simply tried again; each step comes after what it needs; every wait is bounded; no acceptance is empty.

The walks (walks.py) carry one standing at a time and leave budgets of attempts aside: what they accept is right, and
now and then they refuse what budgets would have saved.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from procedures.profile.edges import ProofProblem, wrong_edges
from procedures.profile.meaning import NOTHING, Meaning, meanings_of, wrong_parameters
from procedures.profile.schema import Profile
from procedures.profile.walks import (
    Graph,
    Path,
    TooTangled,
    arrivals_without,
    fit_without,
    free_circle,
    in_words,
    repeated_without_cause,
)
from procedures.routing import Plan
from procedures.steps.base import Need


def prove(plan: Plan, profile: Profile) -> tuple[ProofProblem, ...]:
    """Everything that keeps a profile from being trusted; nothing when it is proved. `plan` is the profile's own."""
    return (*wrong_parameters(profile), *Proof(plan, meanings_of(profile)).problems())


@dataclass(frozen=True)
class Proof:
    """A plan and what its steps mean, ready to be proved. `meanings` are by step."""

    plan: Plan
    meanings: Mapping[str, Meaning] = field(default_factory=dict)

    def problems(self) -> tuple[ProofProblem, ...]:
        """Everything that is wrong, first what makes walks meaningless, then what walks find."""
        found = tuple(wrong_edges(self.plan))
        if not self.plan.required or any(each.stops_proof for each in found):
            return found
        whole = Graph(self.plan)
        told = frozenset((each.step, each.remedy) for each in found if each.remedy is not None)
        graph = Graph(self.plan, told) if told else whole
        circle = free_circle(graph)
        if circle is not None:
            return (*found, _endless(graph, circle))
        try:
            return (*found, *_unreachable(whole), *self._walked(graph))
        except TooTangled:
            return (*found, ProofProblem("", "", "this profile has too many ways through it to be proved"))

    def _walked(self, graph: Graph) -> Iterator[ProofProblem]:
        for step in self.plan.required:
            path = fit_without(graph, step)
            if path is not None:
                yield ProofProblem(
                    step,
                    "id",
                    f"the checkout can end fit for use without a pass of {step} that counts",
                    allowed="a pass that still counts as the latest outcome of every required step",
                    path=in_words(graph, path),
                )
        yield from self._unmet(graph)
        for each in self.plan.steps:
            if self.meanings.get(each.id, NOTHING).tries_source:
                yield from _tried_again(graph, each.id)

    def _unmet(self, graph: Graph) -> Iterator[ProofProblem]:
        """Needs that some way does not meet. Steps of one need are walked together."""
        asking: dict[frozenset[str], list[tuple[str, Need]]] = {}
        for each in self.plan.steps:
            for need in self.meanings.get(each.id, NOTHING).needs:
                asking.setdefault(need.any_of, []).append((each.id, need))
        for any_of, askers in asking.items():
            providers = [step for step in self.plan.required if self.meanings.get(step, NOTHING).provides & any_of]
            paths = arrivals_without(graph, providers, {step for step, _ in askers})
            for step, need in askers:
                if step in paths:
                    yield _need_unmet(step, need, providers, in_words(graph, paths[step]))


def _need_unmet(step: str, need: Need, providers: list[str], path: str) -> ProofProblem:
    if providers:
        allowed = f"a pass that still counts of {' or '.join(providers)} whenever {step} is reached"
    else:
        allowed = need.add or f"a required step before {step} that shows this"
    message = f"{step} can be reached before what it needs: {need.why}"
    return ProofProblem(step, "id", message, allowed=allowed, path=path)


def _unreachable(graph: Graph) -> Iterator[ProofProblem]:
    for step in graph.plan.steps:
        if step.id in graph.shortest:
            continue
        if step.required:
            message, allowed = "no step leads here", "every step can be reached"
        else:
            message, allowed = "no step sends here", f'on_fail = "{step.id}" in a step that can fail'
        yield ProofProblem(step.id, "id", f"{step.id} can never be reached: {message}", allowed=allowed)


def _endless(graph: Graph, circle: Path) -> ProofProblem:
    last = circle[-1]
    key = "on_fail" if last.outcome == "fail" else "on_pass"
    return ProofProblem(
        last.step,
        key,
        "a checkout could go in a circle without end",
        allowed="a way back only by a remedy, whose attempts are counted",
        path=in_words(graph, circle),
    )


def _tried_again(graph: Graph, step: str) -> Iterator[ProofProblem]:
    path = repeated_without_cause(graph, step)
    if path is None:
        return
    back = next((edge for edge in reversed(path) if edge.remedy is not None), path[-1])
    key = f"remedy.{back.remedy}.action" if back.remedy is not None else "on_pass"
    causes = ", ".join(sorted(graph.plan.step(step).disturbed_by)) or "none"
    yield ProofProblem(
        back.step,
        key,
        f"{step} would be tried again though nothing was done that changes what it shows",
        allowed=f"an action that disturbs {step}: {causes}",
        path=in_words(graph, path),
    )
