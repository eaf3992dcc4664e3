"""What is seen of an instrument, or works or not: window, gel, cable, case, display, alarm, controls."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from procedures.practice.effects import Effects
from procedures.practice.model import Model
from procedures.practice.truth_measure import Measure, seen
from procedures.profile.load import Loaded


def step_of(profile: Loaded, kind: str) -> Any:
    """The first step of a kind, or None."""
    return next((step for step in profile.profile.step if step.kind == kind), None)


def seen_of(model: Model, profile: Loaded, effects: Effects) -> Iterator[Measure]:
    """All of it. What a profile takes with a warning is no fault."""
    yield seen("case", f"Case: {effects.case}.", good=effects.case == "whole")
    yield seen("outside", f"Outside: {effects.outside}.", good=effects.outside == "below limit")
    if model.parts.cable:
        yield seen("cable", f"Cable: {effects.cable}.", good=effects.cable == "whole" and not effects.touching)
    if model.parts.window:
        step = step_of(profile, "window")
        warned = step is not None and step.dimpled == "warn" and effects.window == "dimpled"
        yield seen("window", f"Window: {effects.window}.", good=effects.window == "whole" or warned)
    if model.desiccant is not None:
        colour = model.desiccant.colour(effects.damp)
        yield seen("desiccant", f"Desiccant: {colour}.", good=colour != model.desiccant.spent, size=effects.damp or 1.0)
    yield seen("signal", "A signal comes from the detector.", good=effects.signal)
    yield from _works(model, effects)


def _works(model: Model, effects: Effects) -> Iterator[Measure]:
    labels = model.labels
    if "zero knob" in labels:
        yield seen("zero knob", "The zero knob moves zero.", good=effects.knob_works)
    if "zero button" in labels:
        yield seen("zero button", "The zero button closes.", good=effects.button_works)
    if "slide" in labels:
        yield seen("slide", "The slide moves.", good=not effects.slide_stuck)
    if "needle" in labels:
        yield seen("needle", "The needle moves.", good=not effects.stuck)
    if "display" in labels:
        yield seen("display", "The display follows.", good=not (effects.frozen or effects.overload))
    if "speaker" in labels:
        yield seen("speaker", "Clicks are heard.", good=effects.speaker)
    if model.parts.alarm is not None:
        yield seen("alarm sound", "The alarm sounds.", good=effects.alarm_sound)
        yield seen("alarm lamp", "The alarm's lamp lights.", good=effects.alarm_lamp)
        at = model.parts.alarm if effects.alarm_at is None else effects.alarm_at
        yield Measure("alarm", "Set point of the alarm.", at, model.parts.alarm, model.parts.alarm, model.unit)
