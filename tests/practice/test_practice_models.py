"""Models: read strictly, and at one with the profile they belong to."""

from __future__ import annotations

from importlib.resources import files
from itertools import pairwise

import pytest

from procedures.practice.facing import figures
from procedures.practice.model import Model, division_of
from procedures.practice.models import read_model
from procedures.practice.packaged import models, profiles
from procedures.practice.pages import PracticeErrors


def text_of(profile: str) -> str:
    return files("demo_profiles").joinpath(f"models/{profile}.toml").read_text(encoding="utf-8")


VENTED, PANCAKE, NEUTRON, SEALED = (
    "vented-chamber-analog", "pancake-ratemeter", "neutron-moderated", "sealed-chamber-digital",
)  # fmt: skip


def refused(profile: str, old: str, new: str) -> PracticeErrors:
    text = text_of(profile)
    assert old in text
    with pytest.raises(PracticeErrors) as told:
        read_model(text.replace(old, new, 1), "model.toml", profiles()[profile])
    return told.value


def test_each_demo_profile_has_a_model() -> None:
    """Whatever the demo shows can be practised on."""
    assert set(models()) == set(profiles())


@pytest.mark.parametrize("model", models().values(), ids=list(models()))
def test_a_model_has_what_its_profile_asks_about(model: Model) -> None:
    """A step that asks for something the bench does not show could not be answered."""
    profile = profiles()[model.profile].profile
    kinds = {step.kind for step in profile.step}
    assert (model.desiccant is not None) == ("desiccant" in kinds)
    assert (model.parts.alarm is not None) == ("alarm" in kinds)
    assert model.parts.window == profile.instrument.has_window
    for step in profile.step:
        if step.kind == "look-over" and getattr(step, "cable", False):
            assert model.parts.cable
        if step.kind == "response":
            source = model.source(getattr(step, "source", ""))
            assert (source.scale, source.geometry) == (getattr(step, "scale", ""), getattr(step, "geometry", ""))
            assert source.reading > 5 * division_of(model.scale(source.scale))


@pytest.mark.parametrize(
    ("profile", "old", "new", "key", "allowed"),
    [
        (VENTED, "slide = true", "slyde = true", "parts.slyde", "slide"),
        (VENTED, 'fresh = "9.4 V"', 'fresh = "9.4"', "cells.fresh", "V"),
        (VENTED, 'fresh = "9.4 V"', 'fresh = "5.0 V"', "cells.flat", "below"),
        (VENTED, 'noise = "0.006 mR/h"', 'noise = "0.006 µSv/h"', "chamber.noise", "mR/h"),
        (VENTED, "x10 =", "x1000 =", "chamber.time_constants.x1000", "x10"),
        (VENTED, 'edges = ["7.0 V", "9.6 V"]', 'edges = ["7.0 V"]', "battery.edges", "2 voltages"),
        (VENTED, 'edges = ["7.0 V", "9.6 V"]', 'edges = ["9.6 V", "7.0 V"]', "battery.edges", "ascending"),
        (VENTED, 'nuclide = "Cs-137"', 'nuclide = "Cs-173"', "source[1].nuclide", "Cs-137"),
        (VENTED, 'role = "daily"', 'role = "dayly"', "source[1].role", "daily"),
        (VENTED, 'scale = "x1"', 'scale = "x7"', "source[1].scale", "x100"),
        (VENTED, 'profile = "vented-chamber-analog"', 'profile = "pancake-ratemeter"', "profile", VENTED),
        (VENTED, "[needle]", "[display]", "display.period", "update"),
        (PANCAKE, "[counter]", '[counter]\nper_unit = "1 cps"', "counter", "left out"),
        (PANCAKE, 'division = "0.2 V"', "", "battery", "division"),
        (NEUTRON, 'per_unit = "0.15 cps"\n', "", "counter", "cps"),
        (SEALED, 'empty = "5.9 V"', "", "battery", "empty"),
        (SEALED, 'slow_below = "1 µSv/h"', "", "chamber", "both"),
        (SEALED, 'update = "1 s"', 'update = "1 m"', "display.update", "s"),
    ],
)
def test_mistakes_are_told_with_their_key(profile: str, old: str, new: str, key: str, allowed: str) -> None:
    """Unknown keys, wrong units, and what does not fit the profile: with the place and what is allowed."""
    told = refused(profile, old, new).errors
    match = [error for error in told if error.key == key]
    assert match, [str(error) for error in told]
    assert allowed in match[0].allowed
    assert match[0].line > 0
    assert match[0].column > 0


def test_a_needle_without_a_needle_is_told() -> None:
    """The wrong indicator for the profile: the missing one, and the one that does not belong."""
    told = refused(VENTED, '[needle]\nperiod = "0.6 s"\ndamping = "70 %"', '[display]\nupdate = "1 s"')
    assert {error.key for error in told.errors} == {"needle", "display"}


@pytest.mark.parametrize("model", models().values(), ids=list(models()))
def test_scales_are_printed_with_few_figures(model: Model) -> None:
    """From 0 to the end, evenly, few enough to be read."""
    for scale in model.scales:
        top = scale.selector.top
        assert top is not None
        printed = figures(top)
        assert 3 <= len(printed) <= 8
        assert printed[0] == (0.0, "0")
        places = [place for place, _ in printed]
        gaps = {round(b - a, 9) for a, b in pairwise(places)}
        assert len(gaps) == 1
        assert places[-1] > 1 - gaps.pop()
