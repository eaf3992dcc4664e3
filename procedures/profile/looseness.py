"""Which way a parameter of a profile is loose: one row each, with the words by which people know it.

Loose is what lets more instruments pass, asks less, or waits less. What has no row is never taken to be harmless.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Any, Final, Literal

from procedures.trouble import Trouble
from procedures.units import Quantity, number_in

Effect = Literal["loosened", "tightened", "look at it", "wording"]
"""What a change does. "look at it" is a change whose direction cannot be told: it weighs like a loosened one."""

Way = Literal["higher", "lower", "more", "fewer", "yes", "no", "later", "ranked", "dropped", "other", "wording"]
"""What is loose: a higher or lower figure, a longer or shorter list, yes or no, a later step, what stands further on in
`order`; "dropped": to have none; "other": no direction; "wording": words for people."""


@dataclass(frozen=True, slots=True)
class Row:
    """How one parameter is weighed. `absent` says what it means to state nothing; a wait is "shortened" in words."""

    words: str
    way: Way
    absent: Literal["loosest", "unknown"] = "loosest"
    order: tuple[str, ...] = ()
    wait: bool = False


def _higher(words: str) -> Row:
    return Row(words, "higher")


def _lower(words: str) -> Row:
    return Row(words, "lower")


def _wait(words: str, absent: Literal["loosest", "unknown"] = "loosest") -> Row:
    return Row(words, "lower", absent, wait=True)


def _other(words: str) -> Row:
    return Row(words, "other")


def _words(words: str) -> Row:
    return Row(words, "wording")


COMMON: Final[Mapping[str, Row]] = MappingProxyType(
    {
        "say": _words("what is said"),
        "caution": _words("the caution"),
        "lockout": _other("the reason code"),
        "on_fail": _other("the step a failure leads to"),
        "on_pass": _other("the step a pass leads to"),
        "only_when_sent": Row("reached by a failure alone", "yes"),
        "not_before": _wait("how long a lockout stands at least"),
    }
)
"""Keys that every kind of step has."""

REMEDY: Final[Mapping[str, Row]] = MappingProxyType(
    {
        "say": _words("what is said"),
        "caution": _words("the caution"),
        "repeat_from": Row("the step it goes back to", "later"),
        "attempts": _higher("attempts"),
    }
)

STEPS: Final[Mapping[str, Mapping[str, Row]]] = MappingProxyType(
    {
        "acknowledge": {"done": _words("the words of the answer")},
        "alarm": {
            "signals": Row("the signals it must give", "fewer"),
            "set_point": _higher("where the alarm has to stand"),
            "clicks": Row("the source near which clicks must quicken", "dropped"),
        },
        "background": {
            "scale": _other("the scale"),
            "highest": _higher("the highest background"),
            "readings": _lower("how many readings"),
            "settle": _wait("the wait before the first reading"),
            "count_time": _wait("the time of one count", "unknown"),
        },
        "battery": {
            "reads": _other("how the battery is shown"),
            "places": _other("where the needle may rest"),
            "good": Row("the places that are good", "more"),
            "marginal": Row("the places that pass", "more"),
            "minimum": _lower("the lowest that is good"),
            "maximum": _higher("the highest that is good"),
            "load": _words("how the load is put on"),
        },
        "desiccant": {
            "fresh": Row("the colours of dry gel", "more"),
            "turning": Row("the colours that pass", "more"),
            "spent": Row("the colours of spent gel", "fewer"),
        },
        "environment": {
            "pressure": Row("how pressure is found", "dropped", order=("none",)),
            "humidity": Row("whether humidity is taken down", "no"),
        },
        "look-over": {
            "cable": Row("whether the cable is looked at", "no"),
            "label": Row("the date on its label", "ranked", order=("due", "calibrated", "none")),
            "outside": Row("the look for contamination outside", "dropped", order=("none",)),
        },
        "response": {
            "scale": _other("the scale"),
            "source": _other("the source"),
            "geometry": _other("the geometry"),
            "readings": _lower("how many readings"),
            "between": _words("what is said between readings"),
            "settle": _wait("the wait after the source is placed or removed"),
            "spread": _higher("how far readings may be apart"),
            "limits.low": _lower("the lowest that is accepted"),
            "limits.high": _higher("the highest that is accepted"),
            "limits.warn": _higher("beyond what the lead is told"),
            "decision.rule": Row("the decision rule", "ranked", order=("guarded", "simple")),
            "decision.false_accept": _higher("the largest chance of a wrong pass"),
            "smallest_over_background": _lower("the smallest ratio to background"),
            "returns_within": Row("how near to background it must come back", "higher", "unknown"),
            "count_time": _wait("the time of one count", "unknown"),
            "minimum_net": _lower("the fewest net counts"),
            "recount": Row("whether a failed count may be repeated", "yes"),
            "scatter": _words("the scatter in printed chances"),
        },
        "settle": {
            "lasts": _wait("the wait", "unknown"),
            "time_constant": _wait("the time constant", "unknown"),
            "response_time": _wait("the response time", "unknown"),
            "to": _other("what the response time is measured to"),
            "rising_from": _other("the reading before the maker's step"),
            "residual": Row("what may still be to come", "higher", "unknown"),
            "meanwhile": _words("what is said meanwhile"),
        },
        "timed-wait": {"lasts": _wait("the wait"), "meanwhile": _words("what is said meanwhile")},
        "warm-up": {
            "since_on": _wait("the time since it was switched on"),
            "meanwhile": _words("what is said meanwhile"),
        },
        "window": {
            "dimpled": Row("what a dimpled window is", "ranked", order=("fail", "warn")),
            "light_scale": Row("the scale of the try for light leaks", "dropped"),
            "light_within": _higher("how much it may move in bright light"),
            "ratio.scale": Row("the scale of the open and closed readings", "dropped"),
            "ratio.source": Row("the source of the open and closed readings", "dropped"),
            "ratio.low": _lower("the lowest ratio of open to closed"),
            "ratio.high": _higher("the highest ratio of open to closed"),
        },
        "zero": {
            "scale": _other("the scale"),
            "within": _higher("how far off zero may be"),
            "as_found_within": _higher("how far off zero may be found"),
            "hold": _wait("how long the button is held"),
            "adjustable": Row("whether zero is set by the user", "yes"),
            "settle": _wait("the wait before zero is read"),
            "drift_after": _wait("the time until zero is read again"),
            "drift_within": _higher("how far zero may drift"),
            "scatter": _words("the scatter in printed chances"),
        },
    }
)
"""The keys of each kind of step, beside the common ones."""

HEAD: Final[Mapping[str, Row]] = MappingProxyType(
    {
        "format": _other("the format"),
        "id": _other("the id"),
        "title": _words("the title"),
        "revision": _words("the revision"),
        "ready.lasts": _higher("how long a pass may be relied on"),
        "ready.longest_pause": _higher("the longest pause"),
        "detector": _other("the detector"),
        "display": _other("the display"),
        "measures": Row("what it measures", "more"),
        "not_for": Row("what it is not for", "fewer"),
        "air_density": _other("how readings follow the density of air"),
        "operating.temperature.lowest": _lower("the lowest temperature for use"),
        "operating.temperature.highest": _higher("the highest temperature for use"),
        "operating.pressure.lowest": _lower("the lowest pressure for use"),
        "operating.pressure.highest": _higher("the highest pressure for use"),
        "operating.humidity.lowest": _lower("the lowest humidity for use"),
        "operating.humidity.highest": _higher("the highest humidity for use"),
        "operating.soak": _wait("how long it stands after hot or cold"),
        "warnings": _words("the warnings to the user"),
        "window": Row("whether it has a window", "no"),
        "zero": Row("whether it needs a zero", "no"),
    }
)
"""The keys of the profile and of its instrument."""

SCALE: Final[Mapping[str, Row]] = MappingProxyType(
    {
        "full_scale": _other("full scale"),
        "division": _other("the smallest division"),
        "multiplier": _other("the multiplier"),
        "shown_by": Row("how it is shown to work", "ranked", order=("source", "zero", "nothing")),
    }
)

REASON: Final[Mapping[str, Row]] = MappingProxyType(
    {"say": _words("what is wrong"), "do": _words("what is to be done")}
)

RETURN: Final[Mapping[str, Row]] = MappingProxyType(
    {
        "say": _words("the question"),
        "choices": _other("the answers"),
        "good": Row("the answers that are good", "more"),
        "contaminated": Row("the answers that mean contamination", "fewer"),
    }
)


def rows_for(kind: str) -> Mapping[str, Row]:
    """The rows of one kind of step, the common keys among them. A kind that is not known has those alone."""
    return {**COMMON, **STEPS.get(kind, {})}


def same(was: Any, now: Any) -> bool:
    """Whether two values mean the same: 60 s is 1 min."""
    if isinstance(was, Quantity) and isinstance(now, Quantity):
        return _sign(was, now) == 0
    return bool(was == now)


def effect_of(row: Row, was: Any, now: Any) -> Effect:
    """What it does to go from `was` to `now`, which differ. A list, for "more" and "fewer", is weighed as a set."""
    if row.way == "wording":
        return _effect_of_words(was, now)
    if row.way == "dropped":
        none = row.order[0] if row.order else None
        return "loosened" if now == none else "tightened" if was == none else "look at it"
    if row.way in ("yes", "no"):
        return "loosened" if now is (row.way == "yes") else "tightened"
    if row.way in ("more", "fewer"):
        return _effect_of_sets(row.way, frozenset(was or ()), frozenset(now or ()))
    if row.way == "ranked" and was in row.order and now in row.order:
        return "loosened" if row.order.index(now) > row.order.index(was) else "tightened"
    if row.way in ("higher", "lower"):
        if was is None or now is None:
            return "look at it" if row.absent == "unknown" else "loosened" if now is None else "tightened"
        sign = _sign(was, now)
        return "look at it" if sign is None else "loosened" if (sign > 0) == (row.way == "higher") else "tightened"
    return "look at it"


def _effect_of_words(was: Any, now: Any) -> Effect:
    """Words may be bettered; a caution or a warning that is gone protects nobody."""
    gone = (
        len(now) < len(was)
        if isinstance(was, tuple) and isinstance(now, tuple)
        else isinstance(was, str) and was != "" and not now
    )
    return "loosened" if gone else "wording"


def _effect_of_sets(way: Way, was: frozenset[Any], now: frozenset[Any]) -> Effect:
    grown, shrunk = bool(now - was), bool(was - now)
    if grown and shrunk:
        return "look at it"
    return "loosened" if grown == (way == "more") else "tightened"


def _sign(was: Any, now: Any) -> int | None:
    """1 when `now` is more, -1 when it is less, 0 when it is the same, None when the two cannot be compared."""
    if isinstance(was, Quantity) and isinstance(now, Quantity):
        try:
            now, was = number_in(now, was.unit), was.value
        except Trouble:
            return None
    numbers = int | float | Decimal
    if not isinstance(was, numbers) or not isinstance(now, numbers):
        return None
    return (now > was) - (now < was)
