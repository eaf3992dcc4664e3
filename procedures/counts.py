"""Repeated counts of one source: whether they scatter as Poisson statistics say, and how little can be detected.

A counter whose counts scatter too much is disturbed or unstable; one whose counts agree too well is no less suspect
(dead time, a pulser instead of a source, or figures that nobody read).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Final, Literal

from procedures.distributions import chi_square_upper
from procedures.trouble import Trouble

TAIL: Final = 0.025
"""Chance on either side below which scatter is called too large or too regular: 95 % of good counters lie between."""

LARGEST_COUNT: Final = 10**15
"""Counts up to here are whole numbers in floats."""

Scattering = Literal["as expected", "too much scatter", "too regular"]


@dataclass(frozen=True, slots=True)
class CountStatistics:
    """What repeated counts show. `p` is the chance that a good counter's chi-square is at least as large.

    `reliability_factor` is s/√mean, 1 for a counter that scatters as Poisson statistics say.
    """

    count: int
    mean: float
    stdev: float
    chi_square: float
    degrees: int
    p: float
    reliability_factor: float
    scattering: Scattering


def count_statistics(counts: Sequence[int], tail: float = TAIL) -> CountStatistics:
    """Chi-square test of counts over equal times: χ² = Σ(n − mean)²/mean on n − 1 degrees (Tsoulfanidis).

    Raises Trouble for fewer than two counts, counts that cannot be, or no counts at all.
    """
    if not 0 < tail < 0.5:
        raise Trouble(f"a tail of {tail} is none", allowed="above 0 and below 0.5", do="Write 0.025.")
    for at, one in enumerate(counts, 1):
        if not 0 <= one <= LARGEST_COUNT:
            raise Trouble(f"count {at} is {one}", allowed=f"0 to {LARGEST_COUNT}")
    if len(counts) < 2:
        raise Trouble(f"{len(counts)} counts show no scatter", allowed="two counts or more", do="Take ten or more.")
    mean = fmean(counts)
    if not mean:
        raise Trouble("all counts are 0, which shows nothing", allowed="counts of a source", do="Look at the counter.")
    degrees = len(counts) - 1
    squares = math.fsum((one - mean) ** 2 for one in counts)
    chi_square = squares / mean
    p = chi_square_upper(chi_square, degrees)
    stdev = math.sqrt(squares / degrees)
    return CountStatistics(
        count=len(counts),
        mean=mean,
        stdev=stdev,
        chi_square=chi_square,
        degrees=degrees,
        p=p,
        reliability_factor=stdev / math.sqrt(mean),
        scattering="too much scatter" if p < tail else "too regular" if p > 1 - tail else "as expected",
    )


def detection_limit_currie(background_sigma: float) -> float:
    """Net counts that are detected with 95 % chance at 5 % false alarms: L_D = 2.71 + 4.65·σ_B (Currie 1968).

    `background_sigma` is the standard deviation of the background in counts, √B for a single count B as long as the
    gross count.
    """
    _want_background(background_sigma)
    return 2.71 + 4.65 * background_sigma


def detection_limit_brodsky(background: float) -> float:
    """The same with 3 for 2.71, of a background of B counts: L_D = 3 + 4.65·√B (Brodsky)."""
    _want_background(background)
    return 3 + 4.65 * math.sqrt(background)


def _want_background(size: float) -> None:
    if not 0 <= size < math.inf:
        raise Trouble(f"a background of {size} counts cannot be", allowed="0 or more")
