"""Checkouts through the desk: what a technician does, against a real journal and a clock moved by hand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from desk_walk import MINI, START, id_of, leak_tested, sensible, small_site, step_on, walk

from procedures.asks import Ask, Choice, Hold, Place, ReadingAsk, Scan, Wait
from procedures.clock import ManualClock
from procedures.journal.states import fitness
from procedures.site import clearing, handouts, inventory, references, sources, status
from procedures.site.checkouts import Desk
from procedures.site.opening import Site, open_site
from procedures.site.views import CheckoutView, Typed
from procedures.trouble import Trouble


@dataclass
class Room:
    site: Site
    desk: Desk
    clock: ManualClock
    folder: Path

    @property
    def instrument(self) -> str:
        return id_of(self.site, "C-1")

    @property
    def technician(self) -> str:
        return id_of(self.site, "P-2")

    @property
    def lead(self) -> str:
        return id_of(self.site, "P-1")

    def start(self, person: str = "") -> CheckoutView:
        return self.desk.start(self.instrument, person or self.technician)

    def word(self) -> str:
        state = self.site.journal.instrument_now(self.instrument)
        return fitness(state, self.clock.now().utc).word

    def until(self, view: CheckoutView, kind: type[Ask], title: str = "") -> CheckoutView:
        """Go on sensibly until an ask of this kind is due (in the step of that title)."""
        for _ in range(100):
            if isinstance(view.ask, kind) and title in view.step_title:
                return view
            view = step_on(self.desk, view, self.clock)
        raise AssertionError(f"no {kind.__name__} came up")


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    clock = ManualClock(START)
    site = small_site(tmp_path, clock)
    clock.advance(60)
    yield Room(site, Desk(site), clock, tmp_path)
    site.close()


def failing(ask: Ask, view: CheckoutView) -> str:
    """The answers of an instrument that reads 30 % low."""
    if isinstance(ask, ReadingAsk) and ask.key.startswith("reading-"):
        return "1.13"
    return sensible(ask, view)


def test_a_sound_instrument_ends_fit_for_use_until_the_shift_ends(room: Room) -> None:
    """The main job: from the list to an ending that says for what and until when."""
    view = walk(room.desk, room.start(), room.clock)
    assert view.ending is not None
    assert view.ending.ending == "fit for use"
    assert view.ending.fit_for == ("photon exposure rate",)
    assert view.ending.not_for == ("alpha",)
    assert dict(view.ending.scales) == {"x1": "source"}
    assert view.ending.until == dt.datetime(2026, 6, 1, 14, 0, tzinfo=dt.UTC)
    assert room.word() == "ready"
    room.clock.advance(8 * 3600)
    assert room.word() == "needs check"


def test_the_list_and_the_ending_say_the_same_time_though_the_laptop_is_set_to_another_zone(tmp_path: Path) -> None:
    """Shifts end by the site's clock; an hour more on the list would be an hour of use on no check."""
    clock = ManualClock(START, offset=-300)
    with small_site(tmp_path, clock, zone="Europe/Vienna") as site:
        clock.advance(60)
        desk = Desk(site)
        view = walk(desk, desk.start(id_of(site, "C-1"), id_of(site, "P-2")), clock)
        (row,) = status.home(site).instruments
        assert view.ending is not None
        assert row.until is not None
        assert view.ending.until_local == f"{row.until:%H:%M on %d %b %Y}: the shift ends"
        assert view.ending.until_local.startswith("14:00 on 01 Jun 2026")
        assert status.instrument(site, row.id) == row
        assert f"{status.home(site).now:%H:%M}" == f"{clock.now().utc + dt.timedelta(hours=2):%H:%M}"


def test_opening_a_checkout_ends_the_readiness_there_was(room: Room) -> None:
    """Whoever checks an instrument doubts it; until the new verdict nobody may take it."""
    walk(room.desk, room.start(), room.clock)
    room.start()
    assert room.word() == "needs check"


def test_a_failed_response_locks_out_and_no_new_checkout_can_be_opened(room: Room) -> None:
    """A failure cannot be escaped by a new checkout, by another person, or by another start of the program."""
    view = walk(room.desk, room.start(), room.clock, failing)
    assert view.ending is not None
    assert view.ending.ending == "locked out"
    assert [reason.code for reason in view.ending.reasons] == ["response-out"]
    assert room.word() == "locked out"
    for person in (room.technician, room.lead):
        with pytest.raises(Trouble, match="locked out"):
            room.start(person)
    again = ManualClock(room.clock.now().utc, session="another start")
    with open_site(room.folder, again) as site, pytest.raises(Trouble, match="locked out"):
        Desk(site).start(room.instrument, room.lead)


def test_a_source_left_out_by_a_failure_is_shown_and_can_be_scanned_back(room: Room) -> None:
    """Home shows every source that is out, whatever became of the check it was taken for."""
    view = walk(room.desk, room.start(), room.clock, failing)
    assert view.ending is not None
    assert view.ending.sources_out == ("S-1",)
    assert [row.label for row in status.home(room.site).sources_out] == ["S-1"]
    assert sources.source_back(room.site, "s-1", room.technician) == "S-1"
    assert status.home(room.site).sources_out == ()
    with pytest.raises(Trouble, match="no source with the label"):
        sources.source_back(room.site, "S-1", room.technician)


def test_abandoning_after_a_failed_finding_locks_out(room: Room) -> None:
    """Battery failed, fresh cells are on offer: walking away now is a failure, not a pause."""
    view = room.until(room.start(), Place)
    assert view.ask is not None
    view = room.desk.answer(view.checkout, view.ask.key, Typed("below the band"), took=3)
    assert view.remedy is not None
    assert room.word() == "locked out"
    view = room.desk.abandon(view.checkout, "no time")
    assert view.ending is not None
    assert view.ending.ending == "locked out"
    assert {reason.code for reason in view.ending.reasons} == {"battery-low", "abandoned-after-failure"}
    said = {reason.code: reason.say for reason in view.ending.reasons}
    assert "below the band" in said["battery-low"]
    assert said["abandoned-after-failure"] == "Its check was given up after a step had failed: no time"


def test_each_reason_of_one_step_says_its_own(tmp_path: Path) -> None:
    """A remedy that ends the calibration is a reason by itself; in the words of the failure nobody would know of it."""
    clock = ManualClock(START)
    adjusts = MINI.replace('action = "fresh-cells"', 'action = "repaired"')
    with small_site(tmp_path, clock, profile=adjusts) as site:
        clock.advance(60)
        desk = Desk(site)
        view = desk.start(id_of(site, "C-1"), id_of(site, "P-2"))
        while view.remedy is None:
            view = step_on(
                desk, view, clock, lambda ask, _: "below the band" if isinstance(ask, Place) else sensible(ask, _)
            )
        view = desk.remedy(view.checkout, done=True)
        assert view.ending is not None
        said = {reason.code: reason.say for reason in view.ending.reasons}
        assert "below the band" in said["battery-low"]
        assert said["calibration-void"] == "What was done to it ends its calibration."


@pytest.mark.parametrize(
    ("typed", "codes"),
    [("0.9", {"response-out", "abandoned-after-failure"}), ("no response", {"no-response", "abandoned-after-failure"})],
)
def test_a_bad_reading_cannot_be_walked_away_from(room: Room, typed: str, codes: set[str]) -> None:
    """Giving up after the first of three readings does not buy a fresh start: it is judged as it stands."""
    view = room.until(room.start(), ReadingAsk, "Response")
    assert view.ask is not None
    view = room.desk.answer(view.checkout, view.ask.key, Typed(typed), took=3)
    assert view.ending is None
    view = room.desk.abandon(view.checkout, "called away")
    assert view.ending is not None
    assert view.ending.ending == "locked out"
    assert {reason.code for reason in view.ending.reasons} <= codes
    assert room.word() == "locked out"


def test_a_bad_reading_is_not_undone_by_waiting(room: Room) -> None:
    """A pause that makes everything stale keeps the failure that the readings showed."""
    view = room.until(room.start(), ReadingAsk, "Response")
    assert view.ask is not None
    view = room.desk.answer(view.checkout, view.ask.key, Typed("0.9"), took=3)
    room.desk.pause(view.checkout)
    room.clock.advance(3600)
    view = room.desk.resume(view.checkout, room.technician, switched_off=False)
    assert view.ending is not None
    assert [reason.code for reason in view.ending.reasons] == ["response-out"]


def test_good_readings_so_far_may_be_given_up(room: Room) -> None:
    """Nothing was found wrong: it needs a check, and is not locked out."""
    view = room.until(room.start(), ReadingAsk, "Response")
    assert view.ask is not None
    view = room.desk.answer(view.checkout, view.ask.key, Typed("1.62"), took=3)
    view = room.desk.abandon(view.checkout, "called away")
    assert view.ending is not None
    assert view.ending.ending == "abandoned"


def test_zero_found_off_is_recorded_though_the_visit_was_given_up(room: Room) -> None:
    """As found comes first: it puts earlier uses in doubt whatever comes after."""
    view = room.until(room.start(), ReadingAsk, "Zero")
    assert view.ask is not None
    view = room.desk.answer(view.checkout, view.ask.key, Typed("0.5"), took=3)
    view = room.desk.abandon(view.checkout, "called away")
    assert view.ending is not None
    assert view.ending.ending == "not checked"
    found = [e for e in room.site.journal.checkout_events(view.checkout) if e.kind == "found"][-1]
    assert found.body["finding"]["as_found"]["outcome"] == "fail"


def test_after_fresh_cells_it_has_to_be_switched_on_and_warmed_up_anew(room: Room) -> None:
    """Cells are changed with the instrument off: time counts from switching on again."""
    view = room.until(room.start(), Place)
    assert view.ask is not None
    view = room.desk.answer(view.checkout, view.ask.key, Typed("below the band"), took=3)
    view = room.desk.remedy(view.checkout, done=True)
    assert view.notice == "Fresh cells fitted: everything is done again from here, Battery."
    assert view.ask is not None
    assert view.ask.key == "switched-on"


def test_never_ending_a_failed_checkout_is_no_escape_either(room: Room) -> None:
    """The failure stands though nobody pressed anything more: the laptop may be dead."""
    view = room.until(room.start(), Place)
    assert view.ask is not None
    room.desk.answer(view.checkout, view.ask.key, Typed("below the band"), took=3)
    with pytest.raises(Trouble, match="open already"):
        room.start(room.lead)
    assert room.word() == "locked out"


def test_abandoning_before_anything_failed_leaves_it_needing_a_check(room: Room) -> None:
    """Giving up is allowed while nothing was found wrong; it is not fit, and not locked."""
    view = room.desk.abandon(room.start().checkout, "called away")
    assert view.ending is not None
    assert view.ending.ending == "abandoned"
    assert room.word() == "needs check"


def test_fresh_cells_are_tried_once_and_then_it_is_locked_out(room: Room) -> None:
    """Attempts are counted for the whole checkout."""

    def flat(ask: Ask, view: CheckoutView) -> str:
        return "below the band" if isinstance(ask, Place) else sensible(ask, view)

    view = walk(room.desk, room.start(), room.clock, flat)
    assert view.ending is not None
    assert [reason.code for reason in view.ending.reasons] == ["battery-low"]
    kinds = [event.kind for event in room.site.journal.checkout_events(view.checkout)]
    assert kinds.count("remedied") == 1


def test_fresh_cells_that_help_lead_on_to_fit_for_use(room: Room) -> None:
    """A remedy within its attempts, then everything from there on again, is a good ending; as found is kept."""
    tried = []

    def first_flat(ask: Ask, view: CheckoutView) -> str:
        if isinstance(ask, Place) and not tried:
            tried.append(1)
            return "below the band"
        return sensible(ask, view)

    view = walk(room.desk, room.start(), room.clock, first_flat)
    assert view.ending is not None
    assert view.ending.ending == "fit for use"
    as_found = [each.finding.as_found for each in view.ending.findings if each.finding.kind == "battery"]
    assert [found.outcome if found else None for found in as_found] == ["fail", None]


def test_failing_by_judgement_locks_out_at_once_with_the_persons_reason(room: Room) -> None:
    """No remedy, no branch: a person who does not trust it is enough."""
    view = room.desk.fail_by_judgement(room.start().checkout, "smells hot")
    assert view.ending is not None
    assert view.ending.ending == "locked out"
    assert [(r.code, r.say) for r in view.ending.reasons] == [("judged-unfit", "smells hot")]
    assert room.word() == "locked out"


def test_failing_by_judgement_says_which_uses_are_in_doubt(room: Room) -> None:
    """What a person sees to be wrong was wrong in the field too."""
    walk(room.desk, room.start(), room.clock)
    handouts.hand_out(room.site, room.instrument, to=room.technician, job="survey", place="hall")
    room.clock.advance(600)
    view = room.desk.fail_by_judgement(room.until(room.start(), ReadingAsk, "Response").checkout, "the needle sticks")
    assert view.ending is not None
    assert view.ending.doubt == 1


def test_a_reason_is_needed_to_fail_by_judgement(room: Room) -> None:
    """An empty reason tells the repairer nothing."""
    view = room.start()
    with pytest.raises(Trouble, match="reason"):
        room.desk.fail_by_judgement(view.checkout, "  \x07 ")
    assert room.desk.view(view.checkout).ending is None


def test_without_a_reference_reading_it_is_not_checked_and_not_locked(room: Room) -> None:
    """What could not be checked is not a failure: a new calibration made the old reference unusable."""
    references.calibrated(
        room.site,
        room.instrument,
        on=dt.date(2026, 5, 30),
        due=dt.date(2027, 5, 30),
        by="bench",
        certificate="K-2",
        person=room.lead,
    )
    view = walk(room.desk, room.start(), room.clock)
    assert view.ending is not None
    assert view.ending.ending == "not checked"
    assert "reference" in " ".join(view.ending.missing)
    assert room.word() == "needs check"


def test_a_source_that_these_records_do_not_hold_is_not_checked_with(room: Room) -> None:
    """A binding may arrive before the source it names; no checkout may stumble over that, or pass by it."""
    body = {"role": "daily", "source": "e" * 64, "jig": None}
    room.site.record("source-bound", body, about=(room.instrument, "e" * 64), person=room.lead)
    view = walk(room.desk, room.start(), room.clock)
    assert view.ending is not None
    assert view.ending.ending == "not checked"
    assert "not in these records" in view.ending.missing[0]


def test_only_a_source_is_bound_as_one(room: Room) -> None:
    """The id of anything else would be found out in the middle of a checkout."""
    source = id_of(room.site, "S-1")
    with pytest.raises(Trouble, match="no source of this site"):
        inventory.bind_source(room.site, room.instrument, "daily", id_of(room.site, "J-1"), person=room.lead)
    with pytest.raises(Trouble, match="no jig of this site"):
        inventory.bind_source(room.site, room.instrument, "daily", source, source, person=room.lead)


@pytest.mark.parametrize(
    "wrong",
    [
        {"readings": ["1.60", "about 1.6", "1.70"]},
        {"readings": ["1.60", "NaN", "1.70"]},
        {"unit": "mR"},
        {"unit": "furlongs"},
        {"unit": ""},
        {"background": "none"},
        {"temperature_c": "warm", "pressure_kpa": "100"},
        {"temperature_c": "21", "pressure_kpa": "1013"},
    ],
)
def test_a_reference_reading_that_is_none_is_refused_before_it_is_kept(room: Room, wrong: dict[str, Any]) -> None:
    """Every later check is compared with it, and what the journal holds cannot be put right."""
    on, due = dt.date(2026, 5, 20), dt.date(2027, 5, 20)
    calibration = references.calibrated(room.site, room.instrument, on=on, due=due, by="b", certificate="K-2")
    right = {"role": "daily", "scale": "x1", "readings": ["1.60", "1.65", "1.70"], "unit": "mR/h"}
    told = right | {"source": id_of(room.site, "S-1"), "jig": None, "calibration": calibration} | wrong
    count = room.site.journal.count()
    with pytest.raises(Trouble):
        references.reference_reading(room.site, room.instrument, **told)
    assert room.site.journal.count() == count


def test_an_expired_calibration_cannot_become_fit_for_use(room: Room) -> None:
    """The due date is good on the day itself and over at local midnight."""
    room.clock.advance(335 * 86400)
    view = walk(room.desk, room.start(), room.clock)
    assert view.ending is not None
    assert view.ending.ending == "not checked"
    assert "the calibration ended on 2027-05-01" in view.ending.missing


def test_an_overdue_leak_test_makes_the_source_unusable(room: Room) -> None:
    """10 CFR 35.67: at most every six months (read); which source it is and since when is said."""
    leak_tested(room.site, id_of(room.site, "S-1"), dt.date(2025, 11, 1))
    view = walk(room.desk, room.start(), room.clock)
    assert view.ending is not None
    assert view.ending.ending == "not checked"
    assert "leak test" in " ".join(view.ending.missing)


def test_a_wrong_source_is_asked_for_again_and_recorded(room: Room) -> None:
    """Identity is observed: another label passes nothing and is kept in the record."""
    view = room.until(room.start(), Scan, "Response")
    assert isinstance(view.ask, Scan)
    before = view.ask.key
    view = room.desk.answer(view.checkout, before, Typed("S-9"), took=2)
    assert isinstance(view.ask, Scan)
    assert view.ask.notice
    scans = [e for e in room.site.journal.checkout_events(view.checkout) if e.kind == "scanned"]
    assert scans[-1].body["text"] == "S-9"
    assert status.home(room.site).sources_out == ()


def test_home_names_the_step_that_is_due_after_another_start(room: Room) -> None:
    """The last record is of the step before; what is due is the next one."""
    view = room.until(room.start(), Choice, "Zero")
    room.clock.restart("next morning")
    (row,) = status.home(room.site).checkouts
    assert (row.step, row.phase) == (view.step_title, "left open")
    assert row.step == "Zero"


def test_a_source_is_taken_and_put_back_with_its_caution(room: Room) -> None:
    """The face of a source is as thin on the way back."""
    view = room.until(room.start(), Scan, "Response")
    taken = view.ask.caution if view.ask else ""
    while not (isinstance(view.ask, Scan) and view.ask.key == "back"):
        view = step_on(room.desk, view, room.clock)
    assert view.ask.caution == taken != ""


def test_a_source_belongs_to_one_open_checkout_at_a_time(room: Room) -> None:
    """Two meters cannot be checked with one source at once."""
    second = inventory.register_instrument(room.site, label="C-2", serial="102", type="Vent one", profile="mini")
    source, jig = id_of(room.site, "S-1"), id_of(room.site, "J-1")
    inventory.bind_source(room.site, second, "daily", source, jig)
    calibration = references.calibrated(
        room.site, second, on=dt.date(2026, 5, 1), due=dt.date(2027, 5, 1), by="bench", certificate="K-3"
    )
    references.reference_reading(
        room.site,
        second,
        source=source,
        jig=jig,
        role="daily",
        scale="x1",
        readings=["1.6", "1.7", "1.6"],
        unit="mR/h",
        calibration=calibration,
    )
    first = room.until(room.start(), ReadingAsk, "Response")
    other = room.until(room.desk.start(second, room.lead), Scan, "Response")
    assert other.ask is not None
    with pytest.raises(Trouble, match="out with another checkout"):
        room.desk.answer(other.checkout, other.ask.key, Typed("S-1"), took=2)
    assert walk(room.desk, first, room.clock).ending is not None
    assert walk(room.desk, other, room.clock).ending is not None


def test_a_hold_let_go_too_early_is_asked_again(room: Room) -> None:
    """A button kept down for five of eight seconds has not been kept down."""
    view = room.until(room.start(), Hold)
    view = room.desk.hold(view.checkout)
    for _ in range(5):
        room.clock.advance(1.0)
        view = room.desk.tick(view.checkout)
    assert view.wait is not None
    assert view.wait.remaining == pytest.approx(3.0)
    view = room.desk.let_go(view.checkout)
    assert isinstance(view.ask, Hold)
    assert view.wait is None
    assert "too early" in view.notice


def test_a_hold_is_broken_by_a_gap_nobody_watched(room: Room) -> None:
    """The laptop slept for a moment: nobody can vouch for the finger."""
    view = room.until(room.start(), Hold)
    room.desk.hold(view.checkout)
    room.clock.advance(1.2)
    view = room.desk.tick(view.checkout)
    assert isinstance(view.ask, Hold)
    assert view.wait is None
    assert view.notice


def test_a_wait_takes_no_answer_and_is_never_over_early(room: Room) -> None:
    """There is no key that skips a wait, and a wall clock set forward does not shorten it."""
    view = room.until(room.start(), Wait)
    assert view.ask is not None
    assert view.wait is not None
    with pytest.raises(Trouble, match="ends by itself"):
        room.desk.answer(view.checkout, view.ask.key, Typed("done"), took=1)
    room.clock.advance(view.wait.remaining - 0.01)
    assert isinstance(room.desk.tick(view.checkout).ask, Wait)
    room.clock.set_wall(room.clock.now().utc + dt.timedelta(hours=1))
    assert isinstance(room.desk.tick(view.checkout).ask, Wait)
    room.clock.advance(0.02)
    assert not isinstance(room.desk.tick(view.checkout).ask, Wait)


def test_a_long_pause_sends_it_back_to_the_first_step(room: Room) -> None:
    """Passes older than a pause may be no longer count."""
    view = room.until(room.start(), ReadingAsk, "Response")
    room.desk.pause(view.checkout, "phone")
    room.clock.advance(20 * 60 + 1)
    view = room.desk.resume(view.checkout, room.technician, switched_off=False)
    assert view.step == 1
    assert "20 min" in view.notice
    assert {each.state for each in view.trail[1:3]} == {"again"}


def test_a_short_pause_goes_on_at_the_same_ask(room: Room) -> None:
    """Pause keeps everything."""
    view = room.until(room.start(), ReadingAsk, "Response")
    key = view.ask.key if view.ask else ""
    paused = room.desk.pause(view.checkout, "phone")
    assert paused.ask is None
    room.clock.advance(600)
    view = room.desk.resume(view.checkout, room.technician, switched_off=False)
    assert view.ask is not None
    assert (view.step_title, view.ask.key) == ("Response", key)


def test_a_hold_that_was_paused_is_not_listed_as_waiting(room: Room) -> None:
    """The list says what is due: nobody may think that the time of a button nobody holds is running."""
    view = room.until(room.start(), Hold)
    room.desk.hold(view.checkout)
    room.clock.advance(0.5)
    room.desk.pause(view.checkout, "phone")
    room.desk.resume(view.checkout, room.technician, switched_off=False)
    (row,) = status.home(room.site).checkouts
    assert (row.phase, row.remaining) == ("asking", None)


@pytest.mark.parametrize(("other", "off"), [(True, False), (False, True)])
def test_another_person_or_switching_off_begins_again(room: Room, other: bool, off: bool) -> None:
    """Nobody can vouch for what somebody else saw, and batteries are checked every time it is switched on."""
    view = room.until(room.start(), ReadingAsk, "Response")
    room.desk.pause(view.checkout)
    view = room.desk.resume(view.checkout, room.lead if other else room.technician, switched_off=off)
    assert view.step == 1


def test_walking_away_without_pausing_is_a_pause_all_the_same(room: Room) -> None:
    """The gap counts, not the key that was pressed."""
    view = room.until(room.start(), ReadingAsk, "Response")
    assert view.ask is not None
    room.clock.advance(20 * 60 + 1)
    view = room.desk.answer(view.checkout, view.ask.key, Typed("1.62"), took=1201)
    assert view.step == 1
    assert "20 min" in view.notice


def source_out_at_a_remedy(room: Room) -> CheckoutView:
    """A response that failed and whose remedy was carried out: it begins again with its source still out."""
    view = room.start()
    while view.remedy is None:
        view = step_on(room.desk, view, room.clock, failing)
    return step_on(room.desk, view, room.clock)


RESEAT = MINI.replace(
    'lockout = "response-out"',
    """lockout = "response-out"
  [[step.remedy]]
  action = "source-reseated"
  say = "Seat the source in its jig again."
  repeat_from = "response"
""",
)


@pytest.fixture
def reseat(tmp_path: Path) -> Iterator[Room]:
    """A room whose procedure lets a failed response be tried again with the source seated anew."""
    clock = ManualClock(START)
    site = small_site(tmp_path, clock, profile=RESEAT)
    clock.advance(60)
    yield Room(site, Desk(site), clock, tmp_path)
    site.close()


def test_a_source_scanned_back_at_its_store_is_nobody_at_the_instrument(reseat: Room) -> None:
    """Nor does it cut a pause in two: twice 15 minutes with such a scan between are still more than 20."""
    view = source_out_at_a_remedy(reseat)
    reseat.desk.pause(view.checkout, "called away")
    reseat.clock.advance(15 * 60)
    sources.source_back(reseat.site, "S-1", reseat.lead)
    reseat.clock.advance(15 * 60)
    view = reseat.desk.resume(view.checkout, reseat.technician, switched_off=False)
    assert view.step == 1
    assert "20 min" in view.notice


def test_a_source_scanned_back_does_not_go_on_with_a_checkout_left_open(reseat: Room) -> None:
    """After a crash somebody has to say who goes on and whether it was off, whatever was scanned on the list."""
    view = source_out_at_a_remedy(reseat)
    reseat.clock.restart("after the crash")
    sources.source_back(reseat.site, "S-1", reseat.technician)
    desk = Desk(reseat.site)
    assert desk.view(view.checkout).paused == "left open"
    (row,) = status.home(reseat.site).checkouts
    assert row.phase == "left open"
    assert row.step == "Response"


def test_a_source_scanned_back_or_a_remark_beside_it_loses_no_answer(reseat: Room) -> None:
    """What was recorded beside the run, from the list or another window, is no other window going on with it."""
    view = source_out_at_a_remedy(reseat)
    assert view.ask is not None
    sources.source_back(reseat.site, "S-1", reseat.technician)
    with open_site(reseat.folder, reseat.clock) as other:
        Desk(other).note(view.checkout, "sun on the scale")
    view = reseat.desk.answer(view.checkout, view.ask.key, Typed(view.ask.due), took=3)  # type: ignore[attr-defined]
    assert walk(reseat.desk, view, reseat.clock).ending is not None


@pytest.mark.parametrize("state", ["reading", "paused", "left open"])
def test_a_source_that_is_being_read_is_not_scanned_back_from_the_list(reseat: Room, state: str) -> None:
    """Another checkout could take it then, and what the first one reads would be of no source."""
    view = reseat.until(reseat.start(), ReadingAsk, "Response")
    if state == "paused":
        reseat.desk.pause(view.checkout)
    elif state == "left open":
        reseat.clock.restart("after the crash")
    before = reseat.site.journal.heads()
    with pytest.raises(Trouble, match="S-1 is in use: the checkout of C-1 is open") as caught:
        sources.source_back(reseat.site, "S-1", reseat.lead)
    assert caught.value.do == "Go on with it there."
    assert reseat.site.journal.heads() == before
    Desk(reseat.site).abandon(view.checkout)
    assert sources.source_back(reseat.site, "S-1", "") == "S-1"


def test_waiting_does_not_wash_a_failure_away(room: Room) -> None:
    """Battery low, then a long pause: the failure stands until fresh cells are in or it is locked out."""
    view = room.until(room.start(), Place)
    assert view.ask is not None
    view = room.desk.answer(view.checkout, view.ask.key, Typed("below the band"), took=3)
    room.desk.pause(view.checkout)
    room.clock.advance(3600)
    view = room.desk.resume(view.checkout, room.technician, switched_off=True)
    assert view.remedy is not None
    assert room.desk.remedy(view.checkout, done=False).ending is not None
    assert room.word() == "locked out"


def test_after_a_crash_it_is_shown_as_left_open_and_a_wait_begins_again(room: Room) -> None:
    """The process died mid-wait; another start of the program goes on at the same ask, with the whole wait."""
    view = room.until(room.start(), Wait)
    assert view.wait is not None
    room.clock.advance(view.wait.seconds / 2)
    room.clock.restart("after the crash")
    desk = Desk(room.site)
    looked = desk.view(view.checkout)
    assert looked.paused == "left open"
    assert looked.ask is None
    resumed = desk.resume(view.checkout, room.technician, switched_off=False)
    assert isinstance(resumed.ask, Wait)
    assert resumed.wait is not None
    assert resumed.wait.remaining == pytest.approx(120.0)


def test_a_second_program_that_was_faster_is_noticed(room: Room) -> None:
    """Two windows on one checkout: the slower one is told, and nothing is written twice."""
    view = room.until(room.start(), Place)
    assert view.ask is not None
    with open_site(room.folder, room.clock) as other:
        Desk(other).answer(view.checkout, view.ask.key, Typed("in the band"), took=3)
    count = room.site.journal.count()
    with pytest.raises(Trouble, match="another window"):
        room.desk.answer(view.checkout, view.ask.key, Typed("below the band"), took=3)
    assert room.site.journal.count() == count
    assert room.desk.view(view.checkout).step_title != "Battery"


def test_a_lockout_that_comes_in_meanwhile_prevents_fit_for_use(room: Room) -> None:
    """Somebody locks it out by hand while it is being checked: the check cannot end well."""
    view = room.until(room.start(), ReadingAsk, "Response")
    clearing.lock_by_hand(room.site, room.instrument, room.lead, "was dropped yesterday")
    view = walk(room.desk, view, room.clock)
    assert view.ending is not None
    assert view.ending.ending == "not checked"
    assert any("was dropped yesterday" in line for line in view.ending.missing)
    assert room.word() == "locked out"


def test_ending_readiness_with_a_cause_needs_a_new_check(room: Room) -> None:
    """Anyone can end it at any time."""
    walk(room.desk, room.start(), room.clock)
    clearing.end_readiness(room.site, room.instrument, room.technician, "dropped", "from the cart")
    assert room.word() == "needs check"


def test_withdrawing_a_passed_checkout_ends_its_readiness(room: Room) -> None:
    """It was made on the wrong item: kept, struck through, no readiness."""
    view = walk(room.desk, room.start(), room.clock)
    view = room.desk.withdraw(view.checkout, "it was C-2")
    assert room.word() == "needs check"
    assert view.ending is not None
    assert view.ending.ending == "abandoned"
    assert view.ending.withdrawn == "it was C-2"
    assert (view.ending.fit_for, view.ending.until, view.ending.until_local, view.ending.factor) == ((), None, "", "")
    assert not any("Take it" in each for each in view.ending.do)


def test_withdrawing_does_not_take_a_failure_back(room: Room) -> None:
    """The failure stands until somebody entitled clears it."""
    view = walk(room.desk, room.start(), room.clock, failing)
    view = room.desk.withdraw(view.checkout, "it was C-2")
    assert room.word() == "locked out"
    assert view.ending is not None
    assert (view.ending.ending, view.ending.withdrawn) == ("locked out", "it was C-2")


def test_a_clearing_and_a_passing_check_that_names_it_bring_it_back(room: Room) -> None:
    """A lockout ends only by a clearing and then a complete checkout that passes."""
    view = walk(room.desk, room.start(), room.clock, failing)
    with pytest.raises(Trouble, match="site lead"):
        clearing.clear(
            room.site, room.instrument, room.technician, lockouts=[view.checkout], cause="damp", action="dried"
        )
    clearing.clear(room.site, room.instrument, room.lead, lockouts=[view.checkout], cause="damp", action="dried")
    assert room.word() == "locked out"
    view = walk(room.desk, room.start(), room.clock)
    assert view.ending is not None
    assert view.ending.ending == "fit for use"
    assert room.word() == "ready"


def test_a_failing_check_after_a_clearing_locks_again(room: Room) -> None:
    """The clearing alone is worth nothing."""
    view = walk(room.desk, room.start(), room.clock, failing)
    clearing.clear(room.site, room.instrument, room.lead, lockouts=[view.checkout], cause="damp", action="dried")
    walk(room.desk, room.start(), room.clock, failing)
    assert room.word() == "locked out"
    with pytest.raises(Trouble, match="locked out"):
        room.start()


def test_a_clock_set_back_a_year_starts_nothing_and_nothing_is_ready(room: Room) -> None:
    """A time before the newest record puts the clock in doubt."""
    walk(room.desk, room.start(), room.clock)
    room.clock.set_wall(START - dt.timedelta(days=365))
    with pytest.raises(Trouble, match="clock"):
        room.start()
    home = status.home(room.site)
    assert home.instruments[0].fitness == "needs check"
    assert any("clock" in line for line in home.notices)


def test_a_clock_set_back_during_a_checkout_is_recorded_and_ends_not_checked(room: Room) -> None:
    """Dates decide decay, calibration and readiness; with the clock in doubt so are they."""
    view = room.until(room.start(), Place)
    room.clock.set_wall(room.clock.now().utc - dt.timedelta(days=365))
    view = walk(room.desk, view, room.clock)
    assert view.ending is not None
    assert view.ending.ending == "not checked"
    kinds = [event.kind for event in room.site.journal.checkout_events(view.checkout)]
    assert "clock-jumped" in kinds
    assert room.word() == "needs check"


def test_somebody_without_training_or_role_cannot_open_one(room: Room) -> None:
    """Training is good on its last day and over at local midnight."""
    old = inventory.register_person(
        room.site,
        label="P-3",
        name="Old Hand",
        initials="OH",
        roles=["technician"],
        trained_until=dt.date(2026, 5, 31),
    )
    with pytest.raises(Trouble, match="training ended on 2026-05-31"):
        room.start(old)
    with pytest.raises(Trouble, match="list of people"):
        room.start(room.instrument)


@pytest.mark.parametrize("label", ["[/]", "[x/]", "[bold]C[/bold]", "C-1; DROP", "\N{SNOWMAN}"])
def test_labels_and_names_are_data_and_stay_as_they_are(tmp_path: Path, label: str) -> None:
    """Whatever a label holds, it is shown as it is and found again."""
    clock = ManualClock(START)
    with small_site(tmp_path, clock, profile=MINI.replace("A small", label)) as site:
        made = inventory.register_instrument(site, label=label, serial=label, type=label, profile="mini")
        assert status.find(site, label).id == made
        view = Desk(site).start(made, id_of(site, "P-1"))
        assert view.label == label
        assert view.title.startswith(label)


def test_a_retired_label_is_never_used_again(room: Room) -> None:
    """An old sticker must not point at a new thing."""
    inventory.retire(room.site, id_of(room.site, "J-1"), "bent")
    with pytest.raises(Trouble, match="in use, or was once"):
        inventory.register_jig(room.site, label="j-1")
    assert status.find(room.site, "J-1").kind == "nothing"


@pytest.mark.parametrize("typed", ["nan", "1e400", "4.2 mSv/h", "", "9", "[/]", "x" * 10_000, "١٫٢"])
def test_a_bad_reading_gets_a_clear_answer_and_nothing_is_kept(room: Room, typed: str) -> None:
    """What is wrong, and what to do; the ask stays as it was."""
    view = room.until(room.start(), ReadingAsk, "Response")
    assert view.ask is not None
    count = room.site.journal.count()
    with pytest.raises(Trouble) as caught:
        room.desk.answer(view.checkout, view.ask.key, Typed(typed), took=3)
    assert caught.value.what
    assert room.site.journal.count() == count
    assert room.desk.view(view.checkout).ask == view.ask


def test_a_decimal_comma_is_understood_and_echoed(room: Room) -> None:
    """A slip is seen before it is kept."""
    view = room.until(room.start(), ReadingAsk, "Response")
    assert view.ask is not None
    assert room.desk.understand(view.checkout, view.ask.key, Typed("1,62")).echo == "1.62 mR/h"


def test_a_hasty_answer_is_recorded_as_hasty(room: Room) -> None:
    """Nobody can look at a needle in a tenth of a second."""
    view = room.until(room.start(), Place)
    assert view.ask is not None
    room.desk.answer(view.checkout, view.ask.key, Typed("in the band"), took=0.1)
    answered = [e for e in room.site.journal.checkout_events(view.checkout) if e.kind == "answered"]
    assert answered[-1].body["hasty"] is True
