"""The battery, under the instrument's own load: cells that are nearly spent look good while nothing is drawn."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from procedures.asks import Place, QuantityAsk
from procedures.facts import Facts
from procedures.findings import AsFound, Finding, Outcome, number
from procedures.steps.base import Bounded, EitherOf, InstrumentSpec, Problem, StepKind, StepParameters
from procedures.steps.common import LOOK_AT_PART, Concluding, Script, replay, span, switch_on
from procedures.units import Quantity, kind_of, number_in

RULE = "battery 1"
CODE = "battery-low"

Charge = Annotated[Quantity, EitherOf((Bounded("V", "0 V", "1000 V", "7.2 V"), Bounded("%", "0 %", "100 %", "30 %")))]
Places = Annotated[tuple[Annotated[str, Field(min_length=1, max_length=60)], ...], Field(max_length=9)]

_UNITS = {"volts": ("V", "mV"), "percent": ("%",)}


class BatteryParameters(StepParameters):
    """How the instrument shows its battery, and what is good."""

    kind: Literal["battery"]
    reads: Annotated[
        Literal["places", "volts", "percent"],
        Field(description='How it is shown: "places" on a marked scale (default), "volts" or "percent".'),
    ] = "places"
    places: Annotated[Places, Field(description="Where the needle may rest, in order of the scale. For places.")] = ()
    good: Annotated[Places, Field(description="Those of `places` that are good. For places.")] = ()
    marginal: Annotated[
        Places, Field(description="Those of `places` that pass with a warning to the lead. Default none. For places.")
    ] = ()
    minimum: Annotated[
        Charge | None, Field(description="Lowest good voltage in V or mV, or lowest good charge in %. Not for places.")
    ] = None
    maximum: Annotated[
        Charge | None,
        Field(description="Highest voltage in V or mV that these cells can have; above it they are the wrong ones."),
    ] = None
    load: Annotated[
        str,
        Field(
            max_length=200,
            description="How the load is put on, such as: selector on BATT, lamp lit. Default nothing said.",
        ),
    ] = ""


def _script(parameters: BatteryParameters, facts: Facts) -> Script[Finding]:
    yield from switch_on(facts)
    outcome, found, figure = yield from (_place if parameters.reads == "places" else _figure)(parameters)
    numbers = () if figure is None else (number("battery", "Battery", figure.value, figure.unit),)
    as_found = AsFound(outcome, f"Battery as found: {found}.", numbers) if facts.first_visit else None
    conclude = Concluding.of(parameters, RULE, CODE)
    say = f"Battery under load: {found}."
    if outcome == "fail":
        return conclude.failed(say, numbers=numbers, as_found=as_found)
    if outcome == "warn":
        return conclude.warned(say, f"Battery marginal: {found}.", numbers=numbers, as_found=as_found)
    return conclude.passed(say, numbers=numbers, as_found=as_found)


def _place(parameters: BatteryParameters) -> Script[tuple[Outcome, str, Quantity | None]]:
    answer = yield Place(
        key="battery",
        say=parameters.say or "Test the battery. Where does the needle rest?",
        more=parameters.load,
        caution=parameters.caution,
        look=LOOK_AT_PART,
        places=parameters.places,
    )
    place = str(answer.value)
    if place in parameters.marginal:
        return "warn", place, None
    return ("pass" if place in parameters.good else "fail"), place, None


def _figure(parameters: BatteryParameters) -> Script[tuple[Outcome, str, Quantity | None]]:
    what = "voltage" if parameters.reads == "volts" else "charge"
    answer = yield QuantityAsk(
        key="battery",
        say=parameters.say or f"Test the battery under load. Which {what} is shown?",
        more=parameters.load,
        caution=parameters.caution,
        look=LOOK_AT_PART,
        units=_UNITS[parameters.reads],
        low=Decimal(0),
        high=Decimal(1000 if parameters.reads == "volts" else 100),
    )
    found = Quantity(*answer.value)
    minimum = parameters.minimum
    if minimum is None or _below(found, minimum):
        return "fail", f"{found}, lowest good is {minimum}", found
    maximum = parameters.maximum
    if maximum is not None and _below(maximum, found):
        return "fail", f"{found}, and these cells can have {maximum} at most: wrong cells", found
    return "pass", str(found), found


def _below(one: Quantity, other: Quantity) -> bool:
    return one.value < number_in(other, one.unit)


def _check(parameters: BatteryParameters, _spec: InstrumentSpec) -> tuple[Problem, ...]:
    return tuple(_place_problems(parameters) if parameters.reads == "places" else _figure_problems(parameters))


def _place_problems(parameters: BatteryParameters) -> Iterator[Problem]:
    places = parameters.places
    listed = ", ".join(places)
    if len(places) < 2:
        yield Problem("places", "a marked scale needs two places at least", 'such as ["below the band", "in the band"]')
    if len(set(places)) < len(places):
        yield Problem("places", "one place is named twice", "each place once")
    if not parameters.good:
        yield Problem("good", "no place is good, so the battery can never pass", f"some of: {listed}")
    for key, some in (("good", parameters.good), ("marginal", parameters.marginal)):
        for place in some:
            if place not in places:
                yield Problem(key, f"{place!r} is not one of the places", listed)
    if set(parameters.good) & set(parameters.marginal):
        yield Problem("marginal", "a place is both good and marginal", "each place in one of them")
    if places and set(places) <= {*parameters.good, *parameters.marginal}:
        yield Problem("good", "every place passes, so a low battery is never found", "leave at least one place to fail")
    for key in ("minimum", "maximum"):
        if getattr(parameters, key) is not None:
            yield Problem(key, 'is for another way of reading than "places"', 'reads = "volts" or "percent"')


def _figure_problems(parameters: BatteryParameters) -> Iterator[Problem]:
    kind, example = ("voltage", '"7.2 V"') if parameters.reads == "volts" else ("percentage", '"30 %"')
    low, high = parameters.minimum, parameters.maximum
    fitting = True
    for key, bound in (("minimum", low), ("maximum", high)):
        if bound is not None and kind_of(bound.unit) != kind:
            fitting = False
            yield Problem(key, f"{bound} is no {kind}, and reads = {parameters.reads!r}", f"such as {example}")
    if low is None:
        yield Problem("minimum", "is missing, so the battery could never pass", f"such as {example}")
    elif low.value == 0:
        yield Problem("minimum", "lets a dead battery pass", "more than 0")
    elif fitting and high is not None and not _below(low, high):
        yield Problem("maximum", f"{high} is not above the minimum of {low}", "more than the minimum")
    for key in ("places", "good", "marginal"):
        if getattr(parameters, key):
            yield Problem(key, f"is not for reads = {parameters.reads!r}", "leave it out")


KIND = StepKind(
    name="battery",
    about="The battery under the instrument's own load: a place on a marked scale, a voltage or a charge.",
    parameters=BatteryParameters,
    next=replay(_script),
    rule=RULE,
    duration=lambda _parameters: span(1, 2),
    disturbed_by=frozenset({"fresh-cells", "repaired"}),
    codes=(CODE,),
    provides=lambda _parameters: frozenset({"switched-on", "battery"}),
    check=_check,
)
