"""What one step of a simulated instrument costs, for each type that comes along.

    python tests/benchmarks/bench_practice.py [seconds]

Prints microseconds a step (the aim is at most 50), and how many times faster than real time that is; then what a face
costs, which a screen asks for ten times a second.
"""

from __future__ import annotations

import sys
import time
from datetime import UTC, datetime

from procedures.practice.instrument import STEP_S, SimInstrument
from procedures.practice.packaged import models

AIM_US = 50.0
FACES = 2_000


def main() -> None:
    """Measure and print."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 600.0
    for name, model in models().items():
        sim = SimInstrument(model, (), 1, datetime(2031, 5, 6, tzinfo=UTC))
        sim.set("power", "on")
        sim.set("selector", model.sources[0].scale)
        sim.set("source", model.sources[0].role)
        begun = time.perf_counter()
        sim.advance(seconds)
        took = time.perf_counter() - begun
        step = took / (seconds / STEP_S) * 1e6
        begun = time.perf_counter()
        for _ in range(FACES):
            sim.face()
        face = (time.perf_counter() - begun) / FACES * 1e6
        verdict = "good" if step <= AIM_US else "TOO SLOW"
        print(f"{name:24} {step:6.1f} µs a step, {seconds / took:7.0f} times real time, face {face:5.1f} µs: {verdict}")


if __name__ == "__main__":
    main()
