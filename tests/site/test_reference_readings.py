"""Reference readings as people take them: who, when, with what; scatter, the former one, refusals, form and sheet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from desk_walk import MINI, id_of, leak_tested, walk
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from reference_room import CORRECTED, PINS, READINGS, Room

from procedures.air import IAEA, density_factor
from procedures.journal.states import fitness
from procedures.sheets import Grid, Lines, Pairs, Section, Sheet
from procedures.site import calibrations, clearing, forms, inventory, records, references
from procedures.site.checkouts import Desk
from procedures.site.reference_figures import said, setting
from procedures.site.reference_readings import Rejected
from procedures.site.verification import verify_site
from procedures.trouble import Trouble

LOW = tuple(str(Decimal(each) * Decimal("0.7")) for each in READINGS)
"""Some 30 % below the former reference."""
WILD = ("1.0", "1.2", "1.6", "2.0", "2.2")
ENTERED = {
    "role": "daily",
    "source": "S-1",
    "jig": "J-1",
    "scale": "x1",
    "readings": "\n".join(READINGS),
    "orientation": "upright",
}
X10 = """
[[instrument.scale]]
name = "x10"
full_scale = "30 mR/h"
division = "1 mR/h"
multiplier = 10
shown_by = "nothing"
[ready]"""


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    made = Room(tmp_path / "site")
    made.calibrated()
    yield made
    made.site.close()


def refused(room: Room, saying: str, **changes: Any) -> None:
    before = room.site.journal.count()
    with pytest.raises(Trouble, match=saying) as trouble:
        room.take(**changes)
    assert trouble.value.do
    assert room.site.journal.count() == before


def told(sheet: Sheet | tuple[Section, ...]) -> str:
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


# --- what is kept --------------------------------------------------------------------------------------------------


def test_a_reference_keeps_readings_scatter_and_the_former_one(room: Room) -> None:
    """Mean of ten readings 1.64; s by the standard library; division 0.1: 0.1/√12 (GUM 4.3.7)."""
    made = room.take(rejected=(Rejected("1.9", "the table was knocked"),), orientation="upright")
    body = room.event(made).body
    assert body["value"] == "1.64 mR/h"
    assert body["rejected"] == [{"figure": "1.9", "why": "the table was knocked"}]
    assert body["stdev"] == pytest.approx(0.0141421, abs=1e-7)
    assert body["cv"] == pytest.approx(0.0141421 / 1.64, abs=1e-7)
    assert body["uncertainty_parts"] == {
        "scatter": pytest.approx(0.0141421 / 10**0.5, abs=1e-7),
        "division": pytest.approx(0.0288675, abs=1e-7),
    }
    assert body["relative_uncertainty"] == pytest.approx((0.0044721**2 + 0.0288675**2) ** 0.5 / 1.64, abs=1e-6)
    assert body["former"]["ratio"] == pytest.approx(1.64 / 1.65, abs=1e-4)
    assert body["orientation"] == "upright"
    assert (body["printed"], body["times"]) == (list(READINGS), "1")


def test_a_checkout_compares_with_it_and_its_record_is_judged_alike(room: Room) -> None:
    """What a reference says beyond what it must is carried along by everything that reads it."""
    room.take()
    desk = Desk(room.site)
    view = walk(desk, desk.start(room.instrument, room.technician), room.clock)
    assert view.ending is not None
    assert view.ending.ending == "fit for use"
    assert verify_site(room.site.folder).sound


def test_the_ratio_to_the_former_is_brought_to_today_by_decay(tmp_path: Path) -> None:
    """Cs-137 after one year 97.728503 of 100 (ICRP-107 by a library): what it read then less that is expected now."""
    room = Room(tmp_path)
    try:
        room.clock.advance(365.2422 * 86400 - 60)
        room.calibrated(on=dt.date(2027, 6, 1))
        body = room.event(room.take()).body
        expected = 1.65 * 0.97728503
        assert body["former"]["expected"] == f"{float(body['former']['expected'].split()[0])} mR/h"
        assert float(body["former"]["expected"].split()[0]) == pytest.approx(expected, rel=1e-7)
        assert body["former"]["ratio"] == pytest.approx(1.64 / expected, rel=1e-7)
    finally:
        room.site.close()


def test_figures_are_multiplied_by_the_selector(tmp_path: Path) -> None:
    """A scale x10 prints 0 to 3: 1.6 on it is 16 mR/h, and its division counts ten times as well."""
    room = Room(tmp_path, MINI.replace("[ready]", X10.strip(), 1))
    try:
        room.calibrated()
        body = room.event(room.take(scale="x10", background="0.1")).body
        assert body["value"] == "15.4 mR/h"
        assert (body["readings"][0], body["printed"][0], body["times"]) == ("16.20", "1.62", "10")
        assert body["background"] == "1.0"
        assert body["uncertainty_parts"]["division"] == pytest.approx(1 / 12**0.5)
        assert body["uncertainty_parts"]["background_division"] == pytest.approx(1 / 12**0.5)
        assert body["former"]["ratio"] if body["former"] else body["former"] is None
        with pytest.raises(Trouble, match="scale ends at 3"):
            room.take(scale="x10", readings=("16.2", "16.1", "16.3"), geometry="other")
    finally:
        room.site.close()


def test_a_vented_chamber_is_compared_in_the_same_air(tmp_path: Path) -> None:
    """k by IAEA practice: (20 °C, 83.427577 kPa) 1.214526 (computed): in thin air the same chamber reads that less."""
    room = Room(tmp_path, CORRECTED)
    try:
        room.calibrated()
        refused(room, "temperature and pressure at the instrument are missing")
        refused(room, "are missing", temperature_c="20")
        air = {"temperature_c": "20", "pressure_kpa": "101.325"}
        refused(room, "reason for the change", **air)
        first = room.event(room.take(**air, reason="the former has no air", second=room.technician)).body
        assert first["former"]["ratio"] is None
        assert "not recorded" in first["former"]["why_not"]
        room.clock.advance(60)
        room.calibrated(certificate="K-3")
        thin = tuple(f"{Decimal(each) / Decimal('1.214526'):.4f}" for each in READINGS)
        body = room.event(room.take(readings=thin, temperature_c="20 degC", pressure_kpa="83.427577 kPa")).body
        assert body["former"]["ratio"] == pytest.approx(1.0, abs=1e-4)
        assert (body["temperature_c"], body["pressure_kpa"]) == ("20", "83.427577")
        assert density_factor(20.0, 83.427577, IAEA) == pytest.approx(1.214526, abs=1e-6)
    finally:
        room.site.close()


# --- refusals ------------------------------------------------------------------------------------------------------


def lock(room: Room) -> None:
    clearing.lock_by_hand(room.site, room.instrument, room.lead, "it rattles")


def second_reference(room: Room) -> None:
    room.take()


def open_checkout(room: Room) -> None:
    Desk(room.site).start(room.instrument, room.technician)


def late(room: Room) -> None:
    room.clock.advance(31 * 86400)


def long_late(room: Room) -> None:
    room.clock.advance(366 * 86400)


def void(room: Room) -> None:
    calibrations.repaired(
        room.site,
        room.instrument,
        room.lead,
        on=calibrations.today(room.site),
        by="shop",
        what="tube",
        voids_calibration=True,
    )


def away(room: Room) -> None:
    inventory.place(room.site, room.instrument, "at calibration", "bench", person=room.lead)


def dirty(room: Room) -> None:
    inventory.contamination(room.site, room.instrument, found=True, say="dust")


def leaking(room: Room) -> None:
    leak_tested(room.site, room.source, dt.date(2026, 5, 30), "185")


def no_profile(room: Room) -> None:
    inventory.describe(room.site, room.instrument, {"profile": "none"})


def set_back(room: Room) -> None:
    room.clock.set_wall(room.clock.now().utc - dt.timedelta(hours=2))


@pytest.mark.parametrize(
    ("happens", "saying"),
    [
        (lock, "locked out"),
        (second_reference, "there is a reference reading"),
        (open_checkout, "a checkout of C-1 is open"),
        (late, "more than 30 days ago"),
        (long_late, "ended on 2027-06-01"),
        (void, "no calibration in force"),
        (away, "recorded as at calibration"),
        (dirty, "contaminated"),
        (leaking, "leaks"),
        (no_profile, "no revision of the profile"),
        (set_back, "clock says"),
    ],
)
def test_what_stands_in_the_way_is_said(room: Room, happens: Callable[[Room], object], saying: str) -> None:
    """Every later check is compared with it. Nothing is written."""
    happens(room)
    refused(room, saying)


def test_the_last_day_for_it_is_still_good(room: Room) -> None:
    """30 days after the calibration, and not one more."""
    room.clock.advance(30 * 86400)
    room.take()


@pytest.mark.parametrize(
    ("changes", "saying"),
    [
        ({"readings": ("1.6", "1.7")}, "too few"),
        ({"readings": ("1.6",) * 101}, "too many"),
        ({"readings": ("1.6", "abc", "1.6")}, "reading 2"),
        ({"readings": ("1.6", "1.6", "-1.6")}, "reading 3"),
        ({"readings": ("1.6", "1.6", "3.01")}, "scale ends at 3"),
        ({"readings": ("1.6", "1.6", "1.6 Bq")}, "reading 3"),
        ({"background": "1.64"}, "not above zero"),
        ({"background": "none"}, "no number"),
        ({"scale": "x9"}, "no scale x9"),
        ({"scale": ""}, "no scale"),
        ({"role": "weekly"}, "no check source has the role"),
        ({"jig": None}, "not the jig"),
        ({"source": "e" * 64}, "no source of this site"),
        ({"temperature_c": "warm", "pressure_kpa": "100"}, "cannot be read"),
        ({"temperature_c": "20", "pressure_kpa": "1013"}, "cannot be used"),
        ({"rejected": (Rejected("1.6", ""),)}, "reason to reject"),
        ({"geometry": "g" * 301}, "geometry is too long"),
        ({"orientation": "o" * 301}, "orientation is too long"),
    ],
)
def test_what_cannot_be_read_is_refused(room: Room, changes: dict[str, Any], saying: str) -> None:
    """Each with words, and nothing is written."""
    refused(room, saying, **changes)


def test_another_source_than_the_bound_one_is_refused(room: Room) -> None:
    """Identity is observed: checkouts use the bound one, and compare with nothing else."""
    refused(room, "not the source of the role", source=room.second_source())


def test_only_who_is_entitled_takes_one_and_the_pin_comes_last(room: Room) -> None:
    """Rights before figures, figures before PINs."""
    room.pins()
    with pytest.raises(Trouble, match="only a site lead"):
        room.take(room.technician, pin=PINS["P-2"])
    with pytest.raises(Trouble, match="too few"):
        room.take(readings=("1", "2"), pin="wrong")
    with pytest.raises(Trouble, match="not the PIN"):
        room.take(pin="wrong")
    room.clock.advance(10)
    room.take(pin=PINS["P-1"])


def test_an_instrument_that_waits_for_its_check_gets_its_reference_first(room: Room) -> None:
    """Cleared after a repair, it needs a reference before the check that ends the lockout can compare with one."""
    lock(room)
    lockout = room.state.lockouts[0].id
    clearing.clear(room.site, room.instrument, room.lead, lockouts=[lockout], cause="screw", action="tightened")
    assert [each.status for each in room.state.lockouts] == ["awaiting check"]
    room.take()
    desk = Desk(room.site)
    walk(desk, desk.start(room.instrument, room.technician), room.clock)
    assert fitness(room.state, room.clock.now().utc).word == "ready"


def test_readings_that_scatter_too_much_are_refused_and_never_lost(room: Room) -> None:
    """Taken again from the start; what was read stays, so that nobody drops readings until the rest agrees."""
    entered = ENTERED | {"readings": "\n".join([*WILD, "9.9 ! off the table"])}
    look = room.look("reference", entered)
    assert not look.troubles
    assert look.tone == "bad"
    assert room.form("reference", entered, 4).keep == "Note that it is refused"
    for _ in range(2):
        with pytest.raises(Trouble, match="scatter too much: coefficient of variation 3") as trouble:
            room.keep("reference", entered)
        assert "from the start" in trouble.value.do
    (note,) = room.site.journal.about(room.instrument, kinds=("note",))
    assert "1.0, 1.2, 1.6, 2.0, 2.2" in note.body["text"]
    assert "9.9 (off the table)" in note.body["text"]
    assert room.state.references[0].body["calibration"] != room.state.calibration.event  # type: ignore[union-attr]
    room.keep("reference", ENTERED)


def test_scatter_on_the_limit_is_taken(room: Room) -> None:
    """1.8, 2.0, 2.2: s = 0.2 over 2.0, 10 % to the last figure. With any background taken off it is more."""
    room.setting(reference_cv_percent="10", reference_change_percent="50")
    with pytest.raises(Trouble, match="scatter"):
        room.take(readings=("1.8", "2.0", "2.2"), background="0.01")
    room.take(readings=("1.8", "2.0", "2.2"))


@pytest.mark.parametrize("said_so", ["", "some", "-1", "1e3", "9" * 40])
def test_a_setting_that_is_no_number_is_said(said_so: str) -> None:
    """In doubt nothing is kept."""
    with pytest.raises(Trouble, match="setting reference_cv_percent is no number") as trouble:
        setting({"reference_cv_percent": said_so}, "reference_cv_percent")
    assert trouble.value.do


# --- far from the former one ---------------------------------------------------------------------------------------


def test_a_reference_far_from_the_former_takes_a_reason_and_two(room: Room) -> None:
    """One that fell by a third may be a new tube, or the wrong place in the jig: two people look."""
    refused(room, "reason for the change is missing", readings=LOW)
    refused(room, "one person", readings=LOW, reason="new tube")
    refused(room, "the first one", readings=LOW, reason="new tube", second=room.lead)
    refused(room, "not on the site", readings=LOW, reason="new tube", second=room.source)
    body = room.event(room.take(readings=LOW, reason="new tube", second=room.technician)).body
    assert (body["reason"], body["second"]) == ("new tube", room.technician)
    assert body["former"]["ratio"] == pytest.approx(0.7 * 1.64 / 1.65, abs=1e-3)
    sheet = records.sheet(room.site, "reference", room.last_event("reference-recorded"))
    assert "new tube" in told(sheet)
    assert "Tech Person" in told(sheet)


def test_both_pins_are_asked_and_the_second_is_no_formality(room: Room) -> None:
    """The second person is present, and shows it."""
    room.pins()
    given = {"readings": LOW, "reason": "new tube", "second": room.technician, "pin": PINS["P-1"]}
    for second_pin in (None, PINS["P-1"]):
        with pytest.raises(Trouble, match="PIN"):
            room.take(**given, second_pin=second_pin)
    room.clock.advance(10)
    room.take(**given, second_pin=PINS["P-2"])


def test_the_form_asks_for_the_second_person_only_then(room: Room) -> None:
    """A field that is needed without need is filled in without thought."""
    assert [each.id for each in room.form("reference", ENTERED, 4).fields] == []
    low = ENTERED | {"readings": "\n".join(LOW)}
    assert [each.id for each in room.form("reference", low, 4).fields] == ["reason", "second"]
    assert set(room.look("reference", low).troubles) == {"reason", "second"}
    assert "second" in room.look("reference", low | {"reason": "new tube", "second": "P-1"}).troubles
    room.keep("reference", low | {"reason": "new tube", "second": "TP"})
    assert room.last("reference-recorded")["second"] == room.technician


# --- which count ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("months", "now", "old"),
    [
        ("", "2040-01-01T00:00", False),
        ("0", "2040-01-01T00:00", False),
        ("12", "2027-06-01T23:59", False),
        ("12", "2027-06-02T00:00", True),
        ("a year", "2026-06-02T00:00", True),
        ("-3", "2026-06-02T00:00", True),
    ],
)
def test_a_reference_is_too_old_after_its_last_day(months: str, now: str, old: bool) -> None:
    """The day itself is good; a setting that cannot be read leaves nothing to compare with."""
    taken = dt.datetime(2026, 6, 1, 8, tzinfo=dt.UTC)
    rule = {"highest_reference_age_months": months, "zone": "Etc/UTC"}
    assert references.reference_too_old(taken, dt.datetime.fromisoformat(now).replace(tzinfo=dt.UTC), rule) is old


def test_a_reference_that_is_too_old_counts_no_more(room: Room) -> None:
    """The site's rule, by the site's own days."""
    room.take()
    room.setting(highest_reference_age_months="1")
    rule = room.site.settings()
    assert len(references.in_force(room.state, room.clock.now().utc, rule)) == 1
    room.clock.advance(31 * 86400)
    assert references.in_force(room.state, room.clock.now().utc, rule) == ()
    sheet = records.sheet(room.site, "reference", room.last_event("reference-recorded"))
    assert "older than the site" in sheet.line


# --- the form ------------------------------------------------------------------------------------------------------


def test_the_pages_lead_through_it(room: Room) -> None:
    """What, how, the readings, what they come to: each page has one instruction."""
    pages = [room.form("reference", ENTERED, page) for page in (1, 2, 3, 4)]
    assert [each.page for each in pages] == [1, 2, 3, 4]
    assert {each.pages for each in pages} == {4}
    assert pages[0].caution
    assert [each.id for each in pages[0].fields] == ["role", "source", "jig"]
    assert pages[0].fields[0].value == "daily"
    assert [each.id for each in pages[1].fields] == ["scale", "orientation", "background", "geometry"]
    assert pages[1].fields[0].value == "x1"
    assert [each.id for each in pages[2].fields] == ["readings"]
    assert pages[2].fields[0].wanted == 10


def test_background_is_read_before_the_source_is_put_in_place(room: Room) -> None:
    """In the order of the hands: nobody has to take the source away again for a figure that came too late."""
    for page in (1, 2, 3):
        form = room.form("reference", ENTERED, page)
        asked = {each.id for each in form.fields}
        if "background" in asked:
            assert "every source away" in form.instruction
            break
        assert "in place" not in form.instruction
    assert "Put the source in place" in room.form("reference", ENTERED, page + 1).instruction


def test_everything_is_said_before_it_is_kept(room: Room) -> None:
    """Mean, scatter, uncertainty with its parts, ratio; and looking writes nothing."""
    before = room.site.journal.count()
    look = room.look("reference", ENTERED | {"background": "0.02", "readings": ENTERED["readings"] + "\n2.5 ! knocked"})
    assert room.site.journal.count() == before
    assert not look.troubles
    text = "\n".join(look.lines)
    for words in (
        "Mean of 10 readings: 1.620 mR/h, 0.02 mR/h of background taken off",
        "Standard deviation 0.0141 mR/h; coefficient of variation 0.87 %, allowed 10 %",
        "scatter of the mean 0.00447, division of the scale 0.0289, division, of background 0.0289",
        "Rejected, and kept: 2.5 (knocked)",
        "Former reference, decayed to today: 1.650 mR/h. Ratio new to former 0.98",
    ):
        assert words in text, text
    assert look.tone == "good"


@pytest.mark.parametrize(
    ("field", "typed", "saying"),
    [
        ("role", "", "nothing is chosen"),
        ("role", "weekly", "not one of the choices"),
        ("source", "", "no source is named"),
        ("source", "J-1", "no source here"),
        ("source", "S-9", "no source here"),
        ("jig", "", "not the jig"),
        ("jig", "S-1", "no jig here"),
        ("scale", "", "no scale"),
        ("scale", "x9", "no scale"),
        ("geometry", "g" * 301, "too long"),
        ("orientation", "o" * 301, "too long"),
        ("readings", "", "no reading"),
        ("readings", "1.6\n1.7", "too few"),
        ("readings", "1.6\n1.7\nabc", "reading 3"),
        ("readings", "1.6\n1.7\n3.5", "scale ends at 3"),
        ("readings", "1.6\n1.7\n1.6\n1.9 !", "reason why"),
        ("readings", "1.6\n" * 101, "too many"),
        ("background", "none", "no number"),
        ("background", "2.9", "not above zero"),
        ("temperature", "20", "one is missing"),
        ("pressure", "9999", "one is missing"),
    ],
)
def test_each_mistake_is_said(room: Room, field: str, typed: str, saying: str) -> None:
    """At its field where it belongs to one."""
    entered = ENTERED | {field: typed}
    look = room.look("reference", entered)
    assert saying in " ".join(map(str, look.troubles.values()))
    before = room.site.journal.count()
    with pytest.raises(Trouble):
        room.keep("reference", entered)
    assert room.site.journal.count() == before


@settings(max_examples=80, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    st.dictionaries(
        st.sampled_from([*ENTERED, "geometry", "background", "temperature", "pressure", "reason", "second", "pin"]),
        st.text(max_size=40) | st.sampled_from(["S-1", "J-1", "-", "1.6", "x1", "1.6\n1.6\n1.6", "9e99", "1 ! 2", "|"]),
    )
)
def test_looking_never_raises_whatever_was_typed(room: Room, typed: dict[str, str]) -> None:
    """Nor does any page of the form, whatever stands on the others."""
    for entered in (typed, ENTERED | typed):
        room.look("reference", entered)
        for page in (1, 2, 3, 4):
            room.form("reference", entered, page)


def test_what_cannot_be_taken_cannot_be_opened(room: Room) -> None:
    """Nobody reads ten times and is told then. Looking says it in lines."""
    lock(room)
    with pytest.raises(Trouble, match="locked out"):
        room.form("reference")
    assert "locked out" in room.look("reference", ENTERED).lines[0]


# --- the sheets ----------------------------------------------------------------------------------------------------


def test_the_sheet_has_every_number(room: Room) -> None:
    """All of it, and whether checkouts compare with it."""
    made = room.take(rejected=(Rejected("1.9", "knocked"),))
    sheet = records.sheet(room.site, "reference", made, room.technician)
    assert sheet.line == "Checkouts compare with it."
    text = told(sheet)
    for words in ("S-1", "J-1", "1.6400 mR/h", "scatter of the mean", "0.86 %", "1.9 as printed", "knocked", "0.99"):
        assert words in text, text
    room.calibrated(certificate="K-3")
    assert "another calibration" in records.sheet(room.site, "reference", made).line
    with pytest.raises(Trouble, match="no such reference"):
        records.sheet(room.site, "reference", room.instrument)


def test_the_instruments_sheet_says_what_counts_what_is_missing_and_the_ratios(room: Room) -> None:
    """A calibration makes the older one unusable: that is said, not left to the next checkout."""
    from procedures.site.records.reference import sections

    assert "There is no reference reading for: role daily, scale x1." in told(sections(room.site, room.state))
    room.take()
    text = told(sections(room.site, room.state))
    assert "There is no reference reading" not in text
    assert "0.99" in text
    assert "first" in text


@pytest.mark.parametrize(
    ("figure", "text"),
    [(1.6533333, "1.653"), (0, "0"), (12345.6, "12350"), (0.000123456, "0.0001235"), (9.9999, "10.000")],
)
def test_figures_are_said_without_powers_of_ten(figure: float, text: str) -> None:
    """A technician reads 12350 cpm, not 1.235e+04."""
    assert said(figure) == text


def test_program_set_up_goes_on_working(room: Room) -> None:
    """What a site is begun with is kept as it is; a person who is named has to be entitled."""
    calibration = room.state.calibration
    assert calibration is not None
    with pytest.raises(Trouble, match="only a site lead"):
        references.reference_reading(
            room.site,
            room.instrument,
            source=id_of(room.site, "S-1"),
            jig=None,
            role="daily",
            scale="x1",
            readings=["1.6", "1.7", "1.6"],
            unit="mR/h",
            calibration=calibration.event,
            person=room.technician,
        )


def test_each_reading_is_understood_when_it_is_entered(room: Room) -> None:
    """The form hands out the reader that the record goes by: 9.9 is on no scale to 3, and x10 multiplies."""
    entered = {"role": "daily", "source": "S-1", "scale": "x1"}
    page = forms.form(room.site, "reference", room.instrument, room.lead, entered, 3)
    (field,) = (each for each in page.fields if each.id == "readings")
    assert field.reads is not None
    assert field.reads("1.62") == "1.62 mR/h"
    for bad in ("9.9", "many", ""):
        with pytest.raises(Trouble):
            field.reads(bad)
