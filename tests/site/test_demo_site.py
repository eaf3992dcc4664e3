"""The demo site: the states it promises, marked as a demonstration, and a journal that anybody can go on with."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from procedures.asks import Scan
from procedures.clock import ManualClock
from procedures.journal.states import fitness
from procedures.site import handouts
from procedures.site.checkouts import Desk
from procedures.site.clearing import end_readiness
from procedures.site.demo import make_demo
from procedures.site.demo_things import STATION
from procedures.site.opening import Site, open_site
from procedures.site.status import find, home, people, status, who
from procedures.site.views import InstrumentRow, Typed
from procedures.trouble import Trouble

NOW = datetime(2031, 5, 6, 8, 30, 12, 345678, tzinfo=UTC)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """One demo for all tests that only look at it."""
    with make_demo(tmp_path_factory.mktemp("demo"), ManualClock(NOW, offset=120, session="now")) as site:
        yield site


@pytest.fixture
def another(made: Site, tmp_path: Path) -> Iterator[Site]:
    """A copy of it to write into, opened as after a new start of the program, a minute later."""
    made.journal.close()
    (tmp_path / "demo.journal").write_bytes((made.folder / "demo.journal").read_bytes())
    made.journal = open_site(made.folder, made.clock, marking="demo").journal
    with open_site(tmp_path, ManualClock(NOW + timedelta(minutes=1), session="later"), marking="demo") as site:
        yield site


def row(site: Site, label: str) -> InstrumentRow:
    return next(each for each in status(site) if each.label == label)


# --- what it shows


@pytest.mark.parametrize(
    ("label", "expected", "reasons", "whereabouts"),
    [
        ("QO-01", "ready", (), "here"),
        ("QO-02", "ready", (), "here"),
        ("QO-03", "locked out", ("zero-off", "desiccant-spent"), "here"),
        ("QO-04", "ready", (), "here"),
        ("QO-05", "locked out", ("response-out",), "here"),
        ("QO-06", "ready", (), "handed out"),
        ("QO-07", "locked out", ("background-high",), "here"),
        ("QO-08", "ready", (), "here"),
        ("QO-09", "needs check", (), "here"),
        ("QO-10", "needs check", (), "here"),
        ("QO-11", "needs check", (), "at calibration"),
        ("QO-12", "needs check", (), "here"),
    ],
)
def test_each_instrument_is_in_the_state_it_is_there_to_show(
    made: Site, label: str, expected: str, reasons: tuple[str, ...], whereabouts: str
) -> None:
    """The demo is a tour: a state that is missing would never be seen in it."""
    found = row(made, label)

    assert (found.fitness, found.reasons, found.whereabouts) == (expected, reasons, whereabouts)


def test_there_are_twelve_instruments_of_five_types(made: Site) -> None:
    """What the documents say of the demo."""
    rows = status(made)

    assert len(rows) == 12
    assert len({each.type for each in rows}) == 5


def test_readiness_lasts_for_hours_yet(made: Site) -> None:
    """A demo that goes stale while somebody looks around would teach nothing."""
    ready = [each for each in status(made) if each.fitness == "ready"]

    assert len(ready) >= 4
    assert all(each.until is not None and each.until > NOW + timedelta(hours=4) for each in ready)


def test_a_cleared_lockout_waits_for_its_check(made: Site) -> None:
    """Clearing alone gives nothing free: it stays locked out until a complete checkout names the clearing."""
    (lockout,) = (
        each for each in made.journal.instrument_now(row(made, "QO-03").id).lockouts if each.status == "awaiting check"
    )

    assert [reason.code for reason in lockout.reasons] == ["zero-off", "desiccant-spent"]


def test_a_failed_check_puts_an_earlier_use_in_doubt(made: Site) -> None:
    """QO-03 was out in the field between its last good check and the failure."""
    doubts = made.journal.uses_in_doubt(row(made, "QO-03").id)

    assert {use.body["place"] for doubt in doubts for use in doubt.uses} == {"Seed store, aisle 4"}


def test_a_warning_is_told_before_it_becomes_a_failure(made: Site) -> None:
    """QO-02 reads less and less; its last check passed, with a word to the lead."""
    (newest, *older) = made.journal.about(row(made, "QO-02").id, kinds=["ended"])
    tells = [line for line in newest.body["tell"] if "near its limit" in line]

    assert newest.body["ending"] == "fit for use"
    assert len(tells) == 1
    assert all(event.body["ending"] == "fit for use" for event in older)
    assert len(older) >= 5


def test_contamination_and_fitness_are_separate_things(made: Site) -> None:
    """Only the one that was found contaminated is shown so."""
    assert [each.label for each in status(made) if each.contaminated] == ["QO-07"]


def test_why_two_were_not_checked(made: Site) -> None:
    """No reference reading, calibration over: neither is a failure, and neither is fit."""
    said = {
        label: made.journal.about(row(made, label).id, kinds=["ended"], limit=1)[0].body for label in ("QO-09", "QO-12")
    }

    assert {body["ending"] for body in said.values()} == {"not checked"}
    assert "no reference reading" in said["QO-09"]["missing"][0]
    assert "calibration" in said["QO-12"]["missing"][0]


def test_sources_and_calibrations_that_run_out_are_on_home(made: Site) -> None:
    """One leak test is over, one calibration is, and one source is still out from a failed check."""
    shown = home(made)

    assert any(line.startswith("source QS-4: leak test was due on") for line in shown.due)
    assert any(line.startswith("QO-12: calibration ended") for line in shown.due)
    assert [each.label for each in shown.sources_out] == ["QS-5"]
    assert not shown.notices
    assert not shown.checkouts


def test_people_differ_in_what_they_may_do(made: Site) -> None:
    """Six people, one of them with training that is over."""
    everybody = people(made)

    assert len(everybody) == 6
    assert [each.label for each in everybody if each.may_check] == ["QP-5"]
    assert {role for each in everybody for role in each.roles} == {"technician", "trainer", "lead"}


def test_it_says_of_itself_that_nothing_is_real(made: Site) -> None:
    """On every screen, in every record, and to whoever opens the file as something else."""
    assert made.marking == "demo"
    assert "nothing here is real" in home(made).site
    with pytest.raises(Trouble, match="demo records, which are never real ones"):
        open_site(made.folder, made.clock)


# --- how it was made


def test_nothing_in_it_lies_in_the_future(made: Site) -> None:
    """Otherwise a real clock would stand before the newest record, and nothing would be fit for use."""
    assert made.journal.last_time() <= NOW
    assert made.clock.now().utc == NOW


def test_same_moment_same_records(made: Site, tmp_path: Path) -> None:
    """Nothing of chance is in it, so that what somebody reports of a demo can be seen again."""
    with make_demo(tmp_path, ManualClock(NOW, offset=120, session="another")) as site:
        assert site.journal.head() == made.journal.head()
        assert site.journal.head()[0] == STATION


def test_a_second_demo_does_not_overwrite_the_first(made: Site) -> None:
    """A kept demo may hold what somebody tried for an hour."""
    before = made.journal.count()

    with pytest.raises(Trouble):
        make_demo(made.folder, made.clock)

    assert made.journal.count() == before


# --- how it goes on


def test_a_checkout_can_be_made_on_it(another: Site) -> None:
    """The first thing anybody does with the demo."""
    desk = Desk(another)
    technician = who(another, "AQ").id

    view = desk.start(find(another, "QO-10").id, technician)
    assert isinstance(view.ask, Scan)
    view = desk.answer(view.checkout, view.ask.key, Typed("qo-10"), took=2.0)

    assert view.ask is not None
    assert view.ask.key == "case"
    assert row(another, "QO-10").checkout == view.checkout


def test_one_whose_training_is_over_may_not_check(another: Site) -> None:
    """Training is judged at the moment of opening."""
    with pytest.raises(Trouble, match="training ended"):
        Desk(another).start(find(another, "QO-10").id, who(another, "QP-5").id)


def test_locked_out_may_not_be_opened(another: Site) -> None:
    """A lockout stands against everybody until it is cleared."""
    with pytest.raises(Trouble, match="locked out"):
        Desk(another).start(find(another, "QO-05").id, who(another, "QP-2").id)


# --- hand-outs


def test_only_what_is_fit_for_use_goes_out(another: Site) -> None:
    """Whatever the tables of home show: the instrument is folded afresh when it is handed out."""
    to = who(another, "QP-2").id
    for label in ("QO-03", "QO-05", "QO-09", "QO-10", "QO-12"):
        with pytest.raises(Trouble, match="not fit for use"):
            handouts.hand_out(another, find(another, label).id, to=to, job="survey", place="press room")

    handouts.hand_out(another, find(another, "QO-01").id, to=to, job="survey", place="press room")

    assert row(another, "QO-01").whereabouts == "handed out"
    assert row(another, "QO-01").holder == "Ansa Quellby"


def test_readiness_that_has_run_out_is_not_handed_out(another: Site) -> None:
    """A pass does not last because nobody looked at the clock."""
    instrument = find(another, "QO-01").id
    until = fitness(another.journal.instrument_now(instrument), another.clock.now().utc).until
    assert until is not None
    assert isinstance(another.clock, ManualClock)
    another.clock.set_wall(until)

    with pytest.raises(Trouble, match="not fit for use"):
        handouts.hand_out(another, instrument, to=who(another, "QP-2").id, job="survey", place="press room")


def test_what_is_out_is_not_handed_out_again(another: Site) -> None:
    """Two people cannot hold one instrument."""
    with pytest.raises(Trouble, match="handed out"):
        handouts.hand_out(
            another, find(another, "QO-06").id, to=who(another, "QP-2").id, job="survey", place="press room"
        )


def test_a_thing_is_handed_to_a_person(another: Site) -> None:
    """The record must name somebody who can be asked."""
    with pytest.raises(Trouble, match="nobody on the site's list"):
        handouts.hand_out(
            another, find(another, "QO-01").id, to=find(another, "QS-1").id, job="survey", place="press room"
        )


@pytest.mark.parametrize("words", ["", "  \t ", "x" * 201])
def test_a_hand_out_says_for_what_and_where(another: Site, words: str) -> None:
    """When a use is in doubt later, job and place are what must be surveyed again."""
    to, instrument = who(another, "QP-2").id, find(another, "QO-01").id
    with pytest.raises(Trouble, match="what it is for"):
        handouts.hand_out(another, instrument, to=to, job=words, place="press room")
    with pytest.raises(Trouble, match="where it goes"):
        handouts.hand_out(another, instrument, to=to, job="survey", place=words)


def test_taken_back_it_is_here_and_may_be_handed_out_again(another: Site) -> None:
    """Coming back alone does not end readiness; what happened outside is said apart."""
    instrument = find(another, "QO-06").id
    by = who(another, "QP-6").id

    handouts.take_back(another, instrument, by=by, condition="as it went out")
    assert (row(another, "QO-06").whereabouts, row(another, "QO-06").fitness) == ("here", "ready")
    with pytest.raises(Trouble, match="is not handed out"):
        handouts.take_back(another, instrument, by=by, condition="as it went out")

    end_readiness(another, instrument, by, "dropped")
    with pytest.raises(Trouble, match="not fit for use"):
        handouts.hand_out(another, instrument, to=by, job="survey", place="press room")
