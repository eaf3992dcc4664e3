"""Attempts to make an instrument that failed come out as ready: through every use case, several people, desks, clocks.

The first part are attempts one by one. The last is a machine that takes random actions and compares with a rule of its
own, far simpler than the program's, of when "ready" can be justified at all.
"""

from __future__ import annotations

import datetime as dt
import os
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from desk_walk import MINI, START, id_of, leak_tested, sensible, small_site, step_on, walk
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from procedures.asks import Ask, Hold, Place, ReadingAsk
from procedures.clock import ManualClock
from procedures.journal.states import fitness
from procedures.site import clearing, handouts, inventory, profiles, references, status
from procedures.site.checkouts import Desk
from procedures.site.opening import Site, open_site
from procedures.site.views import CheckoutView, Typed
from procedures.trouble import Trouble


@dataclass
class Room:
    """One site, one desk, one instrument."""

    site: Site
    desk: Desk
    clock: ManualClock
    folder: Path
    instrument: str = field(init=False)
    technician: str = field(init=False)
    lead: str = field(init=False)
    source: str = field(init=False)

    def __post_init__(self) -> None:
        self.instrument, self.source = id_of(self.site, "C-1"), id_of(self.site, "S-1")
        self.technician, self.lead = id_of(self.site, "P-2"), id_of(self.site, "P-1")

    def start(self, person: str = "") -> CheckoutView:
        return self.desk.start(self.instrument, person or self.technician)

    def check(self, answer: Callable[[Ask, CheckoutView], str] = sensible) -> str:
        """A whole checkout; its ending."""
        view = walk(self.desk, self.start(), self.clock, answer)
        assert view.ending is not None
        return view.ending.ending

    def until(self, kind: type[Ask], title: str = "") -> CheckoutView:
        """A new checkout, up to an ask of this kind in the step of that title."""
        view = self.start()
        for _ in range(100):
            if isinstance(view.ask, kind) and title in view.step_title:
                return view
            view = step_on(self.desk, view, self.clock)
        raise AssertionError(f"no {kind.__name__} came up")

    def ended(self, view: CheckoutView) -> str:
        view = walk(self.desk, view, self.clock)
        assert view.ending is not None
        return view.ending.ending

    def word(self) -> str:
        return word(self.site, self.instrument)

    def lockouts(self) -> list[str]:
        state = self.site.journal.instrument_now(self.instrument)
        return [each.id for each in state.lockouts if each.status != "closed"]

    def clear(self, **more: Any) -> str:
        named = {"lockouts": self.lockouts(), "cause": "cracked cell", "action": "new cell"} | more
        return clearing.clear(self.site, self.instrument, more.pop("person", self.lead), **_without_person(named))

    def calibrate(self, on: dt.date) -> str:
        return references.calibrated(
            self.site, self.instrument, on=on, due=dt.date(on.year + 1, on.month, 1), by="bench", certificate="K-9"
        )

    def reference(self, calibration: str, *readings: str) -> None:
        references.reference_reading(
            self.site, self.instrument, source=self.source, jig=id_of(self.site, "J-1"), role="daily", scale="x1",
            readings=readings or ("1.60", "1.65", "1.70"), unit="mR/h", calibration=calibration,
        )  # fmt: skip


def _without_person(named: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in named.items() if key != "person"}


def word(site: Site, instrument: str) -> str:
    """Fitness by the fold, which the list of instruments has to agree with."""
    found = fitness(site.journal.instrument_now(instrument), site.clock.now().utc).word
    listed = [row.fitness for row in status.status(site) if row.id == instrument]
    assert listed in ([found], [])
    return found


def low(ask: Ask, view: CheckoutView) -> str:
    """The answers of an instrument that reads 30 % low."""
    if isinstance(ask, ReadingAsk) and ask.key.startswith("reading-"):
        return "1.13"
    return sensible(ask, view)


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    clock = ManualClock(START)
    site = small_site(tmp_path, clock)
    clock.advance(60)
    room = Room(site, Desk(site), clock, tmp_path)
    yield room
    room.site.close()


@pytest.fixture
def failed(room: Room) -> Room:
    """A room whose instrument has just failed."""
    assert room.check(low) == "locked out"
    return room


# --- after a failure -----------------------------------------------------------------------------------------------


def other_person(room: Room) -> None:
    room.start(room.lead)


def other_desk(room: Room) -> None:
    Desk(room.site).start(room.instrument, room.lead)


def other_process(room: Room) -> None:
    with open_site(room.folder, ManualClock(room.clock.now().utc, session="other")) as site:
        Desk(site).start(room.instrument, room.lead)


def withdrawn(room: Room) -> None:
    room.desk.withdraw(room.lockouts()[0], "wrong instrument")
    room.start()


def abandoned(room: Room) -> None:
    room.desk.abandon(room.lockouts()[0], "never mind")
    room.start()


def a_day_later(room: Room) -> None:
    room.clock.advance(86_400)
    room.start()


def calibrated_anew(room: Room) -> None:
    room.reference(room.calibrate(dt.date(2026, 6, 1)), "1.13", "1.13", "1.14")
    room.start()


def adopted_anew(room: Room) -> None:
    wide = MINI.replace("revision = 1", "revision = 2").replace('low = "-20 %"', 'low = "-50 %"')
    profiles.adopt(room.site, wide, room.lead)
    room.start()


def bound_anew(room: Room) -> None:
    inventory.bind_source(room.site, room.instrument, "daily", room.source, None)
    room.start()


def other_detector(room: Room) -> None:
    inventory.describe(room.site, room.instrument, {"detector": "D-2"})
    room.start()


def cleared_by_a_technician(room: Room) -> None:
    room.clear(person=room.technician)


def cleared_by_nobody(room: Room) -> None:
    room.clear(person="")


def cleared_by_a_stranger(room: Room) -> None:
    room.clear(person="ab" * 32)


def cleared_by_its_source(room: Room) -> None:
    room.clear(person=room.source)


def cleared_under_a_wrong_id(room: Room) -> None:
    room.clear(lockouts=["ab" * 32])


def cleared_without_an_id(room: Room) -> None:
    room.clear(lockouts=[])


def cleared_without_an_action(room: Room) -> None:
    room.clear(action=" \x1b ")


def readiness_ended(room: Room) -> None:
    clearing.end_readiness(room.site, room.instrument, room.technician, "wet")
    room.start()


def registered_again(room: Room) -> None:
    inventory.retire(room.site, room.instrument, "gone")
    inventory.register_instrument(room.site, label="C-1", serial="101", type="Vent one", profile="mini")


def the_clock_set_back(room: Room) -> None:
    room.clock.set_wall(START - dt.timedelta(days=365))
    room.start()


def the_clock_set_forward(room: Room) -> None:
    room.clock.set_wall(START + dt.timedelta(days=300))
    room.start()


def handed_out(room: Room) -> None:
    handouts.hand_out(room.site, room.instrument, to=room.technician, job="survey", place="vault")


ESCAPES = [
    other_person, other_desk, other_process, withdrawn, abandoned, a_day_later, calibrated_anew, adopted_anew,
    bound_anew, other_detector, cleared_by_a_technician, cleared_by_nobody, cleared_by_a_stranger,
    cleared_by_its_source, cleared_under_a_wrong_id, cleared_without_an_id, cleared_without_an_action,
    readiness_ended, registered_again, the_clock_set_back, the_clock_set_forward, handed_out,
]  # fmt: skip


@pytest.mark.parametrize("escape", ESCAPES)
def test_a_lockout_is_not_escaped(escape: Callable[[Room], None], failed: Room) -> None:
    """Each is refused in words, and the instrument stays locked out, for the next start of the program too."""
    with pytest.raises(Trouble) as trouble:
        escape(failed)
    assert trouble.value.what
    assert failed.word() == "locked out"
    with open_site(failed.folder, ManualClock(START + dt.timedelta(days=2), session="next")) as site:
        assert word(site, failed.instrument) == "locked out"


def test_a_clearing_alone_makes_nothing_ready(failed: Room) -> None:
    """Repaired is not shown to work."""
    failed.clear()
    assert failed.word() == "locked out"
    with pytest.raises(Trouble, match="not fit"):
        handed_out(failed)


def test_a_clearing_and_a_failing_check_is_locked_out_anew(failed: Room) -> None:
    """The clearing is used up: the next check needs another."""
    failed.clear()
    assert failed.check(low) == "locked out"
    with pytest.raises(Trouble, match="locked out"):
        failed.start()
    assert failed.word() == "locked out"


def test_two_lockouts_need_two_answers(failed: Room) -> None:
    """A clearing that names one of two lockouts opens nothing."""
    first = failed.lockouts()
    clearing.lock_by_hand(failed.site, failed.instrument, failed.technician, "it rattles")
    failed.clear(lockouts=first)
    with pytest.raises(Trouble, match="rattles"):
        failed.start()
    failed.clear()
    assert failed.check() == "fit for use"
    assert failed.word() == "ready"


def test_a_pass_that_was_withdrawn_closes_nothing(failed: Room) -> None:
    """The checkout that was to show the repair turns out to be of another instrument."""
    failed.clear()
    view = walk(failed.desk, failed.start(), failed.clock)
    assert failed.word() == "ready"
    failed.desk.withdraw(view.checkout, "it was C-2")
    assert failed.word() == "locked out"


# --- during a checkout ---------------------------------------------------------------------------------------------


def locked_meanwhile(room: Room) -> None:
    clearing.lock_by_hand(room.site, room.instrument, room.technician, "smoke")


def ended_meanwhile(room: Room) -> None:
    clearing.end_readiness(room.site, room.instrument, room.technician, "dropped")


def calibrated_meanwhile(room: Room) -> None:
    room.calibrate(dt.date(2026, 6, 1))


def retired_meanwhile(room: Room) -> None:
    inventory.retire(room.site, room.instrument, "gone")


def missing_meanwhile(room: Room) -> None:
    inventory.place(room.site, room.instrument, "missing")


def expired_meanwhile(room: Room) -> None:
    room.clock.set_wall(room.clock.now().utc + dt.timedelta(days=335))


def the_clock_set_back_meanwhile(room: Room) -> None:
    room.clock.set_wall(room.clock.now().utc - dt.timedelta(days=365))


def a_detector_changed_meanwhile(room: Room) -> None:
    inventory.describe(room.site, room.instrument, {"detector": "D-2"})


def the_source_is_missing_meanwhile(room: Room) -> None:
    inventory.place(room.site, room.source, "missing")


def the_source_is_retired_meanwhile(room: Room) -> None:
    inventory.retire(room.site, room.source, "leaks")


def another_source_is_bound_meanwhile(room: Room) -> None:
    other = inventory.register_source(
        room.site, label="S-2", serial="8", nuclide="Cs-137", activity="37 kBq", activity_on=dt.date(2024, 1, 1),
        emits="gamma",
    )  # fmt: skip
    inventory.bind_source(room.site, room.instrument, "daily", other, id_of(room.site, "J-1"))


def another_jig_is_bound_meanwhile(room: Room) -> None:
    jig = inventory.register_jig(room.site, label="J-2")
    inventory.bind_source(room.site, room.instrument, "daily", room.source, jig)


def whoever_does_it_is_retired_meanwhile(room: Room) -> None:
    inventory.retire(room.site, room.technician, "left")


def whoever_does_it_loses_the_training_meanwhile(room: Room) -> None:
    inventory.describe(room.site, room.technician, {"trained_until": dt.date(2026, 5, 31)})


MEANWHILE = [
    another_source_is_bound_meanwhile, another_jig_is_bound_meanwhile, whoever_does_it_is_retired_meanwhile,
    whoever_does_it_loses_the_training_meanwhile,
    locked_meanwhile, ended_meanwhile, calibrated_meanwhile, retired_meanwhile, missing_meanwhile, expired_meanwhile,
    the_clock_set_back_meanwhile,
    a_detector_changed_meanwhile,
    the_source_is_missing_meanwhile,
    the_source_is_retired_meanwhile,
]  # fmt: skip


@pytest.mark.parametrize("happens", MEANWHILE)
def test_what_happens_during_a_checkout_is_seen_at_its_end(happens: Callable[[Room], None], room: Room) -> None:
    """The last look is a fresh one: nothing ends fit for use that the list would not call ready."""
    view = room.until(ReadingAsk, "Response")
    happens(room)
    assert room.ended(view) != "fit for use"
    assert room.word() != "ready"


def test_the_same_source_bound_again_meanwhile_speaks_against_nothing(room: Room) -> None:
    """Nothing is another one: a record made twice costs nobody a checkout."""
    view = room.until(ReadingAsk, "Response")
    inventory.bind_source(room.site, room.instrument, "daily", room.source, id_of(room.site, "J-1"))
    assert room.ended(view) == "fit for use"


def test_a_profile_adopted_meanwhile_does_not_loosen_the_limits(room: Room) -> None:
    """The checkout goes by the text that its opening names."""
    view = room.until(ReadingAsk, "Response")
    wide = MINI.replace("revision = 1", "revision = 2").replace('low = "-20 %"', 'low = "-50 %"')
    profiles.adopt(room.site, wide, room.lead)
    view = walk(room.desk, view, room.clock, low)
    assert view.ending is not None
    assert view.ending.ending == "locked out"


def test_a_shift_that_ends_during_the_checkout_is_not_the_one_that_counts(room: Room) -> None:
    """Ready until the end of the shift in which it ended."""
    room.clock.set_wall(START.replace(hour=13, minute=58))
    view = walk(room.desk, room.start(), room.clock)
    assert view.ending is not None
    assert view.ending.until == START.replace(hour=22, minute=0)


def test_two_desks_answer_one_checkout_and_one_answer_counts(room: Room) -> None:
    """Two windows on one laptop: the slower one is told, and its answer is not kept."""
    view = room.until(ReadingAsk, "Response")
    other = Desk(room.site)
    assert view.ask is not None
    other.view(view.checkout)
    room.desk.answer(view.checkout, view.ask.key, Typed("0.9"), took=3)
    with pytest.raises(Trouble, match="another window"):
        other.answer(view.checkout, view.ask.key, Typed("1.62"), took=3)
    readings = [event for event in room.site.journal.checkout_events(view.checkout) if event.kind == "answered"]
    assert sum("reading-1" in str(event.body["ask"]) for event in readings) == 1


def test_a_hold_that_nobody_watched_is_not_kept_by_another_desk(room: Room) -> None:
    """Whoever reads a hold from the journal cannot vouch for the finger."""
    view = room.until(Hold)
    room.desk.hold(view.checkout)
    room.clock.advance(9)
    view = Desk(room.site).tick(view.checkout)
    assert isinstance(view.ask, Hold)


def test_a_judgement_after_the_ending_is_not_lost(room: Room) -> None:
    """Somebody smells smoke while the ending is on the screen: it locks out, or they are told how to."""
    view = walk(room.desk, room.start(), room.clock)
    with suppress(Trouble):
        room.desk.fail_by_judgement(view.checkout, "smells hot")
        assert room.word() == "locked out"


# --- what a clearing asks for --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "asked", [{"calibration_needed": True}, {"not_before": START + dt.timedelta(days=1)}], ids=["calibration", "time"]
)
def test_no_ending_says_fit_before_the_clearing_is_fulfilled(asked: dict[str, Any], failed: Room) -> None:
    """What the screen says in large letters and what the list says must never differ."""
    failed.clear(**asked)
    with suppress(Trouble):
        assert failed.check() != "fit for use"
    assert failed.word() == "locked out"


def test_a_clearing_that_asks_for_a_calibration_is_fulfilled_by_one(failed: Room) -> None:
    """Calibrated since, with a new reference, and passed."""
    failed.clear(calibration_needed=True)
    failed.reference(failed.calibrate(dt.date(2026, 6, 1)))
    assert failed.check() == "fit for use"
    assert failed.word() == "ready"


# --- what a pass stands on -----------------------------------------------------------------------------------------


def test_another_detector_needs_another_calibration(room: Room) -> None:
    """Meter, detector, cable and settings are calibrated as a set."""
    inventory.describe(room.site, room.instrument, {"detector": "D-2"})
    assert room.check() != "fit for use"


def test_drift_is_not_hidden_by_a_new_reference(failed: Room) -> None:
    """Taken again from an instrument that drifted, a reference shows only that it agrees with itself."""
    calibration = failed.site.journal.instrument_now(failed.instrument).calibration
    assert calibration is not None
    with suppress(Trouble):
        failed.reference(calibration.event, "1.13", "1.13", "1.14")
    failed.clear()
    assert failed.check(low) != "fit for use"


def test_a_leaking_source_checks_nothing(room: Room) -> None:
    """10 CFR 35.67, read: 185 Bq or more, and the source is withdrawn."""
    leak_tested(room.site, room.source, dt.date(2026, 5, 20), "185")
    assert room.check() != "fit for use"


def test_one_instrument_is_not_registered_twice(failed: Room) -> None:
    """A new sticker on a locked-out instrument is still that instrument."""
    with pytest.raises(Trouble):
        inventory.register_instrument(failed.site, label="C-2", serial="101", type="Vent one", profile="mini")


# --- the record itself ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("how", ["removed", "replaced"])
def test_a_journal_taken_away_while_open_is_noticed(how: str, room: Room) -> None:
    """A clean-up or a synchronised folder: better no answer taken than one that nobody will ever find."""
    view = room.until(ReadingAsk, "Response")
    journal = room.folder / "site.journal"
    copy = room.folder / "copy"
    copy.write_bytes(journal.read_bytes())
    if how == "removed":
        journal.unlink()
    else:
        os.replace(copy, journal)
    assert view.ask is not None
    with pytest.raises(Trouble):
        room.desk.answer(view.checkout, view.ask.key, Typed("1.62"), took=3)


def test_a_lockout_is_not_lost_with_a_line_of_the_index(failed: Room) -> None:
    """One bad bit on the card, and the failure is no longer found among the events of its instrument: that is seen."""
    failed.site.close()
    db = sqlite3.connect(failed.folder / "site.journal")
    db.execute("DELETE FROM about WHERE entity = ? AND kind IN ('found', 'ended', 'opened')", (failed.instrument,))
    db.commit()
    db.close()
    clock = ManualClock(failed.clock.now().utc, session="next")
    with open_site(failed.folder, clock) as site:
        with pytest.raises(Trouble, match="damaged"):
            Desk(site).start(failed.instrument, failed.lead)
        found = fitness(site.journal.instrument_now(failed.instrument), clock.now().utc)
        assert found.word != "ready"
        assert "damaged" in found.why


# --- anything in any order -----------------------------------------------------------------------------------------


@dataclass
class Run:
    """What this test knows of one checkout from what it did itself."""

    opened: int
    begun: dt.datetime
    since: dt.datetime
    """When its first step was last done: no pass that counts is older. A long gap sends it back there."""
    tainted: bool = False
    """A response or a zero was answered that no sound instrument gives, or a person failed it."""
    flat: bool = False
    """The battery was answered as low, and no cells were changed since."""
    fit: bool = False
    ended: dt.datetime | None = None
    withdrawn: bool = False


AS_FOUND = "as-found"
"""How the zero stood before it was set. A bad one puts uses in doubt; set right, it speaks against nothing here."""


@dataclass
class Cleared:
    at: int
    lockouts: frozenset[str]
    calibration: bool
    not_before: dt.datetime | None


class Escapes(RuleBasedStateMachine):
    """Several people, two programs, clocks that jump, one instrument; and a rule for when it can be ready at all."""

    def __init__(self) -> None:
        super().__init__()
        self.place = tempfile.TemporaryDirectory()
        self.folder = Path(self.place.name)
        self.clock = ManualClock(START)
        self.site = small_site(self.folder, self.clock)
        self.clock.advance(60)
        self.second: Site | None = None
        self.desk = Desk(self.site)
        self.instrument = id_of(self.site, "C-1")
        self.people = [id_of(self.site, "P-1"), id_of(self.site, "P-2"), "ab" * 32]
        self.moment = 0
        self.starts = 0
        self.runs: dict[str, Run] = {}
        self.last_run = ""
        self.ended_at = 0  # the last thing that ended readiness
        self.locked: dict[str, int] = {}
        self.cleared: list[Cleared] = []
        self.calibrated_at: list[int] = []
        self.newest = self.clock.now().utc

    def teardown(self) -> None:
        self.site.close()
        self.place.cleanup()

    # what the test knows

    def happened(self) -> int:
        self.moment += 1
        self.newest = max(self.newest, self.clock.now().utc)
        return self.moment

    def justified(self) -> bool:
        """Whether anything that was done here can justify "ready" now."""
        run = self.runs.get(self.last_run)
        if run is None or not self.good(run) or run.opened < self.ended_at:
            return False
        assert run.ended is not None
        now = self.clock.now().utc
        in_time = now < min(run.since + dt.timedelta(hours=12, minutes=30), run.ended + dt.timedelta(hours=8))
        believed = now >= self.newest - dt.timedelta(seconds=121)
        return in_time and believed and all(self.answered(name, at) for name, at in self.locked.items())

    def good(self, run: Run) -> bool:
        return run.fit and not (run.tainted or run.flat or run.withdrawn)

    def answered(self, lockout: str, at: int) -> bool:
        """Cleared after it was made, calibrated since if need be, and passed since."""
        for each in self.cleared:
            if lockout not in each.lockouts or each.at < at:
                continue
            needed = [when for when in self.calibrated_at if when > each.at] if each.calibration else [each.at]
            if any(
                self.good(run) and run.opened > needed[0] and (each.not_before is None or run.begun >= each.not_before)
                for run in (self.runs.values() if needed else ())
            ):
                return True
        return False

    # checkouts

    @initialize()
    def a_good_morning(self) -> None:
        self.check_it(person=1, how="sound")

    @rule(person=st.integers(0, 2))
    def open_one(self, person: int) -> None:
        with suppress(Trouble):
            view = self.desk.start(self.instrument, self.people[person])
            self.runs[view.checkout] = Run(self.happened(), self.clock.now().utc, self.clock.now().utc)
            self.last_run = view.checkout

    def look(self) -> CheckoutView | None:
        run = self.runs.get(self.last_run)
        if run is None or run.ended is not None:
            return None
        with suppress(Trouble):
            return self.desk.view(self.last_run)
        return None

    def one_step(self, how: str) -> bool:
        """Do what is due, well or badly. False when there is nothing to do."""
        view = self.look()
        if view is None or view.ending is not None:
            return False
        run = self.runs[view.checkout]
        ask = view.ask
        if view.step == 1:
            run.since = self.clock.now().utc
        known = self.site.journal.checkout_events(view.checkout)
        try:
            if how == "sound" or ask is None or not isinstance(ask, Place | ReadingAsk):
                remedied = view.remedy is not None
                view = step_on(self.desk, view, self.clock)
                if remedied:
                    run.flat = False
            else:
                bad = "below the band" if isinstance(ask, Place) else "1.13"
                view = self.desk.answer(view.checkout, ask.key, Typed(bad), took=3)
                added = self.site.journal.checkout_events(view.checkout)[len(known) :]
                taken = any(event.kind == "answered" for event in added)
                if taken and isinstance(ask, Place):
                    run.flat = True
                elif taken and ask.key != AS_FOUND:
                    run.tainted = True
        except Trouble:
            return False
        self.happened()
        self.note_ending(view)
        return True

    def note_ending(self, view: CheckoutView) -> None:
        if view.ending is None:
            return
        run = self.runs[view.checkout]
        if run.ended is not None:
            return
        run.ended = self.clock.now().utc
        run.fit = view.ending.ending == "fit for use"
        assert not (run.fit and (run.tainted or run.flat)), "a bad answer ended fit for use"
        if view.ending.ending == "locked out":
            self.locked[view.checkout] = self.happened()
        if run.fit:
            assert word(self.site, self.instrument) == "ready", "the ending and the list differ"

    @rule(how=st.sampled_from(["sound", "sound", "bad"]), steps=st.integers(1, 6))
    def some_steps(self, how: str, steps: int) -> None:
        for _ in range(steps):
            if not self.one_step(how):
                break

    @rule(person=st.integers(0, 1), how=st.sampled_from(["sound", "sound", "bad"]))
    def check_it(self, person: int, how: str) -> None:
        """A checkout from whatever is open to its end."""
        if self.look() is None:
            self.open_one(person)
        for _ in range(60):
            if not self.one_step(how):
                break

    @precondition(lambda self: self.last_run)
    @rule(what=st.sampled_from(["judge", "abandon", "withdraw", "pause", "let go", "tick", "hold", "cannot", "done"]))
    def otherwise(self, what: str) -> None:
        """Everything else that a person can do with a checkout, open or ended."""
        run, was_over = self.runs[self.last_run], self.runs[self.last_run].ended is not None
        calls: dict[str, Callable[[], CheckoutView]] = {
            "judge": lambda: self.desk.fail_by_judgement(self.last_run, "smells"),
            "abandon": lambda: self.desk.abandon(self.last_run, "called away"),
            "withdraw": lambda: self.desk.withdraw(self.last_run, "wrong one"),
            "pause": lambda: self.desk.pause(self.last_run),
            "let go": lambda: self.desk.let_go(self.last_run),
            "tick": lambda: self.desk.tick(self.last_run),
            "hold": lambda: self.desk.hold(self.last_run),
            "cannot": lambda: self.desk.remedy(self.last_run, done=False),
            "done": lambda: self.desk.remedy(self.last_run, done=True),
        }
        offered = not was_over and (view := self.look()) is not None and view.remedy is not None and not view.paused
        with suppress(Trouble):
            view = calls[what]()
            now = self.happened()
            if what == "judge" and not was_over:
                run.tainted = True
            if what == "done" and offered:
                run.flat = False
            if what == "withdraw":
                run.withdrawn = True
                self.ended_at = now
            self.note_ending(view)

    @precondition(lambda self: self.last_run)
    @rule(person=st.integers(0, 2), off=st.booleans())
    def resume(self, person: int, off: bool) -> None:
        with suppress(Trouble):
            self.note_ending(self.desk.resume(self.last_run, self.people[person], switched_off=off))
            self.happened()

    # the instrument and its record

    @rule(say=st.sampled_from(["it rattles", ""]), person=st.integers(0, 2))
    def lock(self, say: str, person: int) -> None:
        with suppress(Trouble):
            made = clearing.lock_by_hand(self.site, self.instrument, self.people[person], say)
            self.locked[made] = self.ended_at = self.happened()

    @rule(person=st.integers(0, 1))
    def end_readiness(self, person: int) -> None:
        with suppress(Trouble):
            clearing.end_readiness(self.site, self.instrument, self.people[person], "dropped")
            self.ended_at = self.happened()

    @rule(
        person=st.sampled_from([0, 0, 0, 1, 2]), most=st.integers(1, 4), calibration=st.booleans(), later=st.booleans()
    )
    def clear(self, person: int, most: int, calibration: bool, later: bool) -> None:
        state = self.site.journal.instrument_now(self.instrument)
        named = [each.id for each in state.lockouts if each.status != "closed"][:most]
        until = self.clock.now().utc + dt.timedelta(hours=1) if later else None
        with suppress(Trouble):
            clearing.clear(
                self.site, self.instrument, self.people[person], lockouts=named, cause="old", action="new",
                calibration_needed=calibration, not_before=until,
            )  # fmt: skip
            assert person == 0, "somebody else than a lead cleared"
            self.cleared.append(Cleared(self.happened(), frozenset(named), calibration, until))

    @rule(why=st.sampled_from(["reads low", "judged", "by hand"]))
    def fail_it(self, why: str) -> None:
        """It fails, in one of the ways in which instruments fail."""
        if why == "by hand":
            self.lock(say="it rattles", person=1)
        elif why == "judged" and self.look() is not None:
            self.otherwise(what="judge")
        else:
            self.check_it(person=1, how="bad")

    @rule(calibration=st.booleans(), person=st.sampled_from([0, 0, 1]))
    def repair(self, calibration: bool, person: int) -> None:
        """The long way back: every lockout cleared, calibrated if that was asked for, and checked."""
        self.clear(person=person, most=9, calibration=calibration, later=False)
        if calibration:
            self.calibrate()
        self.check_it(person=1, how="sound")

    @rule()
    def calibrate(self) -> None:
        day = dt.date(2026, 5, 2)
        with suppress(Trouble):
            made = references.calibrated(
                self.site, self.instrument, on=day, due=dt.date(2027, 5, 2), by="bench", certificate="K"
            )
            self.ended_at = self.happened()
            self.calibrated_at.append(self.ended_at)
            references.reference_reading(
                self.site, self.instrument, source=id_of(self.site, "S-1"), jig=id_of(self.site, "J-1"), role="daily",
                scale="x1", readings=["1.60", "1.65", "1.70"], unit="mR/h", calibration=made,
            )  # fmt: skip

    @rule()
    def change_detector(self) -> None:
        with suppress(Trouble):
            inventory.describe(self.site, self.instrument, {"detector": f"D-{self.moment}"})
            self.ended_at = self.happened()

    @rule(person=st.integers(0, 1), low=st.sampled_from(["-20 %", "-50 %"]))
    def adopt(self, person: int, low: str) -> None:
        """Wider limits than the bad answers of this test are never adopted: those stay bad."""
        text = MINI.replace("revision = 1", f"revision = {self.moment + 2}").replace('warn = "10 %"', 'warn = "9 %"')
        with suppress(Trouble):
            profiles.adopt(self.site, text if low == "-20 %" else text.replace("20 min", "25 min"), self.people[person])

    @rule(person=st.integers(0, 2))
    def hand_out(self, person: int) -> None:
        try:
            handouts.hand_out(self.site, self.instrument, to=self.people[person], job="survey", place="vault")
        except Trouble:
            return
        assert self.justified(), "handed out though nothing justifies it"
        self.happened()
        handouts.take_back(self.site, self.instrument, by=None, condition="good")

    # time and programs

    @rule(seconds=st.sampled_from([1, 30, 600, 1300, 4 * 3600, 9 * 3600, 26 * 3600]))
    def time_passes(self, seconds: int) -> None:
        self.clock.advance(seconds)

    @rule(seconds=st.sampled_from([-400 * 86_400, -86_400, -3600, -119, 60, 3600]))
    def the_clock_is_set(self, seconds: int) -> None:
        self.clock.set_wall(self.clock.now().utc + dt.timedelta(seconds=seconds))

    @rule()
    def the_clock_is_set_right(self) -> None:
        if self.clock.now().utc < self.newest:
            self.clock.set_wall(self.newest + dt.timedelta(seconds=1))

    @rule(how=st.sampled_from(["killed", "a second desk"]))
    def another_start(self, how: str) -> None:
        if how == "killed":
            self.site.close()
            self.starts += 1
            self.clock.restart(f"start {self.starts}")
            self.site = open_site(self.folder, self.clock)
        self.desk = Desk(self.site)

    @invariant()
    def ready_is_justified(self) -> None:
        if word(self.site, self.instrument) == "ready":
            assert self.justified(), "ready though nothing justifies it"


Escapes.TestCase.settings = settings(
    max_examples=int(os.environ.get("CHECKLIST_ESCAPES", "35")),
    stateful_step_count=40,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
test_nothing_makes_it_ready_that_does_not_justify_it = Escapes.TestCase
