"""The uncertainty budget of a response check."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.trouble import Trouble
from procedures.uncertainty import combine, from_division, from_relative, from_scatter

PARTS = st.dictionaries(st.text(max_size=5), st.one_of(st.none(), st.floats(0, 1e6)), max_size=6)


def test_a_division_is_uniform() -> None:
    """GUM 4.3.7: half-width a gives a/√3, so one division d gives d/√12 (memory)."""
    assert from_division(Decimal("0.1")) == pytest.approx(0.05 / math.sqrt(3), rel=1e-12)


def test_scatter_of_a_mean() -> None:
    """GUM 4.2.3: s(q̄) = s/√n (memory). 50 one-minute counts, laboratory report (read): s 35.50798, mean 1174.14."""
    counts = (
        "1200 1156 1181 1249 1151 1184 1143 1184 1144 1156 1176 1217 1086 1170 1187 1109 1162 1138 1160 1202 1213 1178 "
        "1260 1148 1199 1195 1219 1200 1142 1158 1211 1161 1138 1108 1196 1158 1165 1119 1122 1191 1225 1158 1164 1218 "
        "1167 1170 1213 1197 1177 1182"
    )
    readings = [Decimal(text) for text in counts.split()]
    assert from_scatter(readings) == pytest.approx(35.50798 / math.sqrt(50), abs=1e-6)


def test_a_single_reading_shows_no_scatter() -> None:
    """Unknown is not none: the budget names the part it lacks."""
    assert from_scatter([Decimal("1.62")]) is None
    budget = combine({"division": 0.03, "scatter": from_scatter([Decimal("1.62")])})
    assert budget.unknown == ("scatter",)
    assert budget.standard == pytest.approx(0.03)


def test_parts_add_in_squares() -> None:
    """3, 4 and 12 make 13, and an unknown half-life is named (computed)."""
    budget = combine({"division": 3, "scatter": 4, "reference": 12, "half-life": from_relative(1.6, None)})
    assert budget.standard == 13
    assert budget.parts == (("division", 3), ("scatter", 4), ("reference", 12))
    assert budget.unknown == ("half-life",)
    assert from_relative(Decimal("-1.6"), 0.05) == pytest.approx(0.08)


@given(PARTS)
def test_the_whole_is_no_less_than_a_part_and_no_more_than_their_sum(parts: dict[str, float | None]) -> None:
    """Independent parts: between the largest and the plain sum."""
    known = [part for part in parts.values() if part is not None]
    whole = combine(parts).standard
    assert max(known, default=0) * (1 - 1e-12) <= whole <= sum(known) * (1 + 1e-12)


def test_a_part_that_cannot_be_is_refused() -> None:
    """A NaN would make a guarded limit that compares false with everything."""
    for bad in (-1.0, math.nan, math.inf):
        with pytest.raises(Trouble, match="scatter"):
            combine({"scatter": bad})
