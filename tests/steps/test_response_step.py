"""The response step: what is asked, what is compared, and what no order of answers may escape."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from procedures.asks import SOURCE_BACK, SOURCE_OUT, Choice, Reading, ReadingAsk, Scan, Wait
from procedures.findings import Finding
from procedures.steps import kind
from procedures.steps._response_proof import REFERENCE_ASSUMED, range_beyond

PLAIN = {"scale": "x1", "source": "daily", "readings": 1, "limits": {"low": "-20 %", "high": "20 %", "warn": "10 %"}}
THREE = PLAIN | {"readings": 3, "spread": "10 %", "settle": "5 s"}
GUARDED = {"decision": {"rule": "guarded", "false_accept": 0.05}}
GOOD = {"seated": "in place"}
STILL = {"half_life_days": 1e13}
"""A source that does not decay while the readings are taken, so that a figure can lie on its limit."""


def exposed(bench: Any, shape: dict[str, Any], figures: list[str], facts: Any = None, **more: Any) -> Any:
    answers = GOOD | {f"reading-{n}": bench.read(figure) for n, figure in enumerate(figures, 1)}
    answers |= {"returned": bench.read("0")} | {key.replace("_", "-"): value for key, value in more.items()}
    facts = facts or bench.facts(source=STILL, references=(bench.reference("1.00", at=bench.facts().opened),))
    return bench.visit(bench.parameters("response", **shape), facts, answers)


def found_with(**facts: str) -> dict[str, Finding]:
    """An earlier step of this checkout that recorded these facts."""
    earlier = Finding(step="e", kind="e", outcome="pass", say="e", rule="e", facts=tuple(facts.items()))
    return {"earlier": earlier}


def figure(finding: Finding, name: str) -> float:
    found = finding.number(name)
    assert found is not None, name
    return float(found.value)


# --- the limits


@pytest.mark.parametrize(
    ("read", "outcome"),
    [
        ("1.00", "pass"),
        ("0.90", "pass"),
        ("1.10", "pass"),
        ("0.89", "warn"),
        ("1.11", "warn"),
        ("0.80", "warn"),
        ("1.20", "warn"),
        ("0.799", "fail"),
        ("1.201", "fail"),
        ("0.1", "fail"),
    ],
)
def test_twenty_per_cent_of_the_reference_reading(bench: Any, read: str, outcome: str) -> None:
    """±20 % of the reading taken after the last calibration, outside → out of service: Illinois licensee radiation
    manual (read). On the limit passes, as in 10 CFR 35.61(b), "more than 20 %" (read; a rule for calibration). The
    warning band of 10 % is invented."""
    visit = exposed(bench, PLAIN, [read])
    assert visit.outcome == outcome
    assert visit.finding.code == ("response-out" if outcome == "fail" else "")
    assert visit.finding.shows == (() if outcome == "fail" else (("x1", "source"),))
    assert bool(visit.finding.tell) == (outcome == "warn")


@given(reference=st.decimals("0.05", "2.4", places=3), high=st.booleans())
def test_a_reading_on_the_limit_passes_whatever_the_figures(bench: Any, reference: Decimal, high: bool) -> None:
    """In plain floats 587 of 1,998 such readings fail (computed); compared as typed, none does."""
    on_limit = str(reference * (Decimal("1.2") if high else Decimal("0.8")))
    facts = bench.facts(source=STILL, references=(bench.reference(str(reference), at=bench.facts().opened),))
    assert exposed(bench, PLAIN, [on_limit], facts).outcome == "warn"


@pytest.mark.parametrize(("read", "outcome"), [("0.8", "pass"), ("0.79", "fail"), ("1.3", "pass"), ("1.31", "fail")])
def test_a_range_written_on_the_instrument_is_taken_as_levels(bench: Any, read: str, outcome: str) -> None:
    """Check source with its acceptance range written on the instrument: Indiana University manual app. BB (read)."""
    shape = PLAIN | {"limits": {"low": "0.8 mR/h", "high": "1.3 mR/h"}}
    assert exposed(bench, shape, [read]).outcome == outcome


def test_a_source_that_left_the_range_written_on_the_instrument_is_not_checked(bench: Any) -> None:
    """When a good instrument would read outside the range, nothing can be concluded, and no reading is asked for."""
    shape = PLAIN | {"limits": {"low": "1.2 mR/h", "high": "1.9 mR/h"}}
    visit = exposed(bench, shape, [])
    assert visit.outcome == "could not check"
    assert visit.asks == ()


def test_each_side_has_its_own_limit(bench: Any) -> None:
    """Reading high is safer than reading low, and a profile may say so."""
    shape = PLAIN | {"limits": {"low": "-10 %", "high": "30 %"}}
    assert [exposed(bench, shape, [read]).outcome for read in ("0.89", "0.90", "1.30", "1.31")] == [
        "fail",
        "pass",
        "pass",
        "fail",
    ]


# --- decay


@pytest.mark.parametrize(
    ("nuclide", "half_life_years", "years", "left"),
    [
        ("Cs-137", 30.1671, 10, 79.471697),
        ("Co-60", 5.2713, 5, 51.815922),
        ("Na-22", 2.6019, 3, 44.968804),
        ("Cf-252", 2.645, 1, 76.946530),
    ],
)
def test_the_expected_reading_has_decayed(
    bench: Any, nuclide: str, half_life_years: float, years: int, left: float
) -> None:
    """From 100: radioactivedecay 0.6.1 with ICRP-107, year 365.2422 d (library)."""
    opened = bench.facts().opened
    at = opened - timedelta(days=years * 365.2422)
    source = {"nuclide": nuclide, "half_life_days": half_life_years * 365.2422}
    instrument = {"calibrated_on": date(2010, 1, 1)}
    facts = bench.facts(source=source, references=(bench.reference("1.00", at=at),), instrument=instrument)
    visit = exposed(bench, PLAIN, [f"{left / 100:.4f}"], facts)
    assert figure(visit.finding, "expected") == pytest.approx(left / 100, rel=1e-6)
    assert visit.outcome == "pass"


def test_the_decay_runs_to_the_moment_of_the_reading(bench: Any) -> None:
    """Not to the opening: Mo-99, 20.0 h, 2.0 → 1.6207863893776937 with T = 65.94 h (radioactivedecay README, read)."""
    facts = bench.facts(
        source={"nuclide": "Mo-99", "half_life_days": 65.94 / 24},
        references=(bench.reference("2.0", at=bench.facts().opened - timedelta(hours=20, seconds=-60)),),
    )
    visit = exposed(bench, PLAIN, ["1.6"], facts)
    assert visit.answers[2].at - facts.references[0].at == timedelta(hours=20)
    assert figure(visit.finding, "expected") == pytest.approx(1.6207863893776937, rel=1e-12)


# --- read first, compare after


@given(data=st.data())
def test_nothing_expected_is_shown_before_the_last_reading(bench: Any, data: st.DataObject) -> None:
    """A technician who sees the expected value reads it into the needle."""
    reference = Decimal(data.draw(st.integers(500, 2400).filter(lambda n: n % 10))) / 1000
    facts = bench.facts(references=(bench.reference(str(reference)),))
    visit = bench.any_visit(data, bench.parameters("response", **THREE), facts)
    shown = [
        text for ask in visit.asks for text in (ask.say, ask.more, ask.caution, ask.notice, getattr(ask, "due", ""))
    ]
    low, high = reference * Decimal("0.8"), reference * Decimal("1.2")
    for secret in (reference, low, high):
        assert not [text for text in shown if f"{secret:.3f}" in text or f"{secret:.2f}" in text]
    assert not [text for text in shown if "%" in text or "expected" in text.lower()]


@given(data=st.data(), counted=st.booleans(), first=st.booleans())
def test_any_answers_lead_to_a_finding(bench: Any, data: st.DataObject, counted: bool, first: bool) -> None:
    """No way through the step may hang; a pass has its source back and its readings in the limits; a fail comes with
    the source still out, so that nothing is left to be asked by which it could be walked away from."""
    facts = bench.facts(references=(bench.reference("1.66"),), first_visit=first)
    shape = THREE
    if counted:
        facts, shape = counting_facts(bench, first_visit=first), COUNTED | {"recount": True}
    visit = bench.any_visit(data, bench.parameters("response", **shape), facts)
    marks = [ask.mark for ask in visit.asks if ask.mark]
    finding = visit.finding
    if finding.outcome in ("pass", "warn"):
        assert marks == [SOURCE_OUT, SOURCE_BACK]
        assert 0.8 - 1e-9 <= figure(finding, "ratio") <= 1.2 + 1e-9
        assert finding.shows
    if finding.outcome == "fail" and finding.code != "not-returning":
        assert marks == [SOURCE_OUT]
        assert "Put it back" in finding.carry[0]
        last = visit.asks[-1]
        assert isinstance(last, ReadingAsk) or last.key == "reading-look-again"


def test_readings_are_not_taken_again_until_one_passes(bench: Any) -> None:
    """Three readings are three readings; the first bad set is the finding."""
    visit = exposed(bench, THREE, ["0.5", "0.5", "0.5"])
    assert [ask.key for ask in visit.asks if isinstance(ask, ReadingAsk)] == ["reading-1", "reading-2", "reading-3"]
    assert visit.outcome == "fail"
    assert "50 % low" in visit.finding.say


def test_the_mean_is_compared_and_each_reading_is_kept(bench: Any) -> None:
    """Observed is the mean of the readings; all of them stand in the record."""
    visit = exposed(bench, THREE, ["1.00", "1.02", "1.04"])
    assert figure(visit.finding, "observed") == pytest.approx(1.02)
    assert [visit.finding.number(f"reading_{n}").value for n in (1, 2, 3)] == ["1.00", "1.02", "1.04"]


@pytest.mark.parametrize(("last", "outcome"), [("1.05", "pass"), ("1.06", "fail")])
def test_readings_must_agree_within_the_spread(bench: Any, last: str, outcome: str) -> None:
    """0.95, 1.00, 1.05 are 10 % of their mean apart: on the limit they agree (computed)."""
    visit = exposed(bench, THREE, ["0.95", "1.00", last])
    assert visit.outcome == outcome
    assert visit.finding.code == ("response-unsteady" if outcome == "fail" else "")


# --- identity and cautions


def test_a_wrong_source_is_asked_again_and_passes_nothing(bench: Any) -> None:
    """It is the neighbour's source that lies nearest at six in the morning; two wrong scans are still only that."""
    visit = exposed(bench, PLAIN, ["1.00"], source="S-8", source_2="S-9", source_3="s-7")
    scans = [ask for ask in visit.asks if isinstance(ask, Scan) and ask.key.startswith("source")]
    assert [bool(ask.notice) for ask in scans] == [False, True, True]
    assert "S-8" in scans[1].notice
    assert "S-7" in scans[1].notice
    assert visit.outcome == "pass"


def test_the_scan_names_the_source_and_marks_it_out_then_back(bench: Any) -> None:
    """Home shows every source that is out; the id, not the label, is what the record is about."""
    visit = exposed(bench, PLAIN, ["1.00"])
    out, back = (ask for ask in visit.asks if isinstance(ask, Scan))
    assert (out.mark, back.mark) == (SOURCE_OUT, SOURCE_BACK)
    assert out.subject == back.subject == bench.facts().sources[0].id


def test_a_jig_that_is_bound_is_scanned(bench: Any) -> None:
    """Geometry is part of the reference reading: same geometry, dedicated source (Illinois manual, read)."""
    facts = bench.facts(source={"jig": "J-2"}, references=(bench.reference("1.00", at=bench.facts().opened),))
    assert "jig" in exposed(bench, PLAIN, ["1.00"], facts).keys
    wrong = exposed(bench, PLAIN, ["1.00"], facts, jig="J-1", jig_2="J-2")
    assert wrong.keys.count("jig-2") == 1


@pytest.mark.parametrize("emits", ["beta", "neutron"])
def test_a_strong_beta_or_neutron_source_is_handled_with_tools(bench: Any, emits: str) -> None:
    """The usual caution (common practice, no source)."""
    references = (bench.reference("1.00", at=bench.facts().opened),)
    strong = exposed(
        bench, PLAIN, ["1.00"], bench.facts(source={"emits": emits, "strong": True}, references=references)
    )
    weak = exposed(bench, PLAIN, ["1.00"], bench.facts(source={"emits": emits}, references=references))
    assert "tool" in strong.asks[0].caution
    assert "tool" not in weak.asks[0].caution
    assert "Never touch" in weak.asks[0].caution


def test_a_source_that_will_not_sit_is_not_checked(bench: Any) -> None:
    """A source out of place makes a good instrument fail; that is no finding about the instrument."""
    visit = exposed(bench, PLAIN, [], seated="not in place", seated_2="not in place")
    assert visit.outcome == "could not check"
    assert visit.finding.carry


# --- no response, pegged


@pytest.mark.parametrize(
    ("figure_read", "state", "code"),
    [("0", "no response", "no-response"), ("0", "on scale", "no-response"), ("3", "pegged", "response-out")],
)
def test_no_response_or_pegged_with_all_right_is_always_a_failure(
    bench: Any, figure_read: str, state: str, code: str
) -> None:
    """It is looked at once more, because a source beside its place looks the same; then it fails."""
    dead = bench.read(figure_read, state=state)
    visit = exposed(bench, THREE, [], reading_1=dead, reading_look_again="both right")
    assert (visit.outcome, visit.finding.code) == ("fail", code)
    assert isinstance(visit.asks[-1], Choice)


def test_the_second_look_is_given_once(bench: Any) -> None:
    """A source that was out of place is put right once; dead again is dead."""
    dead = bench.read("0", state="no response")
    visit = exposed(bench, THREE, [], reading_1=dead, reading_look_again="one was wrong", reading_1_anew=dead)
    assert visit.outcome == "fail"
    visit = exposed(
        bench,
        THREE,
        ["1", "1", "1"],
        reading_1=dead,
        reading_look_again="one was wrong",
        reading_1_anew=bench.read("1"),
        reading_2=dead,
    )
    assert visit.outcome == "fail"
    assert visit.keys[-1] == "reading-2"


# --- what could not be checked


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"sources": ()}, "no check source"),
        ({"source": {"trouble": "its leak test ran out on 1 Mar 2027"}}, "leak test"),
        ({"references": ()}, "no reference reading"),
        ({"instrument": {"calibrated_on": date(2027, 3, 12)}}, "since the calibration"),
    ],
)
def test_nothing_to_compare_with_is_not_a_failure(bench: Any, changes: dict[str, Any], words: str) -> None:
    """No lockout and nothing in doubt: the ending is not checked, and it says what is missing."""
    facts = bench.facts(**({"references": (bench.reference(),)} | changes))
    visit = bench.visit(bench.parameters("response", **PLAIN), facts)
    assert visit.outcome == "could not check"
    assert words in visit.finding.missing
    assert visit.asks == ()


def test_a_reference_on_the_day_of_the_calibration_counts_by_the_sites_calendar(bench: Any) -> None:
    """Taken in the morning of the 12th in Sydney, it is still the 11th in Greenwich."""
    at = datetime(2027, 3, 11, 21, 0, tzinfo=UTC)
    facts = bench.facts(instrument={"calibrated_on": date(2027, 3, 12)}, references=(bench.reference("1.00", at=at),))
    assert bench.visit(bench.parameters("response", **PLAIN), facts).outcome == "could not check"
    there = bench.facts(
        instrument={"calibrated_on": date(2027, 3, 12)},
        references=(bench.reference("1.00", at=at),),
        settings={"zone": "Australia/Sydney"},
    )
    assert exposed(bench, PLAIN, ["1.00"], there).outcome == "pass"


def test_a_reference_after_now_puts_the_clock_in_doubt(bench: Any) -> None:
    """The decay would run backwards."""
    facts = bench.facts(references=(bench.reference(at=bench.facts().opened + timedelta(days=1)),))
    visit = bench.visit(bench.parameters("response", **PLAIN), facts)
    assert "clock" in visit.finding.missing


def test_a_background_that_swamps_the_source_is_not_checked(bench: Any) -> None:
    """Background has a smallest ratio of net to it; expected, not observed, is compared, so that a dying instrument
    cannot hide behind it."""
    facts = bench.facts(references=(bench.reference("1.00"),), findings=found_with(background="0.5 mR/h"))
    shape = PLAIN | {"smallest_over_background": 3}
    visit = bench.visit(bench.parameters("response", **shape), facts)
    assert visit.outcome == "could not check"
    assert "background" in visit.finding.missing


def test_background_is_taken_off(bench: Any) -> None:
    """The reference reading is net, so what is observed must be."""
    references = (bench.reference("1.00", at=bench.facts().opened),)
    facts = bench.facts(references=references, findings=found_with(background="100 µR/h"))
    visit = exposed(bench, PLAIN, ["1.10"], facts, returned=bench.read("0.1"))
    assert figure(visit.finding, "observed") == pytest.approx(1.0)
    assert visit.outcome == "pass"


def of_step(name: str, **facts: str) -> dict[str, Finding]:
    return {name: replace(found_with(**facts)["earlier"], step=name)}


@pytest.mark.parametrize("order", [("x1", "x10"), ("x10", "x1")])
def test_a_background_of_its_own_scale_goes_before_any_other(bench: Any, order: tuple[str, str]) -> None:
    """Two scales may be two channels: the background of one, taken off the other, would shift every reading of it."""
    each = {
        "x1": of_step("low", background="100 µR/h", background_scale="x1"),
        "x10": of_step("high", background="1 mR/h", background_scale="x10"),
    }
    references = (bench.reference("1.00", at=bench.facts().opened),)
    facts = bench.facts(references=references, findings=each[order[0]] | each[order[1]])
    visit = exposed(bench, PLAIN, ["1.10"], facts, returned=bench.read("0.1"))
    assert figure(visit.finding, "observed") == pytest.approx(1.0)


def test_without_one_of_its_own_the_newest_background_is_taken_off(bench: Any) -> None:
    """One detector has one background, on whichever scale it was read; the one taken last is that of this place."""
    earlier = of_step("there", background="500 µR/h", background_scale="x10")
    later = of_step("here", background="100 µR/h", background_scale="x100")
    references = (bench.reference("1.00", at=bench.facts().opened),)
    facts = bench.facts(references=references, findings=earlier | later)
    visit = exposed(bench, PLAIN, ["1.10"], facts, returned=bench.read("0.1"))
    assert figure(visit.finding, "observed") == pytest.approx(1.0)


def test_of_two_looks_at_the_air_the_newest_counts(bench: Any) -> None:
    """A second look at the thermometer is taken because the first no longer holds."""
    twice = of_step("air-1", temperature_c="-10") | of_step("air-2", temperature_c="20")
    assert bench.facts(findings=twice).fact("temperature_c") == "20"


# --- air


def air_facts(bench: Any, temperature: str = "40", pressure: str = "101.325", **reference: Any) -> Any:
    environment = found_with(temperature_c=temperature, pressure_kpa=pressure)
    at = bench.facts().opened
    there = {"temperature_c": Decimal("20"), "pressure_kpa": Decimal("101.325")} | reference
    return bench.facts(
        source=STILL, air_density="correct", references=(bench.reference("1.00", at=at, **there),), findings=environment
    )


@pytest.mark.parametrize(
    ("temperature", "pressure", "factor"),
    [("40", "101.325", 1.068224), ("0", "101.325", 0.931776), ("20", "83.427577", 1.214526)],
)
def test_the_factor_of_the_day_corrects_the_check_and_goes_into_the_field(
    bench: Any, temperature: str, pressure: str, factor: float
) -> None:
    """Reference 20 °C, 101.325 kPa: factors (computed). A check that is corrected says nothing about a survey that is
    not, so the user gets the factor."""
    visit = exposed(bench, PLAIN, ["0.95"], air_facts(bench, temperature, pressure))
    assert figure(visit.finding, "observed") == pytest.approx(0.95 * factor, rel=1e-6)
    assert float(visit.finding.factor) == pytest.approx(factor, abs=5e-4)
    assert visit.finding.factor in visit.finding.carry[0]


def test_the_reference_reading_is_brought_to_the_same_air(bench: Any) -> None:
    """The same air then and now cancels out."""
    facts = air_facts(bench, "40", "83.4", temperature_c=Decimal(40), pressure_kpa=Decimal("83.4"))
    visit = exposed(bench, PLAIN, ["1.00"], facts)
    assert figure(visit.finding, "ratio") == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize("missing", [{"temperature_c": None}, {"pressure_kpa": None}])
def test_without_temperature_and_pressure_for_either_it_is_not_checked(bench: Any, missing: dict[str, Any]) -> None:
    """A factor that is unknown is not taken for one."""
    assert exposed(bench, PLAIN, [], air_facts(bench, **missing)).outcome == "could not check"
    now = bench.facts(air_density="correct", references=air_facts(bench).references)
    assert exposed(bench, PLAIN, [], now).outcome == "could not check"


@pytest.mark.parametrize("air", ["none", "compensated"])
def test_other_instruments_get_no_correction(bench: Any, air: str) -> None:
    """Sealed chambers get no correction (read), and a compensated one corrects itself."""
    visit = exposed(bench, PLAIN, ["1.00"], replace(air_facts(bench), air_density=air))
    assert (figure(visit.finding, "observed"), visit.finding.factor) == (1.0, "")


# --- uncertainty and the guarded rule


def test_the_parts_of_the_uncertainty_are_kept(bench: Any) -> None:
    """Division once (d/√12), scatter over √n, the reference reading's own; half-life almost nothing after no time
    (GUM 4.3.7, 4.2.3; computed)."""
    visit = exposed(bench, THREE, ["0.99", "1.00", "1.01"])
    assert figure(visit.finding, "u_division") == pytest.approx(0.1 / 12**0.5)
    assert figure(visit.finding, "u_scatter") == pytest.approx(0.01 / 3**0.5)
    assert figure(visit.finding, "u_reference") == pytest.approx(0.01)
    total = (0.01 / 12 + 0.0001 / 3 + 0.0001) ** 0.5
    assert figure(visit.finding, "uncertainty") == pytest.approx(total, rel=1e-3)
    assert 0 <= figure(visit.finding, "chance_outside") < 0.001


def test_a_guarded_rule_draws_the_limits_in(bench: Any) -> None:
    """ILAC-G8:09/2019 4.2.2: acceptance limit = tolerance limit − guard (read); 1.645 u for 5 % (computed)."""
    shape = THREE | GUARDED
    visit = exposed(bench, shape, ["1.18", "1.19", "1.20"])
    assert visit.outcome == "fail"
    guard = figure(visit.finding, "high") - figure(visit.finding, "accept_high")
    assert guard == pytest.approx(1.645 * figure(visit.finding, "uncertainty"), rel=1e-3)
    assert exposed(bench, THREE, ["1.18", "1.19", "1.20"]).outcome == "warn"


def test_an_uncertainty_too_large_for_the_guard_is_no_way_out_of_a_failure(bench: Any) -> None:
    """With no window left a reading inside the limits is not checked; one outside them still fails."""
    shape = PLAIN | GUARDED
    rough = bench.facts(references=(bench.reference("1.00", at=bench.facts().opened, relative_u=0.4),))
    assert exposed(bench, shape, ["1.00"], rough).outcome == "could not check"
    assert exposed(bench, shape, ["0.5"], rough).outcome == "fail"


# --- back to background


def test_it_must_come_back_to_background(bench: Any) -> None:
    """A reading that stays is contamination, a source still near, or a fault: none of them is fit for use."""
    stays = exposed(bench, PLAIN, ["1.00"], returned=bench.read("0.5"), look_back="all away")
    assert (stays.outcome, stays.finding.code) == ("fail", "not-returning")
    forgotten = exposed(
        bench, PLAIN, ["1.00"], returned=bench.read("0.5"), look_back="one was out", returned_anew=bench.read("0.1")
    )
    assert forgotten.outcome == "pass"
    still = exposed(
        bench, PLAIN, ["1.00"], returned=bench.read("0.5"), look_back="one was out", returned_anew=bench.read("0.5")
    )
    assert still.outcome == "fail"


def test_how_near_it_must_come_back_is_the_profiles_to_say(bench: Any) -> None:
    """By default 10 % of what was observed, or one division if that is more."""
    assert exposed(bench, PLAIN, ["1.00"], returned=bench.read("0.1")).outcome == "pass"
    tight = PLAIN | {"returns_within": "0.05 mR/h"}
    assert exposed(bench, tight, ["1.00"], returned=bench.read("0.1"), look_back="all away").outcome == "fail"


def test_it_waits_to_settle_both_ways(bench: Any) -> None:
    """A moving needle is no reading, falling as well as rising."""
    waits = [ask for ask in exposed(bench, THREE, ["1", "1", "1"]).asks if isinstance(ask, Wait)]
    assert [(wait.key, wait.seconds) for wait in waits] == [("settle", 5.0), ("settle-back", 5.0)]


# --- counting

COUNTED = {
    "scale": "rate",
    "source": "daily",
    "readings": 1,
    "limits": {"low": "-20 %", "high": "20 %"},
    "count_time": "60 s",
    "minimum_net": 400,
}


def counting_facts(bench: Any, expected: str = "1000", background: tuple[str, str] = ("36", "60"), **more: Any) -> Any:
    found = found_with(background_counts=background[0], background_seconds=background[1])
    reference = bench.reference(expected, scale="rate", unit="cpm", at=bench.facts().opened)
    return bench.facts(source=STILL, scales=bench.counter, references=(reference,), findings=found, **more)


def counted(bench: Any, counts: list[str], shape: dict[str, Any] | None = None, facts: Any = None, **more: Any) -> Any:
    def count(figure_read: str) -> Any:
        return Reading("rate", Decimal(figure_read), Decimal(1), "counts")

    answers = GOOD | {f"reading-{n}": count(each) for n, each in enumerate(counts, 1)} | {"returned": count("40")}
    answers |= {key.replace("_", "-"): count(value) if value.isdigit() else value for key, value in more.items()}
    return bench.visit(bench.parameters("response", **(shape or COUNTED)), facts or counting_facts(bench), answers)


def test_counts_become_a_net_rate_with_their_own_uncertainty(bench: Any) -> None:
    """1036 in 60 s less 36 in 60 s is 1000 cpm net, standard uncertainty √(1036 + 36) = 32.74 (Poisson, computed)."""
    visit = counted(bench, ["1036"])
    assert visit.outcome == "pass"
    assert figure(visit.finding, "observed") == pytest.approx(1000)
    assert figure(visit.finding, "u_counting") == pytest.approx(1072**0.5)


def test_counts_on_the_limit_pass(bench: Any) -> None:
    """836 less 36 is exactly 80 % of 1000."""
    assert [counted(bench, [each]).outcome for each in ("836", "835", "1236", "1237")] == [
        "pass",
        "fail",
        "pass",
        "fail",
    ]


def test_one_declared_recount_is_pooled_with_the_first(bench: Any) -> None:
    """835 and 841 make 838 a minute: pooled, not chosen. A second bad count ends it."""
    shape = COUNTED | {"recount": True}
    assert counted(bench, ["835"], shape, recount_1="841").outcome == "pass"
    bad = counted(bench, ["835"], shape, recount_1="836")
    assert (bad.outcome, bad.keys[-1]) == ("fail", "recount-1")
    assert "recount-1-start" not in counted(bench, ["1000"], shape).keys


def test_a_source_too_weak_for_enough_counts_is_not_checked(bench: Any) -> None:
    """Too few counts show nothing; that the source is too weak is no fault of the counter."""
    visit = counted(bench, [], facts=counting_facts(bench, "399"))
    assert visit.outcome == "could not check"
    assert visit.asks == ()


def test_a_counter_that_counts_too_few_of_enough_fails(bench: Any) -> None:
    """Few counts from a good source are the instrument's failure, never "too few to judge"."""
    assert counted(bench, ["60"]).outcome == "fail"
    assert counted(bench, ["0"], reading_look_again="both right").finding.code == "no-response"


# --- the proof's side


@pytest.mark.parametrize(
    ("changes", "wrong"),
    [
        ({}, set()),
        ({"scale": "x7"}, {"scale"}),
        ({"limits": {"low": "20 %", "high": "30 %"}}, {"limits.low"}),
        ({"limits": {"low": "-50 %", "high": "50 %"}}, set()),
        ({"limits": {"low": "0 mR/h", "high": "30 %"}}, {"limits.low"}),
        ({"limits": {"low": "-20 %", "high": "-10 %"}}, {"limits.high"}),
        ({"limits": {"low": "1.3 mR/h", "high": "1.3 mR/h"}}, {"limits.low"}),
        ({"limits": {"low": "0 %", "high": "0 %"}}, {"limits.low"}),
        ({"limits": {"low": "100 cpm", "high": "20 %"}}, {"limits.low"}),
        ({"limits": {"low": "-20 %", "high": "20 %", "warn": "20 %"}}, {"limits.warn"}),
        ({"decision": {"rule": "guarded"}}, {"decision.false_accept"}),
        ({"decision": {"false_accept": 0.05}}, {"decision.false_accept"}),
        (
            {"limits": {"low": "-2 %", "high": "2 %"}, "decision": {"rule": "guarded", "false_accept": 0.05}},
            {"decision.false_accept"},
        ),
        ({"spread": "10 cpm"}, {"spread"}),
        ({"spread": "0 %"}, {"spread"}),
        ({"spread": "0 mR/h"}, {"spread"}),
        ({"spread": "50 %"}, set()),
        ({"recount": True}, {"recount"}),
        ({"minimum_net": 400}, {"minimum_net"}),
        ({"count_time": "60 s", "minimum_net": 400}, {"count_time"}),
        ({"count_time": "60 s"}, {"minimum_net", "count_time"}),
        ({"returns_within": "0.01 mR/h"}, {"returns_within"}),
    ],
)
def test_parameters_that_cannot_work_are_named(bench: Any, changes: dict[str, Any], wrong: set[str]) -> None:
    """Limits that pass a dead instrument, fail a perfect one or leave no window are refused with the key at fault."""
    problems = kind("response").check(bench.parameters("response", **(PLAIN | changes)), bench.spec())
    assert {each.key for each in problems} == wrong


@pytest.mark.parametrize(
    "changes",
    [
        {"limits": {"low": "-50.1 %", "high": "20 %"}},
        {"limits": {"low": "-100 %", "high": "20 %"}},
        {"limits": {"low": "-20 %", "high": "50.1 %"}},
        {"limits": {"low": "-20 %", "high": "1000 %"}},
        {"spread": "50.1 %"},
    ],
)
def test_limits_so_wide_that_they_check_nothing_are_refused(bench: Any, changes: dict[str, Any]) -> None:
    """±20 % is common (Illinois licensee radiation manual, read), 10 % some sites'; beyond 50 % a judgement."""
    with pytest.raises(ValidationError, match="far off"):
        bench.parameters("response", **(PLAIN | changes))


def test_it_comes_after_window_zero_and_air_where_the_instrument_has_them(bench: Any) -> None:
    """The proof refuses a response before them; x1 cannot lean on the zero of the coarser x10."""
    spec = bench.spec(has_window=True, needs_zero=True, air_density="correct")
    on_x1 = [need.any_of for need in kind("response").needs(bench.parameters("response", **PLAIN), spec)]
    assert {frozenset({"window"}), frozenset({"zero:x1"}), frozenset({"environment"})} < set(on_x1)
    on_x10 = kind("response").needs(bench.parameters("response", **(PLAIN | {"scale": "x10"})), spec)
    assert frozenset({"zero:x1", "zero:x10"}) in {need.any_of for need in on_x10}


def test_the_chance_that_a_healthy_instrument_fails(bench: Any) -> None:
    """±20 % with u = 8 % of what is expected: outside with chance 1 − 0.987581 (computed)."""
    scatter = 100 * (0.08**2 - REFERENCE_ASSUMED**2 - (0.1 / 12**0.5 / 1.5) ** 2) ** 0.5
    parameters = bench.parameters("response", **(PLAIN | {"scatter": f"{scatter:.6f} %"}))
    (chance,) = kind("response").limits(parameters, bench.spec())
    assert chance.chance == pytest.approx(1 - 0.987581, abs=2e-6)
    guarded = PLAIN | GUARDED
    (drawn_in,) = kind("response").limits(bench.parameters("response", **guarded), bench.spec())
    (simple,) = kind("response").limits(bench.parameters("response", **PLAIN), bench.spec())
    assert drawn_in.chance > simple.chance


@pytest.mark.parametrize(("count", "width"), [(2, 2.772), (3, 3.314), (4, 3.633), (5, 3.858), (10, 4.474)])
def test_the_chance_of_a_range(count: int, width: float) -> None:
    """Upper 5 % points of the range of n normal figures, tables of the studentised range with infinite degrees of
    freedom (memory)."""
    assert range_beyond(width, count) == pytest.approx(0.05, abs=2e-4)


@pytest.mark.parametrize(
    ("low", "high"), [("-20 %", "20 %"), ("0.8 mR/h", "1.2 mR/h"), ("-20 %", "1.2 mR/h"), ("0.8 mR/h", "20 %")]
)
def test_limits_of_either_form_make_a_like_chance(bench: Any, low: str, high: str) -> None:
    """A range written on the instrument and the share it was made from fail a healthy instrument about as rarely."""
    shape = PLAIN | {"limits": {"low": low, "high": high}, "scatter": "6 %"}
    (row,) = kind("response").limits(bench.parameters("response", **shape), bench.spec())
    assert 0.0005 < row.chance < 0.02


def test_a_source_that_is_still_out_is_scanned_once_more(bench: Any) -> None:
    """After a failure and its remedy it is not taken from the store again, but it is looked at again."""
    facts = bench.facts(source=STILL, references=(bench.reference("1.00", at=bench.facts().opened),), first_visit=False)
    first, again = exposed(bench, PLAIN, ["1.00"]).asks[0], exposed(bench, PLAIN, ["1.00"], facts).asks[0]
    assert "from its store" in first.say
    assert "once more" in again.say
    assert again.mark == SOURCE_OUT
