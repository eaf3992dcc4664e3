"""Calibrations and repairs as people record them: dates, verdicts, doubts, rights, the file, the sheet."""

from __future__ import annotations

import datetime as dt
import hashlib
import os
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from desk_walk import walk
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from reference_room import PINS, TODAY, Room, points

from procedures.journal.states import fitness
from procedures.sheets import Grid, Lines, Pairs, Sheet
from procedures.site import attachments, calibrations, handouts, inventory, records, references, usable_references
from procedures.site.checkouts import Desk
from procedures.trouble import Trouble

DAY = dt.timedelta(days=1)
ENTERED = {
    "on": TODAY.isoformat(),
    "by": "bench",
    "certificate": "K-2",
    "tolerance": "10",
    "stated": "figures",
    "points": "x1 | 2.00 | 2.10 | 2.02 | mR/h\nx1 | 0.50 | 0.45 |  | ",
}


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    made = Room(tmp_path / "site")
    yield made
    made.site.close()


def refused(room: Room, saying: str, **changes: Any) -> None:
    before = room.site.journal.count()
    with pytest.raises(Trouble, match=saying) as trouble:
        room.calibrated(**changes)
    assert trouble.value.do
    assert room.site.journal.count() == before


# --- when it is due ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("on", "months", "due"),
    [
        ("2024-02-29", "12", "2025-02-28"),
        ("2024-02-29", "48", "2028-02-29"),
        ("2026-01-31", "1", "2026-02-28"),
        ("2024-01-31", "1", "2024-02-29"),
        ("2026-08-31", "6", "2027-02-28"),
        ("2026-06-01", "12", "2027-06-01"),
        ("2026-12-15", "1", "2027-01-15"),
    ],
)
def test_due_so_many_months_later(on: str, months: str, due: str) -> None:
    """10 CFR 35.61 (read): every 12 months; 39.33 (read): every 6. A month's end never runs into the next month."""
    found = calibrations.due_after(dt.date.fromisoformat(on), {"calibration_interval_months": months})
    assert found.isoformat() == due


@given(st.dates(dt.date(1990, 1, 1), dt.date(2090, 1, 1)), st.integers(1, 120))
def test_months_go_by_whole_months_and_never_past_their_end(on: dt.date, months: int) -> None:
    """The month is exactly so many later, the day is the same or the last there is, and later days come no earlier."""
    settings = {"calibration_interval_months": str(months)}
    due = calibrations.due_after(on, settings)
    assert due.year * 12 + due.month == on.year * 12 + on.month + months
    assert due.day == on.day or (due.day < on.day and (due + DAY).day == 1)
    assert due <= calibrations.due_after(on + DAY, settings)


@pytest.mark.parametrize("months", ["", "0", "-1", "twelve", "1.5", "9999"])
def test_an_interval_that_is_none_is_said(months: str) -> None:
    """A setting comes from a file or another program."""
    with pytest.raises(Trouble, match="no number of months"):
        calibrations.due_after(TODAY, {"calibration_interval_months": months})


def test_the_certificate_goes_before_the_sites_rule(room: Room) -> None:
    """Computed unless the certificate says otherwise."""
    room.calibrated()
    assert room.state.calibration is not None
    assert room.state.calibration.due == "2027-06-01"
    room.calibrated(due=dt.date(2026, 12, 1), certificate="K-3")
    assert room.state.calibration.due == "2026-12-01"


# --- what is recorded ----------------------------------------------------------------------------------------------


def test_a_calibration_keeps_every_figure_and_ends_readiness(room: Room) -> None:
    """Model, serial, date, results, name: 10 CFR 35.2061 (read). A new calibration wants a new reference and check."""
    desk = Desk(room.site)
    walk(desk, desk.start(room.instrument, room.technician), room.clock)
    assert fitness(room.state, room.clock.now().utc).word == "ready"
    made = room.calibrated(points=points(("2", "2.1", None), ("1", None, "1.01")))
    assert fitness(room.state, room.clock.now().utc).word == "needs check"
    body = room.event(made).body
    assert body["points"] == [
        {"scale": "x1", "standard": "2", "as_found": "2.1", "as_left": None, "unit": "mR/h"},
        {"scale": "x1", "standard": "1", "as_found": None, "as_left": "1.01", "unit": "mR/h"},
    ]
    assert (body["tolerance"], body["as_found"], body["attached"]) == ("10 %", "not recorded", None)
    assert usable_references.since_calibration(room.state) == ()


def test_out_of_tolerance_as_found_puts_uses_in_doubt(room: Room) -> None:
    """MARSSIM 6.5 and DOE practice (memory): look again at what was surveyed since the last good check."""
    desk = Desk(room.site)
    walk(desk, desk.start(room.instrument, room.technician), room.clock)
    handouts.hand_out(room.site, room.instrument, to=room.technician, job="survey", place="cell 3")
    handouts.take_back(room.site, room.instrument, by=room.technician, condition="good")
    entered = ENTERED | {"points": "x1 | 2 | 2.5 | 2.02 | mR/h"}
    look = room.look("calibration", entered)
    assert look.tone == "bad"
    assert not look.troubles
    assert any("uses since the last calibration are in doubt" in line for line in look.lines)
    assert "in doubt" in room.keep("calibration", entered).what
    assert room.last("calibrated")["as_found"] == "outside"
    (doubt,) = room.site.journal.uses_in_doubt(room.instrument)
    assert (doubt.kind, len(doubt.uses)) == ("calibration", 1)


@pytest.mark.parametrize(
    ("stated", "rows", "found"),
    [
        ("", (("2", "2.2", "2"),), "within"),
        ("", (("2", "2.2001", "2"),), "outside"),
        ("", (), "not recorded"),
        ("within", (), "within"),
        ("outside", (), "outside"),
        ("outside", (("2", "2.1", "2"),), "outside"),
        ("not recorded", (("2", None, "2"),), "not recorded"),
    ],
)
def test_as_found_by_figures_or_in_words(room: Room, stated: str, rows: Any, found: str) -> None:
    """Whichever says "outside" is believed."""
    room.calibrated(stated=stated, points=points(*rows))
    assert room.last("calibrated")["as_found"] == found


# --- refusals ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "saying"),
    [
        ({"on": TODAY + DAY}, "in the future"),
        ({"on": dt.date(2026, 4, 30)}, "in force is of 2026-05-01"),
        ({"due": TODAY}, "cannot be due"),
        ({"due": TODAY - DAY}, "cannot be due"),
        ({"by": " "}, "laboratory"),
        ({"by": "b" * 301}, "laboratory"),
        ({"certificate": ""}, "certificate number"),
        ({"tolerance": Decimal(0)}, "tolerance of 0"),
        ({"tolerance": Decimal(100)}, "tolerance of 100"),
        ({"points": points(("2", "2.5", "2.3"))}, "as left it is out of tolerance"),
        ({"points": points(("2", "2.5", None))}, "as left it is out of tolerance"),
        ({"stated": "within", "points": points(("2", "2.5", "2"))}, "out of tolerance, and"),
        ({"file": "no/such/file.pdf"}, "no file here"),
    ],
)
def test_what_is_no_calibration_is_refused(room: Room, changes: dict[str, Any], saying: str) -> None:
    """Each with words that say what to do, and nothing is written."""
    refused(room, saying, **changes)


def test_the_day_is_the_sites_day(tmp_path: Path) -> None:
    """At half past eight in the evening UTC it is tomorrow already where this site is."""
    room = Room(tmp_path)
    try:
        room.setting(zone="Pacific/Auckland")
        room.clock.advance(10 * 3600)
        with pytest.raises(Trouble, match="in the future"):
            room.calibrated(on=TODAY + 2 * DAY)
        room.calibrated(on=TODAY + DAY)
    finally:
        room.site.close()


def test_only_who_is_entitled_records_and_the_pin_comes_last(room: Room) -> None:
    """A technician may end trust, not restore it; what could not be kept anyway costs no try."""
    room.pins()
    certificate = calibrations.Given(TODAY, None, "bench", "K-2")
    for person, pin, saying in (
        (room.technician, PINS["P-2"], "only a site lead"),
        ("", None, "nobody"),
        (room.lead, None, "PIN is needed"),
        (room.lead, "000111", "not the PIN"),
    ):
        with pytest.raises(Trouble, match=saying):
            calibrations.record(room.site, room.instrument, person, certificate, pin=pin)
    room.clock.advance(10)
    early = calibrations.Given(TODAY + DAY, None, "bench", "K-2")
    with pytest.raises(Trouble, match="in the future"):
        calibrations.record(room.site, room.instrument, room.lead, early, pin="wrong")
    made = calibrations.record(room.site, room.instrument, room.lead, certificate, pin=PINS["P-1"])
    assert room.event(made).person == room.lead


def test_what_came_in_meanwhile_is_not_passed_over(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another laptop's or window's repair between looking and keeping: look again."""
    fits = calibrations.date_fits

    def slowly(*given: Any) -> None:
        fits(*given)
        room.site.record("note", {"text": "meanwhile"}, about=(room.instrument,))

    monkeypatch.setattr(calibrations, "date_fits", slowly)
    with pytest.raises(Trouble, match="came in meanwhile"):
        room.calibrated()


def test_the_same_certificate_is_recorded_once(room: Room) -> None:
    """Kept twice, by an impatient Enter or by two people, the second would make the new reference unusable."""
    room.keep("calibration", ENTERED)
    room.take()
    refused(room, "recorded already")
    assert "recorded already" in str(room.look("calibration", ENTERED).troubles["certificate"])
    assert len(usable_references.since_calibration(room.state)) == 1


def test_a_retired_instrument_gets_no_calibration(room: Room) -> None:
    """Its label may lie about."""
    room.site.record("retired", {"why": "scrapped"}, about=(room.instrument,))
    refused(room, "out of use")


# --- repairs -------------------------------------------------------------------------------------------------------


def repair(room: Room, *, voids: bool = True, on: dt.date = TODAY, person: str = "") -> str:
    return calibrations.repaired(
        room.site, room.instrument, person or room.lead, on=on, by="shop", what="new tube", voids_calibration=voids
    )


def test_a_repair_voids_the_calibration_until_a_new_one(room: Room) -> None:
    """10 CFR 35.61 (read): calibrated after repair."""
    repair(room)
    assert room.state.calibration is None
    refused(room, "repaired on 2026-06-01, after", on=dt.date(2026, 5, 20))
    room.calibrated()
    assert room.state.calibration is not None


def test_a_repair_that_voids_nothing_still_wants_a_new_reference(room: Room) -> None:
    """Illinois manual (read): a new reference reading after each calibration or repair."""
    assert len(usable_references.since_calibration(room.state)) == 1
    repair(room, voids=False)
    assert room.state.calibration is not None
    assert usable_references.since_calibration(room.state) == ()
    room.take()
    assert len(usable_references.since_calibration(room.state)) == 1


def test_a_repair_on_the_day_of_the_calibration_counts_by_when_it_was_recorded(room: Room) -> None:
    """In doubt the reference was read before it."""
    room.calibrated()
    room.take()
    repair(room, voids=False)
    assert usable_references.since_calibration(room.state) == ()


def test_a_repair_recorded_late_does_not_void_the_calibration_after_it(room: Room) -> None:
    """Papers come in late; the calibration came after the work."""
    with pytest.raises(Trouble, match="that calibration stands"):
        repair(room, on=dt.date(2026, 4, 2))
    repair(room, on=dt.date(2026, 4, 2), voids=False)
    assert len(usable_references.since_calibration(room.state)) == 1


def test_a_repair_of_tomorrow_or_by_nobody_is_refused(room: Room) -> None:
    """Each with words."""
    with pytest.raises(Trouble, match="in the future"):
        repair(room, on=TODAY + DAY)
    with pytest.raises(Trouble, match="only a site lead"):
        repair(room, person=room.technician)


def test_the_repair_form_says_the_rule(room: Room) -> None:
    """10 CFR 39.33 (read): servicing other than changing batteries."""
    form = room.form("repair")
    assert any("Changing batteries is no repair" in line for line in form.says)
    entered = {"what": "new tube", "by": "shop", "on": TODAY.isoformat(), "voids": "yes"}
    assert "no calibration in force" in room.look("repair", entered).lines[0]
    assert "calibration stands" in room.look("repair", entered | {"voids": "no"}).lines[0]
    assert set(room.look("repair", {}).troubles) == {"what", "by", "on", "voids"}
    done = room.keep("repair", entered)
    assert "calibrated" in done.do
    assert room.last("repaired")["voids_calibration"] is True


# --- the form ------------------------------------------------------------------------------------------------------


def test_what_is_said_before_anything_is_kept(room: Room) -> None:
    """Each difference, each verdict, when it is due; and looking writes nothing."""
    before = room.site.journal.count()
    look = room.look("calibration", ENTERED)
    assert room.site.journal.count() == before
    assert look.lines[0] == "x1: standard 2.00 mR/h; as found 2.10, +5 %, within; as left 2.02, +1 %, within"
    assert look.lines[1] == "x1: standard 0.50 mR/h; as found 0.45, -10 %, within"
    assert "Due on 2027-06-01, good on that day still." in look.lines
    assert look.tone == "good"
    room.keep("calibration", ENTERED)
    assert len(room.last("calibrated")["points"]) == 2


def test_a_certificate_from_before_another_detector_is_asked_about(room: Room) -> None:
    """It may be that of the detector before; or the new one came calibrated, and was written down when it came."""
    inventory.describe(room.site, room.instrument, {"detector": "D-9"})
    older = {"on": (TODAY - dt.timedelta(days=1)).isoformat()}
    look = room.look("calibration", ENTERED | older)
    assert look.tone == "warn"
    assert "detector D-9" in " ".join(look.lines)
    assert "look whether it is of the parts before" in look.lines[-1]
    assert "parts before" not in " ".join(room.look("calibration", ENTERED).lines)


def test_as_left_outside_says_what_to_do(room: Room) -> None:
    """It is no calibration that it passed: lock it out and have it repaired."""
    look = room.look("calibration", ENTERED | {"points": "x1 | 2 | 2.5 | 2.4 | mR/h"})
    assert "Lock it out" in look.troubles["points"].do
    with pytest.raises(Trouble, match="as left"):
        room.keep("calibration", ENTERED | {"points": "x1 | 2 | 2.5 | 2.4 | mR/h"})


@pytest.mark.parametrize(
    ("field", "typed", "saying"),
    [
        ("on", "", "date is missing"),
        ("on", "tomorrow", "no date"),
        ("due", "2026-05-01", "cannot be due"),
        ("due", "soon", "no date"),
        ("tolerance", "ten", "no number"),
        ("tolerance", "0", "is none"),
        ("stated", "maybe", "not one of the choices"),
        ("points", "x1 | abc | 2 | 2 | mR/h", "point 1"),
        ("points", "x1 | 2 | 2 | 2 | mR/h\nx1 | 2 | 2 | 2 | Bq", "point 2"),
        ("points", "x9 | 2 | 2 | 2 |", "without a unit"),
        ("points", "x1 | 2 | | |", "no reading"),
        ("points", "x1 | 2 | 2 | 2 | mR/h | more", "6 cells"),
        ("points", " | 2 | 2 | 2 | mR/h", "scale is missing"),
        ("points", "x1|1|1|1|mR/h\n" * 61, "too many"),
        ("file", "/dev/null", "no file"),
        ("file", "\0", "no path"),
    ],
)
def test_each_mistake_is_said_at_its_field(room: Room, field: str, typed: str, saying: str) -> None:
    """What is wrong, where, what is allowed, what to do."""
    look = room.look("calibration", ENTERED | {field: typed})
    assert saying in str(look.troubles[field])
    assert look.troubles[field].do
    with pytest.raises(Trouble):
        room.keep("calibration", ENTERED | {field: typed})


@pytest.mark.parametrize(
    ("changes", "saying"),
    [
        ({"stated": "not recorded", "points": ""}, "As found is not recorded"),
        ({"points": ""}, "No point is entered"),
        ({"due": "2028-06-01"}, "later than the site's interval"),
        ({"on": "2026-05-02", "due": "2026-05-03"}, "over already"),
        ({"points": "x1 | 2 | 2 | | mR/h\nx1 | 1 | | 1 | mR/h"}, "not recorded on every point"),
    ],
)
def test_what_is_allowed_and_has_to_be_said(room: Room, changes: dict[str, str], saying: str) -> None:
    """Allowed is not the same as unsaid."""
    look = room.look("calibration", ENTERED | changes)
    assert not look.troubles
    assert saying in " ".join(look.lines)
    assert look.tone in ("warn", "bad")


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.dictionaries(st.sampled_from([*ENTERED, "due", "voids", "what", "pin"]), st.text(max_size=40)))
def test_looking_never_raises_whatever_was_typed(room: Room, typed: dict[str, str]) -> None:
    """Pasted pages, control characters, half a date."""
    typed.pop("file", None)
    for name in ("calibration", "repair"):
        for entered in (typed, ENTERED | typed):
            room.look(name, entered)
            for page in (1, 2):
                room.form(name, entered, page)


def test_a_tolerance_stands_in_the_field_by_the_sites_policy() -> None:
    """10 CFR 35.61(b) leaves 20 % at most (read); Indiana and Iowa sites have 10 % (read)."""
    assert calibrations.usual_tolerance({"tolerance_policy": "10 % by our licence"}) == "10"
    assert calibrations.usual_tolerance({"tolerance_policy": "12.5% — manual, app. BB"}) == "12.5"
    assert calibrations.usual_tolerance({"tolerance_policy": ""}) == "20"


# --- the sheet -----------------------------------------------------------------------------------------------------


def told(sheet: Sheet | tuple[Any, ...]) -> str:
    """Everything a sheet says, as text."""
    words: list[str] = []
    for section in sheet.sections if isinstance(sheet, Sheet) else sheet:
        if isinstance(section, Lines):
            words += section.lines
        if isinstance(section, Pairs):
            words += [" ".join(row) for row in section.rows]
        if isinstance(section, Grid):
            words += [" ".join(row.cells) for row in section.rows]
    return "\n".join(words)


def test_the_sheet_has_every_figure(room: Room) -> None:
    """An inspector reads it years later."""
    made = room.calibrated(points=points(("2", "2.5", "2.02"), ("1", "1.04", None)))
    sheet = records.sheet(room.site, "calibration", made, room.technician)
    assert sheet.line == "In force."
    for words in ("K-2", "bench", "2027-06-01", "+25 % OUT", "+1 %", "+4 %", "not adjusted", "OUT OF TOLERANCE"):
        assert words in told(sheet), words
    (deed,) = [each for each in sheet.deeds if each.name == "reference"]
    assert "site lead" in deed.may_not
    room.calibrated(certificate="K-3")
    assert records.sheet(room.site, "calibration", made).line == "Not in force any more."
    for about in ("", "nothing", "e" * 64, room.instrument):
        with pytest.raises(Trouble, match="no such calibration"):
            records.sheet(room.site, "calibration", about)


def test_the_instruments_sheet_says_when_it_ends(room: Room) -> None:
    """Good on the day itself, over at local midnight; none in force is the worst."""
    from procedures.site.records.calibration import sections

    room.calibrated(due=TODAY + 40 * DAY)
    assert "Plan the next one" not in told(sections(room.site, room.state))
    room.clock.advance(15 * 86400)
    assert "Plan the next one" in told(sections(room.site, room.state))
    room.clock.advance(25 * 86400)
    assert "The calibration ends on" in told(sections(room.site, room.state))
    room.clock.advance(86400)
    assert "cannot become fit" in told(sections(room.site, room.state))
    repair(room, on=TODAY + 41 * DAY)
    assert "no calibration in force" in told(sections(room.site, room.state))
    assert "new tube" in told(sections(room.site, room.state))


# --- attached files ------------------------------------------------------------------------------------------------


def test_a_file_is_kept_by_its_hash_and_looked_at_again(room: Room, tmp_path: Path) -> None:
    """The certificate on the stick is gone next week, and somebody may open the kept one in an editor."""
    paper = tmp_path / "certificate K-2.pdf"
    paper.write_bytes(b"certificate" * 1000)
    wanted = hashlib.sha256(paper.read_bytes()).hexdigest()
    look = room.look("calibration", ENTERED | {"file": f'"{paper}"'})
    assert not look.troubles
    assert not (room.site.folder / "attachments").exists()
    room.keep("calibration", ENTERED | {"file": str(paper)})
    made = room.site.journal.about(room.instrument, kinds=("calibrated",), limit=1)[0]
    assert made.body["attached"] == {"name": "certificate K-2.pdf", "sha256": wanted, "bytes": 11000}
    kept = room.site.folder / "attachments" / wanted
    assert kept.read_bytes() == paper.read_bytes()
    paper.unlink()
    assert "is the one that was attached" in told(records.sheet(room.site, "calibration", made.hash))
    kept.write_bytes(b"another")
    assert "was changed since" in told(records.sheet(room.site, "calibration", made.hash))
    kept.unlink()
    assert "not on this laptop" in told(records.sheet(room.site, "calibration", made.hash))


def test_what_is_no_file_to_keep_is_refused(room: Room, tmp_path: Path) -> None:
    """A folder, a pipe that nobody writes to, nothing at all, a film: each is said, nothing hangs, nothing is left."""
    (tmp_path / "empty").touch()
    with (tmp_path / "film").open("wb") as film:
        film.truncate(attachments.MOST_BYTES + 1)
    named = {"empty": "empty", "film": "larger than", ".": "no file", "nowhere": "no file"}
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe")
        named["pipe"] = "no file"
    for name, saying in named.items():
        with pytest.raises(Trouble, match=saying):
            attachments.keep(room.site, str(tmp_path / name))
        refused(room, saying, file=str(tmp_path / name))
    with pytest.raises(Trouble, match="too long"):
        attachments.look_at("x" * 1001)
    folder = room.site.folder / "attachments"
    assert not folder.exists() or not list(folder.iterdir())


def test_a_folder_that_cannot_be_written_is_said(room: Room, tmp_path: Path) -> None:
    """A calibration without the file it names would be worse than none: nothing is recorded."""
    (tmp_path / "paper").write_bytes(b"paper")
    (room.site.folder / "attachments").write_bytes(b"in the way")
    refused(room, "cannot be kept here", file=str(tmp_path / "paper"))


def test_a_body_from_elsewhere_names_no_file_outside(room: Room) -> None:
    """A hash is the file's name: nothing else may become part of a path."""
    assert attachments.from_json({"sha256": "../../secret", "name": "x", "bytes": 1}) is None
    assert attachments.from_json(None) is None
    found = attachments.from_json({"sha256": "e" * 64, "name": 3, "bytes": "many"})
    assert found == attachments.Attached("3", "e" * 64, 0)
    assert "not on this laptop" in attachments.why_not_sound(room.site.folder, found)


def test_program_set_up_goes_on_working(room: Room) -> None:
    """What a site is begun with is recorded by nobody; a person who is named has to be entitled."""
    given = {"on": TODAY, "due": TODAY + DAY, "by": "", "certificate": ""}
    assert references.calibrated(room.site, room.instrument, **given)
    with pytest.raises(Trouble, match="only a site lead"):
        references.calibrated(room.site, room.instrument, **given, person=room.technician)
