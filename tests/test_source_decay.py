"""How a source of a checkout's facts falls: several nuclides together by the closed form, one as it always did."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.facts import ComponentFacts, Facts, InstrumentFacts, SourceFacts, facts_from_json, facts_to_json
from procedures.nuclides import HalfLife, decay_factor, half_life_share
from procedures.source_decay import decayed
from procedures.trouble import Trouble

YEAR = 365.2422
CF_252, CF_250 = 2.645 * YEAR, 13.08 * YEAR
"""Half-lives of ICRP-107 (Cf-252: library, radioactivedecay 0.6.1; Cf-250: memory)."""

CERTIFIED = date(2024, 6, 1)
SINGLE = SourceFacts("daily", "5" * 64, "S-7", "Cs-137", 30.1671 * YEAR, 0.001, "invented", jig="J-1", emits="gamma")
MIXED = replace(
    SINGLE,
    nuclide="Cf-252",
    half_life_days=CF_252,
    components=(ComponentFacts("Cf-252", Decimal("0.9"), CF_252), ComponentFacts("Cf-250", Decimal("0.1"), CF_250)),
    shares_on=CERTIFIED,
)


def moment(day: float) -> datetime:
    """So many days after the certificate, which stands for its midnight in UTC."""
    return datetime.combine(CERTIFIED, datetime.min.time(), UTC) + timedelta(days=day)


def closed_form(day: float, one: float = CF_252, other: float = CF_250) -> float:
    """What is left of a source of 90 % Cf-252 and 10 % Cf-250: the sum of two exponentials."""
    return 0.9 * math.exp(-math.log(2) * day / one) + 0.1 * math.exp(-math.log(2) * day / other)


@given(st.floats(-700, 6000), st.floats(0, 6000))
def test_two_nuclides_fall_by_the_closed_form_between_any_two_moments(first: float, days: float) -> None:
    """No half-life stands between: every reference has the decay of its own days, before the certificate too."""
    earlier, later = moment(first), moment(first + days)
    found = decayed(MIXED, earlier, later)
    one, other = ((each - moment(0)).total_seconds() / 86400 for each in (earlier, later))
    assert found.left == pytest.approx(closed_form(other) / closed_form(one), rel=1e-12)
    assert CF_252 < found.half_life_days < CF_250


@given(st.floats(0, 4000), st.floats(30, 4000))
def test_its_uncertainty_is_that_of_both_half_lives_off_in_the_worst_way(first: float, days: float) -> None:
    """Against difference quotients of the closed form, each half-life moved by itself."""
    tiny = 1e-6

    def left(one: float, other: float) -> float:
        return math.log(closed_form(first + days, one, other) / closed_form(first, one, other))

    slopes = [
        (left(CF_252 * (1 + tiny), CF_250) - left(CF_252 * (1 - tiny), CF_250)) / (2 * tiny),
        (left(CF_252, CF_250 * (1 + tiny)) - left(CF_252, CF_250 * (1 - tiny))) / (2 * tiny),
    ]
    found = decayed(MIXED, moment(first), moment(first + days))
    assert found.sensitivity == pytest.approx(sum(map(abs, slopes)), rel=1e-4, abs=1e-6)


@given(st.floats(0, 20000))
def test_one_nuclide_falls_and_is_unsure_as_it_always_was(days: float) -> None:
    """To the last bit of the decay: records made before there were mixtures are judged as they were."""
    found = decayed(SINGLE, moment(0), moment(days))
    known = HalfLife("Cs-137", Decimal("30.1671"), "y", SINGLE.half_life_days, 0.001, "")
    assert found.left == decay_factor(SINGLE.half_life_days, found.days)
    assert found.half_life_days == SINGLE.half_life_days
    assert found.sensitivity * 0.001 == pytest.approx(half_life_share(known, found.days), rel=1e-12)


def test_alike_halves_are_one_nuclide() -> None:
    """A mixture of twice the same is that nuclide, whatever the shares."""
    twice = replace(MIXED, components=(MIXED.components[0], replace(MIXED.components[0], nuclide="Xx-1")))
    found = decayed(twice, moment(50), moment(450))
    assert found.left == pytest.approx(decay_factor(CF_252, 400), rel=1e-12)


@pytest.mark.parametrize("source", [SINGLE, MIXED])
def test_time_that_runs_backwards_is_refused(source: SourceFacts) -> None:
    """It puts the clock in doubt."""
    with pytest.raises(Trouble, match="later date comes before"):
        decayed(source, moment(10), moment(9))


def test_shares_of_no_day_are_refused() -> None:
    """Shares change from day to day: without the day they say nothing."""
    with pytest.raises(Trouble, match="S-7"):
        decayed(replace(MIXED, shares_on=None), moment(1), moment(2))


# --- as the opening stores them ------------------------------------------------------------------------------------


def facts(source: SourceFacts) -> Facts:
    instrument = InstrumentFacts("1" * 64, "C-1", "101", "invented")
    return Facts(instrument, (), datetime(2027, 3, 12, 6, 0, tzinfo=UTC), sources=(source,))


@pytest.mark.parametrize("source", [SINGLE, MIXED])
def test_what_an_opening_stores_of_a_source_comes_back_whole(source: SourceFacts) -> None:
    """Shares as decimal text, half-lives to the last bit."""
    body = json.loads(json.dumps(facts_to_json(facts(source))))
    assert facts_from_json(body).sources == (source,)


OLD_ROW: dict[str, Any] = {
    "role": "daily",
    "id": "5" * 64,
    "label": "S-7",
    "nuclide": "Cs-137",
    "half_life_days": 30.1671 * YEAR,
    "half_life_relative_u": 0.001,
    "half_life_source": "invented",
    "jig": "J-1",
    "emits": "gamma",
    "strong": False,
    "trouble": "",
}


def test_a_source_of_one_nuclide_is_stored_as_by_programs_that_knew_no_mixtures() -> None:
    """They go on reading such records, and this program reads theirs."""
    assert facts_to_json(facts(SINGLE))["sources"] == [OLD_ROW]
    assert facts_from_json({**facts_to_json(facts(SINGLE)), "sources": [OLD_ROW]}).sources == (SINGLE,)
