"""Attempts to get an instrument back into use around its checks: by forms, dates, names, two laptops, and haste.

The first part are attempts one by one. The last is a machine on two laptops that fills forms in, checks, and exchanges,
and compares with an oracle of its own that knows only who did what knowing of what.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from life_room import BACK, USE, LifeRoom, low

from procedures.clock import ManualClock
from procedures.site import (
    calibrations,
    clearing,
    exchange,
    handouts,
    inventory,
    sources,
)
from procedures.site.calibrations import Given
from procedures.site.forms import task
from procedures.site.opening import Site, open_site
from procedures.trouble import Trouble


@pytest.fixture
def room(tmp_path: Path) -> Iterator[LifeRoom]:
    made = LifeRoom(tmp_path)
    yield made
    made.site.close()


class Two:
    """A laptop and one that joined its site; their clocks go together."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.files = folder, 0
        self.room = LifeRoom(folder)
        whole = exchange.exchange_out(self.room.site, folder / "whole.exchange").path
        self.clock = ManualClock(self.room.clock.now().utc + dt.timedelta(seconds=2), session="other")
        exchange.join(whole, folder / "other", self.clock, station="station-b", name="gate laptop")
        self.site, self.other = self.room.site, open_site(folder / "other", self.clock)
        self.later(5)

    def later(self, seconds: float) -> None:
        self.room.clock.advance(seconds)
        self.clock.advance(seconds)

    def bring(self, source: Site, target: Site) -> None:
        self.files += 1
        path = exchange.exchange_out(source, self.folder / f"{self.files}.exchange").path
        self.later(5)
        exchange.exchange_in(target, path)
        path.unlink()

    def close(self) -> None:
        self.site.close()
        self.other.close()


@pytest.fixture
def two(tmp_path: Path) -> Iterator[Two]:
    made = Two(tmp_path)
    yield made
    made.close()


def certificate(on: dt.date, number: str, due: dt.date = dt.date(2027, 5, 1)) -> Given:
    return Given(on=on, due=due, by="bench", certificate=number, stated="within")


def calibrate(room: LifeRoom, on: dt.date, number: str = "K-5") -> str:
    return calibrations.record(room.site, room.instrument, room.lead, certificate(on, number))


def clear(room: LifeRoom, **changes: Any) -> str:
    given: dict[str, Any] = {"lockouts": room.standing(), "cause": "torn", "action": "mended", "repaired_by": "shop"}
    return clearing.clear(room.site, room.instrument, room.lead, **(given | changes))


def no_calibration(room: LifeRoom) -> bool:
    return room.site.journal.instrument_now(room.instrument).calibration is None


# --- calibrations that come back to life ---------------------------------------------------------------------------

OLD = dt.date(2026, 5, 1)
"""The day of the calibration that the small site begins with; its certificate is K-1."""


def another_detector(room: LifeRoom) -> None:
    inventory.describe(room.site, room.instrument, {"detector": "D-9"})


def a_repair(room: LifeRoom) -> None:
    day: dict[str, Any] = {"on": OLD, "by": "shop", "what": "window"}
    calibrations.repaired(room.site, room.instrument, room.lead, voids_calibration=True, **day)


def a_clearing_that_asks_for_one(room: LifeRoom) -> None:
    assert room.check(low) == "locked out"
    clear(room, calibration_needed=True)


@pytest.mark.parametrize("ends", [another_detector, a_repair, a_clearing_that_asks_for_one])
@pytest.mark.parametrize("number", ["K-1", "k-1 ", "K-1\u200b"])
def test_a_calibration_that_was_ended_is_not_entered_again(
    ends: Callable[[LifeRoom], None], number: str, room: LifeRoom
) -> None:
    """The certificate of before says nothing of what the instrument is now."""
    ends(room)
    assert no_calibration(room)
    with pytest.raises(Trouble):
        calibrate(room, OLD, number)
    assert no_calibration(room)


def test_a_lesser_repair_does_not_hide_the_one_that_voided_the_calibration(room: LifeRoom) -> None:
    """The newest repair is not the only one that counts."""
    for on, voids in ((dt.date(2026, 5, 20), True), (dt.date(2026, 5, 25), False)):
        calibrations.repaired(
            room.site, room.instrument, room.lead, on=on, by="shop", what="case", voids_calibration=voids
        )
    with pytest.raises(Trouble, match="repaired on 2026-05-20"):
        calibrate(room, dt.date(2026, 5, 10))
    calibrate(room, dt.date(2026, 5, 20))
    assert not no_calibration(room)


def test_a_clearing_is_not_made_good_by_a_certificate_from_before_the_lockout(room: LifeRoom) -> None:
    """Recorded late is not calibrated late."""
    assert room.check(low) == "locked out"
    clear(room, calibration_needed=True)
    with pytest.raises(Trouble, match="locked out on 2026-06-01"):
        calibrate(room, dt.date(2026, 5, 31))
    calibrate(room, dt.date(2026, 6, 1))


def test_a_reason_that_wants_a_calibration_wants_one_made_since(room: LifeRoom) -> None:
    """The order in which papers are typed in is not the order in which things were done."""
    room.set(calibration_for="response-out")
    assert room.check(low) == "locked out"
    calibrate(room, dt.date(2026, 5, 31))
    with pytest.raises(Trouble, match="calibrated first"):
        clear(room)


@pytest.mark.parametrize("due", [dt.date(9999, 12, 31), dt.date(2126, 6, 1), dt.date(2036, 6, 2)])
def test_a_slip_of_typing_makes_no_calibration_last_for_ever(due: dt.date, room: LifeRoom) -> None:
    """2126 for 2026 is one key."""
    given = certificate(dt.date(2026, 6, 1), "K-5", due)
    with pytest.raises(Trouble, match="cannot be due"):
        calibrations.record(room.site, room.instrument, room.lead, given)


# --- clearings -----------------------------------------------------------------------------------------------------


def test_what_was_locked_out_since_the_form_was_shown_is_cleared_by_nobody(room: LifeRoom) -> None:
    """“All” means what the lead had read."""
    for say in ("it rattles", "it hums"):
        clearing.lock_by_hand(room.site, room.instrument, room.tech, say)
    shown = room.form("clear", person=room.lead)
    filled = {each.id: each.value for each in shown.fields}
    smoke = clearing.lock_by_hand(room.site, room.instrument, room.tech, "smoke comes out")
    filled |= {"cause": "loose screw", "action": "tightened", "repaired_by": "shop", "calibration": "no"}
    with suppress(Trouble):
        task("clear").keep(room.site, room.instrument, room.lead, filled)
    lockouts = room.site.journal.instrument_now(room.instrument).lockouts
    assert {each.id for each in lockouts if each.status == "open"} >= {smoke}


def test_a_lockout_that_comes_while_the_pins_are_typed_is_noticed(
    room: LifeRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between looking and recording another window may lock it out: then it is decided again."""
    clearing.lock_by_hand(room.site, room.instrument, room.tech, "it rattles")
    other = open_site(room.folder / "site", room.clock)

    def confirm(*_: object) -> None:
        if len(other.journal.instrument_now(room.instrument).lockouts) == 1:
            clearing.lock_by_hand(other, room.instrument, room.tech, "smoke comes out")

    monkeypatch.setattr(clearing.people, "confirm", confirm)
    with pytest.raises(Trouble, match="meanwhile"):
        clear(room)
    other.close()


@pytest.mark.parametrize("said", ["LP", "lp", "P-1", "Ｐ-1", "lead  person", "Lead Person (LP)", "me, Lead Person"])
def test_whoever_repaired_it_does_not_clear_it_however_they_write_themselves(said: str, room: LifeRoom) -> None:
    """Initials that two people share might be anybody's: then they are those of whoever clears."""
    room.set(repairer_may_clear="no")
    inventory.register_person(room.site, label="P-5", name="Lena Pohl", initials="LP", roles=["technician"])
    clearing.lock_by_hand(room.site, room.instrument, room.tech, "it rattles")
    with pytest.raises(Trouble, match="does not clear"):
        clear(room, repaired_by=said)


# --- where it was --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("away", ["missing", "lent", "at calibration", "transferred"])
def test_what_nobody_here_could_see_to_is_checked_before_its_next_use(away: str, room: LifeRoom) -> None:
    """Out with somebody, reported missing, and back on the shelf: no look was taken at it."""
    assert room.check() == "fit for use"
    if away == "missing":
        room.keep("hand-out", **USE)
    room.keep("place", "", room.lead, whereabouts=away)
    room.keep("place", "", room.lead, whereabouts="here")
    assert room.word() == "needs check"
    with pytest.raises(Trouble, match="not fit"):
        handouts.offer(room.site, room.instrument)


def test_a_record_never_names_a_stranger(room: LifeRoom) -> None:
    """Anyone may end trust; somebody who never was on the list is not anyone."""
    site, known = room.site, room.instrument
    assert room.check() == "fit for use"
    room.keep("hand-out", **USE)
    for stranger in ("nobody", "f" * 64, "\ud800", known):
        for act in (
            lambda who=stranger: inventory.place(site, known, "missing", person=who),
            lambda who=stranger: inventory.contamination(site, known, found=True, say="", person=who),
            lambda who=stranger: task("take-back").keep(site, known, who, BACK),
            lambda who=stranger: sources.source_back(site, "S-1", who),
        ):
            before = site.journal.count()
            with pytest.raises(Trouble):
                act()
            assert site.journal.count() == before
