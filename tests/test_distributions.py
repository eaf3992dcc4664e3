"""Student's t and chi-square against tables and against forms that need no series."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.distributions import beta_regularised, chi_square_upper, gamma_upper, student_t_cdf, student_t_quantile
from procedures.trouble import Trouble

# Table of critical values of Student's t, as in NIST/SEMATECH e-Handbook 1.3.6.7.2 (memory).
T_TABLE = [
    (0.95, 1, 6.314),
    (0.975, 1, 12.706),
    (0.975, 2, 4.303),
    (0.975, 5, 2.571),
    (0.90, 10, 1.372),
    (0.95, 10, 1.812),
    (0.995, 10, 3.169),
    (0.975, 24, 2.064),
    (0.975, 30, 2.042),
    (0.99, 60, 2.390),
    (0.975, 100, 1.984),
]


@pytest.mark.parametrize(("p", "degrees", "t"), T_TABLE)
def test_t_is_that_of_the_table(p: float, degrees: int, t: float) -> None:
    """Limits of a check standard rest on it."""
    assert student_t_quantile(p, degrees) == pytest.approx(t, abs=5e-4)


# Critical values of chi-square, upper tail; for 14 degrees at 95 % two-sided: check-values, counting (computed).
# The others as in NIST/SEMATECH e-Handbook 1.3.6.7.4 (memory).
CHI_TABLE = [(5.629, 14, 0.975), (26.119, 14, 0.025), (3.841, 1, 0.05), (18.307, 10, 0.05), (124.342, 100, 0.05)]


@pytest.mark.parametrize(("chi_square", "degrees", "p"), CHI_TABLE)
def test_chi_square_is_that_of_the_table(chi_square: float, degrees: int, p: float) -> None:
    """A counter is called disturbed or too regular by it."""
    assert chi_square_upper(chi_square, degrees) == pytest.approx(p, rel=1e-3)


@given(st.floats(1e-6, 1 - 1e-6))
def test_one_and_two_degrees_have_closed_forms(p: float) -> None:
    """t is tan(π(p − ½)) on one degree (Cauchy) and (2p − 1)/√(2p(1 − p)) on two: no series can hide behind these."""
    assert student_t_quantile(p, 1) == pytest.approx(math.tan(math.pi * (p - 0.5)), rel=1e-8, abs=1e-9)
    assert student_t_quantile(p, 2) == pytest.approx((2 * p - 1) / math.sqrt(2 * p * (1 - p)), rel=1e-8, abs=1e-9)


@given(st.floats(1e-9, 1 - 1e-9), st.integers(1, 100_000))
def test_the_quantile_undoes_the_chance(p: float, degrees: int) -> None:
    """And is the mirror image of that of the other tail."""
    t = student_t_quantile(p, degrees)
    assert student_t_cdf(t, degrees) == pytest.approx(p, rel=1e-7)
    assert student_t_quantile(1 - p, degrees) == pytest.approx(-t, rel=1e-5, abs=1e-9)


@given(st.integers(1, 60), st.floats(0.001, 300))
def test_an_even_chi_square_is_a_sum_of_poisson_chances(half: int, chi_square: float) -> None:
    """Q(n, x) = e^(−x)·Σ xᵏ/k! for k below n (Abramowitz and Stegun 26.4.21, memory)."""
    x = chi_square / 2
    terms = math.fsum(math.exp(k * math.log(x) - x - math.lgamma(k + 1)) for k in range(half))
    assert chi_square_upper(chi_square, 2 * half) == pytest.approx(terms, rel=1e-9, abs=1e-14)


@given(st.floats(0.5, 1000), st.floats(0, 3000), st.floats(0, 100))
def test_a_larger_chi_square_is_never_likelier(a: float, x: float, more: float) -> None:
    """It is a chance, and falls."""
    assert 0 <= gamma_upper(a, x + more) <= gamma_upper(a, x) + 1e-12 <= 1 + 1e-12


@given(st.floats(0, 1), st.floats(0.5, 50), st.floats(0.5, 50))
def test_both_tails_of_the_beta_make_one(x: float, a: float, b: float) -> None:
    """I_x(a, b) + I_(1−x)(b, a) = 1 (Abramowitz and Stegun 26.5.2, memory)."""
    y = 1 - x
    assert beta_regularised(1 - y, a, b) + beta_regularised(y, b, a) == pytest.approx(1, abs=1e-9)


def test_the_ends_are_reached() -> None:
    """Nothing raises where a chance is 0 or 1."""
    assert chi_square_upper(0, 3) == 1
    assert chi_square_upper(math.inf, 3) == 0
    assert chi_square_upper(1e9, 3) == 0
    assert beta_regularised(0, 1, 2) == 0
    assert beta_regularised(1, 1, 2) == 1
    assert student_t_quantile(0.5, 7) == 0
    assert student_t_quantile(0.975, 1e6) == pytest.approx(1.959966, abs=1e-5)


@pytest.mark.parametrize("p", [0.0, 1.0, -0.1, 1.1, math.nan])
def test_what_is_no_chance_is_refused(p: float) -> None:
    """In words, before a loop could run for ever."""
    with pytest.raises(Trouble):
        student_t_quantile(p, 5)


@pytest.mark.parametrize("degrees", [0, -1, math.nan, math.inf])
def test_no_degrees_are_refused(degrees: float) -> None:
    """One reading has none."""
    with pytest.raises(Trouble):
        chi_square_upper(1.0, degrees)
    with pytest.raises(Trouble):
        student_t_cdf(1.0, degrees)
    with pytest.raises(Trouble):
        chi_square_upper(math.nan, 3)
