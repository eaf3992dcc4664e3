"""Sheets and listings of the site, instruments, jigs, people, settings: what they show, count, and dim, and why."""

from __future__ import annotations

import datetime as dt
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_walk import MINI, START, id_of, small_site, step_on, walk

from procedures.clock import ManualClock
from procedures.sheets import Deed, Grid, Lines, Listing, Pairs, Query, Row, Sheet
from procedures.site import clearing, forms, handouts, inventory, people, records, secrets
from procedures.site.checkouts import Desk
from procedures.site.forms import FORMS
from procedures.site.opening import Site
from procedures.site.records import LISTINGS, SHEETS
from procedures.trouble import Trouble


class Shelf:
    """A small site, looked at."""

    def __init__(self, folder: Path) -> None:
        self.clock = ManualClock(START)
        self.site: Site = small_site(folder, self.clock)
        self.clock.advance(60)
        self.lead, self.tech, self.instrument = (id_of(self.site, label) for label in ("P-1", "P-2", "C-1"))

    def sheet(self, name: str, about: str = "", by: str = "") -> Sheet:
        return records.sheet(self.site, name, about, by)

    def listing(self, name: str, search: str = "", limit: int = 50, offset: int = 0, **filters: str) -> Listing:
        return records.listing(self.site, name, "", self.lead, Query(search, filters, limit, offset))

    def deeds(self, by: str = "") -> dict[str, Deed]:
        return {deed.name: deed for deed in self.sheet("instrument", self.instrument, by).deeds}

    def check(self) -> None:
        desk = Desk(self.site)
        walk(desk, desk.start(self.instrument, self.tech), self.clock)

    def first(self) -> Lines:
        section = self.sheet("instrument", self.instrument).sections[0]
        assert isinstance(section, Lines)
        return section

    def hand_out(self) -> None:
        handouts.hand_out(self.site, self.instrument, to=self.tech, job="survey", place="yard", person=self.lead)


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Shelf]:
    made = Shelf(tmp_path)
    yield made
    made.site.close()


def words(sheet: Sheet) -> str:
    said = [sheet.title, sheet.line]
    for section in sheet.sections:
        if isinstance(section, Lines):
            said += section.lines
        elif isinstance(section, Pairs):
            said += [f"{name}: {value}" for name, value in section.rows]
        elif isinstance(section, Grid):
            said += [" | ".join(row.cells) for row in section.rows]
    return "\n".join(said)


def rows(sheet: Sheet) -> dict[str, Row]:
    return {row.cells[0]: row for section in sheet.sections if isinstance(section, Grid) for row in section.rows}


# --- the index -----------------------------------------------------------------------------------------------------


def test_everything_there_is_can_be_come_to_from_the_index(shelf: Shelf) -> None:
    """Each row opens a form, sheet or listing that there is."""
    known = {"form": FORMS, "sheet": SHEETS, "listing": LISTINGS}
    opened = [row.opens for row in rows(shelf.sheet("site", by=shelf.lead)).values()]
    assert all(deed is not None and deed.name in known[deed.goes] for deed in opened)
    names = {deed.name for deed in opened if deed is not None}
    assert names >= {
        "instruments", "sources", "jigs", "people", "lockouts", "uses", "overdue", "doubts", "checkouts", "day",
        "binder-dates", "papers", "exchange", "settings", "instrument-add", "source-add", "jig-add", "person-add",
    }  # fmt: skip


def test_the_index_counts_what_waits(shelf: Shelf) -> None:
    """Out, overdue, locked out, in doubt; each says so in words."""
    quiet = rows(shelf.sheet("site"))
    assert [quiet[name].cells[1] for name in ("Instruments", "Check sources", "Jigs", "People")] == ["1", "1", "1", "2"]
    assert [quiet[name].cells[1] for name in ("Lockouts", "Handed out", "Overdue", "Uses in doubt")] == ["0"] * 4
    assert all(row.tone == "" for row in quiet.values())
    shelf.check()
    shelf.hand_out()
    shelf.clock.advance(14 * 3600)
    handouts.take_back(shelf.site, shelf.instrument, by=shelf.tech, condition="as it went", person=shelf.lead)
    desk = Desk(shelf.site)
    view = desk.start(shelf.instrument, shelf.tech)
    for _ in range(2):
        view = step_on(desk, view, shelf.clock)
    desk.fail_by_judgement(view.checkout, "It smells hot.")
    loud = rows(shelf.sheet("site"))
    assert loud["Lockouts"].cells[1] == "1"
    assert loud["Uses in doubt"].cells[1:] == ("1", "1 use in doubt not reviewed")
    assert (loud["Lockouts"].tone, loud["Uses in doubt"].tone) == ("warn", "warn")


def test_the_index_says_what_the_exchange_left_open(shelf: Shelf) -> None:
    """Two of one label, and revisions adopted apart: nothing counts until somebody decides."""
    site = shelf.site
    site.record("registered", {"what": "jig", "label": "C-1"})
    adoption = {"profile": "mini", "revision": 2, "title": "T", "sha256": "ab" * 32, "text": "x", "replaces": []}
    site.record("profile-adopted", adoption, about=("profile:mini",))
    found = rows(shelf.sheet("site"))
    assert found["Labels on two things"].cells[1] == "1"
    assert found["Profile mini"].cells[1] == "2"
    opens = found["Profile mini"].opens
    assert opens is not None
    assert (opens.name, opens.about) == ("adoption-choice", "mini")


def test_what_a_technician_may_not_is_dimmed_with_the_reason(shelf: Shelf) -> None:
    """In words in the row as well; nobody yet is dimmed nothing."""
    dimmed = rows(shelf.sheet("site", by=shelf.tech))["A new instrument"]
    assert dimmed.opens is not None
    assert dimmed.opens.may_not == dimmed.cells[2] == "only a site lead may change the inventory"
    for by in ("", shelf.lead):
        row = rows(shelf.sheet("site", by=by))["A new instrument"]
        assert row.opens is not None
        assert row.opens.may_not == ""


def test_the_index_reads_no_more_of_a_big_site(shelf: Shelf) -> None:
    """As many rows of the record are decoded after a hundred checkouts as before: counts come from tables."""

    def steps() -> int:
        counted = 0

        def count(_statement: str) -> None:
            nonlocal counted
            counted += 1

        db: sqlite3.Connection = shelf.site.journal._db
        db.set_trace_callback(count)
        shelf.sheet("site", by=shelf.lead)
        db.set_trace_callback(None)
        return counted

    steps()
    before = steps()
    for number in range(40):
        inventory.register_instrument(shelf.site, label=f"D-{number}", serial=f"{number}", type="V", profile="mini")
    shelf.check()
    assert steps() <= before + 2


# --- an instrument -------------------------------------------------------------------------------------------------


def test_how_it_stands_is_said_first_in_words(shelf: Shelf) -> None:
    """Needs check, ready until, locked out, contaminated, off the list: never by colour alone."""
    assert shelf.first().lines[0] == "NEEDS CHECK."
    shelf.check()
    assert shelf.first().lines[0] == "READY until 2026-06-01 14:00."
    assert shelf.first().tone == "good"
    inventory.contamination(shelf.site, shelf.instrument, found=True, say="")
    assert shelf.first().lines[0].startswith("CONTAMINATED")
    assert shelf.first().tone == "bad"
    inventory.contamination(shelf.site, shelf.instrument, found=False, say="")
    clearing.lock_by_hand(shelf.site, shelf.instrument, shelf.tech, "It rattles.")
    assert shelf.first().lines[:2] == ("LOCKED OUT.", "It rattles.")
    inventory.retire(shelf.site, shelf.instrument, "old")
    assert shelf.first().lines == ("OFF THE LIST. It is not to be used.",)


def test_the_sheet_says_the_set_and_what_stands_in_the_way(shelf: Shelf) -> None:
    """Type, serial number, profile in force; who has it; and what a check begun now would run into."""
    inventory.describe(shelf.site, shelf.instrument, {"detector": "D-7"})
    said = words(shelf.sheet("instrument", shelf.instrument))
    assert "detector: D-7" in said
    assert "checked by: A small invented procedure, revision 1" in said
    assert "measures: photon exposure rate" in said
    assert "No calibration is recorded." in said


def test_who_has_it_and_since_when(shelf: Shelf) -> None:
    """The times are the site's."""
    shelf.site.record("settings-changed", {"set": {"zone": "Europe/Vienna"}}, about=("site",))
    shelf.check()
    shelf.hand_out()
    said = words(shelf.sheet("instrument", shelf.instrument))
    assert "with: Tech Person" in said
    local = shelf.clock.now().utc.astimezone(dt.timezone(dt.timedelta(hours=2)))
    assert f"since: {local:%Y-%m-%d %H:%M}" in said


def test_every_deed_opens_something_and_all_are_there(shelf: Shelf) -> None:
    """Whatever can be done with an instrument is come to from its sheet."""
    known = {"form": FORMS, "sheet": SHEETS, "listing": LISTINGS}
    found = shelf.sheet("instrument", shelf.instrument, shelf.lead).deeds
    for deed in found:
        assert deed.goes == "checkout" or deed.name in known[deed.goes], deed
        assert deed.about.split(",")[0] == shelf.instrument
    assert {deed.name for deed in found} >= {
        "checkout", "hand-out", "take-back", "emergency", "calibration", "repair", "reference", "bind", "place",
        "contamination", "lock-out", "clear", "drift", "history", "tag", "paper-form", "paper-enter", "doubt",
        "paper-expected", "papers", "checkouts", "instrument-edit", "instrument-retire", "label-new",
    }  # fmt: skip


def test_what_cannot_be_done_now_says_why(shelf: Shelf) -> None:
    """Not checked, then ready, out, back and locked out: each deed is dimmed when its use case would refuse it."""
    deeds = shelf.deeds(shelf.lead)
    assert "not fit for use" in deeds["hand-out"].may_not
    assert "not handed out" in deeds["take-back"].may_not
    assert deeds["clear"].may_not == deeds["tag"].may_not == "No lockout of it stands."
    assert deeds["checkout"].may_not == deeds["emergency"].may_not == ""
    shelf.check()
    deeds = shelf.deeds(shelf.lead)
    assert deeds["hand-out"].may_not == ""
    assert "fit for use" in deeds["emergency"].may_not
    shelf.hand_out()
    deeds = shelf.deeds(shelf.lead)
    assert deeds["take-back"].may_not == ""
    assert "handed out" in deeds["hand-out"].may_not
    assert "handed out" in deeds["instrument-retire"].may_not
    handouts.take_back(shelf.site, shelf.instrument, by=shelf.tech, condition="fell", person=shelf.lead)
    lockout = clearing.lock_by_hand(shelf.site, shelf.instrument, shelf.tech, "It fell.")
    found = shelf.sheet("instrument", shelf.instrument, shelf.lead).deeds
    strike = [deed for deed in found if deed.name == "strike"]
    assert [deed.about for deed in strike] == [f"{shelf.instrument},{lockout}"]
    deeds = {deed.name: deed for deed in found}
    assert (deeds["clear"].may_not, deeds["tag"].may_not) == ("", "")
    assert "locked out" in deeds["checkout"].may_not
    assert "locked out" in deeds["reference"].may_not


def test_an_open_checkout_is_gone_on_with(shelf: Shelf) -> None:
    """Two at once would be none."""
    Desk(shelf.site).start(shelf.instrument, shelf.tech)
    deed = shelf.deeds(shelf.tech)["checkout"]
    assert (deed.say, deed.may_not) == ("Go on with its checkout", "")
    assert "open checkout: by Tech Person" in words(shelf.sheet("instrument", shelf.instrument))


def test_a_technician_is_dimmed_what_takes_a_lead(shelf: Shelf) -> None:
    """With the same words as the use case would refuse it."""
    deeds = shelf.deeds(shelf.tech)
    for name, action in (("calibration", "calibrate"), ("reference", "reference"), ("bind", "register")):
        assert deeds[name].may_not == people.may(shelf.site, shelf.tech, action)  # type: ignore[arg-type]
    assert deeds["place"].may_not == deeds["contamination"].may_not == deeds["lock-out"].may_not == ""


def test_what_is_off_the_list_is_only_looked_at(shelf: Shelf) -> None:
    """Its history, its drift; where it went may still be said."""
    inventory.retire(shelf.site, shelf.instrument, "old")
    deeds = shelf.deeds(shelf.lead)
    for name in ("checkout", "hand-out", "calibration", "bind", "instrument-edit", "instrument-retire"):
        assert deeds[name].may_not == "It is off the list.", name
    for name in ("history", "drift", "place"):
        assert deeds[name].may_not == ""


@pytest.mark.parametrize(
    "name", ["hand-out", "take-back", "emergency", "calibration", "reference", "bind", "instrument-retire"]
)
@pytest.mark.parametrize("state", ["fresh", "ready", "out", "locked", "contaminated", "away"])
def test_a_deed_is_dimmed_just_when_its_form_would_not_open(shelf: Shelf, name: str, state: str) -> None:
    """The sheet and the form ask the same use case, so they cannot differ."""
    if state in ("ready", "out", "contaminated"):
        shelf.check()
    if state == "out":
        shelf.hand_out()
    if state == "locked":
        clearing.lock_by_hand(shelf.site, shelf.instrument, shelf.tech, "It fell.")
    if state == "contaminated":
        inventory.contamination(shelf.site, shelf.instrument, found=True, say="")
    if state == "away":
        inventory.place(shelf.site, shelf.instrument, "at calibration")
    dimmed = shelf.deeds(shelf.lead)[name].may_not
    try:
        forms.task(name).form(shelf.site, shelf.instrument, shelf.lead, {}, 1)
        refused = ""
    except Trouble as trouble:
        refused = trouble.what
    assert bool(dimmed) == bool(refused), (dimmed, refused)


@pytest.mark.parametrize("name", ["instrument", "jig", "person"])
@pytest.mark.parametrize("about", ["", "nobody", "ab" * 32, "\ud800", "of another sort"])
def test_a_sheet_about_nothing_is_refused_in_words(shelf: Shelf, name: str, about: str) -> None:
    """An id that is old, mistyped, or of something else."""
    meant = id_of(shelf.site, "S-1") if about == "of another sort" else about
    with pytest.raises(Trouble) as refused:
        shelf.sheet(name, meant)
    assert refused.value.do


# --- the list of instruments ---------------------------------------------------------------------------------------


def labels(listing: Listing) -> list[str]:
    return [row.cells[0] for row in listing.rows]


def test_instruments_are_searched_and_paged(shelf: Shelf) -> None:
    """By label, type or serial number, some at a time, with how many there are."""
    for number in range(30):
        inventory.register_instrument(shelf.site, label=f"D-{number:02}", serial=f"7{number}", type="V", profile="mini")
    page = shelf.listing("instruments", limit=10, offset=10)
    assert (labels(page)[0], page.total, page.offset, len(page.rows)) == ("D-09", 31, 10, 10)
    assert labels(shelf.listing("instruments", search="vent")) == ["C-1"]
    assert shelf.listing("instruments", search="no such").rows == ()


def test_instruments_are_narrowed_by_how_and_where_they_are(shelf: Shelf) -> None:
    """Fitness goes with the clock; whatever page of it is shown, the total is of all."""
    for number in range(12):
        inventory.register_instrument(shelf.site, label=f"D-{number:02}", serial=f"7{number}", type="V", profile="mini")
    inventory.place(shelf.site, id_of(shelf.site, "D-03"), "lent", "to the north store")
    clearing.lock_by_hand(shelf.site, id_of(shelf.site, "D-05"), shelf.tech, "It fell.")
    inventory.retire(shelf.site, id_of(shelf.site, "D-07"), "old")
    shelf.check()
    assert labels(shelf.listing("instruments", fitness="ready")) == ["C-1"]
    assert labels(shelf.listing("instruments", fitness="locked out")) == ["D-05"]
    page = shelf.listing("instruments", fitness="needs check", limit=3, offset=3)
    assert (labels(page), page.total) == (["D-03", "D-04", "D-06"], 10)
    assert labels(shelf.listing("instruments", whereabouts="lent")) == ["D-03"]
    assert labels(shelf.listing("instruments", whereabouts="lent", fitness="ready")) == []
    assert labels(shelf.listing("instruments", retired="yes")) == ["D-07"]
    assert labels(shelf.listing("instruments", retired="yes", search="nothing")) == []
    shelf.clock.advance(24 * 3600)
    assert labels(shelf.listing("instruments", fitness="ready")) == []


def test_a_row_says_why_or_until_when_and_where(shelf: Shelf) -> None:
    """In words, beside the tone."""
    shelf.check()
    shelf.hand_out()
    (row,) = shelf.listing("instruments").rows
    assert row.cells[3:6] == ("READY", "until 2026-06-01 14:00", "with Tech Person")
    assert row.opens is not None
    assert (row.opens.name, row.opens.about) == ("instrument", shelf.instrument)


# --- jigs, people, settings ----------------------------------------------------------------------------------------


def test_jigs_are_listed_and_those_off_the_list_on_demand(shelf: Shelf) -> None:
    """What is retired is history, and can still be looked at."""
    inventory.register_jig(shelf.site, label="J-2")
    inventory.retire(shelf.site, id_of(shelf.site, "J-1"), "bent")
    assert labels(shelf.listing("jigs")) == ["J-2"]
    assert labels(shelf.listing("jigs", retired="yes")) == ["J-1", "J-2"]
    sheet = shelf.sheet("jig", id_of(shelf.site, "J-1"), shelf.lead)
    assert sheet.line == "off the list"
    assert all(deed.may_not for deed in sheet.deeds)


def test_a_jig_says_where_it_was(shelf: Shelf) -> None:
    """The last ten places."""
    inventory.place(shelf.site, id_of(shelf.site, "J-1"), "lent", "to the south store")
    assert "lent | to the south store" in words(shelf.sheet("jig", id_of(shelf.site, "J-1")))


def test_people_are_listed_with_what_they_may_not(shelf: Shelf) -> None:
    """Training that is over, and whether a PIN is set on this laptop."""
    inventory.describe(shelf.site, shelf.tech, {"trained_until": dt.date(2026, 5, 31)})
    shelf.site.record("settings-changed", {"set": {"pins": "on"}}, about=("site",))
    secrets.set_pin(shelf.site, shelf.lead, "285914", salt=b"1" * 16, cost=secrets.Cost(n=16))
    found = {row.cells[0]: row for row in shelf.listing("people").rows}
    assert found["P-1"].cells[5:] == ("set", "")
    assert found["P-2"].cells[4:] == ("2026-05-31", "not set", "training ended on 2026-05-31")
    sheet = words(shelf.sheet("person", shelf.tech))
    assert "training is good until: 2026-05-31: OVER" in sheet
    assert "PIN on this laptop: NOT SET" in sheet
    assert "run a checkout: training ended on 2026-05-31" in sheet
    assert "only a site lead may clear a lockout" in sheet


def test_the_last_lead_is_not_offered_to_be_taken_off(shelf: Shelf) -> None:
    """Nor who is off the list already anything."""
    deeds = {deed.name: deed for deed in shelf.sheet("person", shelf.lead, shelf.lead).deeds}
    assert "only site lead" in deeds["person-retire"].may_not
    inventory.retire(shelf.site, shelf.tech, "left")
    gone = shelf.sheet("person", shelf.tech, shelf.lead)
    assert all(deed.may_not == "off the list" for deed in gone.deeds)
    assert "stays in the records" in words(gone)
    assert "P-2" not in labels(shelf.listing("people"))
    assert "P-2" in labels(shelf.listing("people", retired="yes"))


def test_the_settings_say_what_each_is_and_what_it_would_be(shelf: Shelf) -> None:
    """Every one, in words, with those that differ from the program's own."""
    shelf.site.record("settings-changed", {"set": {"calibration_interval_months": "6"}}, about=("site",))
    found = rows(shelf.sheet("settings", by=shelf.tech))
    assert found["calibrate every"].cells[1] == "6 months"
    assert "Unless changed: 12 months." in found["calibrate every"].cells[2]
    assert found["a passed check counts until"].cells[1] == "the end of the shift"
    (deed,) = shelf.sheet("settings", by=shelf.tech).deeds
    assert deed.may_not == "only a site lead may change the site and its people"


def test_what_goes_into_the_field_is_a_warning_and_no_part_of_what_is_good(tmp_path: Path) -> None:
    """A check mark before a warning says that it is well: the two stand apart."""
    said = "Damp air makes it read high."
    profile = MINI.replace("[instrument]", f'[instrument]\nwarnings = ["{said}"]', 1)
    clock = ManualClock(START)
    with small_site(tmp_path / "warned", clock, profile=profile) as site:
        desk = Desk(site)
        walk(desk, desk.start(id_of(site, "C-1"), id_of(site, "P-2")), clock)
        sections = records.sheet(site, "instrument", id_of(site, "C-1")).sections
    told = [each for each in sections if isinstance(each, Lines)]
    assert told[0].tone == "good"
    assert [each.tone for each in told if said in each.lines] == ["warn"]
