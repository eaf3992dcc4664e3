"""Net counts, pooled recounts and the least that is enough: Poisson statistics."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.counting import Count, net_count, pooled
from procedures.trouble import Trouble

COUNTS = st.builds(Count, st.integers(0, 10**7), st.integers(1, 7200).map(float))


def test_net_counts_of_equal_times() -> None:
    """1200 gross and 300 background in a minute each: 900 ± √1500 (formula of the module; computed)."""
    net = net_count(Count(1200, 60), Count(300, 60))
    assert net.counts == 900
    assert net.uncertainty == pytest.approx(38.7298335, abs=1e-7)
    assert net.rate == 15
    assert net.rate_uncertainty == pytest.approx(38.7298335 / 60, abs=1e-8)


def test_a_longer_background_is_scaled_and_weighs_less() -> None:
    """10 min of background, 300 counts: 30 a minute with variance 300/100 = 3 (computed)."""
    net = net_count(Count(1200, 60), Count(300, 600))
    assert net.counts == pytest.approx(1170)
    assert net.uncertainty == pytest.approx(math.sqrt(1203))


@given(COUNTS, COUNTS)
def test_the_net_rate_is_the_difference_of_the_rates(gross: Count, background: Count) -> None:
    """Whatever the two times; and its variance the sum of the two rates' variances."""
    net = net_count(gross, background)
    assert net.rate == pytest.approx(gross.rate - background.rate, rel=1e-9, abs=1e-6)
    variance = gross.counts / gross.seconds**2 + background.counts / background.seconds**2
    assert net.rate_uncertainty**2 == pytest.approx(variance, rel=1e-9)


@given(COUNTS, COUNTS)
def test_a_pooled_recount_chooses_neither(first: Count, recount: Count) -> None:
    """The pooled rate lies between the two, whichever would have passed."""
    both = pooled(first, recount)
    low, high = sorted((first.rate, recount.rate))
    assert low * (1 - 1e-12) <= both.rate <= high * (1 + 1e-12)
    assert both == pooled(recount, first)


def test_exactly_the_minimum_is_enough() -> None:
    """A limit that is kept is kept."""
    net = net_count(Count(1000, 60), Count(0, 60))
    assert net.is_enough(1000)
    assert not net.is_enough(1000.5)


def test_counts_that_cannot_be_are_refused() -> None:
    """No division by no time, and no counts below nothing."""
    for counts, seconds in [(-1, 60.0), (5, 0.0), (5, -1.0), (5, math.nan), (5, math.inf)]:
        with pytest.raises(Trouble):
            Count(counts, seconds)
