"""What a profile states of a response step: which source, where, how often it is read, and what is accepted."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from procedures.steps._quantities import Spread
from procedures.steps.base import Duration, Identifier, Level, Limit, Line, Percent, StepParameters, Strict


class LimitsTable(Strict):
    """The acceptance limits: shares of what is expected, or levels of the scale as written on the instrument."""

    low: Annotated[Limit, Field(description='Lowest allowed: a share such as "-20 %", or a level. Required.')]
    high: Annotated[Limit, Field(description='Highest allowed: a share such as "20 %", or a level. Required.')]
    warn: Annotated[
        Percent | None, Field(description="Further off than this, either way, the lead is told. Default: no such band.")
    ] = None


class DecisionTable(Strict):
    """The decision rule (ILAC-G8:09/2019): simple, or guarded by the uncertainty."""

    rule: Annotated[
        Literal["simple", "guarded"],
        Field(description="simple: the limits as they are. guarded: drawn in by the uncertainty. Default simple."),
    ] = "simple"
    false_accept: Annotated[
        float | None,
        Field(gt=0, lt=0.5, description="Largest chance of a wrong pass, 0 to 0.5. For guarded."),
    ] = None


class ResponseParameters(StepParameters):
    """Which source, where, how often it is read, and what is accepted."""

    kind: Literal["response"]
    scale: Annotated[Line, Field(description="Name of the scale it is read on. Required.")]
    source: Annotated[Identifier, Field(description="Role of the check source; the site binds a real one. Required.")]
    geometry: Annotated[
        str, Field(max_length=60, description="Name of the geometry, as its reference readings have it. Default none.")
    ] = ""
    readings: Annotated[int, Field(ge=1, le=10, description="How many readings, 1 to 10. Default 3.")] = 3
    between: Annotated[
        str, Field(max_length=200, description="What to do between readings. Default: nothing said.")
    ] = ""
    settle: Annotated[
        Duration | None,
        Field(description="Wait after placing and removing the source, 1 s to 4 h. Default none."),
    ] = None
    spread: Annotated[
        Spread | None,
        Field(description="Largest less smallest reading, in % of their mean or as a level. Default: no limit."),
    ] = None
    limits: Annotated[LimitsTable, Field(description="Acceptance limits. Required.")]
    decision: Annotated[DecisionTable, Field(description="Decision rule. Default simple.")] = DecisionTable()
    smallest_over_background: Annotated[
        float | None,
        Field(gt=0, le=1000, description="Smallest ratio of expected to background; below, not checked. Default any."),
    ] = None
    returns_within: Annotated[
        Level | None,
        Field(
            description="How near to background it must come back with the source away. Default: 10 % of what was "
            "observed, or one division if that is more."
        ),
    ] = None
    count_time: Annotated[
        Duration | None,
        Field(description="Time of one count, 1 s to 4 h. Default: a rate is read."),
    ] = None
    minimum_net: Annotated[
        int | None, Field(ge=1, le=10_000_000, description="Fewest net counts that can be judged. With count_time.")
    ] = None
    recount: Annotated[
        bool, Field(description="One recount if the first count fails, pooled with it. With count_time. Default no.")
    ] = False
    scatter: Annotated[
        Percent | None,
        Field(description="Scatter of one reading of a healthy instrument, for printed chances only. Default 3 %."),
    ] = None
