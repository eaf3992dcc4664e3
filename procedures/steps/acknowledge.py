"""Something the procedure wants done or read, that no observation can show. It cannot fail by itself."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from procedures.facts import Facts
from procedures.findings import Finding
from procedures.steps.base import StepKind, StepParameters
from procedures.steps.common import Concluding, Script, acknowledge, replay, span

RULE = "acknowledge 1"


class AcknowledgeParameters(StepParameters):
    """What is to be done, and the words that say it was."""

    kind: Literal["acknowledge"]
    say: Annotated[str, Field(min_length=1, max_length=300, description="What to do or read. Required.")]
    done: Annotated[str, Field(min_length=1, max_length=60, description='Words of the answer. Default "Done".')] = (
        "Done"
    )


def _script(parameters: AcknowledgeParameters, _facts: Facts) -> Script[Finding]:
    yield from acknowledge("done", parameters.say, parameters.done, caution=parameters.caution)
    return Concluding.of(parameters, RULE).passed(f"Acknowledged: {parameters.done}.")


KIND = StepKind(
    name="acknowledge",
    about="Something done or read, in the profile's words. It shows nothing about the instrument and cannot fail.",
    parameters=AcknowledgeParameters,
    next=replay(_script),
    rule=RULE,
    duration=lambda _parameters: span(1, 1),
    can_fail=False,
)
