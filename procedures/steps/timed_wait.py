"""Time that must pass for a reason the profile gives. It cannot fail by itself."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from procedures.asks import Wait
from procedures.facts import Facts
from procedures.findings import Finding, number
from procedures.routing import POWER_OFF
from procedures.steps.base import Duration, StepKind, StepParameters, seconds
from procedures.steps.common import Concluding, Script, replay, span

RULE = "timed-wait 1"


class TimedWaitParameters(StepParameters):
    """How long, and what it is for."""

    kind: Literal["timed-wait"]
    say: Annotated[str, Field(min_length=1, max_length=300, description="What the wait is for. Required.")]
    lasts: Annotated[Duration, Field(description="How long, from when the ask appears. Required.")]
    meanwhile: Annotated[
        str, Field(max_length=200, description="What goes on inside the instrument meanwhile. Default: nothing said.")
    ] = ""


def _script(parameters: TimedWaitParameters, _facts: Facts) -> Script[Finding]:
    answer = yield Wait(
        key="wait",
        say=parameters.say,
        caution=parameters.caution,
        seconds=seconds(parameters.lasts),
        meanwhile=parameters.meanwhile,
    )
    waited = number("waited", "Waited", float(answer.value), "s")
    return Concluding.of(parameters, RULE).passed(f"Waited {parameters.lasts}.", numbers=(waited,))


KIND = StepKind(
    name="timed-wait",
    about="Time that must pass, with the reason. It cannot be skipped and cannot fail.",
    parameters=TimedWaitParameters,
    next=replay(_script),
    rule=RULE,
    duration=lambda parameters: span(0, 0, seconds(parameters.lasts)),
    disturbed_by=POWER_OFF,
    can_fail=False,
)
