"""Alarm and speaker: that a test button sounds and lights, where the set point stands, whether clicks follow a source.

A test button shows the speaker and the lamp, not the detector (NRC Information Notice 98-16). Only exposure to a source
shows that the detector detects, and no finding of this step says that it does.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Final, Literal

from pydantic import Field

from procedures.asks import QuantityAsk
from procedures.facts import Facts
from procedures.findings import Finding, number
from procedures.routing import POWER_OFF
from procedures.steps._sources import in_place, put_back, still_out, take_out, why_no_source
from procedures.steps.base import Identifier, InstrumentSpec, Level, Need, Problem, StepKind, StepParameters
from procedures.steps.common import IDENTIFIED, IS_ON, LOOK_AT_PART, Concluding, Script, choose, replay, span
from procedures.units import Quantity, kind_of, number_in, units_of

RULE = "alarm 1"
CODE = "alarm-silent"
SET_POINT_CODE: Final = "alarm-set-wrong"

Signal = Literal["sound", "light"]

_SEEN: Final = (
    ("both", "Sound and light", {"sound", "light"}),
    ("sound only", "Sound, no light", {"sound"}),
    ("light only", "Light, no sound", {"light"}),
    ("nothing", "Neither", set[str]()),
)


class AlarmParameters(StepParameters):
    """Which signals its test button gives, and where its alarm has to stand."""

    kind: Literal["alarm"]
    signals: Annotated[
        tuple[Signal, ...],
        Field(max_length=2, description="What the test button must give. Default sound; empty for no button."),
    ] = ("sound",)
    set_point: Annotated[
        Level | None, Field(description="Where the alarm has to stand. Default: the set point is not read.")
    ] = None
    clicks: Annotated[
        Identifier | None,
        Field(description="Role of a check source near which clicks must quicken. Default: not tried."),
    ] = None


def _script(parameters: AlarmParameters, facts: Facts) -> Script[Finding]:
    conclude = Concluding.of(parameters, RULE, CODE)
    heard: list[str] = []
    if parameters.signals:
        silent = yield from _test_button(parameters)
        if silent:
            return conclude.failed(silent)
        heard.append("The test button gives its signals; that shows the speaker, not the detector.")
    if parameters.set_point is not None:
        wrong = yield from _set_point(conclude, parameters.set_point)
        if wrong is not None:
            return wrong
        heard.append(f"The alarm stands at {parameters.set_point}.")
    if parameters.clicks is not None:
        found = yield from _clicks(conclude, parameters.clicks, facts)
        if found is not None:
            return found
        heard.append("Its clicks quicken near the source.")
    return conclude.passed(" ".join(heard) or "Nothing was to be listened to.")


def _test_button(parameters: AlarmParameters) -> Script[str]:
    """What is missing of the signals, in words; "" when nothing is."""
    seen = yield from choose(
        "test-button",
        parameters.say or "Press the test button. What do you hear and see?",
        *((value, words) for value, words, _signals in _SEEN),
        caution=parameters.caution,
        more="A test button shows the speaker and the lamp, not the detector.",
    )
    given = next(signals for value, _words, signals in _SEEN if value == seen)
    missing = [signal for signal in parameters.signals if signal not in given]
    return f"The test button gives no {' and no '.join(missing)}." if missing else ""


def _set_point(conclude: Concluding, due: Quantity) -> Script[Finding | None]:
    units = tuple(dict.fromkeys((due.unit, *units_of(kind_of(due.unit)))))
    say = "Read the alarm's set point. Where does it stand?"
    answer = yield QuantityAsk(key="set-point", say=say, look=LOOK_AT_PART, units=units)
    found = Quantity(*answer.value)
    if number_in(found, due.unit) == due.value:
        return None
    numbers = (number("set_point", "Set point", found.value, found.unit),)
    say = f"The alarm stands at {found}, and it has to stand at {due}."
    return conclude.failed(say, code=SET_POINT_CODE, numbers=numbers)


def _clicks(conclude: Concluding, role: str, facts: Facts) -> Script[Finding | None]:
    source = facts.source(role)
    missing = why_no_source(source, role)
    if source is None or missing:
        return conclude.could_not_check(missing)
    yield from take_out(source, facts)
    out = (still_out(source),)
    if not (yield from in_place("near", f"Bring source {source.label} up to the detector, without touching it.")):
        return conclude.could_not_check(f"source {source.label} could not be brought near", carry=out)
    heard = yield from choose(
        "clicks",
        "Listen while the source comes near and goes away. What do the clicks do?",
        ("quicken", "They quicken near it"),
        ("same", "They stay the same"),
        ("silent", "There are none"),
        caution="A counter that falls silent as it comes nearer may be saturated.",
    )
    if heard != "quicken":
        what = "do not quicken" if heard == "same" else "cannot be heard"
        return conclude.failed(f"Its clicks {what} near source {source.label}.", carry=out)
    yield from put_back(source)
    return None


def _check(parameters: AlarmParameters, spec: InstrumentSpec) -> tuple[Problem, ...]:
    return tuple(_problems(parameters, spec))


def _problems(parameters: AlarmParameters, spec: InstrumentSpec) -> Iterator[Problem]:
    if not parameters.signals and parameters.set_point is None and parameters.clicks is None:
        yield Problem("signals", "is empty, and nothing else is checked", "signals, set_point or clicks")
    if len(set(parameters.signals)) < len(parameters.signals):
        yield Problem("signals", "names a signal twice", "sound, light")
    due = parameters.set_point
    shown = {kind_of(each.selector.unit) for each in spec.scales}
    if due is not None and kind_of(due.unit) not in shown:
        units = ", ".join(dict.fromkeys(each.selector.unit for each in spec.scales))
        yield Problem("set_point", f"{due} is another kind of quantity than the scales show", units)


def _needs(parameters: AlarmParameters, spec: InstrumentSpec) -> tuple[Need, ...]:
    if parameters.clicks is None:
        return (IS_ON,)
    if not spec.has_window:
        return (IS_ON, IDENTIFIED)
    return (IS_ON, IDENTIFIED, Need(frozenset({"window"}), "the window is looked at before a source comes near it"))


KIND = StepKind(
    name="alarm",
    about="Sound and light by the test button, the alarm's set point, and clicks that quicken near a source.",
    parameters=AlarmParameters,
    next=replay(_script),
    rule=RULE,
    duration=lambda _parameters: span(1, 8),
    disturbed_by=POWER_OFF | {"controls-set"},
    codes=(CODE, SET_POINT_CODE),
    provides=lambda _parameters: frozenset({"alarm"}),
    needs=_needs,
    check=_check,
)
