"""Response to a check source: the only step that shows the detector detects.

Readings come first, and nothing that is expected or allowed is shown before the last of them. A reading that fails is
never taken again until one passes; a count may have the one recount that the profile declared beforehand, pooled with
the first. The finding comes as soon as the readings decide a failure, with the source still out: nothing that is still
to be asked may let a failure be walked away from.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Final

from procedures.acceptance import Bound, agree, mean_reading, spread
from procedures.asks import Answer, Choice, Reading, Wait
from procedures.facts import Facts
from procedures.findings import AsFound, Finding, Number, Outcome, number
from procedures.steps._exposed import Dead, Exposure, observed_counts, read_back, take_readings
from procedures.steps._judging import Judged, Observed, compare, corrected, limits_about, reading_parts
from procedures.steps._response_profile import ResponseParameters
from procedures.steps._response_proof import check, duration, limits, needs
from procedures.steps._response_setting import Setting, setting_of
from procedures.steps._scales import Taken, division, in_unit
from procedures.steps._sources import in_place, put_back, still_out, take_out
from procedures.steps.base import StepKind, seconds
from procedures.steps.common import DETECTING, Concluding, Script, plain, replay, with_unit
from procedures.trouble import Trouble

RULE = "response 1"
CODE = "response-out"
NO_RESPONSE: Final = "no-response"
UNSTEADY: Final = "response-unsteady"
NOT_RETURNING: Final = "not-returning"


def _script(parameters: ResponseParameters, facts: Facts) -> Script[Finding]:
    conclude = Concluding.of(parameters, RULE, CODE)
    setting = setting_of(parameters, facts)
    if isinstance(setting, str):
        return conclude.could_not_check(setting)
    source, out = setting.source, (still_out(setting.source),)
    yield from take_out(source, facts)
    place = parameters.say or f"Place source {source.label} as the procedure says."
    if not (yield from in_place("seated", place, caution=parameters.caution, more=parameters.geometry)):
        return conclude.could_not_check(f"source {source.label} could not be placed as described", carry=out)
    yield from _settled("settle", parameters, "It follows the source until it rests.")
    exposure = Exposure(facts, setting.scale, parameters.count_time, parameters.between)
    finding = yield from _exposed(conclude, setting, exposure)
    if finding.outcome == "fail":
        return replace(finding, carry=out)
    yield from put_back(source)
    yield from _settled("settle-back", parameters, "It falls back to background.")
    background = setting.background or Decimal(0)
    instead = yield from read_back(exposure, background, setting.return_within(finding))
    if instead:
        say = f"It does not come back to background with the source away: {instead}."
        as_found = AsFound("fail", say, finding.numbers) if facts.first_visit else None
        return conclude.failed(say, code=NOT_RETURNING, numbers=finding.numbers, as_found=as_found)
    return finding


def _settled(key: str, parameters: ResponseParameters, meanwhile: str) -> Script[None]:
    if parameters.settle is not None:
        yield Wait(key=key, say="Leave it alone.", seconds=seconds(parameters.settle), meanwhile=meanwhile)


def _exposed(conclude: Concluding, setting: Setting, exposure: Exposure) -> Script[Finding]:
    """The readings, the recount if one is due, and the finding they lead to."""
    parameters = setting.parameters
    label = setting.source.label
    taken = yield from take_readings(exposure, label, "reading", parameters.readings)
    if isinstance(taken, Dead):
        return _dead(conclude, setting, taken)
    finding = _decide(conclude, setting, exposure, taken)
    if not (parameters.recount and parameters.count_time is not None) or finding.outcome != "fail":
        return finding
    again = yield from take_readings(exposure, label, "recount", 1, looked=True)
    if isinstance(again, Dead):
        return _dead(conclude, setting, again)
    return _decide(conclude, setting, exposure, (*taken, *again))


def _dead(conclude: Concluding, setting: Setting, dead: Dead) -> Finding:
    where = f"source {setting.source.label} in place and the selector on {setting.parameters.scale}"
    code, what = (conclude.code, "It goes off the end") if dead.pegged else (NO_RESPONSE, "It does not respond")
    say = f"{what} with {where}."
    numbers = tuple(number(f"reading_{n}", f"Reading {n}", one.value, one.unit) for n, one in enumerate(dead.taken, 1))
    as_found = AsFound("fail", say, numbers) if setting.facts.first_visit else None
    return conclude.failed(say, code=code, numbers=numbers, as_found=as_found)


def _decide(conclude: Concluding, setting: Setting, exposure: Exposure, taken: tuple[Taken, ...]) -> Finding:
    """The finding of a full set of readings, before the source goes back."""
    parameters = setting.parameters
    try:
        observed, shown, net_counts = _observed(setting, exposure, taken)
        unsteady = _unsteady(setting, observed)
        if unsteady or observed.value <= 0:
            say = unsteady or "What it reads with the source is no more than background."
            code = UNSTEADY if unsteady else NO_RESPONSE
            as_found = _as_found(setting, "fail", say, observed.numbers())
            return conclude.failed(say, code=code, numbers=observed.numbers(), as_found=as_found)
        expected = setting.expected(taken[-1].at)
        table = parameters.limits
        around = limits_about(table.low, table.high, table.warn, expected.value, setting.unit)
        judged, unusable = compare(observed, expected, around, parameters.decision.false_accept)
    except Trouble as trouble:
        return conclude.could_not_check(trouble.what)
    numbers = (*judged.numbers(), number("shown", "As shown, net", shown, setting.unit))
    if judged.verdict.passed and unusable:
        return conclude.could_not_check(unusable, numbers=numbers)
    if judged.verdict.passed and net_counts is not None and net_counts < (parameters.minimum_net or 0):
        missing = f"{plain(net_counts)} net counts came in, and at least {parameters.minimum_net} are needed"
        return conclude.could_not_check(missing, numbers=numbers)
    return _conclude(conclude, setting, judged, numbers)


def _observed(setting: Setting, exposure: Exposure, taken: tuple[Taken, ...]) -> tuple[Observed, Decimal, float | None]:
    """What was observed brought to stated air, the same as the instrument showed it, and net counts where counted."""
    counts: float | None = None
    if setting.parameters.count_time is not None:
        shown, counts = observed_counts(exposure, taken, setting.background)
    else:
        readings = tuple(one.value for one in taken)
        net = mean_reading(readings, setting.background or Decimal(0))
        parts = reading_parts(readings, division(setting.scale))
        shown = Observed(net, setting.unit, readings, setting.background, parts)
    if setting.air is None:
        return shown, shown.value, counts
    now = setting.air.now
    scaled = {name: None if part is None else part * now for name, part in shown.parts.items()}
    return replace(shown, value=corrected(shown.value, now), parts=scaled), shown.value, counts


def _unsteady(setting: Setting, observed: Observed) -> str:
    """How far the readings are apart, when that is more than the spread limit allows; "" otherwise."""
    limit = setting.parameters.spread
    if limit is None or len(observed.readings) < 2:
        return ""
    relative = limit.unit == "%"
    allowed = limit.value / 100 if relative else in_unit(limit, setting.scale)
    if agree(observed.readings, Bound(allowed, relative=relative)):
        return ""
    apart = max(observed.readings) - min(observed.readings)
    share = spread(observed.readings)
    part = "" if share is None else f", {plain(100 * share, 2)} % of their mean"
    return f"The readings do not agree: {with_unit(apart, setting.unit)} apart{part}; {limit} is allowed."


def _as_found(setting: Setting, outcome: Outcome, say: str, numbers: tuple[Number, ...]) -> AsFound | None:
    return AsFound(outcome, say, numbers) if setting.facts.first_visit else None


def _conclude(conclude: Concluding, setting: Setting, judged: Judged, numbers: tuple[Number, ...]) -> Finding:
    verdict, unit, words, air = judged.verdict, setting.unit, judged.words, setting.air
    if air is not None:
        words = f"Brought to the reference's air: {words[0].lower()}{words[1:]}"
    numbers = (*numbers, *(air.numbers() if air else ()))
    outcome: Outcome = "warn" if verdict.warned else "pass" if verdict.passed else "fail"
    as_found = _as_found(setting, outcome, words, numbers)
    if outcome == "fail":
        low, high = plain(verdict.accept_lower), plain(verdict.accept_upper)
        say = f"{words} Accepted with source {setting.source.label}: {low} to {high} {unit}."
        return conclude.failed(say, numbers=numbers, as_found=as_found)
    tell = (f"Response near its limit. {words}",) if outcome == "warn" else ()
    return conclude.finding(
        outcome,
        words,
        numbers=numbers,
        as_found=as_found,
        tell=tell,
        shows=((setting.parameters.scale, "source"),),
        factor=air.factor if air else "",
        carry=(air.carry,) if air else (),
    )


_NEXT: Final = replay(_script)


def _dropped(parameters: ResponseParameters, facts: Facts, answers: tuple[Answer, ...]) -> Finding | None:
    """The failure that the readings of a visit show which was given up: they are judged as if no more had been due.

    A dead reading nobody looked at again counts as dead, and a failed count is not saved by a recount never made.
    """
    places = [
        (place, answer.ask.removesuffix("-anew"))
        for place, answer in enumerate(answers)
        if answer.ask.startswith("reading-") and isinstance(answer.value, Reading)
    ]
    if not places:
        return None
    count = len({ask for _, ask in places})
    fewer = parameters.model_copy(update={"readings": count, "recount": False, "minimum_net": None})
    taken = answers[: places[-1][0] + 1]
    found = _NEXT(fewer, facts, taken)
    if isinstance(found, Choice):
        found = _NEXT(fewer, facts, (*taken, Answer(found.key, found.options[0].value, taken[-1].at)))
    return found if isinstance(found, Finding) and found.outcome == "fail" else None


KIND = StepKind(
    name="response",
    about="Response to a check source against its reference reading: decay, background, air, limits and uncertainty.",
    parameters=ResponseParameters,
    next=_NEXT,
    rule=RULE,
    duration=duration,
    disturbed_by=DETECTING | {"source-reseated"},
    codes=(CODE, NO_RESPONSE, UNSTEADY, NOT_RETURNING),
    provides=lambda parameters: frozenset({"response", f"response:{parameters.scale}"}),
    needs=needs,
    check=check,
    limits=limits,
    dropped=_dropped,
)
