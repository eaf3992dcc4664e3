"""Uses in doubt on the sheet, in the list and under review; and that a locked instrument is refused everywhere."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from life_room import BACK, EMERGENCY, PINS, USE, LifeRoom, low, words_on

from checklist_tui import tables
from procedures.sheets import Deed, Grid, Query, Sheet
from procedures.site import doubt_counts, doubtful
from procedures.site.forms import task
from procedures.site.records import listing, sheet
from procedures.site.records.doubts import sections
from procedures.site.waiting import waiting
from procedures.trouble import Trouble

EXAMPLES = int(os.environ.get("CHECKLIST_LIVES", "12"))
"""The campaign: CHECKLIST_LIVES=500, and this file."""


@pytest.fixture
def room(tmp_path: Path) -> Iterator[LifeRoom]:
    """A site of which one instrument passed, was used twice, and failed."""
    made = LifeRoom(tmp_path)
    assert made.check() == "fit for use"
    for job in ("first survey", "second survey"):
        made.keep("hand-out", **{**USE, "job": job})
        made.keep("take-back", **BACK)
    assert made.check(low) == "locked out"
    yield made
    made.site.close()


def keys(found: Sheet) -> set[str]:
    """Cause and use of every row of a doubt sheet."""
    grids = [each for each in found.sections if isinstance(each, Grid)]
    return {row.key for each in grids for row in each.rows}


def in_journal(room: LifeRoom) -> set[str]:
    found = room.site.journal.uses_in_doubt(room.instrument)
    return {f"{each.cause.hash},{use.hash}" for each in found for use in each.uses}


def first_use(room: LifeRoom) -> Deed:
    grid = next(each for each in sheet(room.site, "doubt", room.instrument).sections if isinstance(each, Grid))
    opens = grid.rows[0].opens
    assert opens is not None
    return opens


def test_the_sheet_says_what_failed_when_since_when_and_every_use(room: LifeRoom) -> None:
    """What an assessor needs to survey again: job, person, time, place; and from which good check on."""
    told = words_on(sheet(room.site, "doubt", room.instrument))
    assert "Response" in told
    assert "last good check of that kind: 2026-06-01" in told
    for words in ("first survey", "second survey", "hall 2", "Tech Person", "NOT YET"):
        assert words in told
    assert keys(sheet(room.site, "doubt", room.instrument)) == in_journal(room)
    assert len(in_journal(room)) == 2
    said = sections(room.site, room.site.journal.instrument_now(room.instrument))
    assert "not looked into yet: 2 uses." in str(said)


def test_nothing_in_doubt_says_so(room: LifeRoom) -> None:
    """An empty sheet could be a fault."""
    assert "No use of it is in doubt." in words_on(sheet(room.site, "doubt", room.second))
    assert sections(room.site, room.site.journal.instrument_now(room.second)) == ()


def test_a_review_is_kept_and_the_use_stays_on_the_list(room: LifeRoom) -> None:
    """Reviewed is not good: who, when, and what was decided stand beside it from then on, and in every print."""
    opens = first_use(room)
    done = room.keep("review-use", opens.about, room.lead, note="surveyed again with C-2: nothing above the limit")
    assert done.do == "Still to be looked into, of this instrument: 1 use."
    told = words_on(sheet(room.site, "doubt", room.instrument))
    assert "surveyed again with C-2" in told
    assert "Lead Person" in told
    assert listing(room.site, "doubts").total == 1
    assert listing(room.site, "doubts", query=Query(filters={"which": "all"})).total == 2
    room.keep("review-use", opens.about, room.other, note="and the room was closed")
    told = words_on(sheet(room.site, "doubt", room.instrument))
    assert "surveyed again with C-2" in told
    assert "and the room was closed" in told
    assert keys(sheet(room.site, "doubt", room.instrument)) == in_journal(room)


def test_only_a_lead_reviews(room: LifeRoom) -> None:
    """Dimmed for others with the reason; the form does not open; the use case refuses by itself."""
    about = first_use(room).about
    assert {each.may_not for each in sheet(room.site, "doubt", room.instrument, room.tech).deeds} == {
        "only a site lead may review a use in doubt",
        "",
    }
    with pytest.raises(Trouble, match="only a site lead"):
        room.form("review-use", about, room.tech)
    look = room.look("review-use", about, room.tech, {"note": "fine"})
    assert look.troubles
    instrument, cause, use = about.split(",")
    for person in (room.tech, "", "ab" * 32):
        with pytest.raises(Trouble):
            doubtful.review(room.site, instrument, person, causes=[cause], use=use, note="fine")


def test_a_review_wants_the_reviewers_pin(room: LifeRoom) -> None:
    """Where the site wants PINs."""
    room.with_pins()
    about = first_use(room).about
    before = room.site.journal.about(room.instrument, kinds=("use-reviewed",))
    with pytest.raises(Trouble, match="a PIN is needed"):
        room.keep("review-use", about, room.lead, note="fine")
    room.keep("review-use", about, room.lead, note="fine", pin=PINS["P-1"])
    assert len(room.site.journal.about(room.instrument, kinds=("use-reviewed",))) == len(before) + 1


@pytest.mark.parametrize("note", ["", " \t", "x" * 1001])
def test_a_review_says_something(room: LifeRoom, note: str) -> None:
    """A tick is no review."""
    with pytest.raises(Trouble, match="note"):
        task("review-use").keep(room.site, first_use(room).about, room.lead, {"note": note})


@pytest.mark.parametrize("part", [0, 1, 2])
def test_only_what_is_in_doubt_is_reviewed(room: LifeRoom, part: int) -> None:
    """Another instrument, another cause, another use: none of them is."""
    parts = first_use(room).about.split(",")
    parts[part] = room.second
    for about in (",".join(parts), ",".join(parts[:2]), "", ",,"):
        with pytest.raises(Trouble):
            task("review-use").form(room.site, about, room.lead, {}, 1)
        assert room.look("review-use", about, room.lead, {"note": "fine"}).troubles


def test_the_list_finds_an_instrument_by_its_label(room: LifeRoom) -> None:
    """The label, or nothing."""
    assert listing(room.site, "doubts", query=Query(search="c-1")).total == 2
    assert listing(room.site, "doubts", query=Query(search="C-2")).total == 0
    assert listing(room.site, "doubts", query=Query(search="nothing")).total == 0


@pytest.mark.parametrize("width", [60, 80])
def test_tables_of_doubts_can_be_read_on_small_screens(room: LifeRoom, width: int) -> None:
    """Columns go before words are cut: headings, moments, and whether somebody looked are whole."""
    room.keep("review-use", first_use(room).about, room.lead, note="surveyed again")
    made = listing(room.site, "doubts", query=Query(filters={"which": "all"}))
    grids = [each for each in sheet(room.site, "doubt", room.instrument).sections if isinstance(each, Grid)]
    for table in (made, *grids):
        fitted = tables.fit(table.columns, table.rows, width)
        assert "…" not in tables.heading(table.columns, fitted, width)
        lines = [tables.line(row, fitted, width) for row in table.rows]
        assert all("2026-06-01 06:" in line for line in lines)
        assert any("NOT YET" in line for line in lines)


def found_outside(room: LifeRoom) -> None:
    """A calibration that finds it outside its limits: the same uses are in doubt for a second reason."""
    body = {"on": "2026-06-01", "due": None, "by": "bench", "certificate": "7", "as_found": "outside"}
    room.site.record("calibrated", body, about=(room.instrument,), person=room.lead)
    room.clock.advance(5)


def test_one_note_reviews_a_use_for_all_that_puts_it_in_doubt(room: LifeRoom) -> None:
    """A use is looked into once: one note, a record for each failure, and counts that say uses before entries."""
    assert doubt_counts.not_reviewed(room.site).words == "2 uses"
    found_outside(room)
    assert doubt_counts.not_reviewed(room.site).words == "2 uses, 4 entries"
    assert "2 uses in doubt wait to be reviewed (4 entries)" in waiting(room.site)
    assert "2 uses, 4 entries" in sheet(room.site, "doubt", room.instrument).line
    assert "2 uses, 4 entries" in words_on(sheet(room.site, "binder", "2026-05-01,2026-06-30"))
    assert "2 uses, 4 entries" in listing(room.site, "doubts").line
    opens = first_use(room)
    before = room.site.journal.count()
    room.keep("review-use", opens.about, room.lead, note="surveyed again")
    assert room.site.journal.count() == before + 2
    use = opens.about.rpartition(",")[2]
    written = room.site.journal.about(use, kinds=("use-reviewed",), limit=-1)
    causes = {each.cause for each in doubtful.doubted(room.site, room.instrument)}
    assert {(each.body["cause"], each.body["note"]) for each in written} == {
        (each, "surveyed again") for each in causes
    }
    assert doubt_counts.not_reviewed(room.site).words == "1 use, 2 entries"


def test_a_note_may_be_for_one_reason_alone(room: LifeRoom) -> None:
    """What was looked into for one failure is not looked into for another one."""
    found_outside(room)
    opens = first_use(room)
    room.keep("review-use", opens.about, room.lead, note="surveyed again", causes=opens.about.split(",")[1])
    assert doubt_counts.not_reviewed(room.site).words == "2 uses, 3 entries"


def test_a_review_for_something_that_puts_it_not_in_doubt_keeps_nothing(room: LifeRoom) -> None:
    """One note, one transaction: a reason too many, and none of it is recorded."""
    opens = first_use(room)
    _, cause, use = opens.about.split(",")
    before = room.site.journal.count()
    for causes in ([cause, "ab" * 32], []):
        with pytest.raises(Trouble):
            doubtful.review(room.site, room.instrument, room.lead, causes=causes, use=use, note="fine")
    assert room.site.journal.count() == before


DEEDS = ("pass", "fail", "hand-out", "hand-out", "take-back", "bad return", "lock-out", "clear", "strike", "emergency")


def one_deed(room: LifeRoom, deed: str) -> None:
    """One thing that somebody tries, possible or not."""
    if deed in ("pass", "fail"):
        room.check(low) if deed == "fail" else room.check()
    elif deed == "bad return":
        room.keep("take-back", **{**BACK, "answer-1": "yes"})
    elif deed == "strike":
        about = f"{room.instrument},{next(iter(room.standing()), '')}"
        room.keep("strike", about, room.lead, why="error", second="P-2")
    else:
        entered = {
            "hand-out": USE,
            "take-back": BACK,
            "lock-out": {"reason": "wet"},
            "clear": {"cause": "a", "action": "b", "calibration": "no"},
            "emergency": EMERGENCY,
        }[deed]
        room.keep(deed, room.instrument, room.lead if deed == "clear" else room.tech, **entered)


def refused_everywhere(room: LifeRoom) -> None:
    """A locked instrument is not begun, not handed out, not taken in an emergency."""
    state = room.site.journal.instrument_now(room.instrument)
    if any(each.status == "open" for each in state.lockouts):
        with pytest.raises(Trouble):
            room.desk.start(room.instrument, room.tech)
    for name, entered in (("hand-out", {**USE, "back_by": "12:00"}), ("emergency", EMERGENCY)):
        assert room.look(name, room.instrument, room.tech, dict(entered)).troubles
        with pytest.raises(Trouble):
            task(name).keep(room.site, room.instrument, room.tech, entered)


@settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(st.sampled_from(DEEDS), min_size=4, max_size=14))
def test_whatever_is_done_a_locked_instrument_is_refused_and_no_doubt_is_lost(deeds: list[str]) -> None:
    """After each deed: locked means refused everywhere, and sheet, list and records name the same uses in doubt."""
    with tempfile.TemporaryDirectory() as folder:
        room = LifeRoom(Path(folder))
        for deed in deeds:
            with suppress(Trouble):
                one_deed(room, deed)
            if room.word() == "locked out":
                refused_everywhere(room)
            here = keys(sheet(room.site, "doubt", room.instrument, room.lead))
            page = listing(room.site, "doubts", "", room.lead, Query(filters={"which": "all"}, limit=-1))
            assert here == in_journal(room) == {row.key for row in page.rows}
            assert bool(words_on(sheet(room.site, "lockout", room.instrument, room.tech)))
            locked = {row.key for row in listing(room.site, "lockouts").rows}
            assert locked == ({room.instrument} if room.word() == "locked out" else set())
        room.site.close()
