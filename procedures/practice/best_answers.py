"""The answer that somebody gives who does not look and wants to be done: what a good instrument would show."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from procedures.asks import Acknowledge, Ask, Choice, DateAsk, Place, QuantityAsk, Reading, ReadingAsk, Scan
from procedures.nuclides import decay_factor
from procedures.practice import seeing
from procedures.practice.bench import Bench


def of(bench: Bench, ask: Ask) -> Any:
    """An answer of the form that the ask takes, the best there is."""
    step = seeing.steps_by_id(bench.kit.profile)[bench.run.step]
    match ask:
        case Scan():
            return ask.due
        case Acknowledge():
            return True
        case Choice():
            # The steps name the good one first.
            return ask.options[0].value
        case Place():
            return step.good[0]
        case DateAsk():
            made = bench.run.state.facts.instrument
            return made.calibration_due if getattr(step, "label", "due") == "due" else made.calibrated_on
        case QuantityAsk():
            return _quantity(bench, ask, step)
        case ReadingAsk():
            return _reading(bench, ask, step)
    return "-"


def _quantity(bench: Bench, ask: QuantityAsk, step: Any) -> tuple[Decimal, str]:
    if ask.key == "battery":
        least = step.minimum
        return (least.value if step.maximum is None else (least.value + step.maximum.value) / 2), least.unit
    if ask.key == "set-point":
        return step.set_point.value, step.set_point.unit
    value = seeing.answer(ask, seeing.Sight(bench.face(), bench.kit, step))
    return value[0], value[1]


def _reading(bench: Bench, ask: ReadingAsk, step: Any) -> Reading:
    """Beside its source what the papers lead to expect, without a source what the room usually shows."""
    model = bench.kit.model
    selector = next((each for each in ask.selectors if each.name == ask.wanted), ask.selectors[0])
    level = 0.0 if model.zero is not None else model.room.background
    if ask.key.startswith(("reading-", "recount-", "closed-", "open-")):
        source = model.source(str(getattr(step, "source", "") or model.sources[0].role))
        level += source.reading * decay_factor(source.half_life_days, source.age_days)
    if ask.whole:
        counts = seeing.in_scale_unit(level, model.unit, "cps") * seeing.seconds_of(step, "count_time")
        return Reading(selector.name, Decimal(round(counts)), selector.times, selector.unit)
    part = (selector.division or Decimal(1)) / 2
    figure = round(Decimal(repr(level)) / selector.times / part) * part
    return Reading(selector.name, figure, selector.times, selector.unit)
