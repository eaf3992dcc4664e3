"""What a person makes of a face."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from bench_walk import START
from hypothesis import given
from hypothesis import strategies as st

from procedures.practice.catalogue import Fault
from procedures.practice.face import DigitsFace, Face
from procedures.practice.instrument import SimInstrument
from procedures.practice.observing import battery_figure, battery_place, below_zero, in_words, read
from procedures.practice.packaged import models
from procedures.trouble import Trouble


def face_of(profile: str, *faults: Fault) -> Face:
    sim = SimInstrument(models()[profile], faults, 1, START, quiet=True)
    sim.set("power", "on")
    sim.advance(90)
    return sim.face()


VENTED = face_of("vented-chamber-analog")


@given(st.floats(-0.05, 1.05))
def test_a_needle_is_read_to_half_a_division(position: float) -> None:
    """Never further off than a quarter of one, and beyond either end it is said to be there."""
    assert VENTED.needle is not None
    face = replace(VENTED, needle=replace(VENTED.needle, position=position))
    reading = read(face)
    divisions = position * 30
    if divisions <= -0.25:
        assert reading.state == "below zero"
        assert below_zero(face) == pytest.approx(-divisions)
    elif divisions >= 30.5:
        assert reading.state == "pegged"
    else:
        assert reading.state == "on scale"
        assert float(reading.figure) / 0.1 == pytest.approx(min(max(divisions, 0), 30), abs=0.2501)
        assert (reading.figure / Decimal("0.05")) % 1 == 0


@pytest.mark.parametrize(
    ("text", "state", "figure"),
    [("42.6", "on scale", "42.6"), ("OL", "pegged", "5000"), ("", "no response", "0"), ("-0.1", "below zero", "0")],
)
def test_a_display_is_read_as_it_stands(text: str, state: str, figure: str) -> None:
    """Its sign for too much is off the end, and a dark display does not respond."""
    reading = read(replace(face_of("sealed-chamber-digital"), digits=DigitsFace(text, "µSv/h")))
    assert (reading.state, reading.figure) == (state, Decimal(figure))


def test_a_battery_is_read_as_its_profile_asks() -> None:
    """By place, by volts on the needle and by percent; not while the test is off."""
    for profile, press in (("vented-chamber-analog", ("selector", "BATT")), ("pancake-ratemeter", ("battery", "down"))):
        sim = SimInstrument(models()[profile], (), 1, START, quiet=True)
        sim.set("power", "on")
        sim.advance(5)
        with pytest.raises(Trouble):
            battery_place(sim.face())
        sim.set(*press)
        sim.advance(5)
        face = sim.face()
        if profile == "vented-chamber-analog":
            assert battery_place(face) == "in the band"
        else:
            assert battery_figure(face) == (pytest.approx(Decimal("6.3"), abs=Decimal("0.1")), "V")
        with pytest.raises(Trouble):
            read(face)
    sealed = SimInstrument(models()["sealed-chamber-digital"], (Fault("cells-low", 0.2),), 1, START, quiet=True)
    sealed.set("power", "on")
    sealed.set("light", "on")
    sealed.set("battery", "down")
    sealed.advance(10)
    figure, unit = battery_figure(sealed.face())
    assert unit == "%"
    assert 0 < figure < 60


@pytest.mark.parametrize("profile", list(models()))
def test_a_face_is_said_in_words_without_reading_it(profile: str) -> None:
    """Line mode says where the needle is among its figures; to read it stays the trainee's part."""
    model = models()[profile]
    sim = SimInstrument(model, (), 1, START)
    sim.set("power", "on")
    sim.set("selector", model.sources[0].scale)
    sim.set("source", model.sources[0].role)
    sim.advance(60)
    words = in_words(sim.face())
    assert all(line.endswith(".") for line in words)
    assert any("In the jig" in line for line in words)
    assert any("divisions above" in line or "display shows" in line for line in words)
    assert not any(model.unit in line for line in words if "needle" in line)


def test_the_battery_test_and_oddities_are_said() -> None:
    """What can be seen is said, and nothing else."""
    sim = SimInstrument(models()["vented-chamber-analog"], (Fault("case-scratched"),), 1, START)
    sim.set("power", "on")
    sim.set("selector", "BATT")
    sim.advance(5)
    words = " ".join(in_words(sim.face()))
    assert "in the band" in words
    assert "scratched" in words
