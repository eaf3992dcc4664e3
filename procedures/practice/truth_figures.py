"""What an instrument measures wrong: response on each scale, settling, scatter, zero, drift, cells, light, pick-up."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from procedures.facts import ScaleFacts
from procedures.nuclides import decay_factor
from procedures.practice import steady
from procedures.practice.cells import regulated, under_load
from procedures.practice.chamber import air_response
from procedures.practice.effects import Effects
from procedures.practice.electrometer import leakage, offset
from procedures.practice.model import Model, division_of, full_scale_of
from procedures.practice.sources import SourceModel
from procedures.practice.steady import Scene
from procedures.practice.surroundings import Room
from procedures.practice.truth_measure import Measure
from procedures.practice.truth_seen import step_of
from procedures.profile.load import Loaded
from procedures.settling import ratemeter_scatter
from procedures.steps._response_profile import ResponseParameters
from procedures.steps._response_setting import RETURN_SHARE
from procedures.steps.base import seconds
from procedures.units import Quantity, number_in

BAND_ERROR: Final = 0.01
"""What a person may misread of a needle against the edge of a band, as a part of the scale: a judgement, no source."""

DRIFT_OVER_S: Final = 600.0
"""Time over which zero has to stay, where the profile states none: about a checkout."""

_MEAN_RANGE: Final = {1: 0.0, 2: 1.128, 3: 1.693, 4: 2.059, 5: 2.326, 6: 2.534, 7: 2.704, 8: 2.847, 9: 2.970, 10: 3.078}
"""d₂: mean range of so many normal values, in standard deviations (tables of control charts, from memory)."""


def figures_of(model: Model, profile: Loaded, effects: Effects, room: Room) -> Iterator[Measure]:
    """All of it, in the unit of the scales where nothing else is said."""
    for step in profile.profile.step:
        if isinstance(step, ResponseParameters) and any(each.role == step.source for each in model.sources):
            yield from _Response(model, profile, effects, room, step).measures()
    rest = _rest(model, effects, room)
    yield from _at_rest(model, profile, effects, rest)
    yield _battery(model, profile, effects)
    yield from _light(model, profile, effects)
    yield from _half_division("pick-up", "What radio adds.", effects.radio, division_of(model.scales[0]), model.unit)
    if model.needle is not None:
        divisions = full_scale_of(model.scales[0]) / division_of(model.scales[0])
        yield from _half_division("sticking", "How far the needle sticks.", effects.sticks * divisions, 1, "divisions")
        yield from _half_division("pointer", "How far beside zero.", abs(effects.bent) * divisions, 1, "divisions")


def _half_division(name: str, say: str, size: float, division: float, unit: str) -> Iterator[Measure]:
    """Something that a sound instrument has not: half a division of it is allowed, since it cannot be seen."""
    yield Measure(name, say, size, -math.inf, division / 2, unit, division / 2)


class _Response:
    """One response step: what its source shows in the end, on its own scale and on the others."""

    def __init__(self, model: Model, profile: Loaded, effects: Effects, room: Room, step: ResponseParameters) -> None:
        self.model, self.profile, self.effects, self.room, self.step = model, profile, effects, room, step
        self.source: SourceModel = model.source(step.source)
        self.own = model.scale(step.scale)
        volts = under_load(model.cells, _charge(effects), 1.0, tired=effects.tired, wrong=effects.wrong_cells)
        self.kept = regulated(model.cells, volts)
        self.low, self.high = (self._relative(each) for each in (step.limits.low, step.limits.high))

    def _relative(self, limit: Quantity) -> float:
        """A limit as a ratio to what is expected; those written as a level hold for the step's own scale."""
        if limit.unit == "%":
            return 1 + float(limit.value) / 100
        return float(number_in(limit, self.model.unit)) / self._expected(1.0)

    def _expected(self, times: float) -> float:
        """The reference reading, decayed, at the air of now where readings are corrected for it."""
        source, chamber = self.source, self.model.chamber
        value = source.reading * decay_factor(source.half_life_days, source.age_days) * times
        if chamber is None or self.profile.procedure.air_density == "none":
            return value
        now = air_response(chamber, self.room.temperature_c, self.room.pressure_kpa)
        return value * now / air_response(chamber, source.temperature_c, source.pressure_kpa)

    def ratio(self, scale: ScaleFacts) -> float:
        """Net steady reading over what is expected.

        A scale that the check source does not reach is tried with one so much stronger that the needle is where it is
        on the step's own scale: true of the instrument, though no checkout may show it.
        """
        times = full_scale_of(scale) / full_scale_of(self.own)
        scene = Scene(self.room, at_bench=False)
        beside = Scene(self.room, self.source, at_bench=False, times=times)
        with_source, without = (
            steady.on_scale(
                self.effects,
                scale,
                steady.in_unit(self.model, self.effects, steady.detected(self.model, self.effects, each, self.kept)),
            )
            for each in (beside, scene)
        )
        return (with_source - without) / self._expected(times)

    def measures(self) -> Iterator[Measure]:
        for scale in self.model.scales:
            name = scale.selector.name
            error = division_of(scale) / 2 / self._expected(full_scale_of(scale) / full_scale_of(self.own))
            say = f"Steady response on {name} over what is expected."
            yield Measure(f"response {name}", say, self.ratio(scale), self.low, self.high, "", error)
        yield from self._settling()
        yield from self._return()
        yield from self._scatter()

    def _tau(self) -> float:
        return steady.time_constant(self.model, self.effects, self.step.scale, self.source.reading)

    def _settling(self) -> Iterator[Measure]:
        """What has been reached when the profile's wait is over, as a part of the end value."""
        if self.step.settle is None:
            return
        reached = -math.expm1(-seconds(self.step.settle) / self._tau())
        error = division_of(self.own) / 2 / self._expected(1.0)
        yield Measure("settling", "Part reached when the wait is over.", reached, self.low, math.inf, "", error)

    def _return(self) -> Iterator[Measure]:
        """What is left of the reading when the wait after the source went away is over, and what may be left."""
        shown = self.ratio(self.own) * self._expected(1.0)
        if self.step.settle is None or shown <= 0:
            return
        within, error = self.step.returns_within, division_of(self.own) / 2
        if within is None:
            most = max(float(RETURN_SHARE) * shown, division_of(self.own))
        else:
            most = float(number_in(within, self.model.unit))
        left = self._left(shown, seconds(self.step.settle))
        if step_of(self.profile, "background") is None:
            # Nothing is taken off what it reads with all sources away.
            left += self.room.background
        yield Measure("return", "Left when the wait is over.", left, -math.inf, most, self.model.unit, error)

    def _left(self, shown: float, wait: float) -> float:
        """What is left of a reading after a time: it falls as e^(−t/τ), with another τ where the chamber is slow."""
        chamber, tau = self.model.chamber, self._tau()
        if chamber is None or not chamber.slow_below or shown <= chamber.slow_below:
            return shown * math.exp(-wait / tau)
        fast = tau * math.log(shown / chamber.slow_below)
        if wait <= fast:
            return shown * math.exp(-wait / tau)
        slow = steady.time_constant(self.model, self.effects, self.step.scale, 0.0)
        return chamber.slow_below * math.exp(-(wait - fast) / slow)

    def _scatter(self) -> Iterator[Measure]:
        """The mean range of as many readings as the profile takes, against the spread that it allows."""
        spread, model, expected = self.step.spread, self.model, self._expected(1.0)
        if spread is None:
            return
        if model.counter is not None:
            sigma = ratemeter_scatter(expected * model.counter.per_unit, self._tau()) / model.counter.per_unit
        else:
            assert model.chamber is not None
            sigma = model.chamber.sigma(expected) * self.effects.noise
        between = _MEAN_RANGE[self.step.readings] * sigma / expected
        allowed = float(spread.value) / 100 if spread.unit == "%" else float(number_in(spread, model.unit)) / expected
        error = division_of(self.own) / 2 / expected
        yield Measure("scatter", "Mean range of the readings.", between, -math.inf, allowed, "", error)


def _charge(effects: Effects) -> float:
    return 1.0 if effects.charge is None else effects.charge


def _rest(model: Model, effects: Effects, room: Room) -> float:
    """What it shows with all sources away, on its lowest scale, when zero was set as well as it can be."""
    scale = model.scales[0]
    value = steady.in_unit(model, effects, steady.detected(model, effects, Scene(room, at_bench=False)))
    if model.zero is None:
        return steady.on_scale(effects, scale, value)
    value += leakage(model.desiccant, effects.damp)
    if model.zero.auto_after:
        value += effects.offset
    elif model.zero.knob and not effects.knob_works:
        value += effects.offset + offset(model.zero, math.inf, room.temperature_c)
    # A pointer that is bent is set to zero like any other on the scale where zero is set.
    return value * effects.scale_response.get(scale.selector.name, 1.0)


def _at_rest(model: Model, profile: Loaded, effects: Effects, rest: float) -> Iterator[Measure]:
    """Rest, drift and the kick, against what the profile allows of zero or background."""
    low, high = _allowed_at_rest(model, profile)
    error = division_of(model.scales[0]) / 2
    yield Measure("rest", "What it shows with all sources away.", rest, low, high, model.unit, error)
    zero = step_of(profile, "zero")
    if model.chamber is not None:
        over = DRIFT_OVER_S if zero is None or zero.drift_after is None else seconds(zero.drift_after)
        within = None if zero is None else zero.drift_within
        most = high if within is None else float(number_in(within, model.unit))
        yield Measure("drift", "How far zero goes.", effects.drift * over, -most, most, model.unit, error)
    if model.zero is not None and model.zero.kick and zero is not None and zero.settle is not None:
        left = model.zero.kick * math.exp(-seconds(zero.settle) / (model.zero.kick_fades * effects.kick_slow))
        yield Measure("kick", "Left of the kick after the wait.", left, -math.inf, high, model.unit, error)


def _allowed_at_rest(model: Model, profile: Loaded) -> tuple[float, float]:
    zero, background, response = (step_of(profile, kind) for kind in ("zero", "background", "response"))
    if zero is not None:
        within = float(number_in(zero.within, model.unit))
        return -within, within
    if background is not None:
        return -math.inf, float(number_in(background.highest, model.unit))
    if response is None:
        return -math.inf, model.room.background + division_of(model.scales[0])
    if response.returns_within is not None:
        most = float(number_in(response.returns_within, model.unit))
    else:
        share = float(RETURN_SHARE) * model.source(response.source).reading
        most = max(share, division_of(model.scale(response.scale)))
    return model.room.background - most, model.room.background + most


def _battery(model: Model, profile: Loaded, effects: Effects) -> Measure:
    """Volts under the load of the test, or percent, against what the profile takes for good."""
    battery, cells, step = model.battery, model.cells, step_of(profile, "battery")
    load = 1 + cells.test + cells.speaker + (cells.light if step.load else 0.0)
    volts = under_load(cells, _charge(effects), load, tired=effects.tired, wrong=effects.wrong_cells)
    say = "Cells under the load of the test."
    if battery.reads == "places":
        edges = (-math.inf, *battery.edges, math.inf)
        good = [n for n, place in enumerate(battery.places) if place in (*step.good, *step.marginal)]
        error = BAND_ERROR * battery.full
        return Measure("battery", say, volts, edges[min(good)], edges[max(good) + 1], "V", error)
    if battery.reads == "percent":
        low = float(number_in(step.minimum, "%"))
        return Measure("battery", say, battery.percent(volts), low, math.inf, "%", 0.5)
    low = float(number_in(step.minimum, "V"))
    high = math.inf if step.maximum is None else float(number_in(step.maximum, "V"))
    return Measure("battery", say, volts, low, high, "V", battery.division / 2)


def _light(model: Model, profile: Loaded, effects: Effects) -> Iterator[Measure]:
    step = step_of(profile, "window")
    if model.counter is None or step is None or step.light_scale is None:
        return
    error = division_of(model.scale(step.light_scale)) / 2
    moved = steady.in_unit(model, effects, effects.leak)
    most = float(number_in(step.light_within, model.unit))
    yield Measure("light", "What bright light adds.", moved, -math.inf, most, model.unit, error)
