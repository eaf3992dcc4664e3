"""What must hold of each step's edges by itself: where they may lead, and that every failure has an end of its own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from procedures.profile.walks import Graph, in_words, senders, sent
from procedures.routing import SENDER_STANDS, VOID_CODE, VOIDS_CALIBRATION, Edge, Plan, Remedy, StepPlan
from procedures.steps.base import MOST_ATTEMPTS

RESERVED_CODES: Final = frozenset({VOID_CODE, "abandoned-after-failure"})
"""Reason codes that the program gives by itself."""


@dataclass(frozen=True, slots=True)
class ProofProblem:
    """Why a profile is refused. `step` and `key` (dotted, places of lists counted from 0) are where in the profile.

    `path` is the way a checkout can go wrong, as step ids and outcomes. `remedy` is the one at fault, which walks then
    leave out, so that what follows from it is not told again. `stops_proof` says that walks mean nothing before this is
    put right.
    """

    step: str
    key: str
    message: str
    allowed: str = ""
    path: str = ""
    remedy: int | None = None
    stops_proof: bool = False


def wrong_edges(plan: Plan) -> Iterator[ProofProblem]:
    """Every edge that leads where it may not, and every failure without an end."""
    if not plan.required:
        yield ProofProblem("", "step", "no step is required, so nothing would be checked", stops_proof=True)
        return
    codes: dict[str, str] = {}
    for step in plan.steps:
        yield from _ends(step, codes)
        yield from _targets(plan, step)
        yield from _remedies(plan, step)


def _ends(step: StepPlan, codes: dict[str, str]) -> Iterator[ProofProblem]:
    if step.can_fail and not step.lockout:
        yield ProofProblem(
            step.id,
            "lockout",
            f"{step.id} can fail and has no reason code",
            allowed="lockout, a reason code of its own",
            path=f"{step.id} fail → ?",
        )
    if not step.lockout:
        return
    if step.lockout in RESERVED_CODES:
        yield ProofProblem(step.id, "lockout", f"{step.lockout} is a code that the program gives by itself")
    if step.lockout in codes:
        yield ProofProblem(
            step.id,
            "lockout",
            f"{codes[step.lockout]} has this reason code already",
            allowed="a reason code of its own, so that a lockout says which step failed",
        )
    codes.setdefault(step.lockout, step.id)


def _targets(plan: Plan, step: StepPlan) -> Iterator[ProofProblem]:
    if not step.can_fail and (step.on_fail or step.remedies):
        key = "on_fail" if step.on_fail else "remedy"
        yield ProofProblem(step.id, key, f"{step.id} cannot fail by itself, so this is never used", allowed="left out")
    if step.on_fail and plan.step(step.on_fail).required:
        yield ProofProblem(
            step.id,
            "on_fail",
            f"{step.on_fail} is done in every checkout; a failure is not a way to it",
            allowed="a step with only_when_sent = true",
            stops_proof=True,
        )
    if not step.on_pass:
        return
    if step.on_pass == SENDER_STANDS:
        if step.required:
            yield ProofProblem(
                step.id,
                "on_pass",
                f"no step sends to {step.id}, so no sender's failure can stand",
                allowed="sender-stands only with only_when_sent = true",
                stops_proof=True,
            )
        return
    target = plan.step(step.on_pass)
    if not target.required:
        yield ProofProblem(
            step.id,
            "on_pass",
            f"{step.on_pass} is reached by on_fail alone",
            allowed="a required step further on",
            stops_proof=True,
        )
    elif plan.place(step.on_pass) <= plan.place(step.id):
        yield ProofProblem(
            step.id,
            "on_pass",
            f"a pass goes forward, and {step.on_pass} is not after {step.id}",
            allowed="a required step further on",
            path=f"{step.id} pass → {step.on_pass}",
            stops_proof=True,
        )


def _remedies(plan: Plan, step: StepPlan) -> Iterator[ProofProblem]:
    seen: set[str] = set()
    for number, remedy in enumerate(step.remedies):
        key = f"remedy.{number}"
        if remedy.action in seen:
            yield ProofProblem(
                step.id,
                f"{key}.action",
                f"{remedy.action} is offered twice, which would double its attempts",
                allowed=f"each action once, with attempts = 1 or {MOST_ATTEMPTS}",
            )
        seen.add(remedy.action)
        if not 1 <= remedy.attempts <= MOST_ATTEMPTS:
            yield ProofProblem(
                step.id,
                f"{key}.attempts",
                "attempts are not bounded",
                allowed=f"1 to {MOST_ATTEMPTS}",
                stops_proof=True,
            )
        yield from _way_back(plan, step, number, remedy)


def _way_back(plan: Plan, step: StepPlan, number: int, remedy: Remedy) -> Iterator[ProofProblem]:
    key, back = f"remedy.{number}.repeat_from", remedy.repeat_from
    if not plan.step(back).required:
        yield ProofProblem(
            step.id,
            key,
            f"{back} is reached by on_fail alone",
            allowed="a required step, at or before the one that failed",
            stops_proof=True,
        )
        return
    if remedy.action in VOIDS_CALIBRATION:
        return
    failed = (step.id,) if step.required else senders(plan, step.id)
    if not failed:
        return  # never reached, which is told by itself
    first = min(failed, key=plan.place)
    if plan.place(back) > plan.place(first):
        yield ProofProblem(
            step.id,
            key,
            f"{first} failed and would not be done again from {back} on",
            allowed=f"{first} or a required step before it",
            path=_to_remedy(plan, first, step.id, number),
            remedy=number,
        )
        return
    earlier = plan.steps[: plan.place(back)]
    disturbed = tuple(each.id for each in earlier if each.required and remedy.action in each.disturbed_by)
    if disturbed:
        yield ProofProblem(
            step.id,
            key,
            f"{remedy.action} disturbs {', '.join(disturbed)}, and from {back} on that would not be done again",
            allowed=f"{disturbed[0]} or a required step before it",
            path=_to_remedy(plan, first, step.id, number),
            remedy=number,
        )


def _to_remedy(plan: Plan, failed: str, step: str, number: int) -> str:
    """The way on which `failed` sends to `step` (itself, where it is no diagnostic step), which takes its remedy."""
    graph = Graph(plan)
    remedy = Edge(step, "fail", to=plan.step(step).remedies[number].repeat_from, remedy=number)
    return in_words(graph, (*graph.shortest.get(failed, ()), *sent(plan, failed, step), remedy))
