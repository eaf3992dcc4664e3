"""Attempts to get an instrument back into use around its checks: by forms, dates, names, two laptops, and haste.

The first part are attempts one by one. The last is a machine on two laptops that fills forms in, checks, and exchanges,
and compares with an oracle of its own that knows only who did what knowing of what.
"""

from __future__ import annotations

import datetime as dt
import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from desk_walk import id_of, leak_tested, sensible, step_on
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from life_room import ASKING, BACK, EMERGENCY, PINS, QUICK, USE, LifeRoom, low

from procedures.asks import Ask
from procedures.clock import ManualClock
from procedures.journal.states import InstrumentState, fitness
from procedures.site import (
    calibrations,
    clearing,
    doubtful,
    exchange,
    handouts,
    inventory,
    paper,
    paper_form,
    references,
    rights,
    secrets,
    source_keeping,
    sources,
)
from procedures.site.calibrations import Given
from procedures.site.checkouts import Desk
from procedures.site.forms import task
from procedures.site.opening import Site, open_site
from procedures.site.paper_run import Given as Written
from procedures.site.source_trouble import source_trouble
from procedures.site.views import CheckoutView
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


DESICCANT = """[[step]]
id = "desiccant"
kind = "desiccant"
fresh = "amber"
spent = "green"
lockout = "desiccant-spent"
not_before = "24 h"
"""


def well(ask: Ask) -> str:
    """What stands on the paper of an instrument in order."""
    return sensible(ask, None)  # type: ignore[arg-type]


def test_what_must_last_lasts_after_a_check_on_paper_too(tmp_path: Path) -> None:
    """Fresh desiccant dries nothing in seconds, whoever wrote down that the old one was spent."""
    room = LifeRoom(tmp_path, profile=ASKING + DESICCANT)
    site, observed = room.site, room.clock.now().utc
    adoption = site.journal.profile_now("mini").adoptions[0]
    head = paper.Head(paper_form.form_number("ab" * 20), adoption, "mini", observed, room.tech)
    answers: dict[str, str] = {}
    while (ran := paper.ran(site, room.instrument, head, Written(answers))).due is not None:
        asked = ran.due.ask
        answers[ran.due.id] = "green" if asked.key == "colour" else well(asked)
    room.clock.advance(3600)
    assert paper.enter(site, room.instrument, room.tech, head, Written(answers)).ending == "locked out"
    with pytest.raises(Trouble, match="must last"):
        clear(room)
    room.clock.set_wall(observed + dt.timedelta(hours=25))
    clear(room)
    site.close()


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


# --- two windows on one laptop -------------------------------------------------------------------------------------


def overtaken(room: LifeRoom, monkeypatch: pytest.MonkeyPatch, act: Callable[[Site], object]) -> None:
    """What another window does while a PIN is typed in this one."""
    other, done = open_site(room.folder / "site", room.clock), []

    def confirm(*_: object) -> None:
        if not done:
            done.append(True)
            act(other)

    monkeypatch.setattr(rights, "confirm", confirm)


def test_a_label_is_given_to_one_of_two_who_are_quick(room: LifeRoom, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two things of one label may neither of them be used."""
    new: dict[str, Any] = {"label": "C-9", "type": "Vent one", "profile": "mini", "person": room.lead}
    overtaken(room, monkeypatch, lambda site: inventory.register_instrument(site, serial="1", **new))
    with pytest.raises(Trouble, match="in use"):
        inventory.register_instrument(room.site, serial="2", **new)


def test_two_leads_do_not_retire_each_other(room: LifeRoom, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without one nothing could be cleared any more."""
    overtaken(room, monkeypatch, lambda site: inventory.retire(site, room.lead, "gone", person=room.other))
    with pytest.raises(Trouble, match="only site lead"):
        inventory.retire(room.site, room.other, "gone", person=room.lead)


def test_what_is_handed_out_at_that_moment_is_not_retired(room: LifeRoom, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody would look for it any more, and nobody could take it back."""
    assert room.check() == "fit for use"
    use: dict[str, Any] = {"to": room.tech, "job": "survey", "place": "hall", "person": room.tech}
    overtaken(room, monkeypatch, lambda site: handouts.hand_out(site, room.instrument, **use))
    with pytest.raises(Trouble):
        inventory.retire(room.site, room.instrument, "gone", person=room.lead)
    assert not room.site.journal.instrument_now(room.instrument).retired


def test_clean_again_does_not_answer_what_is_found_at_that_moment(
    room: LifeRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The wipe was of the handle, and somebody finds the probe contaminated."""
    inventory.contamination(room.site, room.instrument, found=True, say="handle")
    overtaken(
        room, monkeypatch, lambda site: inventory.contamination(site, room.instrument, found=True, say="the probe")
    )
    with pytest.raises(Trouble, match="meanwhile"):
        inventory.contamination(room.site, room.instrument, found=False, say="wiped", person=room.lead)
    assert room.site.journal.instrument_now(room.instrument).contaminated


def test_good_again_does_not_answer_what_is_found_at_that_moment(
    room: LifeRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Seated again by one, and cracked as the other sees."""
    source = id_of(room.site, "S-1")
    source_keeping.condition(room.site, room.tech, source, "slipped", "loose")
    overtaken(room, monkeypatch, lambda site: source_keeping.condition(site, room.tech, source, "damaged", "cracked"))
    with pytest.raises(Trouble, match="meanwhile"):
        source_keeping.condition(room.site, room.lead, source, "good", "seated")
    assert room.site.journal.source_now(source).condition == "damaged"


# --- two laptops ---------------------------------------------------------------------------------------------------


def speaks_against(site: Site) -> str:
    return source_trouble(site.journal.source_now(id_of(site, "S-1")), site.clock.now().utc, site.settings())


def test_a_leak_is_not_hidden_by_an_older_test_recorded_on_another_laptop(two: Two) -> None:
    """A clean wipe of May says nothing against a leak of June, whoever typed it in later."""
    source = id_of(two.site, "S-1")
    leak_tested(two.site, source, dt.date(2026, 6, 1), "500")
    two.later(60)
    leak_tested(two.other, source, dt.date(2026, 5, 1), "3")
    two.bring(two.other, two.site)
    assert "leaks" in speaks_against(two.site)


def test_damage_is_not_hidden_by_somebody_who_did_not_know_of_it(two: Two) -> None:
    """“Good” answers only what its writer had heard of."""
    source = id_of(two.site, "S-1")
    source_keeping.condition(two.site, two.room.tech, source, "damaged", "cracked")
    two.later(60)
    source_keeping.condition(two.other, two.room.lead, source, "good", "seated")
    two.bring(two.other, two.site)
    assert "damaged" in speaks_against(two.site)


def test_that_a_missing_source_is_found_takes_a_lead_on_whichever_laptop(two: Two) -> None:
    """A technician who counts does not know that the source was given up for lost."""
    source = id_of(two.site, "S-1")
    inventory.place(two.site, source, "missing", person=two.room.tech)
    two.later(60)
    source_keeping.count(two.other, two.room.tech, [source_keeping.Counted(source, found=True)])
    two.bring(two.other, two.site)
    assert "missing" in speaks_against(two.site)


def repaired_here(two: Two) -> None:
    room, day = two.room, dt.date(2026, 6, 1)
    calibrations.repaired(
        two.site, room.instrument, room.lead, on=day, by="shop", what="window", voids_calibration=True
    )


def other_detector_here(two: Two) -> None:
    inventory.describe(two.site, two.room.instrument, {"detector": "D-9"}, person=two.room.lead)


@pytest.mark.parametrize(
    "ends",
    [repaired_here, other_detector_here],
)
def test_a_calibration_from_before_does_not_count_because_another_laptop_recorded_it_later(
    ends: Callable[[Two], None], two: Two
) -> None:
    """Calibrated in May, repaired in June, and the certificate of May typed in at the gate the day after."""
    ends(two)
    two.later(60)
    calibrations.record(two.other, two.room.instrument, two.room.lead, certificate(dt.date(2026, 5, 20), "K-5"))
    two.bring(two.other, two.site)
    assert no_calibration(two.room)


def test_a_use_made_while_a_lockout_stood_unknown_elsewhere_is_in_doubt(two: Two) -> None:
    """Dropped and locked out at the gate; here nobody knew, checked it, handed it out and took it back."""
    room = two.room
    clearing.lock_by_hand(two.other, room.instrument, room.tech, "dropped on the steps", "dropped")
    two.later(60)
    room.check()
    two.clock.set_wall(room.clock.now().utc)
    handouts.hand_out(two.site, room.instrument, to=room.tech, job="survey", place="cell 3")
    two.later(60)
    handouts.take_back(two.site, room.instrument, by=room.tech, condition="good")
    assert not doubtful.doubted(two.site, room.instrument)
    two.bring(two.other, two.site)
    two.bring(two.site, two.other)
    for site in (two.site, two.other):
        (doubt,) = doubtful.doubted(site, room.instrument)
        assert [use.place for use in doubt.uses] == ["cell 3"]
        assert "dropped on the steps" in doubt.what


# --- a machine -----------------------------------------------------------------------------------------------------

Ids = frozenset[int]


@dataclass(frozen=True)
class Act:
    """One thing that was done: what it means, and which acts its doer's laptop knew of by then.

    `began` is what was known when a checkout was opened; of anything else the same as `knew`.
    """

    number: int
    sort: str
    knew: Ids
    began: Ids
    names: frozenset[str] = frozenset()
    until: dt.datetime | None = None


ENDS = frozenset(
    {"opened", "lockout", "ended by hand", "calibrated", "repaired", "emergency", "detector", "retired", "bad return"}
)
FAILURES = frozenset({"failed check", "bad return", "found outside"})
AFTERWARDS = {"is_back": "yes", "used_at": "00:00"}
USES = frozenset({"hand-out", "emergency"})


@dataclass
class Laptop:
    """One laptop of the machine: its site and desk, and what of the acts it knows."""

    site: Site
    desk: Desk
    known: set[int] = field(default_factory=set)
    view: CheckoutView | None = None
    opened: Act | None = None


class Oracle:
    """Whether “ready” can be justified, and which uses must be in doubt: from who did what knowing of what, alone."""

    def __init__(self) -> None:
        self.acts: list[Act] = []

    def add(self, laptop: Laptop, sort: str, **more: Any) -> Act:
        known = frozenset(laptop.known)
        made = Act(len(self.acts), sort, known, more.pop("began", known), **more)
        self.acts.append(made)
        laptop.known.add(made.number)
        return made

    def of(self, known: Ids | set[int], *sorts: str) -> list[Act]:
        return [self.acts[each] for each in known if self.acts[each].sort in sorts]

    def whole_passes(self, known: set[int]) -> list[Act]:
        spoilt = {name for act in self.of(known, "withdrawn", "failed check") for name in act.names}
        return [act for act in self.of(known, "passed") if not act.names & spoilt]

    def closed(self, lockout: Act, known: set[int]) -> bool:
        for clearing_act in self.of(known, "cleared"):
            if lockout.names & clearing_act.names and lockout.number in clearing_act.knew:
                for good in self.whole_passes(known):
                    wants = "calibration wanted" in clearing_act.names
                    since = [one for one in self.of(good.began, "calibrated") if one.number not in clearing_act.knew]
                    saw = {lockout.number, clearing_act.number} <= good.began
                    if saw and (since or not wants):
                        return True
        return False

    def may_be_ready(self, known: set[int], now: dt.datetime) -> bool:
        lockouts = self.of(known, "lockout", "failed check", "bad return")
        if self.of(known, "retired") or not all(self.closed(each, known) for each in lockouts):
            return False
        enders = self.of(known, *ENDS, "failed check", "withdrawn", "back again")
        return any(
            good.until
            and now < good.until
            and all(each.number in good.began or each.names & good.names for each in enders)
            for good in self.whole_passes(known)
        )

    def must_be_in_doubt(self, known: set[int]) -> set[str]:
        """Uses with a failure found later, or no check at all, and nothing good that could speak for them in between.

        A checkout that came to no verdict may have looked well at what failed later: it is given the benefit here.
        """
        found = set()
        for use in self.of(known, *USES):
            after = [one for one in self.of(known, "opened", "calibrated", "found outside") if use.number in one.began]
            failed = [one for one in self.of(known, *FAILURES) if one.number not in use.knew]
            alone = [one for one in failed if all(each.names and each.names == one.names for each in after)]
            unchecked = use.sort == "emergency" and not any(use.number in one.began for one in self.whole_passes(known))
            if alone or unchecked:
                found |= use.names
        return found


LEADS = ("P-1", "P-3")
PEOPLE = ("P-1", "P-2", "P-3", "P-9", "", "nobody", "f" * 64)
WHO = st.sampled_from(("P-1", "P-3", "P-2") * 3 + PEOPLE)
"""Mostly somebody who is on the list: those who are not are refused, and nothing comes of it."""
LEAD = st.sampled_from(LEADS * 6 + PEOPLE)
SELDOM = st.sampled_from([True, False, False])
"""What spoils everything is done seldom: else nothing is ever ready, and nothing is shown."""
WRONG = st.sampled_from([False, False, False, True])
SIDE = st.sampled_from([0, 1])


class Life(RuleBasedStateMachine):
    """Two laptops, one instrument, people in a hurry."""

    def __init__(self) -> None:
        super().__init__()
        self.temporary = tempfile.TemporaryDirectory()
        self.two = Two(Path(self.temporary.name))
        self.room = self.two.room
        self.oracle = Oracle()
        self.instrument = self.room.instrument
        self.days = 0

    @initialize(pins=st.booleans(), guarded=st.booleans())
    def begin(self, pins: bool, guarded: bool) -> None:
        site = self.two.site
        self.people = {label: id_of(site, label) for label in ("P-1", "P-2", "P-3")}
        gone = inventory.register_person(site, label="P-9", name="Gone", initials="GG", roles=["lead"])
        inventory.retire(site, gone, "left")
        self.people["P-9"] = gone
        self.pins = dict(PINS) if pins else {}
        if guarded:
            self.room.set(repairer_may_clear="no", two_people_for="dropped, response-out", calibration_for="by-hand")
        self.guarded = guarded
        if pins:
            self.room.with_pins()
        self.two.bring(site, self.two.other)
        if pins:
            first: dict[str, Any] = {"cost": QUICK}
            secrets.set_pin(self.two.other, self.people["P-1"], PINS["P-1"], salt=b"2" * 16, **first)
            for label in ("P-2", "P-3"):
                by: dict[str, Any] = {"by": self.people["P-1"], "by_pin": PINS["P-1"], "salt": label.encode() * 8}
                secrets.set_pin(self.two.other, self.people[label], PINS[label], **by, **first)
        self.laptops = [Laptop(each, Desk(each)) for each in (site, self.two.other)]

    def teardown(self) -> None:
        self.two.close()
        self.temporary.cleanup()

    # Filling in

    def keep(self, side: int, name: str, who: str, wrong_pin: bool, entered: dict[str, str], about: str = "") -> bool:
        """Whether the form was kept. Nothing of it is recorded where it was not."""
        laptop = self.laptops[side]
        person = self.people.get(who, who)
        about = about or self.instrument
        shown: dict[str, str] = {}
        with suppress(Trouble):
            shown = {each.id: each.value for each in task(name).form(laptop.site, about, "", entered, 1).fields}
        shown |= {"pin": "0000" if wrong_pin else self.pins.get(who, "")}
        if entered.get("second"):
            shown |= {"second_pin": self.pins.get(entered["second"], "")}
        before = laptop.site.journal.count()
        self.two.later(2)
        try:
            task(name).keep(laptop.site, about, person, {**shown, **entered})
        except Trouble:
            new = laptop.site.journal.count() - before
            assert new <= 1, "half a form was kept"
            if new:
                newest = laptop.site.journal.happened(("pin-refused",), limit=1)[0][0]
                assert newest.seq == laptop.site.journal.head()[1]
                self.two.later(2 * 3600)
            return False
        return True

    def entitled(self, who: str, wrong_pin: bool) -> None:
        assert who in LEADS, f"{who} did what a lead does"
        assert not (wrong_pin and self.pins), "done with a wrong PIN"

    # How it stands

    def state(self, side: int) -> InstrumentState:
        return self.laptops[side].site.journal.instrument_now(self.instrument)

    def is_locked(self, side: int) -> bool:
        return any(each.status != "closed" for each in self.state(side).lockouts)

    def is_ready(self, side: int) -> bool:
        return fitness(self.state(side), self.laptops[side].site.clock.now().utc).word == "ready"

    def is_out(self, side: int) -> bool:
        return self.state(side).handed is not None

    # Around the check

    @rule(side=SIDE, who=WHO, reason=st.sampled_from(["dropped", "by-hand", "wet"]), really=SELDOM)
    def lock_out(self, side: int, who: str, reason: str, really: bool) -> None:
        if not really:
            return
        before = self.lockouts(side)
        if self.keep(side, "lock-out", who, False, {"reason": reason, "say": "it looks odd"}):
            self.oracle.add(self.laptops[side], "lockout", names=self.lockouts(side) - before)

    def lockouts(self, side: int) -> frozenset[str]:
        state = self.state(side)
        return frozenset(each.id for each in state.lockouts)

    @precondition(lambda self: any(self.is_locked(each) for each in (0, 1)))
    @rule(
        side=SIDE,
        who=LEAD,
        wrong_pin=WRONG,
        calibration=st.sampled_from(["yes", "no", "no", "no"]),
        repaired_by=st.sampled_from(["shop"] * 5 + ["P-1", "LP", "Other Lead", "TP", ""]),
        second=st.sampled_from(["", "P-2", "P-2", "P-3", "P-1", "P-9"]),
        striking=SELDOM,
    )
    def clear(self, side: int, who: str, wrong_pin: bool, striking: bool, **entered: str) -> None:
        side = side if self.is_locked(side) else 1 - side
        state = self.state(side)
        standing = [each for each in state.lockouts if each.status != "closed"]
        if striking and standing:
            one = standing[0].id
            about, given = f"{self.instrument},{one}", {"why": "an error", "second": entered["second"]}
            if self.keep(side, "strike", who, wrong_pin, given, about):
                self.entitled(who, wrong_pin)
                assert entered["second"] not in (who, "", "P-9")
                self.oracle.add(self.laptops[side], "cleared", names=frozenset({one}))
        elif self.keep(side, "clear", who, wrong_pin, {**entered, "cause": "torn", "action": "mended"}):
            self.entitled(who, wrong_pin)
            names = frozenset(each.id for each in standing)
            codes = {reason.code for each in standing for reason in each.reasons}
            if self.guarded:
                own = {"P-1": ("P-1", "LP"), "P-3": ("P-3", "OL", "Other Lead")}[who]
                assert entered["repaired_by"] not in own
                assert entered["repaired_by"]
                assert entered["second"] or not codes & {"dropped", "response-out"}
            assert entered["second"] not in (who, "P-9")
            wanted = {"calibration wanted"} if entered["calibration"] == "yes" else set()
            self.oracle.add(self.laptops[side], "cleared", names=names | wanted)

    @rule(side=SIDE, who=WHO, really=SELDOM)
    def end_readiness(self, side: int, who: str, really: bool) -> None:
        if not really:
            return
        with suppress(Trouble):
            clearing.end_readiness(self.laptops[side].site, self.instrument, self.people.get(who, who), "wet")
            self.oracle.add(self.laptops[side], "ended by hand")

    @rule(
        side=SIDE,
        who=LEAD,
        wrong_pin=WRONG,
        stated=st.sampled_from(["within", "outside"]),
        back=st.sampled_from([0, 0, 0, 1, 5, 30]),
        number=st.integers(1, 9),
    )
    def calibrate(self, side: int, who: str, wrong_pin: bool, stated: str, back: int, number: int) -> None:
        on = (self.two.clock.now().utc - dt.timedelta(days=back)).date().isoformat()
        given = {"on": on, "by": "bench", "certificate": f"K-{number}", "stated": stated, "points": "", "due": ""}
        if self.keep(side, "calibration", who, wrong_pin, {**given, "tolerance": "10"}):
            self.entitled(who, wrong_pin)
            names = frozenset({f"calibration {len(self.oracle.acts)}"})
            began = frozenset(self.laptops[side].known)
            self.oracle.add(self.laptops[side], "calibrated", names=names)
            if stated == "outside":
                self.oracle.add(self.laptops[side], "found outside", began=began, names=names)
            self.reference(side)

    def reference(self, side: int) -> None:
        site = self.laptops[side].site
        known = site.journal.instrument_now(self.instrument).calibration
        assert known is not None
        source, jig = id_of(site, "S-1"), id_of(site, "J-1")
        given: dict[str, Any] = {"role": "daily", "scale": "x1", "unit": "mR/h", "calibration": known.event}
        with suppress(Trouble):
            references.reference_reading(
                site, self.instrument, source=source, jig=jig, readings=["1.60", "1.65", "1.70"], **given
            )

    @rule(side=SIDE, who=LEAD, wrong_pin=WRONG, voids=st.sampled_from(["yes", "no"]), really=SELDOM)
    def repair(self, side: int, who: str, wrong_pin: bool, voids: str, really: bool) -> None:
        if not really:
            return
        if self.keep(side, "repair", who, wrong_pin, {"what": "window", "by": "shop", "voids": voids}):
            self.entitled(who, wrong_pin)
            self.oracle.add(self.laptops[side], "repaired")
            with suppress(AssertionError):
                self.reference(side)

    @rule(side=SIDE, who=LEAD, wrong_pin=WRONG, detector=st.sampled_from(["D-1", "D-2"]), really=SELDOM)
    def other_detector(self, side: int, who: str, wrong_pin: bool, detector: str, really: bool) -> None:
        if not really:
            return
        now = self.state(side).fields.get("detector")
        if now != detector and self.keep(side, "instrument-edit", who, wrong_pin, {"detector": detector}):
            self.entitled(who, wrong_pin)
            self.oracle.add(self.laptops[side], "detector")

    # Going out and coming back

    @precondition(lambda self: any(self.is_ready(each) for each in (0, 1)))
    @rule(side=SIDE, who=WHO)
    def hand_out(self, side: int, who: str) -> None:
        if not self.is_ready(side):
            return
        laptop = self.laptops[side]
        justified = self.oracle.may_be_ready(laptop.known, laptop.site.clock.now().utc)
        before = self.uses(side)
        if self.keep(side, "hand-out", who, False, USE):
            assert justified, "handed out, though nothing justifies it"
            assert who in ("P-1", "P-2", "P-3")
            self.oracle.add(laptop, "hand-out", names=self.uses(side) - before)

    def uses(self, side: int) -> frozenset[str]:
        kinds = ("handed-out", "emergency-use")
        found = self.laptops[side].site.journal.about(self.instrument, kinds=kinds, limit=-1)
        return frozenset(each.hash for each in found)

    @precondition(lambda self: any(self.is_out(each) for each in (0, 1)))
    @rule(side=SIDE, who=WHO, dropped=st.sampled_from(["no", "yes"]))
    def take_back(self, side: int, who: str, dropped: str) -> None:
        if not self.is_out(side):
            return
        before = self.lockouts(side)
        if self.keep(side, "take-back", who, False, {**BACK, "answer-1": dropped}) and dropped == "yes":
            self.oracle.add(self.laptops[side], "bad return", names=self.lockouts(side) - before)

    @rule(side=SIDE, bad=st.booleans(), dropped=st.sampled_from(["no", "no", "yes"]))
    def use(self, side: int, bad: bool, dropped: str) -> None:
        """A day: checked, out, back, and checked again."""
        self.check(side, bad=False)
        self.hand_out(side, "P-2")
        self.take_back(side, "P-1", dropped)
        self.check(side, bad)

    @rule(side=SIDE, who=WHO, reported=st.sampled_from(["before", "after"]), really=SELDOM)
    def emergency(self, side: int, who: str, reported: str, really: bool) -> None:
        if not really:
            return
        before = self.uses(side)
        entered = {**EMERGENCY, "reported": reported, **(AFTERWARDS if reported == "after" else {})}
        if self.keep(side, "emergency", who, False, entered):
            assert who in ("P-1", "P-2", "P-3")
            self.oracle.add(self.laptops[side], "emergency", names=self.uses(side) - before)

    @rule(
        side=SIDE,
        who=LEAD,
        wrong_pin=WRONG,
        where=st.sampled_from(["missing", "lent", "here", "in storage"]),
        really=SELDOM,
    )
    def place(self, side: int, who: str, wrong_pin: bool, where: str, really: bool) -> None:
        if not really:
            return
        was = self.state(side).whereabouts
        if self.keep(side, "place", who, wrong_pin, {"whereabouts": where}):
            if where != "missing":
                self.entitled(who, wrong_pin)
            if was in ("missing", "lent") and where in ("here", "in storage"):
                self.oracle.add(self.laptops[side], "back again")

    @rule(side=SIDE, who=LEAD, wrong_pin=WRONG, number=st.integers(0, 5))
    def review(self, side: int, who: str, wrong_pin: bool, number: int) -> None:
        rows, _ = self.laptops[side].site.journal.doubts_open(instrument=self.instrument, limit=-1, offset=0)
        if rows:
            row = rows[number % len(rows)]
            about = f"{row.instrument},{row.cause},{row.use}"
            if self.keep(side, "review-use", who, wrong_pin, {"note": "looked at again"}, about):
                self.entitled(who, wrong_pin)

    # Checks

    @rule(side=SIDE, who=st.sampled_from(["P-1", "P-2", "P-3"] * 3 + ["P-9"]))
    def open_checkout(self, side: int, who: str) -> None:
        laptop = self.laptops[side]
        if laptop.view is None:
            with suppress(Trouble):
                began = frozenset(laptop.known)
                laptop.view = laptop.desk.start(self.instrument, self.people[who])
                laptop.opened = self.oracle.add(laptop, "opened", began=began, names=frozenset({laptop.view.checkout}))

    @rule(side=SIDE, bad=st.sampled_from([False, False, False, True]))
    def check(self, side: int, bad: bool) -> None:
        """A whole checkout, with nothing in between."""
        if all(each.view is None for each in self.laptops):
            self.open_checkout(side, "P-2")
            if self.laptops[side].view is not None:
                self.go_on(100, bad)

    @precondition(lambda self: any(each.view for each in self.laptops))
    @rule(steps=st.integers(1, 40), bad=st.booleans())
    def go_on(self, steps: int, bad: bool) -> None:
        laptop = next(each for each in self.laptops if each.view)
        assert laptop.view is not None
        clock = self.two.room.clock if laptop is self.laptops[0] else self.two.clock
        other = self.two.clock if laptop is self.laptops[0] else self.two.room.clock
        before = clock.now().utc
        with suppress(Trouble):
            for _ in range(steps):
                if laptop.view.ending is not None:
                    break
                laptop.view = step_on(laptop.desk, laptop.view, clock, low if bad else sensible)
        other.advance((clock.now().utc - before).total_seconds())
        self.settle(laptop)

    @precondition(lambda self: any(each.view for each in self.laptops))
    @rule(how=st.sampled_from(["abandon", "withdraw", "judge"]))
    def break_off(self, how: str) -> None:
        laptop = next(each for each in self.laptops if each.view)
        assert laptop.view is not None
        checkout = laptop.view.checkout
        with suppress(Trouble):
            if how == "withdraw":
                laptop.view = laptop.desk.withdraw(checkout, "it was C-2")
                self.oracle.add(laptop, "withdrawn", names=frozenset({checkout}))
            elif how == "judge":
                laptop.view = laptop.desk.fail_by_judgement(checkout, "it smells")
            else:
                laptop.view = laptop.desk.abandon(checkout)
        self.settle(laptop)

    def settle(self, laptop: Laptop) -> None:
        """What became of a checkout, once it is over."""
        view, opened = laptop.view, laptop.opened
        assert view is not None
        assert opened is not None
        if view.ending is None:
            return
        names = frozenset({view.checkout})
        if view.ending.ending == "locked out":
            self.oracle.add(laptop, "failed check", began=opened.began, names=names)
        elif view.ending.ending == "fit for use":
            assert view.ending.until is not None
            self.oracle.add(laptop, "passed", began=opened.began, names=names, until=view.ending.until)
        laptop.view = laptop.opened = None
        with suppress(Trouble):
            sources.source_back(laptop.site, "S-1")

    # Time and distance

    @rule(seconds=st.sampled_from([30, 600, 7200, 40_000, 100_000]))
    def time_passes(self, seconds: float) -> None:
        self.two.later(seconds)

    @rule(side=SIDE)
    def exchange(self, side: int) -> None:
        source, target = self.laptops[side], self.laptops[1 - side]
        self.two.bring(source.site, target.site)
        target.known |= source.known

    @invariant()
    def nothing_is_ready_without_cause(self) -> None:
        for laptop in getattr(self, "laptops", ()):
            now = laptop.site.clock.now().utc
            state = laptop.site.journal.instrument_now(self.instrument)
            row = laptop.site.journal.instrument_row(self.instrument)
            assert row is not None
            words = {fitness(state, now).word, fitness(row.standing, now).word}
            if "ready" in words:
                assert self.oracle.may_be_ready(laptop.known, now), "ready, though nothing justifies it"

    @invariant()
    def what_has_to_be_in_doubt_is(self) -> None:
        for laptop in getattr(self, "laptops", ()):
            doubts = doubtful.doubted(laptop.site, self.instrument)
            listed = {use.event for each in doubts for use in each.uses}
            assert self.oracle.must_be_in_doubt(laptop.known) <= listed


Life.TestCase.settings = settings(
    max_examples=int(os.environ.get("CHECKLIST_LIVES_ESCAPES", "6")),
    stateful_step_count=50,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
TestLife = Life.TestCase
