"""What an instrument shows in the end, when nothing moves any more: the physics without time and without noise.

The simulation follows these values; the truth about an instrument is told from them.
"""

from __future__ import annotations

from dataclasses import dataclass

from procedures.facts import ScaleFacts
from procedures.practice.chamber import air_response
from procedures.practice.counter import CounterModel, awake, registered, true_rate
from procedures.practice.effects import Effects
from procedures.practice.model import Model, full_scale_of
from procedures.practice.sources import SourceModel, arriving
from procedures.practice.surroundings import Room


@dataclass(frozen=True, slots=True)
class Scene:
    """What is around the detector. `further_mm` is how much further away the source is than its jig holds it.

    `light` is a part of bright light; `at_bench` says whether it is at the place where the checkout began; `radio`
    whether one is keyed nearby; `times` multiplies the source, to try scales that it does not reach.
    """

    room: Room
    source: SourceModel | None = None
    further_mm: float = 0.0
    slide_open: bool = False
    light: float = 0.0
    at_bench: bool = True
    radio: bool = False
    elapsed_days: float = 0.0
    times: float = 1.0


def detected(model: Model, effects: Effects, scene: Scene, kept: float = 1.0) -> float:
    """What the detector makes of the scene: a chamber in the unit of the scales, a counter in true pulses a second.

    `kept` is the part of its response that the cells leave it.
    """
    if not effects.signal:
        return 0.0
    own = effects.contamination + scene.room.background + (effects.place if scene.at_bench else 0.0)
    efficiency = effects.response * effects.gas * kept
    if model.counter is None:
        assert model.chamber is not None
        air = air_response(model.chamber, scene.room.temperature_c, scene.room.pressure_kpa)
        return efficiency * air * (_source_level(model, effects, scene) + own)
    counter = model.counter
    rate = efficiency * (_source_rate(model, counter, effects, scene) + own * counter.per_unit)
    picked_up = effects.radio * counter.per_unit if scene.radio else 0.0
    return rate + effects.pulses + effects.leak * scene.light + picked_up


def _source_level(model: Model, effects: Effects, scene: Scene) -> float:
    """The source's part at the air of calibration, in the unit of the scales."""
    source = scene.source
    if source is None or model.chamber is None:
        return 0.0
    then = air_response(model.chamber, source.temperature_c, source.pressure_kpa)
    return source.reading / then * _part(effects, scene, source)


def _source_rate(model: Model, counter: CounterModel, effects: Effects, scene: Scene) -> float:
    """The source's part in true pulses a second: its reference reading was net of background and had dead time."""
    source = scene.source
    if source is None:
        return 0.0
    background = model.room.background * counter.per_unit
    gross = source.reading * counter.per_unit + registered(background, counter.dead_time)
    return (true_rate(gross, counter.dead_time) - background) * _part(effects, scene, source)


def _part(effects: Effects, scene: Scene, source: SourceModel) -> float:
    further = scene.further_mm + effects.shifted_mm
    return arriving(source, scene.elapsed_days, further, float(scene.slide_open)) * effects.source * scene.times


def silent_above(counter: CounterModel, effects: Effects) -> float:
    """The rate above which this tube falls silent."""
    return effects.silent or counter.silent_above


def answered(model: Model, effects: Effects, true: float) -> float:
    """Pulses registered a second out of a true rate, by a tube that may be on its way to silence."""
    counter = model.counter
    assert counter is not None
    return registered(true, counter.dead_time) * awake(true, silent_above(counter, effects))


def in_unit(model: Model, effects: Effects, value: float) -> float:
    """What was detected as a reading: pulses come through dead time and divide by the pulses of one unit."""
    return value if model.counter is None else answered(model, effects, value) / model.counter.per_unit


def on_scale(effects: Effects, scale: ScaleFacts, reading: float) -> float:
    """A reading as the range that is selected shows it, with the pointer bent as it is: a true value, not a figure."""
    name = scale.selector.name
    return reading * effects.scale_response.get(name, 1.0) + effects.bent * full_scale_of(scale)


def reading(model: Model, effects: Effects, scene: Scene, scale: ScaleFacts, own: float = 0.0) -> float:
    """The steady reading on a scale, in the unit of the scales. `own` is what the electrometer adds of itself."""
    followed = in_unit(model, effects, detected(model, effects, scene))
    return on_scale(effects, scale, followed + own)


def time_constant(model: Model, effects: Effects, scale: str, value: float) -> float:
    """Seconds with which the reading follows, on a scale, near a value in the unit of the scales."""
    if model.counter is not None:
        return model.counter.tau(scale) * effects.slow
    assert model.chamber is not None
    return model.chamber.tau(scale, value) * effects.slow
