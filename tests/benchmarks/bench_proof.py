"""How long the proof of a profile takes. Prints medians; run it by hand: `python tests/benchmarks/bench_proof.py`.

Aims on a laptop: 12 steps below 50 ms, 60 steps with 20 remedies below 200 ms.
"""

from __future__ import annotations

from collections.abc import Callable
from statistics import median
from time import perf_counter

from procedures.profile.meaning import Meaning
from procedures.profile.proof import Proof
from procedures.routing import Plan, Remedy, StepPlan
from procedures.steps.base import Need

ROUNDS = 15


def profile_of(steps: int, remedies: int) -> Proof:
    """A sound plan: two thirds required in a row, each failing into one of the diagnostic steps behind them."""
    firm = steps * 2 // 3
    names = [f"s{place}" for place in range(steps)]
    cells = frozenset({"fresh-cells"})
    made = []
    for place, name in enumerate(names):
        remedy = (Remedy("fresh-cells", "x", names[0], 2),) if place < remedies else ()
        sends = names[firm + place % (steps - firm)] if place < firm else ""
        made.append(StepPlan(name, "k", f"code-{name}", place < firm, True, sends, "", remedy, cells))
    means = {name: _meaning(place, firm) for place, name in enumerate(names)}
    return Proof(Plan(tuple(made)), means)


def _meaning(place: int, firm: int) -> Meaning:
    """Every required step needs the one before it, and every tenth tries a source."""
    needs = (Need(frozenset({f"tag{place - 1}"}), "x"),) if 0 < place < firm else ()
    return Meaning(frozenset({f"tag{place}"}), needs, tries_source=place % 10 == 9 and place < firm)


def milliseconds(work: Callable[[], object]) -> float:
    """The median time of `work` in milliseconds."""
    times = []
    for _ in range(ROUNDS):
        begun = perf_counter()
        work()
        times.append((perf_counter() - begun) * 1000)
    return median(times)


def main() -> None:
    for steps, remedies in ((6, 2), (12, 4), (60, 20), (100, 60)):
        proof = profile_of(steps, remedies)
        found = len(proof.problems())
        print(f"{steps:4} steps {remedies:3} remedies {milliseconds(proof.problems):8.1f} ms  {found} problems")


if __name__ == "__main__":
    main()
