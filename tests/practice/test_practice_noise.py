"""Noise: that it scatters as it should, and that a seed fixes it whatever else is drawn."""

from __future__ import annotations

import math
from statistics import fmean, pstdev, variance

import pytest

from procedures.practice.counter import MOST_SINGLE, Counter, registered
from procedures.practice.noise import Telegraph, Wander, stream
from procedures.settling import ratemeter_scatter

RUNS = 1_000


@pytest.mark.parametrize(("rate", "tau", "sigma"), [(100.0, 1.0, 7.0711), (10.0, 5.0, 1.0)])
def test_a_ratemeter_scatters_as_published(rate: float, tau: float, sigma: float) -> None:
    """σ = √(r/2τ): 100 /s, 1 s → 7.0711; 10 /s, 5 s → 1.0 (computed; Schiff and Evans 1936, quoted).

    1,000 readings six time constants apart fix a standard deviation to 2.2 %; 8 % is more than three of those.
    """
    counter = Counter(stream("ratemeter", "pulses"))
    step = tau / 20
    readings = []
    for n in range(120 * (RUNS + 1)):
        counter.advance(step, rate, 0.0, tau)
        if n >= 120 and n % 120 == 0:
            readings.append(counter.rate)
    assert pstdev(readings) == pytest.approx(sigma, rel=0.08)
    assert ratemeter_scatter(rate, tau) == pytest.approx(sigma, abs=5e-5)
    assert fmean(readings) == pytest.approx(rate, rel=4 * sigma / rate / math.sqrt(RUNS))


@pytest.mark.parametrize(("rate", "step"), [(2.0, 0.5), (60.0, 0.1), (50_000.0, 0.05)])
def test_counts_scatter_as_poisson_over_a_thousand_runs(rate: float, step: float) -> None:
    """Index of dispersion: Σ(n − m)²/m is χ² with 999 degrees, so 999 ± 4·√(2·999) (formula; computed).

    Single pulses and numbers drawn at once both have to pass; the largest rate is drawn at once.
    """
    counts = []
    for seed in range(RUNS):
        counter = Counter(stream(seed, "pulses"))
        counts.append(sum(counter.advance(step, rate, 0.0, 5.0) for _ in range(10)))
    mean = fmean(counts)
    assert mean == pytest.approx(10 * rate * step, abs=4 * math.sqrt(10 * rate * step / RUNS))
    chi_squared = sum((n - mean) ** 2 for n in counts) / mean
    assert chi_squared == pytest.approx(RUNS - 1, abs=4 * math.sqrt(2 * (RUNS - 1)))


@pytest.mark.parametrize("rate", [400.0, 60_000.0])
def test_dead_time_loses_pulses_and_thins_their_scatter(rate: float) -> None:
    """Mean m·t and variance m·t/(1 + nτ)² with m = n/(1 + nτ) (Müller 1973, from memory)."""
    dead, step = 5e-4, 0.05
    expected = registered(rate, dead) * step
    assert (expected > MOST_SINGLE) == (rate > 1_000)
    counter = Counter(stream("dead", "pulses"))
    seconds = [sum(counter.advance(step, rate, dead, 5.0) for _ in range(20)) for _ in range(RUNS)]
    mean = 20 * expected
    assert fmean(seconds) == pytest.approx(mean, rel=0.01)
    assert variance(seconds) == pytest.approx(mean / (1 + rate * dead) ** 2, rel=0.2)


def test_single_pulses_are_the_same_in_steps_of_another_length() -> None:
    """Each pulse has its own moment, so cutting the time finer moves none."""
    coarse, fine = (Counter(stream(3, "pulses")) for _ in range(2))
    for _ in range(200):
        counted = coarse.advance(0.1, 57, 9e-5, 5.0)
        assert sum(fine.advance(0.01, 57, 9e-5, 5.0) for _ in range(10)) == pytest.approx(counted, abs=1)
    assert fine.pulses == pytest.approx(coarse.pulses, abs=1)
    assert fine.rate == pytest.approx(coarse.rate, rel=0.02)


@pytest.mark.parametrize("step", [0.05, 0.5])
def test_the_current_wanders_by_one_with_its_memory(step: float) -> None:
    """Standard deviation 1 and correlation e^(−t/τ) (Ornstein and Uhlenbeck 1930, from memory), whatever the step."""
    wander = Wander(stream("wander", "current"))
    values = [wander.advance(step, 1.0) for _ in range(20_000)]
    assert pstdev(values) == pytest.approx(1, abs=0.1)
    lag = round(1 / step)
    together = fmean(a * b for a, b in zip(values, values[lag:], strict=False))
    assert together == pytest.approx(math.exp(-1), abs=0.1)


def test_a_loose_wire_is_off_for_its_part_of_the_time() -> None:
    """Mean lengths of 1 s and 3 s make a quarter of the time, and steps of another length change no moment."""
    coarse, fine = (Telegraph(stream(1, "wire")) for _ in range(2))
    seen = []
    for _ in range(40_000):
        seen.append(coarse.advance(0.1, 1.0, 3.0))
        for _ in range(2):
            last = fine.advance(0.05, 1.0, 3.0)
        assert last == seen[-1]
    assert sum(seen) / len(seen) == pytest.approx(0.25, abs=0.03)


def test_streams_are_told_apart_by_name_and_seed() -> None:
    """Drawing from one source of noise leaves the others as they are."""
    first = stream(5, "pulses").random()
    other = stream(5, "current")
    for _ in range(100):
        other.random()
    assert stream(5, "pulses").random() == first
    assert len({stream(seed, name).random() for seed in range(50) for name in ("pulses", "current")}) == 100
