"""Figures in words, as findings say them."""

from __future__ import annotations

import pytest

from procedures.steps.common import plain


@pytest.mark.parametrize(
    ("figure", "said"),
    [(1.6449, "1.64"), (0.0213, "0.0213"), (1240.4, "1240"), (0.0, "0"), (1.5e29, "15" + "0" * 28), (-0.5, "-0.500")],
)
def test_figures_are_said_without_a_power_of_ten(figure: float, said: str) -> None:
    """Three figures that count; figures beyond all sense are said too and stop nothing."""
    assert plain(figure) == said
