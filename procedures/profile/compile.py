"""From a profile to what runs: the plan of its steps, the facts of its scales, and the procedure as a light value."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from decimal import Decimal
from functools import partial
from typing import Any

from procedures import steps
from procedures.asks import Selector
from procedures.facts import ScaleFacts
from procedures.procedure import Next, Procedure, ReturnQuestion
from procedures.profile.schema import Operating, Profile, Scale
from procedures.routing import Plan, Remedy, StepPlan
from procedures.steps.base import InstrumentSpec, StepKind, StepParameters, seconds
from procedures.units import Quantity, number_in


def kind_of_step(parameters: StepParameters) -> StepKind[Any]:
    """The kind of a step. A profile that was read names only kinds that exist."""
    return steps.kind(parameters.kind)


def plan_of(profile: Profile) -> Plan:
    """The steps with their edges, as routing and proof walk them."""
    return Plan(tuple(_step_plan(parameters) for parameters in profile.step))


def _step_plan(parameters: StepParameters) -> StepPlan:
    kind = kind_of_step(parameters)
    return StepPlan(
        id=parameters.id,
        kind=parameters.kind,
        lockout=parameters.lockout,
        required=not parameters.only_when_sent,
        can_fail=kind.can_fail,
        on_fail=parameters.on_fail,
        on_pass=parameters.on_pass,
        remedies=tuple(
            Remedy(each.action, each.say, each.repeat_from, each.attempts, each.caution) for each in parameters.remedy
        ),
        disturbed_by=kind.disturbed_by,
    )


def scales_of(profile: Profile) -> tuple[ScaleFacts, ...]:
    """The scales in file order, with figures as printed: true values divided by the multiplier."""
    return tuple(_scale_facts(scale) for scale in profile.instrument.scale)


def _scale_facts(scale: Scale) -> ScaleFacts:
    unit = scale.full_scale.unit
    times = Decimal(1) if scale.multiplier is None else scale.multiplier
    selector = Selector(
        name=scale.name,
        times=times,
        unit=unit,
        top=scale.full_scale.value / times,
        division=number_in(scale.division, unit) / times,
    )
    return ScaleFacts(selector, scale.full_scale.value, scale.shown_by)


def spec_of(profile: Profile) -> InstrumentSpec:
    """What steps may ask about the type of instrument while the profile is proved."""
    instrument = profile.instrument
    return InstrumentSpec(
        detector=instrument.detector,
        scales=scales_of(profile),
        air_density=instrument.air_density,
        needs_zero=instrument.needs_zero,
        has_window=instrument.has_window,
    )


def sha256_of(text: str) -> str:
    """The hash by which an adoption names this text: of its UTF-8 bytes, line ends as they are."""
    return hashlib.sha256(text.encode()).hexdigest()


def procedure_of(profile: Profile, text: str) -> Procedure:
    """The profile as a checkout runs it. `text` is the file it was read from."""
    instrument = profile.instrument
    return Procedure(
        id=profile.id,
        title=profile.title,
        revision=profile.revision,
        sha256=sha256_of(text),
        plan=plan_of(profile),
        steps={parameters.id: _next(parameters) for parameters in profile.step},
        titles={parameters.id: parameters.id.replace("-", " ").capitalize() for parameters in profile.step},
        scales=scales_of(profile),
        detector=instrument.detector,
        lasts=seconds(profile.ready.lasts),
        longest_pause=seconds(profile.ready.longest_pause),
        air_density=instrument.air_density,
        operating=_operating(instrument.operating),
        soak_seconds=seconds(instrument.operating.soak) if instrument.operating.soak is not None else 0.0,
        measures=instrument.measures,
        not_for=instrument.not_for,
        warnings=instrument.warnings,
        reasons={reason.code: (reason.say, reason.do) for reason in profile.reason},
        dropped={each.id: partial(kind_of_step(each).dropped, each) for each in profile.step},
        not_before={each.id: seconds(each.not_before) for each in profile.step if each.not_before is not None},
        at_return=tuple(
            ReturnQuestion(each.say, each.choices, each.good, each.lockout, each.contaminated)
            for each in profile.at_return
        ),
    )


def _next(parameters: StepParameters) -> Next:
    return partial(kind_of_step(parameters).next, parameters)


def _operating(operating: Operating) -> Mapping[str, tuple[Decimal, Decimal]]:
    """The bounds that the profile states, by name: temperature in °C, pressure in kPa, humidity in %."""
    stated: tuple[tuple[str, tuple[Quantity, Quantity] | None, str], ...] = (
        ("temperature", operating.temperature, "°C"),
        ("pressure", operating.pressure, "kPa"),
        ("humidity", operating.humidity, "%"),
    )
    return {
        name: (number_in(bounds[0], unit), number_in(bounds[1], unit))
        for name, bounds, unit in stated
        if bounds is not None
    }
