"""Sheets and listings of what was recorded: days, checkouts, histories, drift, tags, the inspection binder."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from desk_walk import START, id_of, sensible, small_site, step_on, walk
from hypothesis import given
from hypothesis import strategies as st

from procedures.asks import Ask, ReadingAsk
from procedures.clock import ManualClock
from procedures.findings import finding_from_json
from procedures.sheets import Grid, Lines, Listing, Pairs, Plot, Query, Section, Sheet
from procedures.site import clearing, doubtful, handouts, inventory, records
from procedures.site.checkouts import Desk
from procedures.site.demo import make_demo
from procedures.site.forms import task
from procedures.site.found_words import number_words
from procedures.site.opening import Site
from procedures.site.site_days import SiteDays, range_meant
from procedures.site.views import CheckoutView
from procedures.trouble import Trouble

ZONES = ("Etc/UTC", "Europe/Vienna", "America/St_Johns", "Australia/Lord_Howe", "Pacific/Apia", "Asia/Kathmandu")


@dataclass
class Room:
    """A site with one instrument, and somebody who checks it."""

    site: Site
    clock: ManualClock

    @property
    def instrument(self) -> str:
        return id_of(self.site, "C-1")

    def who(self, label: str = "P-2") -> str:
        return id_of(self.site, label)

    def check(self, reading: str = "1.62") -> CheckoutView:
        def answer(ask: Ask, view: CheckoutView) -> str:
            exposed = isinstance(ask, ReadingAsk) and ask.key.startswith("reading-")
            return reading if exposed else sensible(ask, view)

        desk = Desk(self.site)
        return walk(desk, desk.start(self.instrument, self.who()), self.clock, answer)

    def use(self) -> str:
        out = handouts.hand_out(
            self.site, self.instrument, to=self.who(), job="survey", place="hall", person=self.who("P-1")
        )
        self.clock.advance(1200)
        handouts.take_back(self.site, self.instrument, by=None, condition="good", person=self.who("P-1"))
        self.clock.advance(60)
        return out


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    clock = ManualClock(START)
    with small_site(tmp_path, clock) as site:
        clock.advance(60)
        yield Room(site, clock)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    with make_demo(
        tmp_path_factory.mktemp("demo"), ManualClock(dt.datetime(2026, 11, 25, 7, 18, tzinfo=dt.UTC))
    ) as site:
        yield site


def said(sections: tuple[Section, ...]) -> str:
    """Everything that stands in these sections."""
    words: list[str] = []
    for section in sections:
        match section:
            case Lines():
                words += [section.title, *section.lines]
            case Pairs():
                words += [section.title, *(part for row in section.rows for part in row)]
            case Grid():
                words += [section.title, *(cell for row in section.rows for cell in row.cells)]
            case Plot():
                words += [section.title, *section.notes]
    return "\n".join(words)


def keys(sheet: Sheet) -> list[str]:
    return [row.key for section in sheet.sections if isinstance(section, Grid) for row in section.rows]


# --- days of the site ----------------------------------------------------------------------------------------------


@given(
    st.sampled_from(ZONES),
    st.times(),
    st.datetimes(dt.datetime(2009, 1, 1), dt.datetime(2030, 1, 1), timezones=st.just(dt.UTC)),
)
def test_a_moment_belongs_to_exactly_one_day(zone: str, starts: dt.time, moment: dt.datetime) -> None:
    """Whatever the zone and the start of the day, clock changes among them: nothing is on two logs, or on none."""
    days = SiteDays(ZoneInfo(zone), starts)
    day = days.day_of(moment)
    near = [day + dt.timedelta(days=n) for n in range(-3, 4)]
    assert [each for each in near if days.begin(each) <= moment < days.bounds(each)[1]] == [day]
    assert all(days.bounds(one)[1] == days.begin(other) for one, other in pairwise(near))


@pytest.mark.parametrize(
    ("day", "hours"), [((2026, 3, 28), 23), ((2026, 10, 24), 25), ((2026, 3, 30), 24), ((2026, 10, 26), 24)]
)
def test_a_day_has_23_or_25_hours_where_the_clocks_are_changed(day: tuple[int, int, int], hours: int) -> None:
    """A day from six to six holds the night in which they are changed.

    The last Sundays of March and October at 01:00 UTC: Directive 2000/84/EC (from memory).
    """
    assert SiteDays(ZoneInfo("Europe/Vienna"), dt.time(6)).hours(dt.date(*day)) == hours


def test_a_night_shift_belongs_to_the_day_on_which_it_began() -> None:
    """At two in the morning the shift that began last evening still goes on."""
    days = SiteDays(ZoneInfo("Europe/Vienna"), dt.time(6))
    evening = dt.datetime(2026, 11, 25, 22, 30, tzinfo=days.zone)
    assert days.day_of(evening) == days.day_of(evening + dt.timedelta(hours=7)) == dt.date(2026, 11, 25)
    assert days.day_of(evening + dt.timedelta(hours=8)) == dt.date(2026, 11, 26)


def test_everything_that_happened_is_on_the_log_of_one_day(tmp_path: Path) -> None:
    """Over the night in which the clocks go back, every record of the site stands on exactly one day's log."""
    clock = ManualClock(dt.datetime(2026, 10, 23, 4, 0, tzinfo=dt.UTC))
    with small_site(tmp_path, clock, zone="Europe/Vienna") as site:
        room = Room(site, clock)
        for hours in (1, 7, 10, 13, 3, 1, 1, 5, 9, 4):
            clock.advance(hours * 3600)
            room.check()
            clearing.end_readiness(site, room.instrument, room.who(), "wet", "rain")
            room.check()
            room.use()
        days = SiteDays.of(site)
        first, last = dt.date(2026, 10, 21), days.day_of(clock.now().utc)
        logged: Counter[str] = Counter()
        sheet = records.sheet(site, "day", last.isoformat())
        while sheet.about >= first.isoformat():
            logged.update(keys(sheet))
            before = sheet.deeds[0]
            sheet = records.sheet(site, before.name, before.about)
        checkouts, total = site.journal.checkouts_found(limit=-1)
        kinds = [kind for _title, some in records_parts() for kind in some]
        events, _ = site.journal.happened(kinds, limit=-1)
        assert total == 20
        assert logged == Counter([each.checkout for each in checkouts] + [each.hash for each in events])
        assert "25 hours" in said(records.sheet(site, "day", "2026-10-24").sections)


def records_parts() -> tuple[tuple[str, tuple[str, ...]], ...]:
    from procedures.site.records.day import PARTS

    return PARTS


def test_no_kind_of_record_is_forgotten_by_the_log() -> None:
    """Whatever the catalogue comes to hold is on the log of its day: in a part of its own, or with its checkout."""
    from procedures.journal.events import CATALOGUE, CHECKOUT_KINDS, OFTEN, PRACTICE

    parts = [kind for _title, kinds in records_parts() for kind in kinds]
    assert len(parts) == len(set(parts))
    assert set(parts) == CATALOGUE.keys() - CHECKOUT_KINDS - OFTEN - PRACTICE - {"opened"}


def test_the_log_of_today_opens_without_a_day_and_leads_back_and_on(room: Room) -> None:
    """A day is opened by its date; the day after today has not come."""
    sheet = records.sheet(room.site, "day")
    back, on, *_ = sheet.deeds
    assert sheet.about == "2026-06-01"
    assert (back.about, on.about) == ("2026-05-31", "2026-06-02")
    assert on.may_not
    assert not records.sheet(room.site, "day", back.about).deeds[1].may_not
    with pytest.raises(Trouble, match="no day"):
        records.sheet(room.site, "day", "yesterday")


# --- checkouts -----------------------------------------------------------------------------------------------------


def test_a_checkout_stands_in_full_with_every_number_and_every_answer(room: Room) -> None:
    """What an inspector reads years later: who, by which text, each observation, each figure it was judged by."""
    view = room.check("1.13")
    sheet = records.sheet(room.site, "checkout", view.checkout)
    words = said(sheet.sections)
    events = room.site.journal.checkout_events(view.checkout)
    for event in events:
        if event.kind == "found":
            finding = finding_from_json(event.body["finding"])
            numbers = (*finding.numbers, *(finding.as_found.numbers if finding.as_found else ()))
            assert all(number_words(each) in words for each in numbers)
    log = next(each for each in sheet.sections if isinstance(each, Grid) and each.title.startswith("What was done"))
    assert [row.key for row in log.rows] == [event.hash for event in events]
    adoption = room.site.journal.profile_now("mini").in_force
    assert adoption is not None
    for part in (adoption.sha256, "Tech Person", "LOCKED OUT", "response-out", "As found", "wait kept: 8.0 s", "S-1"):
        assert part in words


def test_a_hasty_answer_a_broken_wait_and_a_pause_are_seen_on_the_sheet(room: Room) -> None:
    """What speaks against a record stands in it as plainly as what speaks for it."""
    from procedures.asks import Choice, Hold
    from procedures.site.views import Typed

    desk = Desk(room.site)
    view = desk.start(room.instrument, room.who())
    while not isinstance(view.ask, Choice):
        view = step_on(desk, view, room.clock)
    view = desk.answer(view.checkout, view.ask.key, Typed("whole"), took=0.1)
    while not isinstance(view.ask, Hold):
        view = step_on(desk, view, room.clock)
    desk.hold(view.checkout)
    desk.let_go(view.checkout)
    desk.pause(view.checkout, "called away")
    room.clock.advance(120)
    desk.resume(view.checkout, room.who("P-1"), switched_off=True)
    desk.note(view.checkout, "It rained.")
    words = said(records.sheet(room.site, "checkout", view.checkout).sections)
    for part in (
        "HASTY",
        "BROKEN",
        "called away",
        "another person",
        "switched off",
        "It rained.",
        "NOT ENDED",
        "2 min",
    ):
        assert part in words


def test_a_withdrawn_checkout_is_struck_and_kept(room: Room) -> None:
    """It was made on the wrong item: everything of it stays, and the first line says that it speaks for nothing."""
    view = room.check()
    Desk(room.site).withdraw(view.checkout, "wrong one")
    sheet = records.sheet(room.site, "checkout", view.checkout)
    first = sheet.sections[0]
    assert isinstance(first, Lines)
    assert "WITHDRAWN, STRUCK" in first.lines[0]
    assert "wrong one" in said(sheet.sections)
    listed = records.listing(room.site, "checkouts")
    assert "WITHDRAWN" in listed.rows[0].cells[4]


def test_the_uses_that_a_failure_puts_in_doubt_stand_on_its_checkout(room: Room) -> None:
    """From the failure one goes straight to who used it meanwhile."""
    room.check()
    use = room.use()
    failed = room.check("1.13")
    sheet = records.sheet(room.site, "checkout", failed.checkout)
    assert use in keys(sheet)


def test_there_is_no_sheet_of_a_checkout_that_is_none(room: Room) -> None:
    """An id of nothing, or of another sort, is named and not taken for something."""
    for about in ("", "x", room.instrument, "0" * 64):
        with pytest.raises(Trouble, match="no such checkout"):
            records.sheet(room.site, "checkout", about)


def pages(site: Site, query: Query, about: str = "") -> tuple[list[str], Listing]:
    found: list[str] = []
    while True:
        page = records.listing(site, "checkouts", about, query=replace(query, offset=len(found)))
        found += [row.key for row in page.rows]
        if not page.rows:
            return found, page


def test_checkouts_are_paged_and_narrowed(demo: Site) -> None:
    """Every page of a search together are all that fit, and each filter leaves what it names."""
    everything, page = pages(demo, Query(limit=7))
    assert len(everything) == len(set(everything)) == page.total == demo.journal.checkouts_found(limit=0)[1]
    endings = [pages(demo, Query(filters={"ending": each}))[0] for each in ("fit for use", "locked out", "not checked")]
    assert sorted(key for some in endings for key in some) == sorted(everything)
    instrument = id_of(demo, "QO-02")
    assert pages(demo, Query(filters={"instrument": "qo-02"}))[0] == pages(demo, Query(), instrument)[0]
    day = SiteDays.of(demo).day_of(demo.clock.now().utc).isoformat()
    assert pages(demo, Query(filters={"from": day, "to": day}))[0] == pages(demo, Query(), f"{day},{day}")[0]
    assert pages(demo, Query(filters={"code": "response-out"}))[0]
    assert pages(demo, Query(filters={"person": "QP-2"}))[0]


@pytest.mark.parametrize("filters", [{"from": "x"}, {"ending": "good"}, {"person": "nobody"}, {"instrument": "none"}])
def test_a_filter_that_means_nothing_is_named(demo: Site, filters: dict[str, str]) -> None:
    """An empty list would say that there was no checkout."""
    with pytest.raises(Trouble):
        records.listing(demo, "checkouts", query=Query(filters=filters))


# --- histories -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "label"), [("history", "QO-02"), ("source-history", "QS-1")])
def test_a_history_leads_through_all_of_its_pages(demo: Site, name: str, label: str) -> None:
    """Newest first, each record once, and the last page has nothing older."""
    subject = id_of(demo, label)
    sheet = records.sheet(demo, name, subject)
    told = keys(sheet)
    while sheet.deeds[0].say == "Older records":
        sheet = records.sheet(demo, name, sheet.deeds[0].about)
        told += keys(sheet)
    events = demo.journal.about(subject, limit=-1)
    passed = {each.hash for each in events if each.kind == "found" and each.body["finding"]["outcome"] != "fail"}
    assert told == [each.hash for each in events if each.hash not in passed]


def test_a_long_history_is_read_a_page_at_a_time(room: Room) -> None:
    """Fifty records stand on a page, whatever number there are."""
    for _ in range(40):
        clearing.end_readiness(room.site, room.instrument, room.who(), "wet")
        inventory.describe(room.site, room.instrument, {"serial": "102"}, person=room.who("P-1"))
    sheet = records.sheet(room.site, "history", room.instrument)
    older = records.sheet(room.site, "history", sheet.deeds[0].about)
    assert len(keys(sheet)) == 50
    assert not set(keys(sheet)) & set(keys(older))
    assert older.deeds[0].say == "The newest records"


# --- drift ---------------------------------------------------------------------------------------------------------


def test_drift_is_plotted_with_what_is_allowed_and_says_that_there_are_too_few_readings(demo: Site) -> None:
    """Two limits of different meaning are never drawn as one, and no control limits come of a handful of readings."""
    sheet = records.sheet(demo, "drift", id_of(demo, "QO-02"))
    plots = [each for each in sheet.sections if isinstance(each, Plot)]
    response = plots[0]
    assert {line.kind for line in response.lines} == {"allowed"}
    assert [round(line.value, 9) for line in response.lines] == [0.8, 1.2]
    assert any("of the 20 readings" in note for note in response.notes)
    assert len(response.dots) == demo.journal.checkouts_found(instrument=id_of(demo, "QO-02"), limit=0)[1]
    assert "meets 0.8" in said(sheet.sections)
    assert records.sheet(demo, sheet.name, sheet.about) == sheet


def test_an_instrument_that_was_never_checked_has_no_drift_and_says_so(room: Room) -> None:
    """An empty plot would look like a steady instrument."""
    assert "not checked yet" in said(records.sheet(room.site, "drift", room.instrument).sections)


def test_twenty_readings_bring_control_limits_beside_the_allowed_ones(room: Room) -> None:
    """From then on both stand in the plot, by their own kind; what lies beyond the usual is marked."""
    for number in range(21):
        room.check(f"{1.60 + 0.01 * (number % 5):.2f}" if number < 20 else "1.85")
        room.clock.advance(600)
    sheet = records.sheet(room.site, "drift", room.instrument)
    plot = next(each for each in sheet.sections if isinstance(each, Plot))
    assert Counter(line.kind for line in plot.lines) == {"allowed": 2, "control": 2, "centre": 1}
    assert plot.dots[-1].sign == "o"
    assert "beyond" in plot.dots[-1].say


# --- the tag -------------------------------------------------------------------------------------------------------


def test_a_tag_says_out_of_service_why_who_when_and_what_has_to_come_first(room: Room) -> None:
    """Whoever finds the instrument on the shelf needs nothing else to leave it there."""
    with pytest.raises(Trouble, match="not locked out"):
        records.sheet(room.site, "tag", room.instrument)
    clearing.lock_by_hand(room.site, room.instrument, room.who(), "It fell off the [barrow].", tag="T-77")
    sheet = records.sheet(room.site, "tag", room.instrument)
    words = said(sheet.sections)
    assert sheet.title == "OUT OF SERVICE"
    for part in ("C-1", "It fell off the [barrow].", "Tech Person", "T-77", "DO NOT USE", "DO NOT TAKE THIS TAG OFF"):
        assert part in words
    assert "complete checkout has to pass" in words


# --- the binder ----------------------------------------------------------------------------------------------------


def part(sheet: Sheet, number: int) -> tuple[Section, ...]:
    """A part of the binder, by its number from 1."""
    ends = (*sheet.breaks[1:], len(sheet.sections))
    return sheet.sections[sheet.breaks[number - 1] : ends[number - 1]]


def test_the_binder_begins_with_uses_in_doubt_and_they_are_those_of_the_journal(room: Room) -> None:
    """The first question of an inspector; reviewed or not, none is left out, and none is made up."""
    room.check()
    first = room.use()
    room.use()
    failed = room.check("1.13")
    assert failed.ending is not None
    cause = room.site.journal.uses_in_doubt(room.instrument)[0].cause.hash
    doubtful.review(room.site, room.instrument, room.who("P-1"), causes=[cause], use=first, note="Surveyed again.")
    sheet = records.sheet(room.site, "binder", "2026-05-01,2026-06-30")
    found, total = room.site.journal.doubts_all(limit=-1)
    grids = [each for each in part(sheet, 1) if isinstance(each, Grid)]
    assert [row.key for row in grids[0].rows] == [f"{each.cause},{each.kind},{each.use}" for each in found]
    assert total == 2
    assert "Surveyed again." in said(part(sheet, 1))
    assert "NOT YET" in said(part(sheet, 1))
    later = records.sheet(room.site, "binder", "2027-01-01,2027-01-31")
    assert "NOT YET" in said(part(later, 1))
    assert "Surveyed again." not in said(part(later, 1))


def test_each_part_of_the_binder_begins_a_page_and_all_checkouts_are_in_it(demo: Site) -> None:
    """On paper it is taken apart, and a count says that nothing was left out."""
    sheet = records.sheet(demo, "binder", "2026-01-01,2026-12-31")
    titles = [section.title for place, section in enumerate(sheet.sections) if place in sheet.breaks]
    total = demo.journal.checkouts_found(limit=0)[1]
    assert [title.partition(" ")[0] for title in titles] == [f"{number}." for number in range(1, 11)]
    assert len([row for each in part(sheet, 3) if isinstance(each, Grid) for row in each.rows]) == total
    assert str(total) in said(part(sheet, 3))
    assert "3 years" in said(part(sheet, 10))
    assert "Nothing is ever deleted" in said(part(sheet, 10))
    everybody = demo.journal.people_found(limit=0, retired=True)[1]
    assert len([row for each in part(sheet, 8) if isinstance(each, Grid) for row in each.rows]) == everybody


def test_a_lockout_that_stood_in_the_range_is_in_it_with_its_time_out_of_service(room: Room) -> None:
    """Locked before the range and back after it, it was out of service through all of it."""
    lockout = clearing.lock_by_hand(room.site, room.instrument, room.who(), "It fell.")
    room.clock.advance(50 * 24 * 3600)
    clearing.clear(
        room.site, room.instrument, room.who("P-1"), lockouts=[lockout], cause="A screw.", action="Tightened."
    )
    standing = said(part(records.sheet(room.site, "binder", "2026-06-10,2026-06-20"), 4))
    assert "STILL OUT OF SERVICE" in standing
    room.check()
    over = said(part(records.sheet(room.site, "binder", "2026-06-10,2026-06-20"), 4))
    assert "50 d 0 h" in over
    assert "STILL" not in over
    assert "none" not in over
    assert "It fell." not in said(part(records.sheet(room.site, "binder", "2026-08-01,2026-08-20"), 4))


def test_days_are_asked_for_and_nothing_is_recorded_by_that(room: Room) -> None:
    """The forms of a day and of a range open their sheets; a range the wrong way round is named."""
    before = room.site.journal.count()
    done = task("day-date").keep(room.site, "", "", {"day": "2026-06-01"})
    assert done.opens is not None
    assert (done.opens.name, done.opens.about) == ("day", "2026-06-01")
    binder = task("binder-dates")
    done = binder.keep(room.site, "", "", {"from": "2026-01-01", "to": "2026-03-31"})
    assert done.opens is not None
    assert done.opens.about == "2026-01-01,2026-03-31"
    wrong = {"from": "2026-04-01", "to": "2026-03-31"}
    assert "to" in binder.look(room.site, "", "", wrong).troubles
    with pytest.raises(Trouble, match="comes before"):
        binder.keep(room.site, "", "", wrong)
    assert binder.form(room.site, "", "", {}, 1).fields
    assert room.site.journal.count() == before


@given(st.text(), st.text())
def test_whatever_is_asked_for_as_a_range_gets_an_answer(first: str, last: str) -> None:
    """A range is two days in order, or words."""
    with suppress(Trouble):
        begin, end = range_meant(f"{first},{last}")
        assert begin <= end


# --- text is data --------------------------------------------------------------------------------------------------


def test_labels_and_words_of_people_come_out_as_they_went_in(room: Room) -> None:
    """Nothing on a sheet is markup: what looks like it is somebody's label."""
    strange = "[b]<script>&amp;"
    room.check()
    instrument = room.instrument
    inventory.describe(room.site, instrument, {"label": strange}, person=room.who("P-1"))
    clearing.end_readiness(room.site, instrument, room.who(), "other", strange)
    clearing.lock_by_hand(room.site, instrument, room.who(), strange)
    today = SiteDays.of(room.site).day_of(room.clock.now().utc).isoformat()
    for name, about in (
        ("day", today),
        ("history", instrument),
        ("tag", instrument),
        ("binder", f"{today},{today}"),
    ):
        assert strange in said(records.sheet(room.site, name, about).sections)
