"""The lists of records: each filter against a plain look through all events, page by page."""

from __future__ import annotations

import random
import tempfile
from datetime import timedelta
from pathlib import Path

import journal_drafts as d
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from journal_histories import DOUBTS, MOVES, START, begin, instruments, play

from procedures.clock import ManualClock
from procedures.journal.envelope import Event
from procedures.journal.events import OFTEN
from procedures.journal.moments import utc_text
from procedures.journal.store import Journal

some = settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
Moves = list[tuple[int, str, int]]
WORST = ("locked out", "not checked", "abandoned", "fit for use", "")


def plain(opened: Event, events: list[Event]) -> tuple[str, bool, frozenset[str]]:
    """Ending, withdrawn or not, and codes of one checkout as its events say them."""
    mine = [one for one in events if one.body.get("checkout") == opened.hash and one.kind != "handed-out"]
    endings = [one.body["ending"] for one in mine if one.kind == "ended"]
    codes = {reason["code"] for one in mine if one.kind == "ended" for reason in one.body["reasons"]}
    if not endings:
        codes |= {one.body["code"] for one in mine if one.kind == "failed-by-judgement"}
        findings = [one.body["finding"] for one in mine if one.kind == "found"]
        codes |= {one["code"] for one in findings if one["outcome"] == "fail"}
    withdrawn = any(one.kind == "withdrawn" for one in mine)
    return min([*endings, ""], key=WORST.index), withdrawn, frozenset(codes)


@some
@given(DOUBTS | MOVES, st.randoms(use_true_random=False))
def test_every_checkout_is_found_by_what_became_of_it(moves: Moves, chance: random.Random) -> None:
    """Each filter alone and together with a span of time, in pages: neither one more nor one less than there are."""
    world = play(begin("north", "south", "west", meters=2), moves)
    events = world.everything()
    openings = [one for one in events if one.kind == "opened"]
    told = {one.hash: plain(one, events) for one in openings}
    since, until = sorted(chance.choice([one.utc for one in openings] or [START]) for _ in range(2))
    with tempfile.TemporaryDirectory() as folder:
        begun = ManualClock(START - timedelta(days=1)).now()
        with Journal.create(Path(folder) / "j", station="reader", name="Reader", now=begun) as journal:
            chance.shuffle(events)
            journal.take([one.raw for one in events], ManualClock(START + timedelta(days=1)).now())

            def check(wanted: set[str], **asked: str) -> None:
                for span in ({}, {"since": since, "until": until}):
                    inside = [one for one in openings if not span or since <= one.utc < until]
                    hashes = {one.hash for one in inside} & wanted
                    rows = []
                    while page := journal.checkouts_found(limit=2, offset=len(rows), **asked, **span)[0]:  # type: ignore[arg-type]
                        rows += page
                    assert {row.checkout for row in rows} == hashes
                    assert len(rows) == len(hashes)
                    assert journal.checkouts_found(limit=0, **asked, **span)[1] == len(hashes)  # type: ignore[arg-type]
                    assert [row.opened for row in rows] == sorted((row.opened for row in rows), reverse=True)
                    for row in rows:
                        assert (row.ending, row.withdrawn, frozenset(row.codes)) == told[row.checkout]

            check(set(told))
            for meter in instruments(world):
                check({one.hash for one in openings if one.body["instrument"] == meter}, instrument=meter)
            for ending in WORST[:-1]:
                check({name for name, (word, *_) in told.items() if word == ending}, ending=ending)
                locked = {name for name, (word, _, codes) in told.items() if word == ending and "zero-off" in codes}
                check(locked, ending=ending, code="zero-off")
            for code in ("battery-bad", "dented", "zero-off", ""):
                check({name for name, (*_, codes) in told.items() if code in codes or not code}, code=code)


@some
@given(DOUBTS | MOVES, st.randoms(use_true_random=False))
def test_what_happened_is_listed_by_the_time_that_stands_in_it(moves: Moves, chance: random.Random) -> None:
    """Of every kind that does not come by the dozen, whoever wrote it and whenever it arrived."""
    world = play(begin("north", "south", "west"), moves)
    events = world.everything()
    there = sorted({one.kind for one in events} - OFTEN)
    kinds = chance.sample(there, min(3, len(there)))
    since, until = sorted(START + timedelta(seconds=chance.randrange(60)) for _ in range(2))
    wanted = [one for one in events if one.kind in kinds and since <= one.utc < until]
    wanted.sort(key=lambda one: (one.utc, one.hlc), reverse=True)
    with tempfile.TemporaryDirectory() as folder:
        begun = ManualClock(START - timedelta(days=1)).now()
        with Journal.create(Path(folder) / "j", station="reader", name="Reader", now=begun) as journal:
            chance.shuffle(events)
            journal.take([one.raw for one in events], ManualClock(START + timedelta(days=1)).now())
            found: list[Event] = []
            while page := journal.happened(kinds, since=since, until=until, limit=3, offset=len(found))[0]:
                found += page
            assert journal.happened(kinds, since=since, until=until, limit=0)[1] == len(wanted)
            assert {one.hash for one in found} == {one.hash for one in wanted}
            assert [(one.utc, one.hlc) for one in found] == [(one.utc, one.hlc) for one in wanted]


def test_kinds_that_come_by_the_dozen_are_not_asked_for_by_time(journal: Journal) -> None:
    """They are not kept so: an empty list would be a lie."""
    assert journal.happened([], limit=5) == ((), 0)
    with pytest.raises(ValueError, match="answered"):
        journal.happened(["opened", "answered"], limit=5)


def test_checkouts_are_found_by_instrument_and_person_as_they_are_called_now(
    journal: Journal, clock: ManualClock
) -> None:
    """A lead types what stands on the meter, or a name; a checkout that changed hands is the last one's."""
    meter, other, first, second = journal.append(
        [d.instrument("C-1"), d.instrument("K%2", type="GM pancake"), d.person("P-1"), d.person("P-2")], clock.now()
    )
    journal.append([d.described(second.hash, name="Second Person", initials="SP")], clock.now())
    (one,) = journal.append([d.opened(meter.hash, person_id=first.hash)], clock.advance(1))
    (two,) = journal.append([d.opened(other.hash, person_id=first.hash)], clock.advance(1))
    back = {"checkout": two.hash, "gap": 9.5, "same_person": False, "switched_off": True}
    draft = type(d.note())("resumed", back, (two.hash,), person=second.hash)
    journal.append([draft], clock.advance(1))

    def found(**asked: str) -> list[str]:
        return [row.checkout for row in journal.checkouts_found(limit=9, **asked)[0]]  # type: ignore[arg-type]

    assert found(search="c-1") == [one.hash]
    assert found(search="PANCAKE") == [two.hash]
    assert found(search="k%2") == [two.hash]
    assert found(search="%") == [two.hash]
    assert found(search="second p") == [two.hash]
    assert found(search="c-1", person=second.hash) == []
    assert found(person=first.hash) == [one.hash]
    assert found(person=second.hash) == [two.hash]
    (row,) = journal.checkouts_found(search="sp", limit=9)[0]
    assert (row.label, row.type, row.person, row.person_name) == ("K%2", "GM pancake", second.hash, "Second Person")
    assert (row.opened, row.ended, row.ending, row.codes, row.station) == (two.utc, None, "", (), "north")
    journal.append([d.found(two.hash, other.hash, "fail")], clock.advance(1))
    assert found(code="battery-bad") == [two.hash]


def test_instruments_that_are_out_come_by_when_they_are_due_back(journal: Journal, clock: ManualClock) -> None:
    """Whoever is overdue stands first; those of which nobody said when stand last."""
    *meters, person = journal.append([*(d.instrument(f"C-{n}") for n in range(4)), d.person()], clock.now())
    soon, late = (utc_text(clock.now().utc + timedelta(hours=hours)) for hours in (1, 9))
    plain_use = d.handed_out(meters[0].hash, person.hash)
    journal.append([plain_use], clock.advance(1))
    by_evening = {**plain_use.body, "back_by": late}
    journal.append([type(plain_use)("handed-out", by_evening, (meters[1].hash, person.hash))], clock.advance(1))
    journal.append([d.emergency_use(meters[2].hash, person.hash, back_by=soon)], clock.advance(1))
    rows, total = journal.out_now(limit=2)
    assert total == 3
    assert [(row.label, row.emergency) for row in rows] == [("C-2", True), ("C-1", False)]
    assert (utc_text(rows[0].back_by), rows[0].handed_at) == (soon, clock.now().utc)  # type: ignore[arg-type]
    assert [row.label for row in journal.out_now(limit=2, offset=2)[0]] == ["C-0"]
    journal.append([d.returned(meters[2].hash)], clock.advance(1))
    rows, total = journal.out_now(limit=9)
    assert ([row.label for row in rows], total) == (["C-1", "C-0"], 2)


def test_locked_instruments_are_listed_until_a_check_opens_the_lockout(journal: Journal, clock: ManualClock) -> None:
    """A cleared one waits for its check and is still locked; a retired one is no longer of this list."""
    meters = journal.append([d.instrument(f"C-{n}", serial=f"s{n}") for n in range(4)], clock.now())
    lockouts = [journal.append([d.locked_out(one.hash)], clock.advance(1))[0] for one in meters[:3]]
    (clearing,) = journal.append([d.cleared(meters[1].hash, lockouts[1].hash)], clock.advance(1))
    journal.append([d.retired(meters[2].hash)], clock.advance(1))
    rows, total = journal.locked(limit=9)
    assert ([(row.label, row.standing.awaiting) for row in rows], total) == ([("C-0", False), ("C-1", True)], 2)
    assert [row.label for row in journal.locked(search="s1", limit=9)[0]] == ["C-1"]
    (check,) = journal.append([d.opened(meters[1].hash, clearings=(clearing.hash,))], clock.advance(1))
    assert journal.locked(limit=0)[1] == 2
    until = utc_text(clock.now().utc + timedelta(hours=1))
    journal.append([d.ended(check.hash, meters[1].hash, until=until)], clock.advance(1))
    assert journal.locked(limit=0)[1] == 1


def test_things_are_found_by_what_they_carry_and_retired_ones_on_demand(journal: Journal, clock: ManualClock) -> None:
    """Sources, people and jigs, by label, in pages."""
    drafts = [d.source("S-1"), d.source("S-2"), d.jig("J-1"), d.jig("J-2"), d.person("P-1"), d.person("P-2")]
    events = journal.append(drafts, clock.now())
    journal.append([d.retired(events[number].hash) for number in (1, 3, 5)], clock.advance(1))
    journal.append([d.counted(events[0].hash, where="vault"), d.condition(events[0].hash, "slipped")], clock.advance(1))
    for asked in (journal.sources_found, journal.people_found, lambda *a, **k: journal.things_found("jig", *a, **k)):
        found, total = asked(limit=9)  # type: ignore[operator]
        assert ([row.label[1:] for row in found], total) == (["-1"], 1)
        found, total = asked(retired=True, limit=1, offset=1)  # type: ignore[operator]
        assert ([row.label[1:] for row in found], total) == (["-2"], 2)
        assert asked("-2", limit=9) == ((), 0)  # type: ignore[operator]
        assert asked("-2", retired=True, limit=9)[1] == 1  # type: ignore[operator]
    (source,) = journal.sources_found("vault", limit=9)[0]
    assert (source.serial, source.condition, source.counted_on, source.counted_found) == (
        "9",
        "slipped",
        "2031-04-05",
        True,
    )
    assert journal.people_found("a. p", limit=9)[1] == 1
