"""The surroundings: temperature, pressure, humidity, and whether the instrument has taken on the temperature here.

Pressure is that at the instrument. A weather service's pressure is reduced to sea level and is another figure.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, Final, Literal

from pydantic import Field

from procedures.air import COLDEST_C, HIGHEST_KPA, HIGHEST_M, LOWEST_KPA, LOWEST_M, WARMEST_C, pressure_at_altitude
from procedures.asks import QuantityAsk, Wait
from procedures.facts import Facts
from procedures.findings import Finding, Number, number
from procedures.steps.base import LONGEST_WAIT, InstrumentSpec, Problem, StepKind, StepParameters
from procedures.steps.common import LOOK_AT_PART, Concluding, Script, choose, plain, replay, span
from procedures.units import Quantity, number_in

RULE = "environment 1"

PRESSURE_UNITS: Final = ("kPa", "hPa", "mbar", "mmHg", "inHg")
_BY_ALTITUDE: Final = " (by altitude; weather moves it by some 3 %)"
_TOO: Final[Mapping[str, tuple[str, str]]] = {
    "temperature": ("too cold", "too warm"),
    "pressure": ("air pressure is too low", "air pressure is too high"),
    "humidity": ("too dry", "too damp"),
}


class EnvironmentParameters(StepParameters):
    """What of the surroundings is taken down. The range for use stands with the instrument, as `operating`."""

    kind: Literal["environment"]
    pressure: Annotated[
        Literal["barometer", "altitude", "either", "none"],
        Field(description="How pressure is found: barometer, altitude, whichever there is, or not. Default either."),
    ] = "either"
    humidity: Annotated[bool, Field(description="Whether relative humidity is taken down, in %. Default no.")] = False


@dataclass(frozen=True, slots=True)
class _Taken:
    """One quantity of the surroundings, in the unit that facts and operating range use."""

    name: str
    fact: str
    label: str
    value: Decimal
    unit: str
    note: str = ""


def _script(parameters: EnvironmentParameters, facts: Facts) -> Script[Finding]:
    conclude = Concluding.of(parameters, RULE)
    taken = [(yield from _temperature(parameters))]
    if parameters.pressure != "none":
        taken.append((yield from _pressure(parameters)))
    if parameters.humidity:
        taken.append((yield from _humidity()))
    numbers = tuple(_number(each) for each in taken)
    for each in taken:
        wrong = _outside(each, facts.operating)
        if wrong:
            return conclude.could_not_check(wrong, numbers=numbers)
    soaked = yield from _soak(facts)
    if soaked is None:
        return conclude.could_not_check(f"it has to stand here for {_minutes(facts)} minutes first", numbers=numbers)
    say = ", ".join(f"{plain(each.value, 4)} {each.unit}{each.note}" for each in taken)
    return conclude.passed(
        f"Surroundings: {say}.{soaked}",
        numbers=numbers,
        facts=tuple((each.fact, str(each.value)) for each in taken),
    )


def _number(taken: _Taken) -> Number:
    return number(taken.fact, taken.label, taken.value, taken.unit)


def _outside(taken: _Taken, operating: Mapping[str, tuple[Decimal, Decimal]]) -> str:
    """How a quantity is outside the range for use, in words; "" when it is inside, or no range is stated."""
    if taken.name not in operating:
        return ""
    low, high = operating[taken.name]
    if low <= taken.value <= high:
        return ""
    words = _TOO[taken.name][taken.value > high]
    shown = f"{plain(taken.value, 4)} {taken.unit}"
    return f"{words} for this instrument: {shown}, and it is made for {low:f} to {high:f} {taken.unit}"


def _temperature(parameters: EnvironmentParameters) -> Script[_Taken]:
    answer = yield QuantityAsk(
        key="temperature",
        say=parameters.say or "What is the temperature of the air beside the instrument?",
        caution=parameters.caution,
        look=LOOK_AT_PART,
        units=("°C", "°F", "K"),
        low=Decimal(COLDEST_C),
        high=Decimal(WARMEST_C),
    )
    value = number_in(Quantity(*answer.value), "°C")
    return _Taken("temperature", "temperature_c", "Temperature", value, "°C")


def _pressure(parameters: EnvironmentParameters) -> Script[_Taken]:
    how: str = parameters.pressure
    if how == "either":
        how = yield from choose(
            "pressure-from",
            "How do you know the air pressure here?",
            ("barometer", "From a barometer here"),
            ("altitude", "From the altitude of this place"),
        )
    if how == "altitude":
        answer = yield QuantityAsk(
            key="altitude",
            say="How high above sea level is this place?",
            units=("m", "ft", "km"),
            low=Decimal(LOWEST_M),
            high=Decimal(HIGHEST_M),
        )
        metres = number_in(Quantity(*answer.value), "m")
        value = Decimal(repr(round(pressure_at_altitude(float(metres)), 4)))
        return _Taken("pressure", "pressure_kpa", "Pressure of the altitude", value, "kPa", _BY_ALTITUDE)
    answer = yield QuantityAsk(
        key="pressure",
        say="What pressure does the barometer here show?",
        more="Station pressure. A weather report's is reduced to sea level and is wrong here.",
        look=LOOK_AT_PART,
        units=PRESSURE_UNITS,
        low=Decimal(LOWEST_KPA),
        high=Decimal(HIGHEST_KPA),
    )
    return _Taken("pressure", "pressure_kpa", "Pressure", number_in(Quantity(*answer.value), "kPa"), "kPa")


def _humidity() -> Script[_Taken]:
    say = "Which relative humidity is shown?"
    answer = yield QuantityAsk(
        key="humidity", say=say, look=LOOK_AT_PART, units=("%",), low=Decimal(0), high=Decimal(100)
    )
    return _Taken("humidity", "humidity_percent", "Relative humidity", Decimal(answer.value[0]), "%")


def _minutes(facts: Facts) -> str:
    return plain(facts.soak_seconds / 60, 2)


def _soak(facts: Facts) -> Script[str | None]:
    """Waits until an instrument that came from warm or cold has taken on the temperature here.

    Gives what to say of it; None when it has to stand for longer than a checkout can wait.
    """
    if facts.soak_seconds <= 0:
        return ""
    minutes = _minutes(facts)
    came = yield from choose(
        "soak",
        f"Has it come from somewhere clearly warmer or colder within the last {minutes} minutes?",
        ("no", "No, it was here, or somewhere as warm"),
        ("yes", "Yes"),
    )
    if came == "no":
        return ""
    if facts.soak_seconds > LONGEST_WAIT:
        return None
    yield Wait(
        key="soaking",
        say="Leave it open to the air here.",
        seconds=facts.soak_seconds,
        meanwhile="Chamber, circuits and cells take on the temperature of the place.",
    )
    return f" It had {minutes} minutes to take on the temperature here."


def _check(parameters: EnvironmentParameters, spec: InstrumentSpec) -> tuple[Problem, ...]:
    if spec.air_density == "correct" and parameters.pressure == "none":
        allowed = "barometer, altitude or either"
        return (Problem("pressure", "is needed: this instrument is corrected for air density", allowed),)
    return ()


def _provides(_parameters: EnvironmentParameters) -> frozenset[str]:
    return frozenset({"environment"})


KIND = StepKind(
    name="environment",
    about="Temperature, pressure or altitude, humidity, and time to take on the temperature of the place.",
    parameters=EnvironmentParameters,
    next=replay(_script),
    rule=RULE,
    duration=lambda _parameters: (span(1, 0)[0], span(0, 5)[1] + LONGEST_WAIT),
    can_fail=False,
    provides=_provides,
    check=_check,
)
