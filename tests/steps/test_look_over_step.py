"""The look-over step."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from procedures.asks import DateAsk, Scan
from procedures.steps import kind

DUE = date(2027, 9, 1)
FINE = {"case": "whole", "cable": "whole", "outside": "below limit", "label": DUE}
FULL = {"cable": True, "outside": "wipe"}


def looked(bench: Any, shape: dict[str, Any], facts: Any = None, **changes: Any) -> Any:
    answers = FINE | {key.replace("_", "-"): value for key, value in changes.items()}
    return bench.visit(bench.parameters("look-over", **shape), facts or bench.facts(), answers)


def test_identity_comes_first(bench: Any) -> None:
    """Nothing that is seen counts for an instrument that was not scanned."""
    visit = looked(bench, FULL, bench.facts(instrument={"detector": "P-7"}))
    assert visit.keys == ["instrument", "detector", "case", "cable", "outside", "label"]
    assert isinstance(visit.asks[0], Scan)
    assert visit.asks[0].subject == bench.facts().instrument.id
    assert visit.outcome == "pass"


def test_the_label_is_not_read_out_to_the_person_who_should_read_it(bench: Any) -> None:
    """The date on record is not shown: it would be read into the label."""
    label = looked(bench, {}).asks[-1]
    assert isinstance(label, DateAsk)
    assert not [text for text in (label.say, label.more, label.notice) if "2027" in text]


def test_a_wrong_instrument_passes_nothing_however_often(bench: Any) -> None:
    """Twelve alike on the bench: a wrong label is asked again with what is wrong, and that is all."""
    visit = looked(bench, {}, instrument="C-102", instrument_2="C-103", instrument_3="c-101")
    assert visit.keys[:4] == ["instrument", "instrument-2", "instrument-3", "case"]
    assert "C-102" in visit.asks[1].notice
    assert visit.outcome == "pass"


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"case": "cracked or dented"}, "case-damaged"),
        ({"case": "loose"}, "case-damaged"),
        ({"case": "wet"}, "case-damaged"),
        ({"case": "unreadable"}, "case-damaged"),
        ({"cable": "damaged"}, "cable-damaged"),
        ({"cable": "loose"}, "cable-damaged"),
        ({"outside": "above limit"}, "contaminated"),
    ],
)
def test_what_is_seen_to_be_wrong_fails_with_its_own_reason(bench: Any, changes: dict[str, str], code: str) -> None:
    """A fault found → out of service until repaired (Minnesota R. 4731.4090, Maine 10-144 ch. 220, read)."""
    visit = looked(bench, FULL, **changes)
    assert (visit.outcome, visit.finding.code) == ("fail", code)


@pytest.mark.parametrize(
    ("read", "words"),
    [(None, "label is missing"), (date(2027, 8, 1), "1 Aug 2027"), (date(2028, 9, 1), "the record says 1 Sep 2027")],
)
def test_a_label_that_is_not_the_record_is_not_checked(bench: Any, read: date | None, words: str) -> None:
    """Which of the two is right is not known here; it is no fault of the instrument, and it is not fit."""
    visit = looked(bench, {}, label=read)
    assert visit.outcome == "could not check"
    assert words in visit.finding.missing


@pytest.mark.parametrize(("day", "outcome"), [(12, "pass"), (11, "could not check")])
def test_a_due_date_ends_at_local_midnight(bench: Any, day: int, outcome: str) -> None:
    """The checkout is on 12 March; a calibration that is due that day still holds."""
    due = date(2027, 3, day)
    facts = bench.facts(instrument={"calibration_due": due})
    assert looked(bench, {}, facts, label=due).outcome == outcome


def test_the_day_is_the_sites_day(bench: Any) -> None:
    """06:00 in Greenwich on the 12th is still the evening of the 11th in Honolulu."""
    due = date(2027, 3, 11)
    facts = bench.facts(instrument={"calibration_due": due}, settings={"zone": "Pacific/Honolulu"})
    assert looked(bench, {}, facts, label=due).outcome == "pass"


def test_a_label_with_the_day_of_calibration_is_compared_with_that(bench: Any) -> None:
    """Labels differ; the end of the calibration then comes from the record."""
    assert looked(bench, {"label": "calibrated"}, label=date(2026, 9, 1)).outcome == "pass"
    late = bench.facts(instrument={"calibration_due": date(2027, 3, 11)})
    assert looked(bench, {"label": "calibrated"}, late, label=date(2026, 9, 1)).outcome == "could not check"


def test_no_calibration_on_record_is_not_checked(bench: Any) -> None:
    """A date on a label alone proves nothing."""
    facts = bench.facts(instrument={"calibration_due": None})
    assert looked(bench, {}, facts).outcome == "could not check"


def test_a_cable_is_looked_at_only_where_there_is_one(bench: Any) -> None:
    """Asking for what is not there teaches people to answer without looking."""
    assert "cable" not in looked(bench, {}).keys
    assert "cable" in looked(bench, {}, bench.facts(instrument={"cable": "K-3"})).keys


def test_every_look_takes_its_time(bench: Any) -> None:
    """An answer faster than the thing can be looked at is recorded as hasty."""
    visit = looked(bench, FULL)
    assert all(ask.look >= 1 for ask in visit.asks if not isinstance(ask, Scan))


@given(data=st.data())
def test_any_answers_lead_to_a_finding(bench: Any, data: st.DataObject) -> None:
    """No way through the step may hang, and a pass means that all was whole and the label right."""
    visit = bench.any_visit(data, bench.parameters("look-over", **FULL), bench.facts())
    if visit.outcome == "pass":
        given_answers = {answer.ask: answer.value for answer in visit.answers}
        assert {key: given_answers[key] for key in FINE} == FINE


def test_it_stands_until_something_was_opened() -> None:
    """Fresh cells do not undo a look at the case."""
    assert "fresh-cells" not in kind("look-over").disturbed_by
    assert "case-opened" in kind("look-over").disturbed_by
