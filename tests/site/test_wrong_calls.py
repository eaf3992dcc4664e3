"""Calls that mean nothing the site knows, or say what cannot be: clear words, and nothing is written."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from desk_walk import START, id_of, sensible, small_site, step_on, walk

from procedures.asks import Choice
from procedures.clock import ManualClock
from procedures.site import clearing, references
from procedures.site.checkouts import Desk
from procedures.site.views import CheckoutView, Typed
from procedures.trouble import Trouble


class Room:
    """A small site, its desk, and the ids that tests name."""

    def __init__(self, folder: Path) -> None:
        self.clock = ManualClock(START)
        self.site = small_site(folder, self.clock)
        self.clock.advance(60)
        self.desk = Desk(self.site)
        self.instrument, self.technician = id_of(self.site, "C-1"), id_of(self.site, "P-2")
        self.source, self.jig = id_of(self.site, "S-1"), id_of(self.site, "J-1")

    def start(self) -> CheckoutView:
        return self.desk.start(self.instrument, self.technician)

    def calibrated(self, instrument: str) -> str:
        on = dt.date(2026, 5, 20)
        return references.calibrated(
            self.site, instrument, on=on, due=on.replace(year=2027), by="bench", certificate="2"
        )

    def reference(self, **changes: object) -> str:
        now = self.site.journal.instrument_now(self.instrument).calibration
        assert now is not None
        given: dict[str, object] = {
            "source": self.source,
            "jig": self.jig,
            "role": "daily",
            "scale": "x10",
            "readings": ["16", "16", "17"],
            "unit": "mR/h",
            "calibration": now.event,
            "instrument": self.instrument,
        }
        given |= changes
        return references.reference_reading(self.site, **given)  # type: ignore[arg-type]


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    made = Room(tmp_path)
    yield made
    made.site.close()


CALLS: dict[str, Callable[[Room, str], object]] = {
    "lock": lambda room, thing: clearing.lock_by_hand(room.site, thing, room.technician, "it rattles"),
    "lock by": lambda room, thing: clearing.lock_by_hand(room.site, room.instrument, thing, "it rattles"),
    "end": lambda room, thing: clearing.end_readiness(room.site, thing, room.technician, "wet"),
    "end by": lambda room, thing: clearing.end_readiness(room.site, room.instrument, thing, "wet"),
    "calibrated": lambda room, thing: room.calibrated(thing),
    "reference of": lambda room, thing: room.reference(instrument=thing),
    "reference with": lambda room, thing: room.reference(source=thing),
    "reference in": lambda room, thing: room.reference(jig=thing),
    "view": lambda room, thing: room.desk.view(thing),
    "withdraw": lambda room, thing: room.desk.withdraw(thing, "the wrong one"),
    "abandon": lambda room, thing: room.desk.abandon(thing),
    "note": lambda room, thing: room.desk.note(thing, "a remark"),
}
OF_ANOTHER_SORT: dict[str, Callable[[Room], str]] = {
    "lock by": lambda room: room.source,
    "end by": lambda room: room.source,
    "reference with": lambda room: room.jig,
    "view": lambda room: room.instrument,
    "withdraw": lambda room: room.instrument,
    "abandon": lambda room: room.instrument,
    "note": lambda room: room.instrument,
}


def unchanged(room: Room, call: Callable[[], object]) -> None:
    before = room.site.journal.heads()
    with pytest.raises(Trouble):
        call()
    assert room.site.journal.heads() == before


@pytest.mark.parametrize("call", CALLS)
@pytest.mark.parametrize("meant", ["", "nobody", "e" * 64, "\ud800"])
def test_an_id_of_nothing_is_told_in_words(room: Room, call: str, meant: str) -> None:
    """An event about nothing would be kept for ever and never be seen."""
    unchanged(room, lambda: CALLS[call](room, meant))


@pytest.mark.parametrize("call", CALLS)
def test_an_id_of_another_sort_of_thing_is_told_in_words(room: Room, call: str) -> None:
    """A lockout of a source or a person would lock nothing; an instrument is no checkout of it."""
    meant = OF_ANOTHER_SORT.get(call, lambda room: room.source)(room)
    unchanged(room, lambda: CALLS[call](room, meant))


@pytest.mark.parametrize("code", ["", " ", "\ud800"])
def test_a_lockout_has_a_reason_code(room: Room, code: str) -> None:
    """Whoever clears it looks the code up."""
    unchanged(room, lambda: clearing.lock_by_hand(room.site, room.instrument, room.technician, "it rattles", code=code))


@pytest.mark.parametrize("changes", [{"readings": ["abc"] * 3}, {"readings": ["nan"] * 3}, {"role": ""}, {"scale": ""}])
def test_a_reference_reading_that_cannot_be_is_refused(room: Room, changes: dict[str, object]) -> None:
    """It is what every later check is compared with."""
    unchanged(room, lambda: room.reference(**changes))


@pytest.mark.parametrize("why", ["\ud800", "wet\x00\x1b[2J", "", "tired"])
def test_a_checkout_can_be_given_up_and_set_aside_with_any_words(room: Room, why: str) -> None:
    """What a terminal or a paste brings along is left out; the words that remain are kept."""
    view = room.desk.pause(room.start().checkout, why)
    view = room.desk.abandon(view.checkout, why)
    assert view.ending is not None
    assert view.ending.ending == "abandoned"


def test_a_pasted_page_is_no_reason(room: Room) -> None:
    """It would stand on every list; the checkout goes on until a line is given."""
    checkout = room.start().checkout
    for call in (room.desk.pause, room.desk.abandon):
        with pytest.raises(Trouble, match="too long"):
            call(checkout, "x" * 1000)
    assert room.desk.view(checkout).ending is None


@pytest.mark.parametrize("took", [float("inf"), float("-inf"), float("nan"), -1.0])
def test_a_time_that_cannot_be_is_no_time(room: Room, took: float) -> None:
    """The answer is kept, and counts as given in haste: nobody can say that somebody looked."""
    view = room.start()
    while not isinstance(view.ask, Choice):
        view = step_on(room.desk, view, room.clock)
    room.desk.answer(view.checkout, view.ask.key, Typed(sensible(view.ask, view)), took=took)
    answered = [each for each in room.site.journal.checkout_events(view.checkout) if each.kind == "answered"][-1]
    assert (answered.body["took"], answered.body["hasty"]) == (0.0, True)


def test_the_right_ids_are_taken(room: Room) -> None:
    """The refusals above are of what is wrong alone."""
    walk(room.desk, room.start(), room.clock)
    room.reference()
    clearing.end_readiness(room.site, room.instrument, room.technician, "wet")
    clearing.lock_by_hand(room.site, room.instrument, room.technician, "it rattles")
    room.calibrated(room.instrument)
