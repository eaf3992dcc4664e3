"""Tails of the distributions that limits and tests are taken from: chi-square and Student's t.

Both come from the incomplete gamma and beta functions, by series and continued fractions (Abramowitz and Stegun 1964,
6.5.29, 6.5.31 and 26.5.8; evaluated by Lentz's method as modified by Thompson and Barnett 1986).
"""

from __future__ import annotations

import math
from collections.abc import Callable

from procedures.trouble import Trouble

_TINY = 1e-300
_CLOSE = 1e-15
_MOST_PARTS = 200_000
"""More parts than any of these fractions takes to come to rest."""

_SMALLEST_TAIL = 1e-100
_MOST_DEGREES = 1e7
"""Beyond this many degrees of freedom the series would take long, and nobody takes so many readings."""


def chi_square_upper(chi_square: float, degrees: float) -> float:
    """The chance of a chi-square at least this large on so many degrees of freedom: Q(ν/2, χ²/2)."""
    _want_degrees(degrees)
    if not chi_square >= 0:
        raise Trouble(f"a chi-square of {chi_square} cannot be", allowed="0 or more")
    return gamma_upper(degrees / 2, chi_square / 2)


def gamma_upper(a: float, x: float) -> float:
    """The upper regularised incomplete gamma function Q(a, x), for a above 0 and x of 0 or more."""
    if x == 0:
        return 1.0
    if x == math.inf:
        return 0.0
    front = math.exp(a * math.log(x) - x - math.lgamma(a))
    if x < a + 1:
        return max(0.0, 1.0 - front * _gamma_series(a, x))
    return front / _continued(x + 1 - a, lambda n: (-n * (n - a), x + 2 * n + 1 - a))


def _gamma_series(a: float, x: float) -> float:
    """Σ xⁿ / (a·(a+1)…(a+n)), whose terms shrink from the first one on where x < a + 1."""
    term = total = 1 / a
    n = 0
    while term > total * _CLOSE:
        n += 1
        term *= x / (a + n)
        total += term
    return total


def student_t_cdf(t: float, degrees: float) -> float:
    """The chance of a Student's t below `t` on so many degrees of freedom."""
    _want_degrees(degrees)
    tail = _upper_tail(abs(t), degrees)
    return tail if t < 0 else 1 - tail


def student_t_quantile(p: float, degrees: float) -> float:
    """The t that Student's t falls below with chance `p`, on so many degrees of freedom, to 12 figures or so.

    Found by halving, which cannot go astray: the upper tail falls steadily with t. Raises Trouble for a `p` that is no
    chance or all but 0 or 1.
    """
    _want_degrees(degrees)
    tail = min(p, 1 - p)
    if not tail >= _SMALLEST_TAIL:
        raise Trouble(f"{p} is no chance to go by", allowed="above 0 and below 1", do="Write 0.975 for 97.5 %.")
    if tail == 0.5:
        return 0.0
    low, high = 0.0, 1.0
    while _upper_tail(high, degrees) > tail:
        low, high = high, high * 2
    while high - low > 1e-13 * high:
        middle = (low + high) / 2
        low, high = (middle, high) if _upper_tail(middle, degrees) > tail else (low, middle)
    found = (low + high) / 2
    return -found if p < 0.5 else found


def _upper_tail(t: float, degrees: float) -> float:
    """The chance of a Student's t above `t`, which is 0 or more."""
    return 0.5 * beta_regularised(degrees / (degrees + t * t), degrees / 2, 0.5)


def beta_regularised(x: float, a: float, b: float) -> float:
    """The regularised incomplete beta function I_x(a, b), for x from 0 to 1 and a, b above 0."""
    if x <= 0:
        return 0.0
    if x >= 1:
        return 1.0
    if x > (a + 1) / (a + b + 2):
        return 1 - beta_regularised(1 - x, b, a)
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x) - math.log(a)
    )

    def part(n: int) -> tuple[float, float]:
        m = n // 2
        if n % 2:
            return -(a + m) * (a + b + m) * x / ((a + n - 1) * (a + n)), 1.0
        return m * (b - m) * x / ((a + n - 1) * (a + n)), 1.0

    return front / _continued(1.0, part)


def _continued(first: float, part: Callable[[int], tuple[float, float]]) -> float:
    """first + a₁/(b₁ + a₂/(b₂ + …)), where `part(n)` is (aₙ, bₙ), until it no longer moves."""
    value = first or _TINY
    above, below = value, 0.0
    for a, b in map(part, range(1, _MOST_PARTS)):
        below = 1 / ((b + a * below) or _TINY)
        above = (b + a / above) or _TINY
        change = above * below
        value *= change
        if abs(change - 1) < _CLOSE:
            break
    return value


def _want_degrees(degrees: float) -> None:
    if not 1 <= degrees <= _MOST_DEGREES:
        raise Trouble(
            f"{degrees:g} degrees of freedom are none to go by",
            allowed=f"1 to {_MOST_DEGREES:.0f}",
            do="Take at least two readings.",
        )
