"""The instrument on the bench: fixed by its seed, indifferent to how time is cut, worked by its controls."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from bench_walk import START, Walk, indicated
from hypothesis import given, settings
from hypothesis import strategies as st

from procedures.practice.catalogue import Fault
from procedures.practice.controls import controls_of
from procedures.practice.face import Face
from procedures.practice.instrument import SimInstrument
from procedures.practice.packaged import models
from procedures.routing import ACTIONS
from procedures.trouble import Trouble

PROFILES = ("alpha-scaler", "neutron-moderated", "pancake-ratemeter", "sealed-chamber-digital", "vented-chamber-analog")
VENTED, SEALED, ALPHA, PANCAKE = (PROFILES[n] for n in (4, 3, 0, 2))


def made(profile: str, *faults: Fault, seed: int = 1, quiet: bool = False, step: float = 0.05) -> SimInstrument:
    return SimInstrument(models()[profile], faults, seed, START, quiet=quiet, step=step)


def beside_its_source(sim: SimInstrument, seconds: float) -> list[Face]:
    source = sim.model.sources[0]
    sim.set("power", "on")
    sim.set("selector", source.scale)
    sim.set("source", source.role)
    faces = []
    for _ in range(round(seconds)):
        sim.advance(1)
        faces.append(sim.face())
    return faces


@pytest.mark.parametrize("profile", PROFILES)
def test_a_seed_fixes_everything(profile: str) -> None:
    """A trainer can set the same instrument before everybody; another seed is another morning."""
    first, again, other = (beside_its_source(made(profile, seed=seed), 40) for seed in (1, 1, 2))
    assert first == again
    assert first != other


@pytest.mark.parametrize("profile", PROFILES)
@given(st.lists(st.integers(1, 4_000_000), min_size=1, max_size=30))
@settings(max_examples=8, deadline=None)
def test_it_does_not_matter_how_time_is_cut(profile: str, cuts: list[int]) -> None:
    """A face on a screen and a headless observer meet the same instrument, to the last bit."""
    once, often = made(profile), made(profile)
    for sim in (once, often):
        sim.set("power", "on")
        sim.set("source", sim.model.sources[0].role)
    once.advance(sum(cuts) / 1_000_000)
    for cut in cuts:
        often.advance(cut / 1_000_000)
    assert often.face() == once.face()


@pytest.mark.parametrize("profile", PROFILES)
def test_the_length_of_a_step_hardly_matters(profile: str) -> None:
    """Without noise, steps of 10 ms and 100 ms show the same to a tenth of a division two seconds after any change.

    A display may put its figure up one step later, so it is compared once it rests.
    """
    fine, coarse = (made(profile, quiet=True, step=step) for step in (0.01, 0.1))
    source = fine.model.sources[0]
    script = [("power", "on", 30.0), ("selector", source.scale, 2.0), ("source", source.role, 2.0), ("further", 5.0, 2)]
    for control, value, seconds in script:
        for sim in (fine, coarse):
            sim.set(control, value)
            sim.advance(seconds if sim.face().needle is not None else 90.0)
        one, other = indicated(fine.face()), indicated(coarse.face())
        assert isinstance(one, float)
        assert isinstance(other, float)
        digit = 0 if fine.face().digits is None else 1
        assert one == pytest.approx(other, abs=0.1 + digit)


@pytest.mark.parametrize("profile", PROFILES)
def test_off_it_shows_nothing_and_a_long_while_passes_quickly(profile: str) -> None:
    """A night on the shelf is stepped over: the cells stay, the clock goes on."""
    sim = made(profile)
    sim.advance(86_400)
    face = sim.face()
    assert face.seconds == 86_400
    assert not face.on
    assert face.battery is None
    assert face.clicks == 0
    assert face.digits is None or face.digits.text == ""
    assert face.needle is None or face.needle.position == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("profile", PROFILES)
def test_every_control_is_worked_and_wrong_ones_are_told(profile: str) -> None:
    """Whatever is asked of an instrument there is an answer: done, or trouble that says what is allowed."""
    sim = made(profile)
    for control, words in controls_of(sim.model).items():
        for value in words:
            sim.set(control, value)
            sim.advance(0.5)
            sim.face()
        for wrong in ("sideways", float("nan"), -1e12):
            with pytest.raises(Trouble) as told:
                sim.set(control, wrong)
            assert told.value.allowed
    with pytest.raises(Trouble, match="no control"):
        sim.set("ejector", "pull")
    with pytest.raises(Trouble):
        sim.advance(-1)
    with pytest.raises(Trouble):
        sim.remedy("prayer")


@given(
    st.lists(st.tuples(st.integers(0, 200), st.integers(0, 20), st.floats(0, 30)), max_size=25),
    st.sampled_from(PROFILES),
)
@settings(max_examples=60, deadline=None)
def test_no_order_of_things_done_breaks_it(acts: list[tuple[int, int, float]], profile: str) -> None:
    """People press anything: a face can always be had, its needle stays between its stops, its display has a text."""
    sim = made(profile)
    controls = sorted(controls_of(sim.model).items())
    for which, value, seconds in acts:
        control, words = controls[which % len(controls)]
        sim.set(control, words[value % len(words)] if words else float(value % 9 + 1))
        if which % 11 == 0:
            sim.remedy(sorted(ACTIONS)[value % len(ACTIONS)])
        sim.advance(seconds)
        face = sim.face()
        if face.needle is not None:
            assert -0.051 <= face.needle.position <= 1.051
        assert face.counting >= 0
        assert face.clicks >= 0


def test_a_time_without_a_zone_is_refused() -> None:
    """Decay and labels hang on the moment."""
    with pytest.raises(Trouble, match="time zone"):
        SimInstrument(models()[VENTED], (), 1, datetime(2031, 5, 6))


def test_the_zero_button_shorts_the_input_and_kicks_when_let_go() -> None:
    """The transient the profile waits for is there, and is gone when it has waited."""
    sim = made(VENTED, quiet=True)
    sim.set("power", "on")
    sim.advance(60)
    sim.set("source", "daily")
    sim.advance(15)
    sim.set("zero", "down")
    sim.advance(8)
    down = sim.face()
    assert down.held == ("zero",)
    assert abs(float(str(indicated(down)))) < 1
    sim.set("source", "away")
    sim.advance(5)
    sim.set("zero", "up")
    sim.advance(0.6)
    kicked = indicated(sim.face())
    sim.advance(8)
    rests = indicated(sim.face())
    assert isinstance(kicked, float)
    assert isinstance(rests, float)
    assert kicked > 3
    assert abs(rests) < 0.5


def test_a_damp_chamber_creeps_up_when_the_button_is_let_go() -> None:
    """What tells damp from a zero that is off: with the button down it is at zero."""
    walk = Walk(models()[VENTED], (Fault("desiccant-spent", 0.8),))
    walk.sim.set("power", "on")
    walk.sim.advance(60)
    walk.sim.set("zero", "down")
    walk.sim.advance(8)
    walk.set_zero()
    with_button = indicated(walk.sim.face())
    walk.sim.set("zero", "up")
    walk.sim.advance(20)
    without = indicated(walk.sim.face())
    assert isinstance(with_button, float)
    assert isinstance(without, float)
    assert abs(with_button) < 0.1
    assert without > 1.5
    assert walk.sim.face().look.desiccant == "green"


def test_fresh_gel_dries_nothing_in_a_minute_and_most_in_a_day() -> None:
    """A lockout for damp lasts a day for this reason."""
    sim = made(VENTED, Fault("desiccant-spent", 0.9), quiet=True)

    def rests() -> float:
        sim.set("power", "on")
        sim.advance(120)
        figure = indicated(sim.face())
        sim.set("power", "off")
        assert isinstance(figure, float)
        return figure

    damp = rests()
    sim.remedy("desiccant-changed")
    assert sim.face().look.desiccant == "amber"
    sim.advance(60)
    assert rests() > 0.8 * damp
    sim.advance(86_400)
    assert rests() < 0.2 * damp


def test_fresh_cells_and_a_seated_plug_mend_what_they_mend() -> None:
    """Remedies of the profiles work on what they are for, and the instrument is off afterwards."""
    sim = made(PANCAKE, Fault("cells-tired", 14.0), Fault("cable-intermittent", 0.6))
    assert sim.face().look.cable == "loose"
    sim.set("power", "on")
    sim.remedy("cable-reseated")
    assert sim.face().look.cable == "whole"
    assert not sim.face().on
    sim.remedy("fresh-cells")
    sim.set("power", "on")
    sim.advance(30)
    sim.set("battery", "down")
    sim.advance(20)
    face = sim.face()
    assert face.needle is not None
    assert face.needle.position * 10 > 6


def test_a_fault_waits_for_its_moment() -> None:
    """After so long of being on, or at a control, and not before."""
    late = made(ALPHA, Fault("overload-stays", after=25.0), quiet=True)
    late.set("power", "on")
    late.advance(24.9)
    assert indicated(late.face()) != "OL"
    late.advance(0.2)
    assert indicated(late.face()) == "OL"
    at = made(VENTED, Fault("case-loose", at="slide"))
    assert at.face().look.case == "whole"
    at.set("slide", "open")
    assert at.face().look.case == "loose"


def test_a_scaler_counts_for_its_time() -> None:
    """So many seconds at 520 pulses a second; the display keeps the count until it is reset."""
    sim = made(ALPHA)
    sim.set("power", "on")
    sim.set("source", "plate")
    sim.advance(5)
    sim.set("count", 30.0)
    sim.advance(12)
    assert sim.face().counting == pytest.approx(18)
    sim.advance(20)
    digits = sim.face().digits
    assert digits is not None
    assert digits.counts
    assert int(digits.text) == pytest.approx(15_620, abs=4 * 125 + 300)  # four √n, and how well the plate was placed
    sim.advance(20)
    assert sim.face().digits == digits
    sim.set("reset", "press")
    sim.advance(60)
    assert sim.face().digits != digits


def test_it_sets_its_own_zero_when_it_is_switched_on() -> None:
    """The digital chamber has no zero control: offsets of electronics are gone after its self-test."""
    sim = made(SEALED, quiet=True)
    sim.set("power", "on")
    sim.advance(20)
    before = indicated(sim.face())
    sim.advance(40)
    after = indicated(sim.face())
    assert isinstance(before, float)
    assert isinstance(after, float)
    assert before > after == pytest.approx(1, abs=1)


def test_a_window_behind_a_slide_is_not_seen_until_it_is_opened() -> None:
    """Looking is part of the work."""
    sim = made(VENTED, Fault("window-torn"))
    assert sim.face().look.window == ""
    sim.set("slide", "open")
    assert sim.face().look.window == "torn or holed"


def test_the_label_carries_a_day_that_fits_the_reference() -> None:
    """Calibrated before the reference reading was taken, and due a year later."""
    sim = made(VENTED)
    look = sim.face().look
    source = sim.model.sources[0]
    assert look.calibrated is not None
    assert look.calibrated < source.referenced(START).date()
    assert look.due == look.calibrated + timedelta(days=365)


def test_clicks_follow_the_source_and_the_speaker() -> None:
    """Heard beside the source, not with the speaker off, and hardly at background."""
    sim = made(PANCAKE)
    sim.set("power", "on")
    sim.advance(30)
    quiet = sim.face().clicks
    sim.set("source", "daily")
    sim.advance(10)
    loud = sim.face().clicks
    assert loud > 30 > 10 > quiet
    sim.set("speaker", "off")
    assert sim.face().clicks == 0
