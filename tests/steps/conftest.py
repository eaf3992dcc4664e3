"""A bench for kinds of step: an invented instrument, answers by key, and visits with any answers at all."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import strategies as st

from procedures.asks import (
    SWITCHED_ON,
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
from procedures.clock import Instant
from procedures.facts import Facts, InstrumentFacts, ReferenceFacts, ScaleFacts, SourceFacts
from procedures.findings import Finding
from procedures.steps import kind
from procedures.steps.base import InstrumentSpec

OPENED = datetime(2027, 3, 12, 6, 0, tzinfo=UTC)
MOST_ASKS = 60

D = Decimal
SCALES = (
    ScaleFacts(Selector("x1", D(1), "mR/h", D(3), D("0.1")), D(3), "source"),
    ScaleFacts(Selector("x10", D(10), "mR/h", D(3), D("0.1")), D(30), "zero"),
)
COUNTER = (ScaleFacts(Selector("rate", D(1), "cpm", None, D(1)), D(100000), "source"),)
SOURCE = SourceFacts(
    role="daily",
    id="5" * 64,
    label="S-7",
    nuclide="Cs-137",
    half_life_days=30.1671 * 365.2422,
    half_life_relative_u=0.001,
    half_life_source="invented",
    emits="gamma",
)


@dataclass(frozen=True)
class Visit:
    """One visit to a step: the asks in order, their answers, and the finding."""

    asks: tuple[Ask, ...]
    answers: tuple[Answer, ...]
    finding: Finding

    @property
    def keys(self) -> list[str]:
        return [ask.key for ask in self.asks]

    @property
    def outcome(self) -> str:
        return self.finding.outcome


class Bench:
    """What tests of kinds of step work with."""

    counter = COUNTER

    def spec(self, **changes: Any) -> InstrumentSpec:
        return replace(InstrumentSpec("vented ion chamber", SCALES), **changes)

    def facts(self, **changes: Any) -> Facts:
        made = InstrumentFacts(
            "1" * 64, "C-101", "4711", "invented", calibrated_on=date(2026, 9, 1), calibration_due=date(2027, 9, 1)
        )
        instrument = replace(made, **changes.pop("instrument", {}))
        marks = {SWITCHED_ON: Instant(OPENED, 0, 0.0, "bench")}
        source = replace(SOURCE, **changes.pop("source", {}))
        return replace(Facts(instrument, SCALES, OPENED, sources=(source,), marks=marks), **changes)

    def reference(self, value: str = "1.66", **changes: Any) -> ReferenceFacts:
        """A reference reading on x1, taken the day before the checkout."""
        at = OPENED - timedelta(days=1)
        return replace(ReferenceFacts("daily", SOURCE.id, "x1", "", D(value), "mR/h", 0.01, at), **changes)

    def parameters(self, name: str, **keys: Any) -> Any:
        """Parameters as the loader hands them over: arrays as tuples, tables as dicts."""
        return kind(name).parameters.model_validate({"id": name, "kind": name, **keys})

    def read(self, figure: str, selector: str = "x1", state: str = "on scale", scales: Any = SCALES) -> Reading:
        found = next(each.selector for each in scales if each.selector.name == selector)
        return Reading(selector, D(figure), found.times, found.unit, state)  # type: ignore[arg-type]

    def visit(self, parameters: Any, facts: Facts, given: Mapping[str, Any] | None = None) -> Visit:
        """Walks the step. `given` are answers by key (a list: one after another, for keys that begin alike).

        What every visit needs is answered by itself: acknowledgements, waits, holds and the right scans.
        """
        given = dict(given or {})

        def respond(ask: Ask) -> Any:
            if ask.key in given:
                return given[ask.key]
            match ask:
                case Acknowledge():
                    return True
                case Wait() | Hold():
                    return float(ask.seconds)
                case Scan():
                    return ask.due
            raise AssertionError(f"nothing is given for {ask}")

        return self.walk(parameters, facts, respond)

    def walk(self, parameters: Any, facts: Facts, respond: Callable[[Ask], Any]) -> Visit:
        step = kind(parameters.kind).next
        asks: list[Ask] = []
        answers: list[Answer] = []
        while isinstance(found := step(parameters, facts, tuple(answers)), Ask):
            assert len(asks) < MOST_ASKS, f"asked without end: {[ask.key for ask in asks]}"
            asks.append(found)
            at = facts.opened + timedelta(seconds=20 * len(asks))
            answers.append(Answer(found.key, respond(found), at))
        return Visit(tuple(asks), tuple(answers), found)

    def any_visit(self, data: st.DataObject, parameters: Any, facts: Facts) -> Visit:
        """A visit with any answers that the asks take (labels and selector positions right), and what must hold of it.

        It ends; no key comes twice; the same answers lead to the same asks and the same finding; a finding is whole.
        """
        visit = self.walk(parameters, facts, lambda ask: data.draw(_answers(ask), label=ask.key))
        assert len(set(visit.keys)) == len(visit.keys)
        step = kind(parameters.kind)
        for length, ask in enumerate((*visit.asks, visit.finding)):
            assert step.next(parameters, facts, visit.answers[:length]) == ask
        found = visit.finding
        assert (found.step, found.kind, found.rule) == (parameters.id, step.name, step.rule)
        assert found.say
        assert bool(found.code) == (found.outcome == "fail")
        assert bool(found.missing) == (found.outcome == "could not check")
        assert step.can_fail or found.outcome != "fail"
        assert not found.code or found.code in {parameters.lockout, *step.codes}
        assert found.as_found is None or facts.first_visit
        return visit


def _answers(ask: Ask) -> st.SearchStrategy[Any]:
    match ask:
        case Choice():
            return st.sampled_from([option.value for option in ask.options])
        case Place():
            return st.sampled_from(ask.places)
        case ReadingAsk():
            return _readings(ask)
        case TextAsk():
            return st.text(min_size=1, max_size=ask.longest)
        case DateAsk():
            dates = st.dates(date(2020, 1, 1), date(2040, 1, 1))
            return st.none() | dates if ask.absent else dates
        case QuantityAsk():
            low = ask.low if ask.low is not None else D(-1000)
            high = ask.high if ask.high is not None else D(100000)
            return st.decimals(low, high, places=1).map(lambda figure: (figure, ask.units[0]))
        case Wait() | Hold():
            return st.floats(ask.seconds, ask.seconds + 3600)
        case Scan():
            return st.just(ask.due)
    return st.just(True)


def _readings(ask: ReadingAsk) -> st.SearchStrategy[Reading]:
    wanted = [s for s in ask.selectors if s.name == ask.wanted or not ask.wanted]
    states = ("on scale", *ask.beyond)

    def made(selector: Selector, state: str, share: int) -> Reading:
        top = selector.top or D(5000)
        figure = {"pegged": top, "no response": D(0), "below zero": -top * share / 1000}.get(state, top * share / 1000)
        if ask.whole:
            figure = figure.to_integral_value()
        return Reading(selector.name, figure, selector.times, selector.unit, state)  # type: ignore[arg-type]

    return st.builds(made, st.sampled_from(wanted), st.sampled_from(states), st.integers(0, 1000))


@pytest.fixture(scope="session")
def bench() -> Bench:
    return Bench()
