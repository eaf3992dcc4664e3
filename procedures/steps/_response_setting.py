"""What a response is judged by, gathered before anything is asked; or why there is nothing to judge it by."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Final

from procedures.facts import Facts, ReferenceFacts, ScaleFacts, SourceFacts
from procedures.findings import Finding
from procedures.steps._air import Air, air_for
from procedures.steps._judging import Expected, expect, limits_about
from procedures.steps._response_profile import ResponseParameters
from procedures.steps._scales import division, in_unit
from procedures.steps._sources import background_of, why_no_reference, why_no_source
from procedures.steps.base import seconds
from procedures.trouble import Trouble
from procedures.units import Quantity, number_in

RETURN_SHARE: Final = Decimal("0.1")
"""Part of what was shown within which it must come back to background, where the profile says nothing."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What a response is judged by, gathered before anything is asked."""

    parameters: ResponseParameters
    facts: Facts
    scale: ScaleFacts
    source: SourceFacts
    reference: ReferenceFacts
    background: Decimal | None
    air: Air | None

    @property
    def unit(self) -> str:
        return self.scale.selector.unit

    def expected(self, at: datetime) -> Expected:
        if at < self.reference.at:
            raise Trouble("the clock is in doubt: it is now earlier than the reference reading")
        return expect(self.source, self.reference, self.unit, at, self.air.then if self.air else 1.0)

    def return_within(self, finding: Finding) -> Decimal:
        """How near to background it must come back, in the unit of the scale, after what `finding` says was shown."""
        if self.parameters.returns_within is not None:
            return in_unit(self.parameters.returns_within, self.scale)
        shown = finding.number("shown")
        share = RETURN_SHARE * Decimal(shown.value) if shown is not None else Decimal(0)
        return max(share, division(self.scale) or Decimal(0))


def setting_of(parameters: ResponseParameters, facts: Facts) -> Setting | str:
    """The setting, or why there is none, in words."""
    source, scale = facts.source(parameters.source), facts.scale(parameters.scale)
    if scale is None:
        return f"the profile has no scale {parameters.scale}"
    missing = why_no_source(source, parameters.source)
    if source is None or missing:
        return missing
    reference = facts.reference(source.id, parameters.scale, parameters.geometry)
    missing = why_no_reference(reference, source, facts, scale, parameters.geometry)
    if reference is None or missing:
        return missing
    try:
        found = background_of(facts, scale)
        air = air_for(facts, reference) if facts.air_density == "correct" else None
        setting = Setting(parameters, facts, scale, source, reference, None if found is None else found.value, air)
        return _why_not_worth(setting) or setting
    except Trouble as trouble:
        return trouble.what


def _why_not_worth(setting: Setting) -> str:
    """Why readings of this source would show nothing now; "" when they would. Trouble when limits leave no window."""
    parameters = setting.parameters
    expected = setting.expected(setting.facts.opened)
    limits_about(parameters.limits.low, parameters.limits.high, None, expected.value, setting.unit)
    smallest, background = parameters.smallest_over_background, setting.background
    if smallest is not None:
        if background is None:
            return "no background was taken"
        if expected.value < smallest * float(background):
            return f"background is too high for source {setting.source.label}"
    if parameters.count_time is not None and parameters.minimum_net is not None:
        rate = float(number_in(Quantity(Decimal(expected.value), setting.unit), "cps"))
        if rate * seconds(parameters.count_time) * parameters.readings < parameters.minimum_net:
            return f"source {setting.source.label} has become too weak for counts of {parameters.count_time}"
    return ""
