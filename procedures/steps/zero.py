"""Zero: what the instrument shows when there is nothing to show. As found first, then set, settled, and read again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, Final, Literal

from pydantic import Field

from procedures.asks import Answer, Hold, Wait
from procedures.facts import Facts, ScaleFacts
from procedures.findings import AsFound, Finding, Number, number
from procedures.steps._scales import chance_beyond, division, from_zero, in_unit, on_scale, read_scale
from procedures.steps.base import (
    Duration,
    InstrumentSpec,
    Level,
    LimitChance,
    Line,
    Problem,
    StepKind,
    StepParameters,
    seconds,
)
from procedures.steps.common import (
    MEASURING,
    Concluding,
    Script,
    acknowledge,
    choose,
    replay,
    span,
    stow_sources,
    switched_on_first,
    with_unit,
)

RULE = "zero 1"
CODE = "zero-off"
DRIFT_CODE: Final = "zero-drift"


class ZeroParameters(StepParameters):
    """On which scale zero is read, how it is set, and how far off it may be."""

    kind: Literal["zero"]
    scale: Annotated[Line, Field(description="Name of the scale on which zero is read. Required.")]
    within: Annotated[
        Level, Field(description="Largest distance from zero, either way, in the scale's unit. Required.")
    ]
    as_found_within: Annotated[
        Level | None,
        Field(
            description="Largest distance from zero before it is set; beyond it, uses are in doubt. Default `within`."
        ),
    ] = None
    hold: Annotated[
        Duration | None, Field(description="How long the zero button is kept down, 1 s to 4 h. Default: no button.")
    ] = None
    adjustable: Annotated[
        bool,
        Field(description="Whether the user turns a zero control, with the button down if there is one. Default no."),
    ] = False
    settle: Annotated[
        Duration | None, Field(description="Wait after letting go or setting, 1 s to 4 h. Required with hold.")
    ] = None
    drift_after: Annotated[
        Duration | None, Field(description="Time until zero is read once more, 1 s to 4 h. Default: read once.")
    ] = None
    drift_within: Annotated[
        Level | None, Field(description="Largest change of zero in that time. Required with drift_after.")
    ] = None
    scatter: Annotated[
        Level | None,
        Field(
            description="Standard deviation of a healthy zero, for the printed chance only. Default: the division's."
        ),
    ] = None


@dataclass(frozen=True, slots=True)
class _Seen:
    """A reading of zero: signed size in the unit of the scale (None: beyond what can be said), words, and number."""

    size: Decimal | None
    text: str
    numbers: tuple[Number, ...]

    def within(self, most: Decimal) -> bool:
        return self.size is not None and abs(self.size) <= most


def _script(parameters: ZeroParameters, facts: Facts) -> Script[Finding]:
    conclude = Concluding.of(parameters, RULE, CODE)
    scale = facts.scale(parameters.scale)
    if scale is None:
        return conclude.could_not_check(f"the profile has no scale {parameters.scale}")
    if not (yield from stow_sources()):
        return conclude.could_not_check("a source could not be put away")
    as_found = (yield from _as_found(parameters, facts, scale)) if facts.first_visit else None
    if not (yield from _set_zero(parameters)):
        return conclude.failed("The zero control does not bring it to zero.", as_found=as_found)
    after = yield from _read(facts, scale, "zero", f"Selector on {parameters.scale}. Read zero.", parameters.caution)
    within = in_unit(parameters.within, scale)
    numbers = (*after.numbers, number("within", "Allowed from zero", within, scale.selector.unit))
    if not after.within(within):
        say = f"Zero is off: {after.text}; at most {parameters.within} either way is allowed."
        return conclude.failed(say, numbers=numbers, as_found=as_found)
    if parameters.drift_after is not None and parameters.drift_within is not None:
        drift = yield from _drift(parameters, facts, scale, after)
        numbers += drift.numbers
        if not drift.within(in_unit(parameters.drift_within, scale)):
            say = f"Zero drifts: it moved by {drift.text}; at most {parameters.drift_within} is allowed."
            return conclude.failed(say, code=DRIFT_CODE, numbers=numbers, as_found=as_found)
    shows = ((parameters.scale, "zero"),)
    if as_found is not None and as_found.outcome == "fail":
        tell = f"Zero was off before it was set. {as_found.say}"
        say = f"Zero is now {after.text}."
        return conclude.warned(say, tell, numbers=numbers, as_found=as_found, shows=shows)
    return conclude.passed(f"Zero is {after.text}.", numbers=numbers, as_found=as_found, shows=shows)


def _read(facts: Facts, scale: ScaleFacts, key: str, say: str, caution: str = "", more: str = "") -> Script[_Seen]:
    beyond: tuple[str, ...] = ("below zero", "pegged")
    taken = yield from read_scale(facts, scale, key, say, beyond=beyond, caution=caution, more=more)
    size = yield from from_zero(taken, scale, f"{key}-below")
    unit = scale.selector.unit
    if size is None:
        return _Seen(None, "off the end" if taken.reading.state == "pegged" else "far below zero", ())
    return _Seen(size, with_unit(size, unit), (number(key, key.replace("-", " ").capitalize(), size, unit),))


def _as_found(parameters: ZeroParameters, facts: Facts, scale: ScaleFacts) -> Script[AsFound]:
    say = f"Selector on {parameters.scale}. Read it as it is."
    more = "Before anything is set."
    seen = yield from _read(facts, scale, "as-found", say, parameters.caution, more)
    allowed = parameters.as_found_within or parameters.within
    outcome: Literal["pass", "fail"] = "pass" if seen.within(in_unit(allowed, scale)) else "fail"
    return AsFound(outcome, f"Zero as found: {seen.text}, allowed {allowed} either way.", seen.numbers)


def _set_zero(parameters: ZeroParameters) -> Script[bool]:
    """Whether zero could be set, and has come to rest. Without a button or a control there is nothing to set."""
    if parameters.hold is not None:
        yield Hold(
            key="hold",
            say=parameters.say or "Press the zero button and keep it down.",
            seconds=seconds(parameters.hold),
            meanwhile="The charge left on the electrometer is leaking away.",
        )
    if parameters.adjustable:
        button = "Keep the button down and turn" if parameters.hold is not None else "Turn"
        came = yield from choose(
            "adjust",
            f"{button} the zero control until it rests on zero. Where does it rest?",
            ("on zero", "On zero"),
            ("not on zero", "It does not come to zero"),
        )
        if came == "not on zero":
            return False
    if parameters.hold is not None:
        yield from acknowledge("release", "Let the button go. Leave the zero control alone.", "Let go")
    if parameters.settle is not None:
        meanwhile = "The kick of letting go dies away."
        yield Wait(key="settle", say="Leave it alone.", seconds=seconds(parameters.settle), meanwhile=meanwhile)
    return True


def _drift(parameters: ZeroParameters, facts: Facts, scale: ScaleFacts, before: _Seen) -> Script[_Seen]:
    after = parameters.drift_after
    if after is not None:
        yield Wait(key="drift", say="Leave it alone. Does zero stay?", seconds=seconds(after))
    later = yield from _read(facts, scale, "zero-later", f"Selector on {parameters.scale}. Read zero once more.")
    if later.size is None or before.size is None:
        return _Seen(None, f"from {before.text} to {later.text}", later.numbers)
    moved, unit = later.size - before.size, scale.selector.unit
    return _Seen(moved, with_unit(moved, unit), (*later.numbers, number("drift", "Zero moved by", moved, unit)))


def _dropped(parameters: ZeroParameters, facts: Facts, answers: tuple[Answer, ...]) -> Finding | None:
    """Zero found off is kept though the visit was given up before it was set: earlier uses are in doubt."""
    scale = facts.scale(parameters.scale)
    if scale is None or not facts.first_visit:
        return None
    reading = _as_found(parameters, facts, scale)
    try:
        next(reading)
        for answer in answers:
            if answer.ask.startswith("as-found"):
                reading.send(answer)
    except StopIteration as stop:
        as_found: AsFound = stop.value
        if as_found.outcome != "fail":
            return None
        conclude = Concluding.of(parameters, RULE, CODE)
        return conclude.could_not_check("it was given up after zero was found off", as_found=as_found)
    return None


def _check(parameters: ZeroParameters, spec: InstrumentSpec) -> tuple[Problem, ...]:
    levels = {key: getattr(parameters, key) for key in ("within", "as_found_within", "drift_within", "scatter")}
    found = tuple(on_scale(parameters.scale, spec, **levels))
    scale = spec.scale(parameters.scale)
    return found if found or scale is None else tuple(_problems(parameters, scale))


def _problems(parameters: ZeroParameters, scale: ScaleFacts) -> Iterator[Problem]:
    within, step, unit = in_unit(parameters.within, scale), division(scale), scale.selector.unit
    if step is not None and within < step / 2:
        allowed = f"at least {with_unit(step / 2, unit)}, half a division"
        yield Problem("within", f"{parameters.within} cannot be read on a scale divided into {step:f} {unit}", allowed)
    if within >= scale.full_scale:
        yield Problem(
            "within", "anything on the scale would pass as zero", f"below {with_unit(scale.full_scale, unit)}"
        )
    if parameters.as_found_within is not None and in_unit(parameters.as_found_within, scale) < within:
        yield Problem("as_found_within", "is tighter than `within`, which holds after setting", "at least `within`")
    if parameters.hold is not None and parameters.settle is None:
        yield Problem("settle", "is missing: letting the button go kicks the needle", 'such as "8 s"')
    if (parameters.drift_after is None) != (parameters.drift_within is None):
        missing = "drift_after" if parameters.drift_after is None else "drift_within"
        yield Problem(missing, "is missing: drift is a change within a time", "both of drift_after and drift_within")


def _limits(parameters: ZeroParameters, spec: InstrumentSpec) -> tuple[LimitChance, ...]:
    scale = spec.scale(parameters.scale)
    if scale is None:
        return ()
    chance, assumed = chance_beyond(scale, parameters.scatter, parameters.within, change=False)
    rows = [LimitChance(f"zero within {parameters.within}", chance, f"zero set exactly; {assumed}")]
    if parameters.drift_within is not None:
        chance, assumed = chance_beyond(scale, parameters.scatter, parameters.drift_within, change=True)
        rows.append(LimitChance(f"drift within {parameters.drift_within}", chance, f"no drift; {assumed}, both times"))
    return tuple(rows)


def _duration(parameters: ZeroParameters) -> tuple[float, float]:
    waits = [seconds(each) for each in (parameters.hold, parameters.settle, parameters.drift_after) if each is not None]
    return span(2, 10, *waits)


def _provides(parameters: ZeroParameters) -> frozenset[str]:
    return frozenset({"zero", f"zero:{parameters.scale}"})


KIND = StepKind(
    name="zero",
    about="Zero on one scale: as found, then set with the button and control the instrument has, settled and read.",
    parameters=ZeroParameters,
    next=replay(_script),
    rule=RULE,
    duration=_duration,
    disturbed_by=MEASURING | {"moved-away"},
    codes=(CODE, DRIFT_CODE),
    provides=_provides,
    needs=switched_on_first,
    check=_check,
    limits=_limits,
    dropped=_dropped,
)
