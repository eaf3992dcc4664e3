"""What a step is going to ask of a sound instrument, found by trying answers: for forms that are printed beforehand.

A step hands out one ask at a time, and later ones depend on earlier answers. Paper cannot: it shows the asks on the way
that passes. That way is searched for with the step's own pure function, so that no kind of step is known here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from typing import Any, Final

from procedures.asks import (
    SOURCE_BACK,
    SOURCE_OUT,
    Acknowledge,
    Answer,
    Ask,
    Choice,
    DateAsk,
    Hold,
    Place,
    QuantityAsk,
    Reading,
    ReadingAsk,
    Scan,
    Selector,
    TextAsk,
    Wait,
)
from procedures.facts import Facts
from procedures.findings import COUNTS_AS_PASS, Finding
from procedures.procedure import Next
from procedures.trouble import Trouble
from procedures.units import Quantity, number_in

MOST_TRIES: Final = 2_000
_SECONDS: Final = 4.0
_USUAL: Final = {"°C": "20", "kPa": "101.3", "%": "50", "m": "100"}
_SPOTS: Final = 24
_NO_END: Final = Decimal(200)


@dataclass(frozen=True, slots=True)
class Way:
    """The asks of a visit from here to its finding, and that finding (None: no end was found)."""

    asks: tuple[Ask, ...]
    finding: Finding | None


def foresee(step: Next, facts: Facts, answers: tuple[Answer, ...] = ()) -> Way:
    """The way on from these answers that a sound instrument takes; where none passes, the first one that was tried."""
    search = _Search(step, facts, hints=tuple(_quantities(parameters_of(step))))
    for _ in range(2):
        # What the first try found tells by how much the readings beside a source have to be more or less.
        if search.follow(answers, ()) or not search.learned:
            break
        search.factor, search.learned = search.factor * search.learned, Decimal(0)
    return search.passed or search.first or Way((), None)


def parameters_of(step: Next) -> Any:
    """The parameters that a step of a profile was filled in with; None for a step made otherwise."""
    return step.args[0] if isinstance(step, partial) and step.args else None


def _quantities(value: Any) -> Iterator[Quantity]:
    """Every quantity that parameters name: among them is what a sound instrument shows."""
    if isinstance(value, Quantity):
        yield value
    elif isinstance(value, tuple):
        for each in value:
            yield from _quantities(each)
    elif hasattr(type(value), "model_fields"):
        for _name, each in value:
            yield from _quantities(each)


@dataclass(slots=True)
class _Search:
    """Depth first, the likeliest answer first."""

    step: Next
    facts: Facts
    hints: tuple[Quantity, ...]
    factor: Decimal = Decimal(1)
    learned: Decimal = Decimal(0)
    tries: int = 0
    first: Way | None = None
    passed: Way | None = None

    def follow(self, answers: tuple[Answer, ...], asks: tuple[Ask, ...]) -> bool:
        """Whether a way that passes was found from here, or there is no use in looking on."""
        self.tries += 1
        try:
            found = self.step(self.facts, answers)
        except Trouble:
            return False
        if isinstance(found, Finding):
            return self._ended(Way(asks, found), found)
        for value in self._values(found, exposed=_is_out(asks)):
            answer = Answer(found.key, value, self.facts.opened, _SECONDS)
            done = self.follow((*answers, answer), (*asks, found))
            if done or self.learned or self.tries >= MOST_TRIES:
                return done
        return False

    def _ended(self, way: Way, found: Finding) -> bool:
        if found.outcome in COUNTS_AS_PASS:
            self.passed = way
            return True
        self.first = self.first or way
        observed, expected = found.number("observed"), found.number("expected")
        if observed is not None and expected is not None and self.factor == 1:
            seen, wanted = Decimal(observed.value), Decimal(expected.value)
            self.learned = wanted / seen if seen > 0 and wanted > 0 else Decimal(0)
        return False

    def _values(self, ask: Ask, *, exposed: bool) -> Iterator[Any]:
        match ask:
            case Choice():
                yield from (option.value for option in ask.options)
            case Place():
                yield from ask.places
            case ReadingAsk():
                yield from self._readings(ask, exposed=exposed)
            case QuantityAsk():
                yield from self._figures(ask)
            case DateAsk():
                made = self.facts.instrument
                days = (made.calibration_due, made.calibrated_on, self.facts.opened.date())
                yield from dict.fromkeys(day for day in days if day is not None)
            case Scan():
                yield ask.due or self.facts.instrument.label or "label"
            case TextAsk():
                yield "-"
            case Wait() | Hold():
                yield ask.seconds
            case Acknowledge():
                yield True

    def _readings(self, ask: ReadingAsk, *, exposed: bool) -> Iterator[Reading]:
        """Beside a source the middle of the scale first, else nothing first."""
        chosen = next((each for each in ask.selectors if each.name == ask.wanted), ask.selectors[0])
        middle = (chosen.top or _NO_END) / 2 * self.factor
        if chosen.top is not None and middle > chosen.top:
            middle = chosen.top
        if ask.whole:
            middle = middle.to_integral_value()
        some, nothing = _reading(chosen, middle), _reading(chosen, Decimal(0))
        yield from (some, nothing) if exposed else (nothing, some)

    def _figures(self, ask: QuantityAsk) -> Iterator[tuple[Decimal, str]]:
        unit = ask.units[0]
        low, high = ask.low or Decimal(0), ask.high if ask.high is not None else Decimal(100)
        usual = [Decimal(_USUAL[unit])] if unit in _USUAL else []
        spots = [low + (high - low) * n / _SPOTS for n in range(_SPOTS + 1)]
        for figure in dict.fromkeys([*self._hinted(unit), *usual, *spots]):
            if low <= figure <= high:
                yield figure, unit

    def _hinted(self, unit: str) -> Iterator[Decimal]:
        for hint in self.hints:
            try:
                yield number_in(hint, unit)
            except Trouble:
                continue


def _is_out(asks: tuple[Ask, ...]) -> bool:
    """Whether a source was taken out on this way and is not back."""
    marks = [ask.mark for ask in asks if ask.mark in (SOURCE_OUT, SOURCE_BACK)]
    return bool(marks) and marks[-1] == SOURCE_OUT


def _reading(chosen: Selector, figure: Decimal) -> Reading:
    return Reading(chosen.name, figure, chosen.times, chosen.unit)
