"""Locking out, clearing and striking as forms, and the sheets that show them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from desk_walk import id_of, walk
from life_room import BACK, PINS, USE, LifeRoom, low, words_on
from source_checks import failed

from procedures.reasons import SHELF
from procedures.sheets import Pairs, Query
from procedures.site import clearing, inventory
from procedures.site.forms import task
from procedures.site.records import listing, sheet
from procedures.trouble import Trouble

CLEAR = {"cause": "loose screw", "action": "fastened", "calibration": "no", "repaired_by": "workshop"}


@pytest.fixture
def room(tmp_path: Path) -> Iterator[LifeRoom]:
    made = LifeRoom(tmp_path)
    yield made
    made.site.close()


def refused(room: LifeRoom, name: str, about: str, person: str, saying: str, **entered: str) -> None:
    """Refused when it is kept, said before that, and nothing recorded."""
    look = room.look(name, about, person, entered)
    assert any(saying in str(each) for each in look.troubles.values()), look
    before = room.site.journal.count()
    with pytest.raises(Trouble, match=saying):
        task(name).keep(room.site, about, person, entered)
    assert room.site.journal.count() == before


# --- locking out ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("code", [each.value for each in clearing.HAND_REASONS])
def test_anybody_locks_out_with_a_common_reason_and_the_number_of_the_tag(room: LifeRoom, code: str) -> None:
    """Anyone may end trust: no role, no PIN, in two fields."""
    room.with_pins()
    assert room.check() == "fit for use"
    done = room.keep("lock-out", reason=code, say="it hums", tag="T-17")
    assert room.word() == "locked out"
    body = room.newest("locked-out")
    assert [each["code"] for each in body["reasons"]] == [code]
    assert "it hums" in body["reasons"][0]["say"]
    assert body["tag"] == "T-17"
    assert done.opens is not None
    assert room.site.journal.instrument_now(room.instrument).contaminated == (code == "contaminated")


def test_something_else_needs_words(room: LifeRoom) -> None:
    """ "Something else" alone tells the repairer nothing."""
    refused(room, "lock-out", room.instrument, room.tech, "a reason is needed", reason="by-hand", say="")
    refused(room, "lock-out", room.instrument, room.tech, "is not a reason here", reason="whim", say="")
    assert room.word() == "needs check"


def test_the_lockout_stands_on_the_sheet_with_all_that_is_to_be_known(room: LifeRoom) -> None:
    """Reason in words, who, when, tag, what stands in the way: on the sheet and in the list."""
    room.keep("lock-out", reason="dropped", say="from the barrow", tag="T-17")
    told = words_on(sheet(room.site, "lockout", room.instrument, room.tech))
    for words in ("It was dropped or knocked. from the barrow", "2026-06-01", "Tech Person", "T-17", SHELF):
        assert words in told
    assert "A site lead has to clear it" in told
    page = listing(room.site, "lockouts")
    assert page.total == 1
    assert page.rows[0].cells[0] == "C-1"
    assert "A site lead has to clear it" in page.rows[0].cells[-1]
    assert listing(room.site, "lockouts", query=Query(search="nothing like it")).total == 0


def test_deeds_that_may_not_be_done_say_why(room: LifeRoom) -> None:
    """Shown, dimmed, with the reason: a technician sees that a lead clears; nobody yet sees nothing dimmed."""
    room.keep("lock-out", reason="dropped")

    def dim(person: str) -> dict[str, str]:
        return {each.name: each.may_not for each in sheet(room.site, "lockout", room.instrument, person).deeds}

    assert "only a site lead" in dim(room.tech)["clear"]
    assert "only a site lead" in dim(room.tech)["strike"]
    assert dim(room.tech)["lock-out"] == ""
    assert dim(room.lead)["clear"] == dim("")["clear"] == ""
    sound = {each.name: each.may_not for each in sheet(room.site, "lockout", room.second, room.lead).deeds}
    assert sound["clear"] == "No lockout of it stands."


# --- clearing ------------------------------------------------------------------------------------------------------


def test_a_clearing_says_what_comes_after_and_only_a_check_ends_the_lockout(room: LifeRoom) -> None:
    """Cleared is not back in service."""
    room.keep("lock-out", reason="dropped")
    done = room.keep("clear", room.instrument, room.lead, **CLEAR)
    assert room.word() == "locked out"
    assert "complete checkout must pass" in done.do
    told = words_on(sheet(room.site, "lockout", room.instrument))
    assert "CLEARED, waits for its check" in told
    assert "workshop" in told
    assert room.check() == "fit for use"
    assert room.word() == "ready"
    after = words_on(sheet(room.site, "lockout", room.instrument))
    assert "No lockout of it stands." in after
    assert "Lead Person" in after


def test_look_says_that_a_complete_checkout_is_needed_afterwards(room: LifeRoom) -> None:
    """Before it is kept, not after."""
    room.keep("lock-out", reason="dropped")
    look = room.look("clear", room.instrument, room.lead, {**CLEAR, "calibration": "yes"})
    assert not look.troubles
    assert any("complete checkout must pass" in line for line in look.lines)
    assert any("has to be calibrated" in line for line in look.lines)


@pytest.mark.parametrize(
    ("entered", "saying"),
    [
        ({"cause": ""}, "a reason is needed"),
        ({"action": " "}, "a reason is needed"),
        ({"calibration": ""}, "not answered"),
        ({"second": "nobody of that name"}, "nobody here"),
        ({"second": "P-1"}, "one of the two already"),
    ],
)
def test_what_is_not_said_is_asked_for(room: LifeRoom, entered: dict[str, str], saying: str) -> None:
    """Every mistake by its field, and nothing recorded."""
    room.keep("lock-out", reason="dropped")
    refused(room, "clear", room.instrument, room.lead, saying, **{**CLEAR, **entered})


def test_only_a_lead_clears(room: LifeRoom) -> None:
    """Few may restore trust: the form does not even open for others, and the use case refuses by itself."""
    room.keep("lock-out", reason="dropped")
    with pytest.raises(Trouble, match="only a site lead"):
        room.form("clear", room.instrument, room.tech)
    refused(room, "clear", room.instrument, room.tech, "only a site lead", **CLEAR)


def test_whoever_repaired_does_not_clear_unless_the_site_allows_it_and_then_the_record_says_so(room: LifeRoom) -> None:
    """Their own work is checked by somebody else."""
    room.keep("lock-out", reason="dropped")
    room.set(repairer_may_clear="no")
    refused(room, "clear", room.instrument, room.lead, "does not clear", **{**CLEAR, "repaired_by": "LP"})
    refused(room, "clear", room.instrument, room.lead, "not said", **{**CLEAR, "repaired_by": ""})
    room.set(repairer_may_clear="yes")
    room.keep("clear", room.instrument, room.lead, **{**CLEAR, "repaired_by": "LP"})
    assert room.newest("cleared")["by_repairer"] == "yes"
    assert "Whoever repaired it cleared it" in words_on(sheet(room.site, "lockout", room.instrument))


def test_two_people_where_the_site_wants_two(room: LifeRoom) -> None:
    """For the reasons the site names: the form asks for the second, with both PINs."""
    room.with_pins()
    room.set(two_people_for="dropped")
    room.keep("lock-out", reason="dropped")
    fields = {each.id: each for each in room.form("clear", room.instrument, room.lead).fields}
    assert fields["second"].needed
    assert fields["second_pin"].kind == fields["pin"].kind == "secret"
    refused(room, "clear", room.instrument, room.lead, "two people", **CLEAR)
    both = {"second": "P-2", "second_pin": PINS["P-2"], "pin": PINS["P-1"]}
    with pytest.raises(Trouble, match="not the PIN"):
        room.keep("clear", room.instrument, room.lead, **{**CLEAR, **both, "pin": "000111"})
    room.clock.advance(10)
    room.keep("clear", room.instrument, room.lead, **{**CLEAR, **both})
    assert room.newest("cleared")["second"] == room.tech


def test_one_of_several_lockouts_may_be_cleared_alone(room: LifeRoom) -> None:
    """What is not cleared stands."""
    room.keep("lock-out", reason="dropped")
    room.keep("lock-out", reason="wet")
    first, second = room.standing()
    room.keep("clear", room.instrument, room.lead, **{**CLEAR, "lockouts": second})
    assert {each.id: each.status for each in room.site.journal.instrument_now(room.instrument).lockouts} == {
        first: "open",
        second: "awaiting check",
    }
    with pytest.raises(Trouble, match="locked out"):
        room.desk.start(room.instrument, room.tech)


def test_a_calibration_that_is_needed_stands_in_the_way(room: LifeRoom) -> None:
    """Where the site wants one for a reason, and where a clearing asked for one."""
    room.set(calibration_for="dropped")
    room.keep("lock-out", reason="dropped")
    assert "has to be calibrated" in words_on(sheet(room.site, "lockout", room.instrument))
    refused(room, "clear", room.instrument, room.lead, "calibrated first", **CLEAR)
    room.keep("clear", room.instrument, room.lead, **{**CLEAR, "calibration": "yes"})
    assert "It has to be calibrated first" in words_on(sheet(room.site, "lockout", room.instrument))


# --- striking ------------------------------------------------------------------------------------------------------


def test_what_was_entered_in_error_is_struck_by_two_and_kept(room: LifeRoom) -> None:
    """The entry is shown struck, and the instrument still has to pass a check."""
    room.keep("lock-out", reason="dropped", tag="T-17")
    about = f"{room.instrument},{room.standing()[0]}"
    assert room.form("strike", about, room.lead).dangerous
    refused(room, "strike", about, room.lead, "no person is named", why="meant for C-2", second="")
    refused(room, "strike", about, room.tech, "only a site lead", why="meant for C-2", second="P-3")
    room.keep("strike", about, room.lead, why="meant for C-2", second="P-2")
    told = words_on(sheet(room.site, "lockout", room.instrument))
    assert "STRUCK" in told
    assert "meant for C-2" in told
    assert "Tech Person" in told
    assert room.word() == "locked out"
    assert not [each for each in sheet(room.site, "lockout", room.instrument).deeds if each.name == "strike"]
    assert room.check() == "fit for use"
    assert "STRUCK" in words_on(sheet(room.site, "lockout", room.instrument))


def test_a_failed_check_stands_on_the_sheet_like_any_lockout(room: LifeRoom) -> None:
    """Its reason in the trade's words, and the way back."""
    assert room.check(low) == "locked out"
    found = [each for each in sheet(room.site, "lockout", room.instrument).sections if isinstance(each, Pairs)]
    assert "response-out" in found[0].title
    room.keep("clear", room.instrument, room.lead, **CLEAR)
    assert room.check() == "fit for use"


@pytest.mark.parametrize("name", ["lock-out", "clear", "strike"])
@pytest.mark.parametrize("about", ["", "nonsense", "ab" * 32, "ab" * 32 + ",zz", "source"])
def test_a_form_about_nothing_is_refused_in_words(room: LifeRoom, name: str, about: str) -> None:
    """Whatever a front end hands over: a Trouble when it opens, and look raises nothing."""
    named = inventory.register_jig(room.site, label="J-9") if about == "source" else about
    with pytest.raises(Trouble):
        task(name).form(room.site, named, room.lead, {}, 1)
    for entered in ({}, {"reason": "dropped", "say": "x" * 5000, "lockouts": "x", "cause": "\ud800"}):
        looked: Any = room.look(name, named, room.lead, entered)
        assert looked.troubles
        with pytest.raises(Trouble):
            task(name).keep(room.site, named, room.lead, entered)


def test_what_was_struck_is_struck_wherever_it_is_told(room: LifeRoom) -> None:
    """A lockout by hand and one by a failed check: in the history and on the list of what is locked out."""
    room.keep("lock-out", reason="dropped", tag="")
    (by_hand,) = room.standing()
    assert "STRUCK" not in words_on(sheet(room.site, "history", room.instrument))
    room.keep("strike", f"{room.instrument},{by_hand}", room.lead, why="meant for C-2", second="P-2")
    told = words_on(sheet(room.site, "history", room.instrument))
    assert "locked out, STRUCK" in told
    assert "meant for C-2 (Lead Person with Tech Person" in told
    row = listing(room.site, "lockouts").rows[0]
    assert row.cells[1].startswith("STRUCK")


def test_a_failed_check_that_was_struck_says_so_in_the_history(room: LifeRoom) -> None:
    """The entry stays, and nobody takes it for what it says."""
    assert room.check(low) == "locked out"
    (failed,) = room.standing()
    room.keep("strike", f"{room.instrument},{failed}", room.lead, why="the wrong source lay there", second="P-2")
    assert "checkout: locked out, STRUCK" in words_on(sheet(room.site, "history", room.instrument))


def test_a_source_in_suspicion_stands_first_on_the_sheets(room: LifeRoom) -> None:
    """Whoever would repair the meter looks at the source before."""
    failed(room.site, room.second, id_of(room.site, "S-1"), 0.5)
    assert room.check(low) == "locked out"
    for name in ("lockout", "instrument"):
        said = words_on(sheet(room.site, name, room.instrument))
        assert said.index("That points at the source") < said.index("LOCKED OUT: response-out")


def ended(room: LifeRoom) -> tuple[str, ...]:
    """What the ending of a check of C-1 that passes says is to be done."""
    view = walk(room.desk, room.desk.start(room.instrument, room.tech), room.clock)
    assert view.ending is not None
    assert view.ending.ending == "fit for use"
    return view.ending.do


def test_the_check_after_a_clearing_says_which_tag_comes_off(room: LifeRoom) -> None:
    """An instrument that is fit and still hangs under a tag is not used; one that never hung under one has none."""
    assert not any("tag" in each for each in ended(room))
    room.clock.advance(30)
    for tag in ("T-17", "T-18"):
        room.keep("lock-out", reason="wet", tag=tag)
    for each in room.standing():
        room.keep("clear", room.instrument, room.lead, lockouts=each, **CLEAR)
    assert ended(room)[:2] == ("Take tag T-17 off it.", "Take tag T-18 off it.")
    room.clock.advance(30)
    assert not any("tag" in each for each in ended(room)), "it came off after the check before"


PLAIN_CLEAR = {"cause": "it got wet", "action": "dried for a day", "calibration": "no"}


def test_where_nothing_was_repaired_that_is_said_and_nobody_is_named(room: LifeRoom) -> None:
    """A lead who only dried it need not invent a repairer; where one has to be named, saying nothing is not enough."""
    room.set(repairer_may_clear="no")
    room.keep("lock-out", reason="wet")
    refused(room, "clear", room.instrument, room.lead, "who repaired it is not said", **PLAIN_CLEAR)
    both = {**PLAIN_CLEAR, "repaired": "nothing", "repaired_by": "the bench"}
    refused(room, "clear", room.instrument, room.lead, "and yet it is said", **both)
    refused(room, "clear", room.instrument, room.lead, "not said whether", **{**PLAIN_CLEAR, "repaired": "perhaps"})
    room.keep("clear", room.instrument, room.lead, **PLAIN_CLEAR, repaired="nothing")
    body = room.newest("cleared")
    assert (body["repaired_by"], body["by_repairer"]) == (None, "nothing was repaired")
    for name, about in (("history", room.instrument), ("binder", "2026-05-01,2026-06-30")):
        assert "Nothing was repaired" in words_on(sheet(room.site, name, about))
    assert "nothing was repaired" in words_on(sheet(room.site, "lockout", room.instrument))


@pytest.mark.parametrize("slip", ["P-99", "p99", "S-1", "C-2"])
def test_a_badge_that_is_nobodys_is_no_workshop(room: LifeRoom, slip: str) -> None:
    """A slip in a badge would stand in the records as the name of a workshop, and its bearer could clear."""
    room.keep("lock-out", reason="wet")
    refused(room, "clear", room.instrument, room.lead, "nobody on the site", **{**PLAIN_CLEAR, "repaired_by": slip})
    room.keep("clear", room.instrument, room.lead, **PLAIN_CLEAR, repaired_by="workshop, building 7")


def test_the_binder_says_of_a_clearing_who_repaired_with_what_and_what_has_to_follow(room: LifeRoom) -> None:
    """An inspector asks who opened it, what went in, and whether it was calibrated; what was handed out stands by."""
    assert room.check() == "fit for use"
    room.keep("hand-out", **USE)
    room.keep("take-back", **BACK)
    room.keep("lock-out", reason="wet")
    said = {"parts": "window 12", "repaired_by": "P-2", "calibration": "yes"}
    room.keep("clear", room.instrument, room.lead, **{**PLAIN_CLEAR, **said})
    told = words_on(sheet(room.site, "binder", "2026-05-01,2026-06-30"))
    for words in (
        "Repaired by Tech Person",
        "Parts: window 12",
        "calibrated before its check",
        "Hand-outs and returns",
    ):
        assert words in told
    assert "to Tech Person: survey after unloading, hall 2" in told
    assert "reference reading" in told
    assert "+00:00" not in told, "times are as the clock on the wall shows them"


def test_what_a_locked_instrument_needs_stands_before_locking_it_out_again(room: LifeRoom) -> None:
    """Clearing, its tag and its uses in doubt first: a second lockout is the last thing that is wanted of it."""
    assert sheet(room.site, "lockout", room.instrument, room.lead).deeds[0].name == "lock-out"
    room.keep("lock-out", reason="wet")
    for name in ("lockout", "instrument"):
        first = [each.name for each in sheet(room.site, name, room.instrument, room.lead).deeds][:5]
        assert first == ["clear", "tag", "doubt", "lock-out", "strike"], name
