"""Handing out and taking back as forms: for which radiation, until when, and the look at the return."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_walk import MINI, sensible
from life_room import ASKING, BACK, USE, LifeRoom, low, words_on

from procedures.asks import Ask, ReadingAsk
from procedures.clock import ManualClock
from procedures.sheets import Query
from procedures.site import exchange_age, handouts, local_time, profiles
from procedures.site.demo import make_demo
from procedures.site.forms import task
from procedures.site.records import listing, sheet
from procedures.site.views import CheckoutView
from procedures.trouble import Trouble


@pytest.fixture
def room(tmp_path: Path) -> Iterator[LifeRoom]:
    made = LifeRoom(tmp_path)
    yield made
    made.site.close()


@pytest.fixture
def ready(room: LifeRoom) -> LifeRoom:
    """A room whose instrument has just passed."""
    assert room.check() == "fit for use"
    return room


@pytest.fixture
def out(ready: LifeRoom) -> LifeRoom:
    """A room whose instrument is out with the technician."""
    ready.keep("hand-out", **USE)
    return ready


def refused(room: LifeRoom, name: str, saying: str, entered: dict[str, str]) -> None:
    look = room.look(name, room.instrument, room.tech, entered)
    assert any(saying in str(each) for each in look.troubles.values()), look
    before = room.site.journal.count()
    with pytest.raises(Trouble, match=saying):
        task(name).keep(room.site, room.instrument, room.tech, entered)
    assert room.site.journal.count() == before


# --- handing out ---------------------------------------------------------------------------------------------------


def test_what_is_fit_goes_out_with_all_that_the_record_needs(ready: LifeRoom) -> None:
    """To whom, for what, where, for which radiation, until when: what must be looked at again when it fails later."""
    form = ready.form("hand-out")
    fields = {each.id: each for each in form.fields}
    assert [each.value for each in fields["radiation"].options] == ["photon exposure rate"]
    assert any("NOT for: alpha" in line for line in form.says)
    ready.keep("hand-out", **USE, back_by="08:00")
    body = ready.newest("handed-out")
    assert (body["job"], body["place"], body["radiation"]) == (USE["job"], USE["place"], USE["radiation"])
    assert body["back_by"] == "2026-06-01T08:00:00.000000Z"
    state = ready.site.journal.instrument_now(ready.instrument)
    assert state.handed is not None
    assert state.handed.to == ready.tech
    assert state.handed.person == ready.tech


def test_the_factor_goes_with_it_once(tmp_path: Path) -> None:
    """A chamber open to the air: whoever takes it must know what to multiply by, and is not told twice."""
    with make_demo(tmp_path, ManualClock(dt.datetime(2026, 6, 1, 9, tzinfo=dt.UTC))) as site:
        (lead,) = site.journal.labelled("QP-1")
        (chamber,) = site.journal.labelled("QO-01")
        says = task("hand-out").form(site, chamber.id, lead.id, {}, 1).says
    factor = factor_lines(says)
    assert len(factor) == 1
    assert "°C" in factor[0]
    assert "Damp air makes it read high." in says


def factor_lines(says: tuple[str, ...]) -> list[str]:
    return [each for each in says if each.startswith("Multiply every reading by ")]


@pytest.mark.parametrize(
    ("changes", "saying"),
    [
        ({"radiation": "alpha"}, "is not for alpha"),
        ({"radiation": "neutron"}, "was not checked for"),
        ({"radiation": ""}, "not said"),
        ({"to": "S-1"}, "nobody here"),
        ({"to": ""}, "no person is named"),
        ({"job": "  "}, "what it is for is not said"),
        ({"place": "x" * 201}, "where it goes is not said"),
        ({"back_by": "soon"}, "is no time"),
        ({"back_by": "2026-05-31 10:00"}, "cannot be back by"),
        ({"back_by": "2099-01-01 10:00"}, "cannot be back by"),
    ],
)
def test_what_cannot_be_is_refused_in_words(ready: LifeRoom, changes: dict[str, str], saying: str) -> None:
    """By its field before it is kept, and by the use case when it is."""
    refused(ready, "hand-out", saying, {**USE, "back_by": "12:00", **changes})


def test_what_is_not_fit_does_not_go_out(room: LifeRoom) -> None:
    """Not checked, failed, run out: the form does not open."""
    with pytest.raises(Trouble, match="not fit for use"):
        room.form("hand-out")
    refused(room, "hand-out", "not fit for use", {**USE, "back_by": "12:00"})
    assert room.check(low) == "locked out"
    refused(room, "hand-out", "not fit for use", {**USE, "back_by": "12:00"})


def test_it_says_that_it_must_be_checked_again_when_it_is_to_be_back_later(ready: LifeRoom) -> None:
    """Never silently beyond the end of its check: said on the form, before it is kept, after, and in the record."""
    later = {**USE, "back_by": "2026-06-02 12:00"}
    look = ready.look("hand-out", ready.instrument, ready.tech, later)
    assert any("must be checked again" in line for line in look.lines)
    assert look.tone == "warn"
    done = ready.keep("hand-out", **later)
    assert "must be checked again" in done.do
    assert ready.newest("handed-out")["check_again"] is True


def test_within_its_check_nothing_is_said_of_another(ready: LifeRoom) -> None:
    """A warning that is always there is read by nobody."""
    look = ready.look("hand-out", ready.instrument, ready.tech, {**USE, "back_by": "09:00"})
    assert not [line for line in look.lines if "again" in line]


def test_the_end_of_its_check_is_said_once_and_the_scales_not_shown_are_named(ready: LifeRoom) -> None:
    """A scale that no source and no zero has shown is not read in the field in good faith."""
    says = ready.form("hand-out").says
    assert len([line for line in says if "until" in line or "again" in line]) == 1
    assert not any("NOT SHOWN" in line for line in says)


def test_a_scale_that_no_check_has_shown_is_said_at_the_hand_out(tmp_path: Path) -> None:
    """The check went through one scale: the other goes out with words."""
    other = (
        '[[instrument.scale]]\nname = "x10"\nmultiplier = 10\nfull_scale = "30 mR/h"\ndivision = "1 mR/h"\n'
        'shown_by = "nothing"\n'
    )
    place = ASKING.index("[[instrument.scale]]")
    room = LifeRoom(tmp_path, ASKING[:place] + other + ASKING[place:])

    def on_x1(ask: Ask, view: CheckoutView) -> str:
        said = sensible(ask, view)
        return f"x1 {said}" if isinstance(ask, ReadingAsk) and not said.startswith("x1") else said

    assert room.check(on_x1) == "fit for use"
    assert "NOT SHOWN to work by its check: scale x10." in room.form("hand-out").says
    assert "scale x10" in room.keep("hand-out", **{**USE, "back_by": "09:00"}).do
    room.site.close()


def test_the_site_says_how_long_an_instrument_is_usually_out(ready: LifeRoom) -> None:
    """The setting `back_by_hours`, never past the end of its check; one that says nothing usable is the default."""
    until = ready.site.journal.instrument_now(ready.instrument).standing.ready_until
    assert until is not None
    for setting, hours in (("3", 3), ("nonsense", 12)):
        ready.set(back_by_hours=setting)
        wanted = local_time.said(ready.site, min(until, ready.clock.now().utc + dt.timedelta(hours=hours)))
        assert {each.id: each.value for each in ready.form("hand-out").fields}["back_by"] == wanted


def test_times_are_the_sites_own(tmp_path: Path) -> None:
    """A time without a day is the next one from now, in the site's zone; a time that no day has is none."""
    room = LifeRoom(tmp_path)
    room.site.record("settings-changed", {"set": {"zone": "Asia/Kathmandu"}}, about=("site",))
    zone = dt.timezone(dt.timedelta(hours=5, minutes=45))
    assert local_time.meant(room.site, "23:30") == dt.datetime(2026, 6, 1, 23, 30, tzinfo=zone)
    assert local_time.meant(room.site, "07:30") == dt.datetime(2026, 6, 2, 7, 30, tzinfo=zone)
    assert local_time.meant(room.site, "2026-06-05 07:30") == dt.datetime(2026, 6, 5, 7, 30, tzinfo=zone)
    for text in ("", "25:00", "7.30", "yesterday", "2026-06-05", "9" * 99, "\x00", "24:00"):
        with pytest.raises(Trouble):
            local_time.meant(room.site, text)
    room.site.close()


def test_what_is_contaminated_or_away_does_not_go_out_though_it_passed(ready: LifeRoom) -> None:
    """Fitness, whereabouts and contamination are three things, and each alone keeps it here."""
    about = (ready.instrument,)
    entered = {**USE, "back_by": "12:00"}
    ready.site.record("contamination", {"found": True, "say": "smear"}, about=about, person=ready.tech)
    assert ready.word() == "ready"
    refused(ready, "hand-out", "is contaminated", entered)
    ready.site.record("contamination", {"found": False, "say": "clean"}, about=about, person=ready.lead)
    ready.site.record("placed", {"whereabouts": "lent", "where": "next door"}, about=about, person=ready.lead)
    refused(ready, "hand-out", "recorded as lent", entered)


def test_whoever_hands_out_is_on_the_list(ready: LifeRoom) -> None:
    """Nobody, and somebody who is not there, cannot."""
    for person in ("", "ab" * 32):
        look = ready.look("hand-out", ready.instrument, person, {**USE, "back_by": "12:00"})
        assert look.troubles
        with pytest.raises(Trouble):
            task("hand-out").keep(ready.site, ready.instrument, person, {**USE, "back_by": "12:00"})
    with pytest.raises(Trouble, match="on the site's list"):
        handouts.hand_out(ready.site, ready.instrument, to=ready.tech, job="a", place="b", person="ab" * 32)


# --- taking back ---------------------------------------------------------------------------------------------------


def test_the_profile_says_what_is_asked_at_the_return(out: LifeRoom) -> None:
    """Its questions, in its words, with its answers; good ones leave the instrument as it was."""
    fields = {each.id: each for each in out.form("take-back").fields}
    assert fields["answer-1"].say == "Was it dropped?"
    assert [each.value for each in fields["answer-2"].options] == ["clean", "not clean", "not surveyed"]
    assert fields["by"].value == "P-2"
    out.keep("take-back", **BACK)
    body = out.newest("returned")
    assert body["check"] == "good"
    assert [each["answer"] for each in body["findings"]] == ["no", "clean"]
    assert out.word() == "ready"
    assert out.site.journal.instrument_now(out.instrument).handed is None


@pytest.mark.parametrize(
    ("answers", "codes", "contaminated"),
    [
        ({"answer-1": "nobody knows"}, ["dropped"], False),
        ({"answer-2": "not surveyed"}, ["not-shown-clean"], False),
        ({"answer-2": "not clean"}, ["not-shown-clean"], True),
        ({"answer-1": "yes", "answer-2": "not clean"}, ["dropped", "not-shown-clean"], True),
    ],
)
def test_a_bad_answer_locks_it_out_in_the_same_record(
    out: LifeRoom, answers: dict[str, str], codes: list[str], contaminated: bool
) -> None:
    """Returned and locked out, or neither: with every code that stands, and contaminated where the answer says so."""
    before = out.site.journal.count()
    look = out.look("take-back", out.instrument, out.tech, {**BACK, **answers})
    assert look.tone == "bad"
    out.keep("take-back", **{**BACK, **answers, "tag": "T-9"})
    assert out.site.journal.count() == before + 2 + contaminated
    assert out.newest("returned")["check"] == "bad"
    locked = out.newest("locked-out")
    assert [each["code"] for each in locked["reasons"]] == codes
    assert locked["tag"] == "T-9"
    assert out.word() == "locked out"
    state = out.site.journal.instrument_now(out.instrument)
    assert (state.contaminated, state.whereabouts) == (contaminated, "here")


def test_a_bad_return_puts_the_use_in_doubt(out: LifeRoom) -> None:
    """What was dropped may have measured wrong from then on, and nobody knows since when."""
    out.keep("take-back", **{**BACK, "answer-1": "yes"})
    told = words_on(sheet(out.site, "doubt", out.instrument))
    assert "The look at its return was bad. Was it dropped? yes." in told
    assert USE["job"] in told


@pytest.mark.parametrize(
    ("changes", "saying"),
    [
        ({"answer-1": ""}, "not answered"),
        ({"answer-2": "maybe"}, "is no answer"),
        ({"condition": "", "answer-1": "yes"}, "its condition is not said"),
        ({"by": "nobody"}, "nobody here"),
        ({"tag": "x" * 61}, "too long"),
    ],
)
def test_every_question_is_answered(out: LifeRoom, changes: dict[str, str], saying: str) -> None:
    """A look that was not taken is not kept as one that was."""
    refused(out, "take-back", saying, {**BACK, **changes})


def test_a_profile_that_asks_nothing_has_the_condition_alone(tmp_path: Path) -> None:
    """And the record says that no look was taken."""
    room = LifeRoom(tmp_path, profile=MINI)
    room.check()
    room.keep("hand-out", **USE)
    assert [each.id for each in room.form("take-back").fields] == ["by", "condition"]
    room.keep("take-back", by="P-2", condition="as it went out")
    assert (room.newest("returned")["check"], room.newest("returned")["findings"]) == ("not done", [])
    room.site.close()


def test_the_questions_are_those_it_was_checked_by(out: LifeRoom) -> None:
    """A revision adopted while it is out asks nothing of a use that began before."""
    profiles.adopt(out.site, MINI.replace("revision = 1", "revision = 2"), out.lead)
    assert "answer-1" in {each.id for each in out.form("take-back").fields}


def test_what_is_not_out_is_not_taken_back(ready: LifeRoom) -> None:
    """Nor twice."""
    refused(ready, "take-back", "is not handed out", BACK)
    with pytest.raises(Trouble, match="is not handed out"):
        ready.form("take-back")


def test_answers_are_counted(out: LifeRoom) -> None:
    """Whoever calls the use case: as many answers as questions, no more, no fewer."""
    for answers in (["no"], ["no", "clean", "no"]):
        with pytest.raises(Trouble):
            handouts.take_back(out.site, out.instrument, by=None, condition="good", answers=answers)


def test_somebody_who_was_faster_is_not_written_over(out: LifeRoom, monkeypatch: pytest.MonkeyPatch) -> None:
    """Between looking and keeping something came in: nothing is recorded."""
    answers = ["no", "clean"]
    monkeypatch.setattr(type(out.site.journal), "last_about", lambda *_: "")
    with pytest.raises(Trouble, match="meanwhile"):
        handouts.take_back(out.site, out.instrument, by=None, condition="good", answers=answers)


# --- who has what --------------------------------------------------------------------------------------------------


def test_overdue_comes_first_and_says_whom_to_ask(out: LifeRoom) -> None:
    """Out now, overdue, all there ever were: three questions to one list, and a sheet to walk about with."""
    assert listing(out.site, "uses").total == 1
    assert listing(out.site, "uses", query=Query(filters={"which": "overdue"})).total == 0
    out.clock.advance(13 * 3600)
    late = listing(out.site, "uses", query=Query(filters={"which": "overdue"}))
    assert late.total == len(late.rows) == 1
    assert late.rows[0].cells[1] == "Tech Person"
    assert late.rows[0].cells[-1].startswith("OVERDUE")
    told = words_on(sheet(out.site, "overdue"))
    assert "C-1" in told
    assert "1 overdue" in told
    out.keep("take-back", **BACK)
    assert "0 overdue" in words_on(sheet(out.site, "overdue"))
    assert listing(out.site, "uses").total == 0
    assert listing(out.site, "uses", query=Query(filters={"which": "all"})).total == 1


def test_what_is_locked_out_while_it_is_out_is_called_back(out: LifeRoom) -> None:
    """Somebody is using it right now."""
    out.keep("lock-out", reason="reads-oddly")
    row = listing(out.site, "uses").rows[0]
    assert row.cells[-1] == "LOCKED OUT: call it back"
    assert row.tone == "bad"


# --- how old the last exchange is ----------------------------------------------------------------------------------


def test_a_site_with_one_laptop_is_never_told_to_exchange(ready: LifeRoom) -> None:
    """There is nobody to hear from."""
    ready.set(exchange_limit_hours="1")
    assert exchange_age.exchange_age(ready.site) == ""
    ready.keep("hand-out", **USE)
