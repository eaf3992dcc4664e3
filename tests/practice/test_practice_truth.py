"""The truth: at one with the simulation, with limits and margins, and silent where a reading error decides."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from bench_walk import START, Walk
from hypothesis import given
from hypothesis import strategies as st

from procedures.practice.catalogue import Fault, remaining
from procedures.practice.instrument import SimInstrument
from procedures.practice.model import division_of
from procedures.practice.packaged import cases, models, profiles
from procedures.practice.truth import Truth, truth_of
from procedures.practice.truth_measure import Measure
from procedures.steps._response_setting import RETURN_SHARE

VENTED, PANCAKE, SEALED, ALPHA = "vented-chamber-analog", "pancake-ratemeter", "sealed-chamber-digital", "alpha-scaler"

DISPOSITIONS = {
    "vented-sound": "sound",
    "vented-gel-turning": "sound",
    "vented-knob-knocked": "sound",
    "vented-scratched-and-stiff": "sound",
    "vented-weak-source": "sound",
    "vented-source-slipped": "sound",
    "vented-high-up": "sound",
    "pancake-hot-bench": "sound",
}
"""Cases in which the instrument itself is sound; in all others it is faulty."""


def told(profile: str, *faults: Fault) -> Truth:
    return truth_of(models()[profile], profiles()[profile], faults)


@pytest.mark.parametrize("profile", list(models()))
def test_a_sound_instrument_is_sound(profile: str) -> None:
    """Nothing beyond its limits and nothing near them: it can be scored."""
    truth = told(profile)
    assert truth.verdict == "sound"
    assert truth.deviations == ()
    assert not truth.near_limit


@pytest.mark.parametrize("name", list(cases()))
def test_each_case_has_its_disposition(name: str) -> None:
    """None of the packaged cases is near a limit, and a fault of source or place is not the instrument's."""
    case = cases()[name]
    truth = truth_of(models()[case.profile], profiles()[case.profile], case.faults, case.room)
    assert truth.verdict == DISPOSITIONS.get(name, "faulty")
    beside = [fault for fault in case.faults if fault.what.of in ("source", "place", "papers")]
    assert len(truth.outside) == len(beside)
    if truth.verdict == "faulty":
        assert all(each.margin < 0 for each in truth.deviations)


BESIDE = {"needle-stuck", "display-frozen", "needle-sticky", "zero-drift", "source-weak", "source-slipped"}
"""Faults of the indicator, of the source, and of time: with these the bench shows something else in the end."""


@pytest.mark.parametrize(
    "name", [name for name, case in cases().items() if BESIDE.isdisjoint(f.kind for f in case.faults)]
)
def test_the_truth_is_what_the_bench_shows_in_the_end(name: str) -> None:
    """The computed ratio is that of the settled simulation without noise, to a tenth of a division or one digit."""
    case, model = cases()[name], models()[cases()[name].profile]
    truth = truth_of(model, profiles()[case.profile], case.faults, case.room)
    source = model.sources[0]
    sim = SimInstrument(model, case.faults, 1, START, room=case.room, quiet=True)
    sim.set("power", "on")
    sim.set("cover", "covered")
    sim.set("selector", source.scale)
    shown = []
    for role in ("away", source.role):
        sim.set("source", role)
        sim.advance(400)
        shown.append(_value(sim))
    measured = truth_response(truth, source.scale)
    expected = expected_reading(sim, case.room.temperature_c, case.room.pressure_kpa)
    step = division_of(model.scale(source.scale)) / expected
    slack = 0.1 * step if model.needle is not None else 1.01 * step
    assert (shown[1] - shown[0]) / expected == pytest.approx(measured, abs=slack)


def _value(sim: SimInstrument) -> float:
    face = sim.face()
    assert face.selector is not None
    if face.needle is not None:
        return face.needle.position * float(face.selector.top or 0) * float(face.selector.times)
    assert face.digits is not None
    return float(face.digits.text)


def truth_response(truth: Truth, scale: str) -> float:
    return next(each.size for each in truth.measures if each.name == f"response {scale}")


def expected_reading(sim: SimInstrument, temperature: float, pressure: float) -> float:
    """Reference reading times what is left of the source (2^(−t/T)) and, in a vented chamber, the air's density."""
    source, chamber = sim.model.sources[0], sim.model.chamber
    left = 2 ** (-source.age_days / source.half_life_days)
    if chamber is None or not chamber.vented:
        return source.reading * left
    then = source.pressure_kpa / (273.15 + source.temperature_c)
    return source.reading * left * pressure / (273.15 + temperature) / then


def test_a_scale_that_no_checkout_shows_is_told_all_the_same() -> None:
    """x10 is out of adjustment: true of the instrument, though its checkout reads the source on x1 alone."""
    truth = told(VENTED, Fault("scale-off", -0.45, scale="x10"))
    assert [each.name for each in truth.deviations] == ["response x10"]
    assert truth.deviations[0].size == pytest.approx(0.55, abs=1e-6)
    assert truth.deviations[0].margin == pytest.approx(-0.25, abs=1e-6)


@given(st.floats(-0.6, -0.01))
def test_near_the_limit_nothing_is_scored(level: float) -> None:
    """Low limit −20 %, half a division is 0.05 of 1.66 mR/h: 3 % either side decide nothing, outside it is clear."""
    truth = told(VENTED, Fault("response-low", level))
    expected = 1.66 * 2 ** (-110 / 11018.3)
    half = 0.05 / expected
    air = 1 / ((273.15 + 18) / (273.15 + 21) * 99.4 / 100.8)
    half /= air
    distance = 1 + level - 0.8
    if abs(abs(distance) - half) < 1e-3:
        return
    if abs(distance) < half:
        assert truth.verdict == "near the limit"
        assert truth.near_limit
    else:
        assert truth.verdict == ("sound" if distance > 0 else "faulty")


@given(st.floats(-1, 3), st.floats(0.5, 0.99), st.floats(1.01, 1.5), st.floats(0, 0.2))
def test_a_measure_is_beyond_exactly_outside_its_limits(size: float, low: float, high: float, error: float) -> None:
    """The margin is the distance to the nearer limit, negative beyond it; what is far beyond is never near."""
    measure = Measure("m", "M.", size, low, high, "", error)
    assert measure.beyond == (size < low or size > high)
    assert measure.margin == pytest.approx(min(size - low, high - size))
    if measure.margin < -error:
        assert not measure.near
    assert not replace(measure, size=(low + high) / 2).near


def test_one_limit_alone_has_an_inside() -> None:
    """A tolerance of half a division with a sound value far inside is not near."""
    assert not Measure("kick", "K.", 0.003, -math.inf, 0.05, "mR/h", 0.05).near
    assert Measure("kick", "K.", 0.049, -math.inf, 0.05, "mR/h", 0.05).near


@pytest.mark.parametrize(
    ("profile", "fault", "name"),
    [
        (VENTED, Fault("desiccant-spent", 0.8), "desiccant"),
        (VENTED, Fault("cells-low", 0.03), "battery"),
        (PANCAKE, Fault("cells-tired", 14), "battery"),
        (PANCAKE, Fault("cells-wrong", 0.25), "battery"),
        (SEALED, Fault("cells-low", 0.01), "battery"),
        (PANCAKE, Fault("cable-broken"), "signal"),
        (PANCAKE, Fault("speaker-dead"), "speaker"),
        (ALPHA, Fault("light-leak", 5.0), "light"),
        (SEALED, Fault("alarm-moved", 100.0), "alarm"),
        (VENTED, Fault("zero-drift", 0.1), "drift"),
        (VENTED, Fault("kick-lasts", 4.0), "kick"),
        (VENTED, Fault("slow-response", 5.0), "settling"),
        (SEALED, Fault("noisy", 9.0), "scatter"),
        (VENTED, Fault("needle-bent", 0.06), "pointer"),
        (VENTED, Fault("needle-stuck"), "needle"),
        (ALPHA, Fault("window-dirty", -0.25), "window"),
    ],
)
def test_each_sort_of_fault_is_told_by_its_own_measure(profile: str, fault: Fault, name: str) -> None:
    """What was wrong is named, not only that something was."""
    truth = told(profile, fault)
    assert truth.verdict == "faulty"
    assert name in [each.name for each in truth.deviations]


def test_what_was_mended_is_sound_again() -> None:
    """After fresh cells an instrument with old ones is sound; what they do not mend stays."""
    faults = (Fault("cells-tired", 14), Fault("case-cracked"))
    assert remaining(faults, "fresh-cells", "surface-wiped") == (faults[1],)
    assert told(PANCAKE, *remaining(faults[:1], "fresh-cells")).verdict == "sound"
    assert remaining(faults) == faults


def test_a_dimpled_window_is_what_its_profile_takes_it_for() -> None:
    """The alpha probe's profile lets it pass with a warning, the chamber's does not."""
    assert told(ALPHA, Fault("window-dimpled")).verdict == "sound"
    assert told(VENTED, Fault("window-dimpled")).verdict == "faulty"


def test_missing_papers_are_no_fault_of_the_instrument() -> None:
    """Its checkout cannot be ended without a label; the instrument is sound."""
    truth = told(SEALED, Fault("label-missing"))
    assert truth.verdict == "sound"
    assert truth.outside == ("The calibration label is gone.",)


def test_rest_is_what_a_well_set_instrument_shows() -> None:
    """What the truth says of a damp chamber at rest is where its needle stays after zero was set with care."""
    walk = Walk(models()[VENTED], (Fault("desiccant-spent", 0.8),))
    walk.sim.set("power", "on")
    walk.sim.advance(120)
    walk.sim.set("zero", "down")
    walk.sim.advance(8)
    walk.set_zero()
    walk.sim.set("zero", "up")
    walk.sim.advance(60)
    needle = walk.sim.face().needle
    assert needle is not None
    rest = next(each.size for each in told(VENTED, Fault("desiccant-spent", 0.8)).measures if each.name == "rest")
    assert needle.position * 3 == pytest.approx(rest, abs=0.01)


def test_what_is_left_after_the_source_went_away_is_compared() -> None:
    """After 15 s with τ = 2.5 s · 3.3 a sixth is left, e^(−15/8.25) = 0.162, and the usual share is allowed."""
    truth = told(SEALED, Fault("slow-response", 3.3))
    left = next(each for each in truth.measures if each.name == "return")
    shown = left.high / float(RETURN_SHARE)
    background = models()[SEALED].room.background
    assert left.size == pytest.approx(shown * math.exp(-15 / (2.5 * 3.3)) + background, rel=1e-9)
    assert left.beyond
    assert "return" not in [each.name for each in told(SEALED).deviations]
