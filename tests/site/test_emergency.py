"""An unchecked instrument in an emergency: by authority, never called fit, in doubt until a check after the use."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from life_room import BACK, EMERGENCY, USE, LifeRoom, low, words_on

from procedures.sheets import Query
from procedures.site import emergency, local_time
from procedures.site.forms import task
from procedures.site.records import listing, sheet
from procedures.trouble import Trouble

WORDS = ("job", "place", "authority", "why", "turn_back")
AFTER = {**EMERGENCY, "reported": "after", "is_back": "yes", "turn_back": "", "back_by": ""}


@pytest.fixture
def room(tmp_path: Path) -> Iterator[LifeRoom]:
    made = LifeRoom(tmp_path)
    yield made
    made.site.close()


def refused(room: LifeRoom, saying: str, person: str = "", **changes: str) -> None:
    entered = {**EMERGENCY, **changes}
    look = room.look("emergency", room.instrument, person or room.tech, entered)
    assert any(re.search(saying, str(each)) for each in look.troubles.values()), look
    before = room.site.journal.count()
    with pytest.raises(Trouble, match=saying):
        task("emergency").keep(room.site, room.instrument, person or room.tech, entered)
    assert room.site.journal.count() == before


def test_it_goes_out_with_all_that_has_to_be_said_and_is_never_called_fit(room: LifeRoom) -> None:
    """By whose authority, why, when to turn back; and every page says that nothing shows that it works."""
    form = room.form("emergency")
    assert "Nothing shows that this instrument works." in form.caution
    assert form.dangerous
    done = room.keep("emergency", **EMERGENCY)
    assert "NOT CHECKED" in done.what
    assert EMERGENCY["turn_back"] in done.do
    assert "fit for use" not in " ".join([*form.says, form.title, form.instruction, done.what, done.do])
    body = room.newest("emergency-use")
    assert {word: body[word] for word in WORDS} == {word: EMERGENCY[word] for word in WORDS}
    state = room.site.journal.instrument_now(room.instrument)
    assert state.handed is not None
    assert state.handed.emergency
    assert room.word() == "needs check"
    assert "EMERGENCY USE" in listing(room.site, "uses").rows[0].cells[-1]


@pytest.mark.parametrize("word", WORDS)
def test_nothing_of_it_may_be_left_out(room: LifeRoom, word: str) -> None:
    """The turn-back rule above all: whoever goes must know when to leave."""
    refused(room, "is not said", **{word: ""})
    refused(room, "is not said", **{word: "x" * 201})


def test_one_that_is_fit_is_handed_out_as_usual(room: LifeRoom) -> None:
    """An emergency is no way round the record of a hand-out."""
    assert room.check() == "fit for use"
    refused(room, "is fit for use")
    with pytest.raises(Trouble, match="as usual"):
        room.form("emergency")


def test_one_that_is_locked_out_is_never_offered(room: LifeRoom) -> None:
    """Failed, or locked by hand, cleared and not checked yet: not taken, not in an emergency either."""
    assert room.check(low) == "locked out"
    form = room.form("emergency")
    assert {each.id: each for each in form.fields}["reported"].fixed
    assert {each.id: each.value for each in form.fields}["reported"] == "after"
    assert "never taken" in form.says[0]
    refused(room, "not in an emergency either")
    room.keep("clear", room.instrument, room.lead, cause="a", action="b", calibration="no")
    refused(room, "not in an emergency either")


def test_one_that_is_contaminated_or_away_or_out_is_not_taken(room: LifeRoom) -> None:
    """It would carry the contamination about; what is not here cannot be taken."""
    about = (room.instrument,)
    room.site.record("contamination", {"found": True, "say": "smear"}, about=about, person=room.tech)
    refused(room, "is contaminated")
    room.site.record("contamination", {"found": False, "say": "clean"}, about=about, person=room.lead)
    room.site.record("placed", {"whereabouts": "at calibration", "where": "bench"}, about=about, person=room.lead)
    refused(room, "at calibration")
    room.site.record("placed", {"whereabouts": "here", "where": ""}, about=about, person=room.lead)
    room.keep("emergency", **EMERGENCY)
    refused(room, "handed out")


def test_a_locked_one_that_was_used_all_the_same_is_recorded_afterwards(room: LifeRoom) -> None:
    """Better a record of what should not have been than none. The lockout stands."""
    assert room.check(low) == "locked out"
    refused(room, "not answered", reported="after")
    done = room.keep("emergency", **{**EMERGENCY, "reported": "after", "used_at": "00:00", "is_back": "yes"})
    assert "radiation safety officer" in done.do
    body = room.newest("emergency-use")
    assert (body["reported"], body["fitness"]) == ("after", "locked out")
    assert room.newest("returned")["check"] == "not done"
    state = room.site.journal.instrument_now(room.instrument)
    assert (state.handed, state.whereabouts, room.word()) == (None, "here", "locked out")
    assert "It was used without a check." in words_on(sheet(room.site, "doubt", room.instrument))


def test_a_use_reported_afterwards_says_when_it_was(room: LifeRoom) -> None:
    """What was measured at 07:40 is looked for at 07:40, not at the hour in which somebody sat down to report it."""
    room.clock.advance(3 * 3600)
    form = task("emergency").form(room.site, room.instrument, room.tech, {"reported": "after"}, 2)
    asked = {each.id for each in form.fields}
    assert "used_at" in asked
    assert not {"turn_back", "back_by"} & asked, "nobody turns back any more"
    refused(room, "time is missing|not said", **{**AFTER, "used_at": ""})
    refused(room, "still to come", **{**AFTER, "used_at": "2026-06-02 06:00"})
    refused(room, "cannot have been used", **{**AFTER, "used_at": "2024-06-01 06:00"})
    room.keep("emergency", **{**AFTER, "used_at": "2026-05-31 23:50"})
    body = room.newest("emergency-use")
    assert (body["used_at"][:10], body["turn_back"], body["back_by"]) == ("2026-05-31", "", None)
    when = "2026-05-31 23:50"
    for name, about in (("doubt", room.instrument), ("history", room.instrument), ("instrument", room.instrument)):
        assert when in words_on(sheet(room.site, name, about)), name
    assert when in words_on(sheet(room.site, "binder", "2026-05-01,2026-06-30"))
    assert when in listing(room.site, "doubts").rows[0].cells
    assert when in listing(room.site, "uses", query=Query(filters={"which": "all"})).rows[0].cells


def test_an_hour_without_a_day_is_the_last_one_that_has_been(room: LifeRoom) -> None:
    """Reported after midnight, "23:50" is yesterday evening, and never a time to come."""
    now = room.site.clock.now().utc
    for text in ("00:00", "06:00", "12:00", "23:59"):
        been = local_time.been(room.site, text)
        assert timedelta(0) <= now - been <= timedelta(hours=25)
        assert local_time.said(room.site, been).endswith(text)


def test_one_reported_afterwards_that_is_still_out_has_to_come_back(room: LifeRoom) -> None:
    """It counts as handed out."""
    room.keep("emergency", **{**EMERGENCY, "reported": "after", "used_at": "00:00", "is_back": "no"})
    assert room.site.journal.instrument_now(room.instrument).handed is not None
    room.keep("take-back", **BACK)
    assert room.site.journal.instrument_now(room.instrument).handed is None


def test_a_second_instrument_goes_along_unless_it_is_locked_out(room: LifeRoom) -> None:
    """Two that agree are better than one; two that are the same are one."""
    refused(room, "same instrument", second="C-1")
    refused(room, "no instrument here", second="S-1")
    lockout = {"reasons": [{"code": "wet", "say": "wet"}], "tag": ""}
    room.site.record("locked-out", lockout, about=(room.second,), person=room.tech)
    refused(room, "locked out", second="C-2")
    done = room.keep("emergency", **EMERGENCY)
    assert done.opens is None
    assert room.newest("emergency-use")["second"] is None


def test_it_is_in_doubt_until_a_check_after_it_has_passed(room: LifeRoom) -> None:
    """And no longer: the check after the use is what speaks for it."""
    room.keep("emergency", **{**EMERGENCY, "second": "C-2"})
    assert room.newest("emergency-use")["second"] == room.second
    done = room.keep("take-back", **BACK)
    assert "in doubt" in done.do
    assert [each.kind for each in room.site.journal.uses_in_doubt(room.instrument)] == ["unchecked"]
    assert listing(room.site, "doubts").total == 1
    assert room.check() == "fit for use"
    assert room.site.journal.uses_in_doubt(room.instrument) == ()
    assert listing(room.site, "doubts").total == 0


def test_it_stays_in_doubt_when_the_check_after_it_fails(room: LifeRoom) -> None:
    """By what failed, from the last good check of that kind on."""
    assert room.check() == "fit for use"
    room.keep("lock-out", reason="dropped")
    room.keep("clear", room.instrument, room.lead, cause="a", action="b", calibration="no")
    room.keep("emergency", **{**EMERGENCY, "reported": "after", "used_at": "00:00", "is_back": "yes"})
    assert room.check(low) == "locked out"
    told = words_on(sheet(room.site, "doubt", room.instrument))
    assert "Response" in told
    assert f"EMERGENCY USE: {EMERGENCY['job']}" in told


def test_no_pin_is_asked_but_somebody_has_to_say_who_they_are(room: LifeRoom) -> None:
    """Whoever must leave at once would go without leaving a record; nobody leaves one as nobody."""
    room.with_pins()
    assert not {"pin"} & {each.id for each in room.form("emergency").fields}
    look = room.look("emergency", room.instrument, "", EMERGENCY)
    assert look.troubles
    with pytest.raises(Trouble, match="who does this"):
        task("emergency").keep(room.site, room.instrument, "", EMERGENCY)
    words = dict.fromkeys(WORDS, "said")
    with pytest.raises(Trouble):
        emergency.record_use(room.site, room.instrument, "ab" * 32, to=room.tech, **words)
    room.keep("emergency", **EMERGENCY)


def test_what_is_out_by_an_emergency_is_not_handed_out_besides(room: LifeRoom) -> None:
    """It needs a check first, and is not here."""
    room.keep("emergency", **EMERGENCY)
    look = room.look("hand-out", room.instrument, room.tech, {**USE, "back_by": "12:00"})
    assert look.troubles


@pytest.mark.parametrize("about", ["", "zz", "ab" * 32])
def test_a_form_about_nothing_is_refused_in_words(room: LifeRoom, about: str) -> None:
    """Whatever a front end hands over."""
    for name in ("emergency", "hand-out", "take-back"):
        with pytest.raises(Trouble):
            task(name).form(room.site, about, room.tech, {}, 1)
        for entered in ({}, EMERGENCY, {"to": "\ud800", "back_by": "x" * 9999, "reported": "never"}):
            assert room.look(name, about, room.tech, entered).troubles
            with pytest.raises(Trouble):
                task(name).keep(room.site, about, room.tech, entered)
