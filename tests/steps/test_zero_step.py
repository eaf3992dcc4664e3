"""The zero step."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.asks import Choice, Hold, ReadingAsk, Wait
from procedures.steps import kind

PLAIN = {"scale": "x1", "within": "0.05 mR/h"}
BUTTON = PLAIN | {"hold": "8 s", "settle": "8 s"}
FULL = BUTTON | {"adjustable": True, "drift_after": "30 s", "drift_within": "0.1 mR/h"}
AWAY = {"stowed": "all away"}


def zeroed(bench: Any, shape: dict[str, Any], first: bool = True, **given_answers: Any) -> Any:
    answers = AWAY | {"adjust": "on zero"} | {key.replace("_", "-"): value for key, value in given_answers.items()}
    return bench.visit(bench.parameters("zero", **shape), bench.facts(first_visit=first), answers)


def test_the_order_is_stow_as_found_hold_adjust_release_settle_read(bench: Any) -> None:
    """As found comes first: TB 9-6665-285-15 (read) records as found before adjusting. The reading that counts comes
    last, after letting go and settling."""
    at = bench.read("0.05")
    visit = zeroed(bench, FULL, as_found=at, zero=at, zero_later=at)
    assert visit.keys == [
        "stowed",
        "as-found",
        "hold",
        "adjust",
        "release",
        "settle",
        "zero",
        "drift",
        "zero-later",
    ]
    hold, settle = visit.asks[2], visit.asks[5]
    assert isinstance(hold, Hold)
    assert isinstance(settle, Wait)
    assert (hold.seconds, settle.seconds) == (8.0, 8.0)
    assert visit.outcome == "pass"
    assert visit.finding.shows == (("x1", "zero"),)


@pytest.mark.parametrize(
    ("figure", "state", "outcome"),
    [
        ("0", "on scale", "pass"),
        ("0.05", "on scale", "pass"),
        ("0.051", "on scale", "fail"),
        ("-0.05", "below zero", "pass"),
        ("-0.051", "below zero", "fail"),
        ("3", "pegged", "fail"),
    ],
)
def test_zero_is_judged_either_way_and_on_the_limit_passes(bench: Any, figure: str, state: str, outcome: str) -> None:
    """A needle below zero is a valid observation of zero, and as far off below as above is as far off."""
    visit = zeroed(bench, PLAIN, as_found=bench.read("0"), zero=bench.read(figure, state=state))
    assert visit.outcome == outcome
    assert visit.finding.code == ("zero-off" if outcome == "fail" else "")
    assert visit.finding.shows == ((("x1", "zero"),) if outcome == "pass" else ())


@pytest.mark.parametrize(
    ("far", "outcome"), [("half a division", "pass"), ("one division", "fail"), ("further", "fail")]
)
def test_below_the_last_mark_the_distance_is_asked_in_divisions(bench: Any, far: str, outcome: str) -> None:
    """A scale prints no figure below zero; a needle on its stop must not pass as nought."""
    visit = zeroed(bench, PLAIN, first=False, zero=bench.read("0", state="below zero"), zero_below=far)
    assert visit.outcome == outcome


def test_the_scale_is_multiplied_before_it_is_judged(bench: Any) -> None:
    """0.05 as printed on x10 is ten times as far off."""
    shape = {"scale": "x10", "within": "0.05 mR/h"}
    assert zeroed(bench, shape, first=False, zero=bench.read("0.005", "x10")).outcome == "pass"
    assert zeroed(bench, shape, first=False, zero=bench.read("0.05", "x10")).outcome == "fail"


def test_a_zero_found_off_and_set_right_passes_but_its_uses_are_in_doubt(bench: Any) -> None:
    """Setting zero does not undo what was measured before it was set."""
    visit = zeroed(bench, FULL, as_found=bench.read("0.4"), zero=bench.read("0"), zero_later=bench.read("0"))
    assert visit.outcome == "warn"
    assert visit.finding.as_found.outcome == "fail"
    assert visit.finding.tell


def test_a_wider_allowance_as_found_is_the_profiles_to_give(bench: Any) -> None:
    """Where users set zero before each use anyway, a small shift overnight is no doubt."""
    shape = FULL | {"as_found_within": "0.5 mR/h"}
    visit = zeroed(bench, shape, as_found=bench.read("0.4"), zero=bench.read("0"), zero_later=bench.read("0"))
    assert (visit.outcome, visit.finding.as_found.outcome) == ("pass", "pass")


def test_a_control_that_does_not_bring_it_to_zero_fails(bench: Any) -> None:
    """The person saw that it cannot be set; nothing more is asked."""
    visit = zeroed(bench, FULL, as_found=bench.read("0.4"), adjust="not on zero")
    assert visit.outcome == "fail"
    assert visit.keys[-1] == "adjust"


@pytest.mark.parametrize(("later", "outcome"), [("0.1", "pass"), ("0.101", "fail"), ("-0.1", "pass")])
def test_drift_is_a_change_either_way(bench: Any, later: str, outcome: str) -> None:
    """A second reading within the drift limit of the first passes, on the limit too."""
    state = "below zero" if later.startswith("-") else "on scale"
    visit = zeroed(bench, FULL, first=False, zero=bench.read("0"), zero_later=bench.read(later, state=state))
    assert visit.outcome == outcome


def test_a_source_that_stays_out_means_not_checked(bench: Any) -> None:
    """Zero beside a source shows nothing; that is no fault of the instrument."""
    visit = bench.visit(
        bench.parameters("zero", **PLAIN), bench.facts(), {"stowed": "one is out", "stowed-2": "one is out"}
    )
    assert visit.outcome == "could not check"
    assert visit.asks[1].notice


def test_a_reading_on_another_position_is_asked_again(bench: Any) -> None:
    """A selector left elsewhere is a slip, and passes nothing."""
    visit = bench.visit(
        bench.parameters("zero", **PLAIN),
        bench.facts(first_visit=False),
        AWAY | {"zero": bench.read("0", "x10"), "zero-again-2": bench.read("0")},
    )
    assert visit.asks[-1].notice
    assert visit.outcome == "pass"


@pytest.mark.parametrize("shape", [PLAIN, BUTTON, FULL])
@given(data=st.data(), first=st.booleans())
def test_any_answers_lead_to_a_finding(bench: Any, shape: dict[str, Any], data: st.DataObject, first: bool) -> None:
    """No way through the step may hang; a pass means that the last zero read was within its limit."""
    visit = bench.any_visit(data, bench.parameters("zero", **shape), bench.facts(first_visit=first))
    if visit.outcome in ("pass", "warn"):
        assert abs(Decimal(visit.finding.number("zero").value)) <= Decimal("0.05")
        assert not [a for a in visit.answers if a.ask == "adjust" and a.value != "on zero"]
    reading_asks = [ask for ask in visit.asks if isinstance(ask, ReadingAsk)]
    assert all(ask.wanted == "x1" for ask in reading_asks)
    assert all("0.05" not in ask.say + ask.more for ask in visit.asks if not isinstance(ask, Choice))


@pytest.mark.parametrize(
    ("keys", "wrong"),
    [
        (FULL, set()),
        (PLAIN | {"scale": "x7"}, {"scale"}),
        (PLAIN | {"within": "50 cpm"}, {"within"}),
        (PLAIN | {"within": "0.04 mR/h"}, {"within"}),
        (PLAIN | {"within": "3 mR/h"}, {"within"}),
        (PLAIN | {"as_found_within": "0.04 mR/h"}, {"as_found_within"}),
        (PLAIN | {"hold": "8 s"}, {"settle"}),
        (PLAIN | {"drift_after": "8 s"}, {"drift_within"}),
        (PLAIN | {"drift_within": "0.1 mR/h"}, {"drift_after"}),
    ],
)
def test_parameters_that_cannot_work_are_named(bench: Any, keys: dict[str, Any], wrong: set[str]) -> None:
    """A limit nobody can read, of another kind, or a kick nobody waits for, is refused with the key at fault."""
    problems = kind("zero").check(bench.parameters("zero", **keys), bench.spec())
    assert {each.key for each in problems} == wrong


def test_the_chance_that_a_healthy_zero_fails_is_the_normal_tail(bench: Any) -> None:
    """One-sided normal tail beyond 2 u is 2.275 % (ILAC-G8:09/2019 guard 2 u, computed), so 4.55 % either way."""
    parameters = bench.parameters("zero", **PLAIN, scatter="0.025 mR/h")
    (chance,) = kind("zero").limits(parameters, bench.spec())
    assert chance.chance == pytest.approx(0.0455, abs=1e-4)
    assert "0.025 mR/h" in chance.assumed


def test_it_stands_for_its_own_scale_only(bench: Any) -> None:
    """The proof counts a zero for the scale it was read on."""
    assert kind("zero").provides(bench.parameters("zero", **PLAIN)) == {"zero", "zero:x1"}


@pytest.mark.parametrize("within", ["0.05 mR/h", "0.1 mR/h"])
def test_a_good_zero_read_to_the_nearest_division_never_fails_half_of_one(bench: Any, within: str) -> None:
    """Uniform within half a division (GUM 4.3.7): such a reading is never further off than that (computed)."""
    (row,) = kind("zero").limits(bench.parameters("zero", scale="x1", within=within), bench.spec())
    assert row.chance == 0


def test_the_chance_of_a_drift_is_triangular(bench: Any) -> None:
    """The difference of two readings, each uniform within half a division d, is beyond d/2 with chance 1/4
    (computed)."""
    shape = PLAIN | {"drift_after": "30 s", "drift_within": "0.05 mR/h"}
    rows = kind("zero").limits(bench.parameters("zero", **shape), bench.spec())
    assert rows[1].chance == pytest.approx(0.25)
