"""Taking the readings of an instrument that is exposed to a source, and reading it again with the source away."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

from procedures.asks import Acknowledge, Reading, ReadingAsk, Selector, Wait
from procedures.counting import Count, net_count
from procedures.facts import Facts, ScaleFacts
from procedures.steps._judging import Observed
from procedures.steps._scales import Taken, read_scale
from procedures.steps.base import seconds
from procedures.steps.common import LOOK_AT_SCALE, Script, choose
from procedures.uncertainty import from_scatter
from procedures.units import Quantity, number_in


@dataclass(frozen=True, slots=True)
class Exposure:
    """How one step reads: a needle or display on a scale, or counts in a time.

    `between` is said before every reading but the first.
    """

    facts: Facts
    scale: ScaleFacts
    count_time: Quantity | None = None
    between: str = ""

    @property
    def unit(self) -> str:
        return self.scale.selector.unit

    def in_unit(self, taken: Taken) -> Decimal:
        """A reading in the unit of the scale: counts become a rate with their time."""
        if self.count_time is None:
            return taken.value
        return _rate(float(taken.value) / seconds(self.count_time), self.unit)

    def take(self, key: str, say: str, part: tuple[int, int] | None = None, more: str = "") -> Script[Taken]:
        if self.count_time is None:
            return read_scale(self.facts, self.scale, key, say, part=part, more=more)
        return self._count(self.count_time, key, say, part, more)

    def _count(self, length: Quantity, key: str, say: str, part: tuple[int, int] | None, more: str) -> Script[Taken]:
        start = f"{say} Start a count of {length}."
        yield Acknowledge(key=f"{key}-start", say=start, more=more, part=part, done="It counts")
        yield Wait(key=f"{key}-count", say="Leave it alone. It counts.", part=part, seconds=seconds(length))
        counter = Selector(self.scale.selector.name, Decimal(1), "counts", None, Decimal(1))
        answer = yield ReadingAsk(
            key=key,
            say="Read the counts.",
            part=part,
            look=LOOK_AT_SCALE,
            selectors=(counter,),
            wanted=counter.name,
            whole=True,
            beyond=("pegged", "no response"),
        )
        reading: Reading = answer.value
        return Taken(reading, reading.value, "counts", answer.at)


@dataclass(frozen=True, slots=True)
class Dead:
    """A reading that no good instrument gives beside its source: nothing at all, or off the end of the scale."""

    taken: tuple[Taken, ...]

    @property
    def pegged(self) -> bool:
        return self.taken[-1].reading.state == "pegged"


def is_dead(taken: Taken) -> bool:
    return taken.reading.state in ("no response", "pegged") or taken.value <= 0


def take_readings(
    exposure: Exposure, label: str, key: str, count: int, *, looked: bool = False
) -> Script[tuple[Taken, ...] | Dead]:
    """So many readings with the source in place.

    A dead one is looked at once more, since a source beside its place or a selector elsewhere looks the same. If they
    were right, if it is dead again, or if there was a second look already (`looked`), it stays dead.
    """
    scale = exposure.scale.selector.name
    rests = "" if exposure.count_time is not None else " When it rests, read it."
    say = f"Source {label} in place, selector on {scale}.{rests}"
    taken: tuple[Taken, ...] = ()
    for n in range(1, count + 1):
        more = exposure.between if n > 1 else ""
        part = (n, count) if count > 1 else None
        one = yield from exposure.take(f"{key}-{n}", say, part, more)
        if is_dead(one) and not looked:
            looked = True
            if (yield from _was_in_place(f"{key}-look-again", label, scale)):
                return Dead((*taken, one))
            one = yield from exposure.take(f"{key}-{n}-anew", say, part)
        if is_dead(one):
            return Dead((*taken, one))
        taken = (*taken, one)
    return taken


def _was_in_place(key: str, label: str, scale: str) -> Script[bool]:
    seen = yield from choose(
        key,
        f"Look again: is source {label} in place, and the selector on {scale}?",
        ("both right", "Yes, both are right"),
        ("one was wrong", "No. I have put it right now"),
    )
    return seen == "both right"


def read_back(exposure: Exposure, background: Decimal, within: Decimal) -> Script[str]:
    """Whether it comes back to background with the source away: "" when it does, else what it reads instead."""
    scale = exposure.scale.selector.name
    rests = "" if exposure.count_time is not None else " When it rests, read it."
    say = f"All sources away, selector on {scale}.{rests}"
    one = yield from exposure.take("returned", say)
    if _is_back(exposure, one, background, within):
        return ""
    seen = yield from choose(
        "look-back",
        "It does not rest where it should. Is every source in its store?",
        ("all away", "Yes, all of them"),
        ("one was out", "No. I have put it away now"),
    )
    if seen == "one was out":
        one = yield from exposure.take("returned-anew", say)
        if _is_back(exposure, one, background, within):
            return ""
    return one.text


def _is_back(exposure: Exposure, taken: Taken, background: Decimal, within: Decimal) -> bool:
    return taken.reading.state != "pegged" and abs(exposure.in_unit(taken) - background) <= within


def observed_counts(exposure: Exposure, taken: tuple[Taken, ...], background: Decimal | None) -> tuple[Observed, float]:
    """What counts show net of background, in the unit of the scale, and the net counts.

    A background counted in this checkout brings its own counting uncertainty; one read as a rate brings none.
    """
    each = 0.0 if exposure.count_time is None else seconds(exposure.count_time)
    gross = Count(sum(int(one.value) for one in taken), each * len(taken))
    found = exposure.facts.background(exposure.scale.selector.name)
    if found is not None and found.fact("background_counts"):
        empty = Count(int(found.fact("background_counts")), float(found.fact("background_seconds")))
        net = net_count(gross, empty)
        value, spread = net.rate, net.rate_uncertainty
        background = _rate(empty.rate, exposure.unit)
    else:
        held = 0.0 if background is None else float(number_in(Quantity(background, exposure.unit), "cps"))
        value, spread = gross.rate - held, math.sqrt(gross.counts) / gross.seconds
    rates = tuple(exposure.in_unit(one) for one in taken)
    counting = float(_rate(spread, exposure.unit))
    # Scatter holds the counting statistics already: the larger of the two stands for both.
    parts: dict[str, float | None] = {"counting": max(counting, from_scatter(rates) or 0.0)}
    observed = Observed(_rate(value, exposure.unit), exposure.unit, rates, background, parts)
    return observed, value * gross.seconds


def _rate(per_second: float, unit: str) -> Decimal:
    return number_in(Quantity(Decimal(repr(per_second)), "cps"), unit)
