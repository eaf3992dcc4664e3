"""Settings: a closed list, read and changed all at once, and what each change says it does to what is there."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_walk import MINI, START, id_of, small_site, walk
from hypothesis import given
from hypothesis import settings as tries
from hypothesis import strategies as st

from procedures.clock import ManualClock
from procedures.journal.states import fitness
from procedures.sheets import Grid
from procedures.site import forms, profiles, records, secrets, settings
from procedures.site.checkouts import Desk
from procedures.site.opening import DEFAULTS, UNGUARDED, Site
from procedures.site.settings import GROUPS, KEYS, SETTINGS, BadSettings
from procedures.trouble import Trouble

PIN = "7391"
BASE = {"name", "zone", "day_starts", "shifts"}


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(START)


@pytest.fixture
def site(tmp_path: Path, clock: ManualClock) -> Iterator[Site]:
    with small_site(tmp_path, clock) as made:
        clock.advance(60)
        yield made


def change(site: Site, **texts: str) -> tuple[str, ...]:
    return settings.change(site, id_of(site, "P-1"), None, texts)


# --- the list ------------------------------------------------------------------------------------------------------


def test_every_setting_has_a_default_words_and_an_answer_that_is_allowed(site: Site) -> None:
    """The closed list and the defaults are one and the same; every default may be entered as it stands."""
    assert set(KEYS) == set(DEFAULTS) | BASE
    assert len(SETTINGS) == len(KEYS)
    assert {each.group for each in SETTINGS} == set(GROUPS)
    for each in SETTINGS:
        assert each.say
        assert settings.allowed(each)
        _, troubles = settings.read(site, {each.key: DEFAULTS.get(each.key, site.settings()[each.key])})
        assert troubles == {}, each.key


def test_a_new_site_goes_by_the_program(site: Site) -> None:
    """What others count on by name. 10 CFR 35.61: calibration every 12 months; 35.67: leak tests and inventory every 6
    months; 35.2061 and 35.2070: records for 3 years (read)."""
    now = site.settings()
    assert {**DEFAULTS, **UNGUARDED}.items() <= now.items()
    wanted = {
        "calibration_interval_months": "12", "leak_test_interval_months": "6", "source_count_interval_months": "6",
        "highest_reference_age_months": "0", "reference_within_days": "30", "reference_cv_percent": "10",
        "reference_change_percent": "20", "exchange_limit_hours": "0", "back_by_hours": "12", "retention_years": "3",
        "leak_test_exempt": "", "tolerance_policy": "",
    }  # fmt: skip
    assert wanted.items() <= now.items()


def test_the_policy_of_the_beginning_stands_until_another_is_said(site: Site) -> None:
    """`init` asks for the tolerance and whose rule it is, apart."""
    begun = {"tolerance": "20 % of the reference", "tolerance_source": "our licence, condition 7"}
    site.record("settings-changed", {"set": begun}, about=("site",))
    assert site.settings()["tolerance_policy"] == "20 % of the reference — our licence, condition 7"
    change(site, tolerance_policy="15 %, radiation protection manual, section 3")
    assert site.settings()["tolerance_policy"].startswith("15 %")


def test_a_figure_that_cannot_be_read_is_the_programs_own(site: Site) -> None:
    """A newer program may write what this one does not know; home still opens."""
    site.record("settings-changed", {"set": {"calibration_warning_days": "a month"}}, about=("site",))
    assert site.settings()["calibration_warning_days"] == "30"


# --- changing ------------------------------------------------------------------------------------------------------

GOOD = {
    "name": "South store", "zone": "europe/vienna", "day_starts": "7:00", "shifts": "19:00, 7:00", "ready_ends": "day",
    "two_people_for": "response-out,  window-damaged", "calibration_interval_months": "6", "repairer_may_clear": "no",
    "reference_within_days": "14", "tolerance_policy": "",
}  # fmt: skip


def test_several_are_changed_in_one_record(site: Site) -> None:
    """As they are read, each in its one form; what stands already is not written again."""
    before = site.journal.count()
    changed = change(site, **GOOD)
    assert site.journal.count() == before + 1
    assert set(changed) == set(GOOD) - {"tolerance_policy"}
    now = site.settings()
    assert (now["zone"], now["day_starts"], now["shifts"]) == ("Europe/Vienna", "07:00", "07:00 19:00")
    assert now["two_people_for"] == "response-out, window-damaged"
    assert now["name"] == "South store"
    (event,) = site.journal.about("site", kinds=("settings-changed",))
    assert event.person == id_of(site, "P-1")


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("zone", "Mars/Olympus"), ("day_starts", "25:00"), ("day_starts", ""), ("shifts", ""), ("shifts", "06:00 six"),
        ("ready_ends", "never"), ("pins", "perhaps"), ("calibration_interval_months", "0"),
        ("calibration_interval_months", "61"), ("calibration_interval_months", "1.5"),
        ("calibration_interval_months", "-1"), ("calibration_interval_months", "٣"),
        ("calibration_interval_months", "9" * 5000), ("calibration_interval_months", ""),
        ("reference_cv_percent", "101"), ("two_people_for", "respones-out"), ("calibration_for", "window"),
        ("name", ""), ("name", "x" * 301), ("tolerance_policy", "x" * 301), ("colour", "red"),
        ("badge_is_enough", "perhaps"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_and_keeps_everything_out(site: Site, key: str, text: str) -> None:
    """One bad answer among good ones: none is changed; the words say what is allowed and what to do."""
    before = site.journal.count()
    with pytest.raises(BadSettings) as refused:
        change(site, **{**GOOD, key: text})
    assert set(refused.value.troubles) == {key}
    assert refused.value.allowed
    assert refused.value.do
    assert site.journal.count() == before


def test_a_figure_may_stand_with_its_unit(site: Site) -> None:
    """As people write it; another unit is none."""
    change(site, back_by_hours="8 hours", reference_cv_percent="5 %", calibration_interval_months=" 06 ")
    now = site.settings()
    assert (now["back_by_hours"], now["reference_cv_percent"], now["calibration_interval_months"]) == ("8", "5", "6")
    with pytest.raises(BadSettings):
        change(site, back_by_hours="1 day")


def test_everything_wrong_is_said_at_once(site: Site) -> None:
    """One round of putting right."""
    with pytest.raises(BadSettings, match="3 settings cannot be so") as refused:
        change(site, zone="Nowhere", retention_years="none", pins="maybe", name="North")
    said = "\n".join(refused.value.lines())
    assert "time zone: there is no time zone" in said
    assert "a whole number from 1 to 100 (years)" in said


def test_a_code_that_locks_nothing_out_would_guard_nothing(site: Site) -> None:
    """It is refused with the nearest one; a code of an adopted profile is known like the program's own."""
    with pytest.raises(BadSettings) as refused:
        change(site, two_people_for="respones-out")
    assert refused.value.do == "Did you mean response-out?"
    profiles.adopt(site, MINI.replace('"mini"', '"other"').replace('"zero-off"', '"zero-wanders"'), id_of(site, "P-1"))
    change(site, two_people_for="zero-wanders")


def test_a_code_that_stands_already_may_stay(site: Site) -> None:
    """Its profile was replaced since; taking it out is the lead's to decide."""
    site.record("settings-changed", {"set": {"two_people_for": "old-code"}}, about=("site",))
    change(site, two_people_for="old-code, zero-off")


def test_nothing_is_recorded_of_no_change(site: Site) -> None:
    """A page kept as it was opened."""
    with pytest.raises(Trouble, match="stands like this already"):
        change(site, **{each.key: site.settings()[each.key] for each in SETTINGS})


def test_only_a_lead_with_their_pin_changes_settings(site: Site, clock: ManualClock) -> None:
    """And what cannot be costs no try."""
    lead, tech = id_of(site, "P-1"), id_of(site, "P-2")
    for who, says in ((tech, "only a site lead"), ("", "nobody has said who"), ("ab" * 32, "not on the")):
        with pytest.raises(Trouble, match=says):
            settings.change(site, who, None, {"retention_years": "5"})
    change(site, pins="on")
    secrets.set_pin(site, lead, "285914", salt=b"1" * 16, cost=secrets.Cost(n=16))
    with pytest.raises(BadSettings):
        settings.change(site, lead, "000111", {"retention_years": "0"})
    assert site.journal.about(lead, kinds=("pin-refused",)) == ()
    with pytest.raises(Trouble, match="a PIN is needed"):
        settings.change(site, lead, None, {"pins": "off"})
    with pytest.raises(Trouble, match="not the PIN"):
        settings.change(site, lead, "000111", {"pins": "off"})
    clock.advance(10)
    settings.change(site, lead, "285914", {"pins": "off"})


@given(st.dictionaries(st.sampled_from([*KEYS, "x"]), st.text(max_size=40) | st.from_regex(r"\A[0-9]{1,4}\Z")))
@tries(max_examples=60, deadline=None)
def test_whatever_is_typed_is_read_or_refused_in_words(texts: dict[str, str]) -> None:
    """And what is read reads as the same again, so that a form that is opened and kept changes nothing."""
    made, troubles = settings.read(_site(), texts)
    assert made.keys() | troubles.keys() <= texts.keys()
    for trouble in troubles.values():
        assert trouble.allowed
        assert trouble.do
    again, refused = settings.read(_site(), {key: settings.as_text(value) for key, value in made.items()})
    assert refused == {}
    assert again == made


_READ: dict[str, Site] = {}


def _site() -> Site:
    return _READ["site"]


@pytest.fixture(autouse=True, scope="module")
def _one_site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """One site for all tries: reading changes nothing."""
    with small_site(tmp_path_factory.mktemp("read"), ManualClock(START)) as made:
        _READ["site"] = made
        yield


# --- what a change does --------------------------------------------------------------------------------------------


def test_another_zone_moves_the_end_of_due_dates_and_says_by_how_much(site: Site) -> None:
    """Vienna is two hours ahead of UTC in June (tz database): its midnight comes two hours earlier."""
    said = " ".join(settings.consequences(site, {"zone": "Europe/Vienna"}))
    assert "ends 2 h earlier" in said
    assert "2026-06-01 22:00 UTC instead of 2026-06-02 00:00 UTC" in said
    same = " ".join(settings.consequences(site, {"zone": "Etc/GMT"}))
    assert "same moment" in same


def test_another_start_of_day_moves_no_due_date(site: Site, clock: ManualClock) -> None:
    """It says so, and it is so: what was passed already keeps its end."""
    said = " ".join(settings.consequences(site, {"day_starts": "08:00", "shifts": ["08:00"]}))
    assert "Due dates stay as they are" in said
    assert "keeps the end it has" in said
    instrument = id_of(site, "C-1")
    desk = Desk(site)
    walk(desk, desk.start(instrument, id_of(site, "P-2")), clock)
    before = fitness(site.journal.instrument_now(instrument), clock.now().utc)
    change(site, shifts="08:00 20:00", zone="Europe/Vienna")
    assert fitness(site.journal.instrument_now(instrument), clock.now().utc) == before
    assert before.until == dt.datetime(2026, 6, 1, 14, tzinfo=dt.UTC)


def test_pins_say_what_they_do(site: Site) -> None:
    """Turned on with no PIN on the laptop: set the lead's first. Turned off: anybody is anybody."""
    assert any("set a lead's first" in line for line in settings.consequences(site, {"pins": "on"}))
    secrets.set_pin(site, id_of(site, "P-1"), "285914", salt=b"1" * 16, cost=secrets.Cost(n=16))
    assert not any("set a lead's first" in line for line in settings.consequences(site, {"pins": "on"}))
    assert any("nobody proves who they are" in line for line in settings.consequences(site, {"pins": "off"}))


def test_retention_deletes_nothing(site: Site) -> None:
    """The program only says what may be archived."""
    assert any("Nothing is ever deleted" in line for line in settings.consequences(site, {"retention_years": "1"}))


# --- the form ------------------------------------------------------------------------------------------------------


def test_every_setting_is_on_one_page_of_the_form(site: Site) -> None:
    """With its value, its unit and its range; the PIN once, on the last page."""
    task = forms.task("settings")
    lead = id_of(site, "P-1")
    change(site, pins="on")
    pages = [task.form(site, "", lead, {}, page) for page in range(1, len(GROUPS) + 1)]
    fields = [field for page in pages for field in page.fields]
    assert [field.id for field in fields if field.id != "pin"] == [each.key for each in SETTINGS]
    assert [field.id for field in pages[-1].fields][-1] == "pin"
    assert sum(field.id == "pin" for field in fields) == 1
    now = site.settings()
    assert all(field.value == now[field.id] for field in fields if field.id != "pin")
    assert {page.pages for page in pages} == {len(GROUPS)}


def test_the_form_shows_what_changes_and_asks_again_about_what_is_grave(site: Site) -> None:
    """From any page; a wrong answer stands under its field."""
    task = forms.task("settings")
    lead = id_of(site, "P-1")
    seen = task.look(site, "", lead, {"zone": "Europe/Vienna", "retention_years": "no"})
    assert "time zone: Etc/UTC → Europe/Vienna" in seen.lines
    assert any("2 h earlier" in line for line in seen.lines)
    assert set(seen.troubles) == {"retention_years"}
    assert task.look(site, "", lead, {}).lines == ("Nothing is changed.",)
    assert "2 h earlier" in task.form(site, "", lead, {"zone": "Europe/Vienna"}, len(GROUPS)).dangerous
    assert task.form(site, "", lead, {"back_by_hours": "8"}, len(GROUPS)).dangerous == ""
    done = task.keep(site, "", lead, {"zone": "Europe/Vienna", "back_by_hours": "8"})
    assert "time zone" in done.what
    assert site.settings()["back_by_hours"] == "8"


def test_each_setting_is_changed_on_one_page(site: Site) -> None:
    """From its row of the sheet: one field and the PIN, and nothing else is touched, whatever else was sent."""
    lead = id_of(site, "P-1")
    change(site, pins="on")
    secrets.set_pin(site, lead, PIN, salt=b"s" * 16)
    sheet = records.sheet(site, "settings", "", lead)
    rows = [row for section in sheet.sections if isinstance(section, Grid) for row in section.rows]
    opened = {row.key: row.opens for row in rows}
    assert set(opened) == set(KEYS)
    for key, deed in opened.items():
        assert deed is not None
        page = forms.form(site, deed.name, deed.about, lead, {}, 1)
        assert page.pages == 1
        assert [field.id for field in page.fields] == [key, "pin"]
    task = forms.task("settings")
    entered = {"back_by_hours": "9", "retention_years": "7", "pin": PIN}
    assert not any("records" in line for line in task.look(site, "back_by_hours", lead, entered).lines)
    assert task.form(site, "zone", lead, {"zone": "Europe/Vienna"}, 1).dangerous
    task.keep(site, "back_by_hours", lead, entered)
    assert site.settings()["back_by_hours"] == "9"
    assert site.settings()["retention_years"] != "7"
    with pytest.raises(Trouble, match="no setting"):
        task.form(site, "colour", lead, {}, 1)
