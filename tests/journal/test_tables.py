"""The tables for screens: kept up answer by answer, equal to the fold at any time, and never trusted by it."""

from __future__ import annotations

import random
import sqlite3
import tempfile
from datetime import timedelta
from pathlib import Path

import journal_drafts as d
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from journal_histories import CHOICES, START

from procedures.clock import ManualClock
from procedures.journal import tables
from procedures.journal.fold import fitness, fold_checkout
from procedures.journal.moments import utc_text
from procedures.journal.rows import LABEL_SHARED
from procedures.journal.store import Journal
from procedures.trouble import Trouble

NAMES = ("about", *tables.NAMES)


def contents(journal: Journal) -> dict[str, list[object]]:
    return {name: journal._db.execute(f"SELECT * FROM {name}").fetchall() for name in NAMES}


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(st.sampled_from(sorted(CHOICES)), st.integers(0, 10_000)), max_size=40))
def test_tables_kept_up_by_appending_are_what_the_events_say(moves: list[tuple[str, int]]) -> None:
    """Each append changes only the rows it concerns; after any history they are as if made anew."""
    clock = ManualClock(START)
    with (
        tempfile.TemporaryDirectory() as folder,
        Journal.create(Path(folder) / "j", station="north", name="North", now=clock.now()) as journal,
    ):
        known = list(
            journal.append([d.instrument("C-0"), d.instrument("C-1"), d.source(), d.person()], clock.advance(1))
        )
        for move, seed in moves:
            draft = CHOICES[move](known, random.Random(seed))
            if draft is not None:
                known += journal.append([draft], clock.advance(1))
        kept = contents(journal)
        journal.rebuild()
        assert contents(journal) == kept
        for row in journal.home_rows(retired=True):
            state = journal.instrument_now(row.id)
            assert row.standing == state.standing
            assert (row.whereabouts, row.contaminated, row.retired) == (
                state.whereabouts,
                state.contaminated,
                state.retired,
            )
            assert row.passed_by == (None if state.counting is None else state.counting.checkout)
        for checkout in journal.open_checkouts():
            assert checkout == fold_checkout(journal.checkout_events(checkout.checkout))
            assert checkout.checkout in journal.instrument_now(checkout.instrument).open_checkouts


def test_what_decides_does_not_trust_the_tables(journal: Journal, clock: ManualClock) -> None:
    """A table that was changed behind the program's back may mislead a list, never an opening or a hand-out."""
    (meter,) = journal.append([d.instrument()], clock.now())
    journal.append([d.locked_out(meter.hash)], clock.advance(1))
    db = sqlite3.connect(journal.path, isolation_level=None)
    db.execute("UPDATE instruments SET locked = '[]', problems = '[]', ready_until = '2099-01-01T00:00:00.000000Z'")
    db.close()
    (row,) = journal.home_rows()
    assert fitness(row.standing, clock.now().utc).word == "ready"
    assert fitness(journal.instrument_now(meter.hash), clock.now().utc).word == "locked out"
    journal.rebuild()
    (row,) = journal.home_rows()
    assert fitness(row.standing, clock.now().utc).word == "locked out"


def test_an_answer_folds_no_instrument_again(journal: Journal, clock: ManualClock) -> None:
    """An answer must cost the same for an instrument of ten years as for a new one."""
    (meter,) = journal.append([d.instrument()], clock.now())
    (opened,) = journal.append([d.opened(meter.hash)], clock.advance(1))
    journal._db.execute("UPDATE instruments SET type = 'untouched'")
    journal.append([d.answered(opened.hash), d.found(opened.hash, meter.hash)], clock.advance(1))
    assert journal.home_rows()[0].type == "untouched"
    journal.append([d.found(opened.hash, meter.hash, "fail")], clock.advance(1))
    assert journal.home_rows()[0].type == "ion chamber"


def test_one_label_on_two_living_things_blocks_both(journal: Journal, clock: ManualClock) -> None:
    """Nobody could say which of them was scanned; one retired frees the other."""
    first, second = journal.append([d.instrument("C-1"), d.instrument("C-2")], clock.now())
    for meter in (first, second):
        (opened,) = journal.append([d.opened(meter.hash)], clock.advance(1))
        until = utc_text(clock.now().utc + timedelta(hours=1))
        journal.append([d.ended(opened.hash, meter.hash, until=until)], clock.advance(1))

    def words() -> list[str]:
        now = clock.now().utc
        rows = [fitness(row.standing, now).word for row in journal.home_rows()]
        assert rows == [fitness(journal.instrument_now(row.id), now).word for row in journal.home_rows()]
        return rows

    assert words() == ["ready", "ready"]
    journal.append([d.described(second.hash, label="c-1")], clock.advance(1))
    assert words() == ["needs check", "needs check"]
    assert LABEL_SHARED in journal.home_rows()[0].standing.problems
    assert [one.living for one in journal.labelled("C-1")] == [True, True]
    journal.append([d.retired(second.hash)], clock.advance(1))
    assert words() == ["ready"]
    assert [one.living for one in journal.labelled("C-1")] == [True, False]


def test_home_is_paged_by_label(journal: Journal, clock: ManualClock) -> None:
    """Hundreds of instruments are never read at once."""
    journal.append([d.instrument(f"C-{number:02}") for number in range(9)], clock.now())
    pages = []
    past = ("", "")
    while page := journal.home_rows(limit=4, past=past):
        pages.append([row.label for row in page])
        past = (page[-1].label, page[-1].id)
    assert pages == [["C-00", "C-01", "C-02", "C-03"], ["C-04", "C-05", "C-06", "C-07"], ["C-08"]]


def test_lists_show_what_was_recorded(journal: Journal, clock: ManualClock) -> None:
    """Sources that are out, people, profiles in force, checkouts that are open."""
    meter, source, person = journal.append([d.instrument(), d.source(), d.person("P-1", "lead")], clock.now())
    (adopted,) = journal.append([d.adopted()], clock.now())
    (opened,) = journal.append([d.opened(meter.hash, person_id=person.hash)], clock.advance(1))
    assert journal.sources_out() == ()
    journal.append([d.scanned(opened.hash, source.hash, "source-out")], clock.advance(1))
    assert [(one.label, one.out_with) for one in journal.sources_out()] == [("S-7", opened.hash)]
    assert [(one.initials, one.roles) for one in journal.people()] == [("AP", ("lead",))]
    assert [(one.profile, one.adoption, one.revision) for one in journal.profiles()] == [("chamber", adopted.hash, 1)]
    assert [one.person for one in journal.open_checkouts()] == [person.hash]
    journal.append([d.ended(opened.hash, meter.hash, "abandoned")], clock.advance(1))
    assert journal.open_checkouts() == ()
    assert journal.source_now(source.hash).out_with == opened.hash


def test_an_index_made_by_another_edition_of_the_catalogue_is_made_anew(journal: Journal, clock: ManualClock) -> None:
    """What one program could not read weighs differently in the next."""
    (meter,) = journal.append([d.instrument()], clock.now())
    journal._db.execute("UPDATE meta SET value = 'older' WHERE name = 'edition'")
    journal._db.execute("DELETE FROM instruments")
    with Journal.open(journal.path) as again:
        assert [row.id for row in again.home_rows()] == [meter.hash]


def test_a_question_leaves_no_transaction_behind(journal: Journal) -> None:
    """A snapshot held open would keep the write-ahead log growing, and the next append out."""
    journal.home_rows()
    journal.by_hash("zz")
    assert not journal._db.in_transaction
    journal._db.execute("DROP TABLE instruments")
    try:
        journal.home_rows()
    except (Trouble, sqlite3.Error):
        assert not journal._db.in_transaction
