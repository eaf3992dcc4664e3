"""The fold rule by rule: one short history for each thing that makes, keeps, or ends a fitness."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta

import journal_drafts as d
import pytest
from journal_histories import Station, World, begin, instruments

from procedures.journal.envelope import Draft, Event
from procedures.journal.fold import InstrumentState, fitness, fold_instrument, uses_in_doubt
from procedures.journal.moments import utc_text
from procedures.journal.states import BEHIND, HandOut


class Bench:
    """Two stations and one instrument, with the moves that the rules speak of."""

    def __init__(self) -> None:
        self.world: World = begin("north", "south")
        self.north, self.south = self.world.stations
        (self.meter,) = instruments(self.world)

    def write(self, draft: Draft, station: Station | None = None) -> Event:
        return self.world.write(station or self.north, draft)

    def meet(self) -> None:
        self.world.tell_all()

    def until(self) -> datetime:
        return self.world.now + timedelta(hours=12)

    def check(self, *clearings: Event, station: Station | None = None, ending: str = "fit for use") -> Event:
        """A whole checkout; gives back its opening."""
        opened = self.write(d.opened(self.meter, clearings=tuple(one.hash for one in clearings)), station)
        self.write(d.found(opened.hash, self.meter), station)
        self.write(d.ended(opened.hash, self.meter, ending, until=utc_text(self.until())), station)
        return opened

    def state(self, *, held: int = 0) -> InstrumentState:
        events = [one for one in self.world.everything() if self.meter in one.about or one.hash == self.meter]
        return fold_instrument(self.meter, events, held=held)

    def word(self, now: datetime | None = None) -> str:
        return fitness(self.state(), now or self.world.now).word


@pytest.fixture
def bench() -> Bench:
    return Bench()


def test_never_checked_is_not_ready(bench: Bench) -> None:
    """An instrument is ready only by a check."""
    assert bench.word() == "needs check"
    assert bench.state().counting is None


def test_a_check_makes_ready_until_its_time(bench: Bench) -> None:
    """At the very moment that the readiness ends, it has ended."""
    bench.check()
    until = bench.state().standing.ready_until
    assert until is not None
    assert bench.word(until - timedelta(microseconds=1)) == "ready"
    assert bench.word(until) == "needs check"


def test_a_check_without_a_time_makes_nothing_ready(bench: Bench) -> None:
    """A fit ending that does not say until when cannot be relied on at any time."""
    opened = bench.write(d.opened(bench.meter))
    bench.write(d.ended(opened.hash, bench.meter, until=None))
    assert bench.word() == "needs check"


def test_a_present_before_the_newest_record_is_not_believed(bench: Bench) -> None:
    """A clock that was set back would make yesterday's readiness good for another day."""
    bench.check()
    newest = bench.state().standing.newest
    assert newest is not None
    assert bench.word(newest - BEHIND) == "ready"
    assert bench.word(newest - BEHIND - timedelta(microseconds=1)) == "needs check"


@pytest.mark.parametrize("ending", ["not checked", "abandoned"])
def test_an_ending_without_a_verdict_is_neither_fit_nor_a_lockout(bench: Bench, ending: str) -> None:
    """What could not be checked is not a failure, and no pass either."""
    bench.check(ending=ending)
    assert bench.word() == "needs check"
    assert bench.state().lockouts == ()


def test_opening_a_checkout_ends_the_readiness_there_was(bench: Bench) -> None:
    """Whoever opens a checkout doubts the instrument until it is through."""
    bench.check()
    bench.write(d.opened(bench.meter))
    assert bench.word() == "needs check"
    assert len(bench.state().open_checkouts) == 1


def enders(meter: str) -> Iterable[Draft]:
    yield d.readiness_ended(meter)
    yield d.calibrated(meter)
    yield d.described(meter, detector="D-2")
    yield d.described(meter, cable="long")
    yield d.described(meter, profile="other")
    yield Draft("note", {"text": "dropped"}, (meter,), ends_fitness=True)


@pytest.mark.parametrize("number", range(6))
@pytest.mark.parametrize("elsewhere", [False, True])
def test_what_ends_a_readiness_ends_it_wherever_it_is_written(bench: Bench, number: int, elsewhere: bool) -> None:
    """Dropped, recalibrated, another cable: the check was of another instrument than this one now."""
    bench.meet()
    bench.check()
    bench.write(list(enders(bench.meter))[number], bench.south if elsewhere else None)
    assert bench.word() == "needs check"
    bench.meet()
    bench.check()
    assert bench.word() == "ready"


def test_what_ends_a_readiness_during_a_checkout_spoils_it(bench: Bench) -> None:
    """It was dropped between opening and ending: the passes from before the fall show nothing."""
    opened = bench.write(d.opened(bench.meter))
    bench.write(d.readiness_ended(bench.meter))
    bench.write(d.ended(opened.hash, bench.meter, until=utc_text(bench.until())))
    assert bench.word() == "needs check"


def test_what_only_describes_ends_nothing(bench: Bench) -> None:
    """A new label, a note, a hand-out leave the instrument as it was checked."""
    bench.check()
    bench.write(d.described(bench.meter, label="C-9"))
    bench.write(d.note(bench.meter))
    bench.write(d.placed(bench.meter, "in storage"))
    assert bench.word() == "ready"
    assert bench.state().fields["label"] == "C-9"


def test_a_failed_finding_locks_out_though_the_checkout_never_ends(bench: Bench) -> None:
    """Walking away from a failure is no way out of it."""
    opened = bench.write(d.opened(bench.meter))
    bench.write(d.found(opened.hash, bench.meter, "fail", kind="response"))
    assert bench.word() == "locked out"
    (lockout,) = bench.state().lockouts
    assert lockout.id == opened.hash
    assert [one.code for one in lockout.reasons] == ["response-bad"]


@pytest.mark.parametrize("ending", ["not checked", "abandoned", "locked out"])
def test_a_failed_finding_locks_out_whatever_the_ending_but_fit(bench: Bench, ending: str) -> None:
    """Abandoning, or running into something that cannot be checked, does not undo a failure."""
    opened = bench.write(d.opened(bench.meter))
    bench.write(d.found(opened.hash, bench.meter, "fail"))
    bench.write(d.ended(opened.hash, bench.meter, ending))
    assert bench.word() == "locked out"


def test_a_failure_remedied_in_a_checkout_that_ended_fit_is_no_lockout(bench: Bench) -> None:
    """Fresh cells, and everything they disturb checked again: that is what a remedy is for."""
    opened = bench.write(d.opened(bench.meter))
    bench.write(d.found(opened.hash, bench.meter, "fail", as_found="fail"))
    bench.write(d.found(opened.hash, bench.meter))
    bench.write(d.ended(opened.hash, bench.meter, until=utc_text(bench.until())))
    assert bench.word() == "ready"
    assert bench.state().lockouts == ()


def test_a_failure_that_the_ending_had_not_seen_is_not_excused(bench: Bench) -> None:
    """Only what the verdict had before it can be put right by the verdict."""
    opened = bench.write(d.opened(bench.meter))
    bench.meet()
    bench.write(d.ended(opened.hash, bench.meter, until=utc_text(bench.until())))
    bench.write(d.found(opened.hash, bench.meter, "fail"), bench.south)
    assert bench.word() == "locked out"


def test_a_failure_by_judgement_stands_though_the_checkout_ended_fit(bench: Bench) -> None:
    """Nobody can pass what a person failed."""
    opened = bench.write(d.opened(bench.meter))
    bench.write(d.judged(opened.hash, bench.meter))
    bench.write(d.ended(opened.hash, bench.meter, until=utc_text(bench.until())))
    assert bench.word() == "locked out"
    assert [one.code for one in bench.state().standing.locked] == ["dented"]


def test_two_endings_are_no_pass(bench: Bench) -> None:
    """A verdict that was given twice was not given by this procedure."""
    opened = bench.check()
    bench.write(d.ended(opened.hash, bench.meter, until=utc_text(bench.until())))
    assert bench.word() == "needs check"


def test_withdrawing_takes_the_pass_and_leaves_the_failure(bench: Bench) -> None:
    """A checkout on the wrong item shows nothing good of this one, and may have shown something bad."""
    passed = bench.check()
    bench.write(d.withdrawn(passed.hash, bench.meter))
    assert bench.word() == "needs check"
    failed = bench.write(d.opened(bench.meter))
    bench.write(d.found(failed.hash, bench.meter, "fail"))
    bench.write(d.found(failed.hash, bench.meter))
    bench.write(d.ended(failed.hash, bench.meter, until=utc_text(bench.until())))
    bench.write(d.withdrawn(failed.hash, bench.meter))
    assert bench.word() == "locked out"


def test_a_clearing_alone_opens_nothing(bench: Bench) -> None:
    """A repair is a promise until a complete check has passed."""
    lockout = bench.write(d.locked_out(bench.meter))
    bench.write(d.cleared(bench.meter, lockout.hash))
    assert bench.word() == "locked out"
    assert bench.state().standing.awaiting
    assert [one.status for one in bench.state().lockouts] == ["awaiting check"]


def test_a_check_that_names_no_clearing_opens_nothing(bench: Bench) -> None:
    """A lockout does not end because the instrument happens to pass."""
    lockout = bench.write(d.locked_out(bench.meter))
    bench.check()
    assert bench.word() == "locked out"
    bench.write(d.cleared(bench.meter, lockout.hash))
    assert bench.word() == "locked out"
    bench.check()
    assert bench.word() == "locked out"


def test_clearing_and_then_a_check_that_names_it_open_the_lockout(bench: Bench) -> None:
    """The whole way back to service."""
    lockout = bench.write(d.locked_out(bench.meter))
    clearing = bench.write(d.cleared(bench.meter, lockout.hash))
    check = bench.check(clearing)
    (closed,) = bench.state().lockouts
    assert (closed.status, closed.closed_by, closed.clearings) == ("closed", check.hash, (clearing.hash,))
    assert bench.word() == "ready"


def test_a_check_that_fails_after_a_clearing_makes_a_new_lockout(bench: Bench) -> None:
    """The clearing was for the old one; the new failure needs its own."""
    lockout = bench.write(d.locked_out(bench.meter))
    clearing = bench.write(d.cleared(bench.meter, lockout.hash))
    bench.check(clearing, ending="locked out")
    assert sorted(one.status for one in bench.state().lockouts) == ["awaiting check", "open"]


def test_a_clearing_that_had_not_seen_the_lockout_does_not_count(bench: Bench) -> None:
    """Nobody can put right what they did not know of: the id may be known, the failure in it may be newer."""
    opened = bench.write(d.opened(bench.meter))
    bench.write(d.found(opened.hash, bench.meter, "fail"))
    bench.meet()
    clearing = bench.write(d.cleared(bench.meter, opened.hash), bench.south)
    bench.write(d.found(opened.hash, bench.meter, "fail", kind="zero"))
    bench.meet()
    bench.check(clearing)
    assert bench.word() == "locked out"


def test_a_pass_that_had_not_seen_a_lockout_does_not_count(bench: Bench) -> None:
    """Another laptop knew that it was dropped; this one did not."""
    bench.write(d.locked_out(bench.meter), bench.south)
    bench.check()
    assert bench.word() == "locked out"


def test_of_two_checkouts_opened_apart_neither_counts(bench: Bench) -> None:
    """One instrument cannot have been checked in two places at once: somebody had another one before them."""
    bench.check()
    bench.check(station=bench.south)
    assert bench.word() == "needs check"
    bench.meet()
    bench.check()
    assert bench.word() == "ready"


def test_new_desiccant_needs_its_time(bench: Bench) -> None:
    """A check opened before the clearing's waiting time is over closes nothing."""
    lockout = bench.write(d.locked_out(bench.meter))
    tomorrow = bench.world.now + timedelta(hours=24)
    clearing = bench.write(d.cleared(bench.meter, lockout.hash, not_before=utc_text(tomorrow)))
    bench.check(clearing)
    assert bench.word() == "locked out"
    bench.world.now = tomorrow
    bench.check(clearing)
    assert bench.word() == "ready"


def test_a_repair_that_voids_the_calibration_needs_a_new_one_before_the_check(bench: Bench) -> None:
    """Calibration must follow the clearing and precede the check; the one from before does not count."""
    bench.write(d.calibrated(bench.meter))
    lockout = bench.write(d.locked_out(bench.meter))
    clearing = bench.write(d.cleared(bench.meter, lockout.hash, calibration_needed=True))
    bench.check(clearing)
    assert bench.word() == "locked out"
    bench.write(d.calibrated(bench.meter))
    assert bench.word() == "locked out"
    bench.check(clearing)
    assert bench.word() == "ready"


@pytest.mark.parametrize("kind", ["weighed", "note", "locked-out"])
def test_what_a_newer_program_wrote_leaves_the_instrument_not_fit(bench: Bench, kind: str) -> None:
    """It may have said that the instrument is broken."""
    bench.check()
    bench.world.write(bench.north, Draft(kind, {"text": "?"}, (bench.meter,)), version=2)
    bench.check()
    assert bench.word() == "needs check"
    assert "newer program" in fitness(bench.state(), bench.world.now).why


def test_a_body_that_cannot_be_read_leaves_the_instrument_not_fit(bench: Bench) -> None:
    """A program with a fault wrote half a lockout."""
    bench.check()
    bench.write(Draft("locked-out", {"reasons": "all of them"}, (bench.meter,)))
    assert bench.word() == "needs check"


def test_a_check_by_a_laptop_whose_clock_is_behind_does_not_count(bench: Bench) -> None:
    """Its times, decay and ready-until are from a clock that contradicts what it had seen itself."""
    bench.north.wrong_by = timedelta(seconds=-300)
    bench.check()
    assert bench.word() == "needs check"
    bench.north.wrong_by = timedelta()
    bench.check()
    assert bench.word() == "ready"


def test_retired_and_unregistered_instruments_are_never_ready(bench: Bench) -> None:
    """An instrument that is gone, or that nobody registered here, has no fitness."""
    bench.check()
    assert fitness(fold_instrument("f" * 64, bench.world.everything()), bench.world.now).word != "ready"
    bench.write(d.retired(bench.meter))
    bench.check()
    assert bench.word() == "needs check"
    assert bench.state().retired


def test_records_that_wait_leave_the_instrument_not_fit(bench: Bench) -> None:
    """They are here but cannot be judged yet: one may be a lockout."""
    bench.check()
    assert bench.word() == "ready"
    assert fitness(bench.state(held=1), bench.world.now).word == "needs check"


def test_where_it_is_and_whether_it_is_contaminated_stand_apart_from_fitness(bench: Bench) -> None:
    """Three separate things, each with its last writer."""
    bench.check()
    person = next(one for one in bench.world.everything() if one.body.get("what") == "person")
    bench.write(d.handed_out(bench.meter, person.hash))
    bench.write(d.contamination(bench.meter, True))
    state = bench.state()
    assert (state.whereabouts, state.contaminated) == ("handed out", True)
    assert state.handed is not None
    assert (state.handed.to, state.handed.job) == (person.hash, "survey")
    assert bench.word() == "ready"
    bench.write(d.returned(bench.meter))
    bench.write(d.contamination(bench.meter, False))
    assert (bench.state().whereabouts, bench.state().handed, bench.state().contaminated) == ("here", None, False)


def test_the_pass_that_counts_says_fit_for_what(bench: Bench) -> None:
    """A verdict without its scales and radiations is no use in the field."""
    opened = bench.check()
    counting = bench.state().counting
    assert counting is not None
    assert (counting.checkout, counting.fit_for) == (opened.hash, {"gamma": ["x1"]})
    assert bench.state().last_checked == counting.when


def test_an_emergency_use_takes_it_out_and_ends_what_readiness_there_was(bench: Bench) -> None:
    """It is out with somebody, without a check that counts, until it is back and checked."""
    person = next(one for one in bench.world.everything() if one.body.get("what") == "person")
    bench.check()
    back_by = bench.until()
    use = bench.write(d.emergency_use(bench.meter, person.hash, back_by=utc_text(back_by)))
    assert bench.word() == "needs check"
    state = bench.state()
    assert (state.whereabouts, state.where) == ("handed out", "cellar")
    assert state.handed is not None
    assert (state.handed.event, state.handed.to, state.handed.emergency) == (use.hash, person.hash, True)
    assert (state.handed.back_by, state.handed.until) == (back_by, None)
    bench.write(d.returned(bench.meter))
    assert (bench.state().whereabouts, bench.state().handed) == ("here", None)
    assert bench.word() == "needs check"
    bench.check()
    assert bench.word() == "ready"


def test_a_hand_out_says_who_recorded_it_and_when_it_should_be_back(bench: Bench) -> None:
    """Whoever asks after an overdue meter asks both."""
    draft = d.handed_out(bench.meter, "a" * 64)
    bench.write(replace(draft, person="c" * 64))
    assert bench.state().handed == HandOut(
        bench.world.stations[0].own[-1].hash, "a" * 64, "survey", "hall", None, bench.north.own[-1].utc, person="c" * 64
    )
    when = bench.until()
    bench.write(replace(draft, body={**draft.body, "back_by": utc_text(when)}))
    handed = bench.state().handed
    assert handed is not None
    assert (handed.back_by, handed.emergency, handed.person) == (when, False, None)


@pytest.mark.parametrize("ending", ["fit for use", "locked out", "not checked"])
def test_a_check_on_paper_never_makes_ready(bench: Bench, ending: str) -> None:
    """Nobody timed its waits: it only ends a readiness, and closes no lockout."""
    observed = utc_text(bench.world.now)
    paper = d.paper_entered(bench.meter, "a" * 64, observed, ("battery", "pass"), ending=ending)
    bench.check()
    bench.write(paper)
    assert bench.word() == "needs check"
    lockout = bench.write(d.locked_out(bench.meter))
    bench.write(d.cleared(bench.meter, lockout.hash))
    bench.write(paper)
    assert bench.word() == "locked out"
    assert [one.status for one in bench.state().lockouts] == ["awaiting check"]


@pytest.mark.parametrize("voids", [True, False])
def test_a_repair_that_voids_the_calibration_leaves_none_in_force(bench: Bench, voids: bool) -> None:
    """What was calibrated is not what is there now; any repair ends the readiness."""
    calibration = bench.write(d.calibrated(bench.meter))
    bench.check()
    bench.write(d.repaired(bench.meter, voids_calibration=voids))
    assert bench.word() == "needs check"
    state = bench.state()
    assert (None if state.calibration is None else state.calibration.event) == (None if voids else calibration.hash)
    older = bench.write(d.calibrated(bench.meter))
    late = bench.state().calibration
    assert (late is None) == voids, "a certificate from before it, typed in later, brings nothing back"
    assert late is None or late.event == older.hash
    again = bench.write(d.calibrated(bench.meter, on="2031-04-05"))
    found = bench.state().calibration
    assert found is not None
    assert found.event == again.hash


def test_a_clearing_that_wants_a_calibration_leaves_none_in_force(bench: Bench) -> None:
    """A check after it cannot end fit for use by the old one, and one that did would open nothing."""
    bench.write(d.calibrated(bench.meter))
    lockout = bench.write(d.locked_out(bench.meter))
    plain = bench.write(d.cleared(bench.meter, lockout.hash))
    assert bench.state().calibration is not None
    clearing = bench.write(d.cleared(bench.meter, lockout.hash, calibration_needed=True))
    assert bench.state().calibration is None
    bench.check(clearing)
    assert bench.word() == "locked out"
    new = bench.write(d.calibrated(bench.meter))
    found = bench.state().calibration
    assert found is not None
    assert found.event == new.hash
    bench.check(clearing)
    assert bench.word() == "ready"
    assert plain.hash in bench.state().lockouts[0].clearings


def test_uses_since_the_last_good_check_are_in_doubt(bench: Bench) -> None:
    """They were made with an instrument of which nobody knows when it failed."""
    person = next(one for one in bench.world.everything() if one.body.get("what") == "person").hash
    bench.check()
    first = bench.write(d.handed_out(bench.meter, person))
    bench.check()
    second = bench.write(d.handed_out(bench.meter, person))
    third = bench.write(d.handed_out(bench.meter, person))
    opened = bench.write(d.opened(bench.meter))
    failed = bench.write(d.found(opened.hash, bench.meter, "pass", as_found="fail"))
    bench.write(d.ended(opened.hash, bench.meter, until=utc_text(bench.until())))
    (doubt,) = uses_in_doubt(bench.world.everything())
    assert (doubt.cause, doubt.kind, doubt.uses) == (failed, "battery", (second, third))
    assert first not in doubt.uses


def test_a_use_that_began_knowing_of_the_failure_is_not_in_doubt(bench: Bench) -> None:
    """Whoever handed it out knew what they did; whoever did not know, did not."""
    person = next(one for one in bench.world.everything() if one.body.get("what") == "person").hash
    opened = bench.write(d.opened(bench.meter))
    bench.write(d.found(opened.hash, bench.meter, "fail"))
    unknowing = bench.write(d.handed_out(bench.meter, person), bench.south)
    bench.write(d.handed_out(bench.meter, person), bench.north)
    (doubt,) = uses_in_doubt(bench.world.everything())
    assert doubt.uses == (unknowing,)


def test_a_check_of_another_kind_takes_no_doubt_away(bench: Bench) -> None:
    """Good batteries say nothing about the response."""
    person = next(one for one in bench.world.everything() if one.body.get("what") == "person").hash
    use = bench.write(d.handed_out(bench.meter, person))
    bench.check()
    opened = bench.write(d.opened(bench.meter))
    bench.write(d.found(opened.hash, bench.meter, "fail", kind="response"))
    (doubt,) = uses_in_doubt(bench.world.everything())
    assert (doubt.since, doubt.uses) == (None, (use,))


@pytest.mark.parametrize(("says", "spared"), [({"kind": "battery"}, True), ({"kind": "response"}, False), ({}, False)])
def test_a_failure_by_judgement_puts_uses_in_doubt(bench: Bench, says: dict[str, str], spared: bool) -> None:
    """A needle that sticks did so before somebody saw it: every use since the last good check of that kind."""
    person = next(one for one in bench.world.everything() if one.body.get("what") == "person").hash
    first = bench.write(d.handed_out(bench.meter, person))
    bench.check()
    second = bench.write(d.handed_out(bench.meter, person))
    opened = bench.write(d.opened(bench.meter))
    judged = d.judged(opened.hash, bench.meter)
    cause = bench.write(replace(judged, body={**judged.body, **says}))
    (doubt,) = uses_in_doubt(bench.world.everything())
    assert (doubt.cause, doubt.uses) == (cause, (second,) if spared else (first, second))


def test_a_certificate_typed_in_after_a_use_says_nothing_of_it_when_it_is_older(bench: Bench) -> None:
    """Calibrated on the 1st, used on the 5th, the certificate typed in after that: nobody has looked at it since."""
    person = next(one for one in bench.world.everything() if one.body.get("what") == "person").hash
    use = bench.write(d.handed_out(bench.meter, person))
    bench.write(d.calibrated(bench.meter, on="2031-04-01"))
    bench.write(d.calibrated(bench.meter, on="2031-04-05", as_found="outside"))
    (doubt,) = uses_in_doubt(bench.world.everything())
    assert (doubt.kind, doubt.uses) == ("calibration", (use,))


def test_an_older_certificate_told_of_elsewhere_does_not_make_good_on_a_clearing(bench: Bench) -> None:
    """The clearing asks for a calibration after the repair; another laptop, knowing nothing, types in an old one."""
    north, south = bench.world.stations
    lockout = bench.write(d.locked_out(bench.meter))
    clearing = bench.write(d.cleared(bench.meter, lockout.hash, calibration_needed=True))
    for on, closed in (("2031-04-01", False), ("2031-04-05", True)):
        bench.world.write(south, d.calibrated(bench.meter, on=on))
        bench.world.tell(south, north)
        opened = bench.write(d.opened(bench.meter, clearings=(clearing.hash,)))
        bench.write(d.ended(opened.hash, bench.meter, until="2031-04-06T00:00:00.000000Z"))
        assert (bench.state().lockouts[0].status == "closed") == closed


def test_a_calibration_found_outside_puts_uses_in_doubt(bench: Bench) -> None:
    """As found outside its tolerance: every use since the calibration before."""
    person = next(one for one in bench.world.everything() if one.body.get("what") == "person").hash
    bench.write(d.handed_out(bench.meter, person))
    good = bench.write(d.calibrated(bench.meter, on="2031-04-05"))
    use = bench.write(d.handed_out(bench.meter, person))
    bench.write(d.calibrated(bench.meter, as_found="outside"))
    (doubt,) = uses_in_doubt(bench.world.everything())
    assert (doubt.kind, doubt.since, doubt.uses) == ("calibration", good, (use,))


def test_a_good_check_that_was_withdrawn_takes_no_doubt_away(bench: Bench) -> None:
    """It was made on another item."""
    person = next(one for one in bench.world.everything() if one.body.get("what") == "person").hash
    use = bench.write(d.handed_out(bench.meter, person))
    good = bench.check()
    bench.write(d.withdrawn(good.hash, bench.meter))
    opened = bench.write(d.opened(bench.meter))
    bench.write(d.found(opened.hash, bench.meter, "fail"))
    (doubt,) = uses_in_doubt(bench.world.everything())
    assert doubt.uses == (use,)
