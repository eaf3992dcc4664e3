"""Desiccant: damp inside a chamber leaks charge and makes it read wrong, and the gel's colour tells.

Colours depend on the gel (blue when dry and pink when wet; orange when dry and green or colourless when wet; others),
so the profile declares them from the gel's own data sheet.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Final, Literal

from pydantic import BeforeValidator, Field

from procedures.facts import Facts
from procedures.findings import Finding
from procedures.steps.base import InstrumentSpec, Problem, StepKind, StepParameters
from procedures.steps.common import CANNOT_SEE, Concluding, Script, choose, replay, span

RULE = "desiccant 1"
CODE = "desiccant-spent"
ANOTHER: Final = "another colour"

Colour = Annotated[str, Field(min_length=1, max_length=40)]
Colours = Annotated[
    tuple[Colour, ...],
    BeforeValidator(
        lambda value: (value,) if isinstance(value, str) else value, json_schema_input_type=str | list[str]
    ),
    Field(max_length=5),
]
"""One colour as text, or several as a list."""


class DesiccantParameters(StepParameters):
    """The colours of this instrument's gel, as its data sheet gives them."""

    kind: Literal["desiccant"]
    fresh: Annotated[Colours, Field(min_length=1, description="Colour, or colours, of the gel when dry. Required.")]
    turning: Annotated[
        Colours, Field(description="Colours between: passes with a warning to the lead. Default: none.")
    ] = ()
    spent: Annotated[Colours, Field(min_length=1, description="Colour, or colours, of the gel when spent. Required.")]


def _script(parameters: DesiccantParameters, _facts: Facts) -> Script[Finding]:
    conclude = Concluding.of(parameters, RULE, CODE)
    declared = (*parameters.fresh, *parameters.turning, *parameters.spent)
    seen = yield from choose(
        "colour",
        parameters.say or "Look at the desiccant. What colour is it?",
        *((colour, colour.capitalize()) for colour in declared),
        (ANOTHER, "Another colour"),
        (CANNOT_SEE, "I cannot see it"),
        caution=parameters.caution,
        more="The darkest or most changed part counts.",
    )
    if seen == CANNOT_SEE:
        return conclude.could_not_check("the desiccant cannot be seen")
    if seen == ANOTHER:
        return conclude.could_not_check("the desiccant has a colour that the profile does not name")
    if seen in parameters.spent:
        return conclude.failed(f"Desiccant is {seen}: spent.")
    if seen in parameters.turning:
        return conclude.warned(f"Desiccant is {seen}: turning.", f"Desiccant is {seen}: plan a change.")
    return conclude.passed(f"Desiccant is {seen}: dry.")


def _check(parameters: DesiccantParameters, _spec: InstrumentSpec) -> tuple[Problem, ...]:
    return tuple(_problems(parameters))


def _problems(parameters: DesiccantParameters) -> Iterator[Problem]:
    seen: dict[str, str] = {
        ANOTHER: "the answers of every desiccant step",
        CANNOT_SEE: "the answers of every such step",
    }
    for key in ("fresh", "turning", "spent"):
        for colour in getattr(parameters, key):
            name = colour.casefold().strip()
            if name in seen:
                yield Problem(key, f"{colour!r} is already among {seen[name]}", "each colour once")
            seen.setdefault(name, f"`{key}`")


KIND = StepKind(
    name="desiccant",
    about="The colour of the desiccant as seen, against the colours the gel's own data sheet gives.",
    parameters=DesiccantParameters,
    next=replay(_script),
    rule=RULE,
    duration=lambda _parameters: span(1, 1),
    disturbed_by=frozenset({"desiccant-changed", "case-opened", "repaired"}),
    codes=(CODE,),
    provides=lambda _parameters: frozenset({"desiccant"}),
    check=_check,
)
