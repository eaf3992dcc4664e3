"""Forms and sheets of check sources: what is typed, what comes of it, and that nothing typed breaks them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_walk import START, id_of, leak_tested, small_site, walk
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from source_checks import failed

from procedures.clock import ManualClock
from procedures.sheets import Grid, Lines, Listing, Pairs, Query, Sheet
from procedures.site import forms, inventory, records, source_keeping
from procedures.site.checkouts import Desk
from procedures.site.opening import Site
from procedures.site.records.source import sections
from procedures.trouble import Trouble

NAMES = ("source-add", "source-edit", "source-retire", "leak-test", "source-count", "source-condition")
ADDED = {
    "label": "S-2",
    "serial": "N-4",
    "model": "capsule",
    "nuclide": "cf252",
    "components": "Cf-252 | 95 %\nCf-250 | 5",
    "certified_as": "emission rate",
    "activity": "20000 n/s",
    "activity_on": "2025-06-01",
    "uncertainty": "3 %",
    "emits": "neutron",
    "strong": "yes",
    "leak_test_exempt": "none",
    "leak_test_exempt_note": "",
}


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    clock = ManualClock(START)
    with small_site(tmp_path, clock) as made:
        clock.advance(60)
        yield made


def _words(sheet: Sheet) -> str:
    """Everything that a sheet says."""
    said = [sheet.title, sheet.line]
    for section in sheet.sections:
        if isinstance(section, Lines):
            said += section.lines
        elif isinstance(section, Pairs):
            said += [f"{name}: {value}" for name, value in section.rows]
        elif isinstance(section, Grid):
            said += [section.title, *(" | ".join(row.cells) for row in section.rows)]
    return "\n".join(said)


def _keep(site: Site, name: str, about: str, entered: dict[str, str], by: str = "P-1") -> str:
    return forms.task(name).keep(site, about, id_of(site, by), entered).what


def test_a_source_is_taken_in_as_its_certificate_says(site: Site) -> None:
    """An emission rate stays one, shares are kept as they were stated, and the sheet says what it is worth."""
    look = forms.task("source-add").look(site, "", id_of(site, "P-1"), ADDED)
    assert look.troubles == {}
    assert "Today it is worth 15600 /s" in look.lines[0]
    _keep(site, "source-add", "", ADDED)
    fields = site.journal.thing_now(id_of(site, "S-2")).fields
    wanted = {"nuclide": "Cf-252", "certified_as": "emission rate", "activity": "20000 /s", "strength": "strong"}
    assert wanted.items() <= fields.items()
    assert fields["components"] == [{"nuclide": "Cf-252", "share": "0.95"}, {"nuclide": "Cf-250", "share": "0.05"}]
    words = _words(records.sheet(site, "source", id_of(site, "S-2"), ""))
    assert "Cf-252 95 %, Cf-250 5 %" in words
    assert "20000 /s on 2025-06-01, ± 3 %" in words
    assert "Use" not in words
    assert "use the tool" in words
    assert "ask a qualified shipper" in words


def test_what_is_a_year_on_by_the_library(site: Site) -> None:
    """After 365 d: 0.95·2^(−365/966.0656) + 0.05·2^(−365/4777.368) of 20,000 /s (ICRP-107 half-lives, computed)."""
    value = 20000 * (0.95 * 2 ** (-365 / 966.065619) + 0.05 * 2 ** (-365 / 4777.367976))
    assert f"{value:.3g}" == "1.56e+04"
    assert site.clock.now().utc.date() - dt.date(2025, 6, 1) == dt.timedelta(days=365)


@pytest.mark.parametrize(
    ("field", "text", "says"),
    [
        ("label", "", "no label"),
        ("label", "S-1", "in use"),
        ("nuclide", "Xy-1", "no nuclide"),
        ("components", "Cf-250 | 60 %\nCf-249 | 40 %", "no nuclide"),
        ("components", "Cf-250 | 60 %\nCs-137 | 40 %", "main nuclide Cf-252 is not among them"),
        ("components", "Cf-252 | 95 %", "add up to 95 %"),
        ("components", "Cf-252", "not a nuclide and its share"),
        ("components", "Cf-252 | 95 % | 3\nCf-250 | 5", "not a nuclide and its share"),
        ("components", "Cf-252 | lots\nCf-250 | 5", "cannot be read"),
        ("components", "Cf-252 | 50\nCf-252 | 50", "named twice"),
        ("certified_as", "weight", "not one of the choices"),
        ("activity", "37 kBq", "no emission rate"),
        ("activity", "-3 /s", "is none"),
        ("activity", "/s", "no number"),
        ("activity_on", "some day", "no date"),
        ("uncertainty", "500 %", "cannot be"),
        ("strong", "perhaps", "not answered"),
        ("leak_test_exempt", "gas, I think", "not one of the choices"),
        ("leak_test_exempt", "short-lived", "half-life of 13.08 y"),
    ],
)
def test_a_mistake_stands_under_its_field_and_keeps_everything_out(
    site: Site, field: str, text: str, says: str
) -> None:
    """What is wrong, where, and nothing written."""
    entered = {**ADDED, field: text}
    before = site.journal.count()
    look = forms.task("source-add").look(site, "", id_of(site, "P-1"), entered)
    assert says in look.troubles[field].what
    with pytest.raises(Trouble):
        _keep(site, "source-add", "", entered)
    assert site.journal.count() == before


def test_a_source_is_changed_and_what_stands_is_left(site: Site) -> None:
    """Only what is different is written, and the form shows what stands."""
    source = id_of(site, "S-1")
    form = forms.task("source-edit").form(site, source, id_of(site, "P-1"), {}, 1)
    stands = {field.id: field.value for field in form.fields}
    assert (stands["label"], stands["activity"], stands["strong"]) == ("S-1", "37 kBq", "no")
    with pytest.raises(Trouble, match="nothing is changed"):
        _keep(site, "source-edit", source, dict(stands))
    _keep(site, "source-edit", source, {**stands, "label": "S-9", "strong": "yes"})
    events = site.journal.about(source, kinds=("described",), limit=1)
    assert events[0].body == {"set": {"label": "S-9", "strength": "strong"}, "was": "S-1"}
    with pytest.raises(Trouble, match="in use, or was once"):
        _keep(site, "source-add", "", {**ADDED, "label": "S-1"})
    assert "S-9" in records.sheet(site, "source", source, "").title


def test_only_a_lead_opens_and_keeps_what_changes_the_inventory(site: Site) -> None:
    """The same for forms as for whoever calls the use case."""
    source, tech = id_of(site, "S-1"), id_of(site, "P-2")
    for name, about in (("source-add", ""), ("source-edit", source), ("source-retire", source)):
        with pytest.raises(Trouble, match="only a site lead"):
            forms.task(name).form(site, about, tech, {}, 1)
    with pytest.raises(Trouble, match="only a site lead"):
        _keep(site, "source-add", "", ADDED, by="P-2")
    with pytest.raises(Trouble, match="only a site lead"):
        _keep(site, "source-condition", source, {"condition": "good", "say": "x"}, by="P-2")
    with pytest.raises(Trouble, match="nobody has said"):
        forms.task("source-add").keep(site, "", "", ADDED)


def test_a_pin_is_asked_for_last_and_never_to_end_trust(site: Site) -> None:
    """Whoever sees a broken source must not be held up; whoever says that it is good must be who they are."""
    lead, source = id_of(site, "P-1"), id_of(site, "S-1")
    site.record("settings-changed", {"set": {"pins": "on"}}, about=("site",))
    for name in NAMES:
        about = "" if name in ("source-add", "source-count") else source
        assert "pin" in {field.id for field in forms.task(name).form(site, about, lead, {}, 1).fields}
    _keep(site, "source-condition", source, {"condition": "damaged", "say": "dropped"}, by="P-2")
    _keep(site, "leak-test", source, {"on": "2026-06-01", "result": "185", "by": "x", "with": "y"}, by="P-2")
    for name, about, entered in (
        ("source-condition", source, {"condition": "good", "say": "x"}),
        ("leak-test", source, {"on": "2026-06-01", "result": "3", "by": "x", "with": "y"}),
        ("source-add", "", ADDED),
        ("source-edit", source, {"model": "other"}),
        ("source-count", "", {f"scan-{source}": "S-1"}),
    ):
        with pytest.raises(Trouble, match="a PIN is needed"):
            _keep(site, name, about, entered)
    assert site.journal.source_now(source).condition == "damaged"
    _keep(site, "source-count", "", {f"found-{source}": "no"}, by="P-2")


def test_a_leak_test_says_before_it_is_kept_what_it_means(site: Site) -> None:
    """184.9 passes, 185 withdraws, and the words say whom to tell (10 CFR 35.67, read)."""
    source, lead = id_of(site, "S-1"), id_of(site, "P-1")
    entered = {"on": "2026-06-01", "result": "184.9", "by": "TP", "with": "lab"}
    look = forms.task("leak-test").look(site, source, lead, entered)
    assert look.troubles == {}
    assert "passes" in look.lines[0]
    assert "2026-12-01" in look.lines[1]
    look = forms.task("leak-test").look(site, source, lead, {**entered, "result": "185"})
    assert "it leaks" in look.lines[0]
    assert "radiation safety officer" in look.lines[0]
    done = forms.task("leak-test").keep(site, source, lead, {**entered, "result": "185"})
    assert "radiation safety officer" in done.do
    sheet = records.sheet(site, "source", source, "")
    assert sheet.line == "may not be used"
    assert "185 Bq (TP, lab)" in _words(sheet)


def test_sources_are_counted_one_a_page(site: Site) -> None:
    """Each is found by scanning its own label; what was not looked for is left; what is not there is missing."""
    _keep(site, "source-add", "", ADDED)
    _keep(site, "source-add", "", {**ADDED, "label": "S-3", "serial": "N-5"})
    first, second, third = (id_of(site, label) for label in ("S-1", "S-2", "S-3"))
    task = forms.task("source-count")
    pages = [task.form(site, "", "", {}, page) for page in (1, 2, 3)]
    assert [form.pages for form in pages] == [3, 3, 3]
    assert [form.title for form in pages] == [f"Count the sources: S-{n}" for n in (1, 2, 3)]
    wrong = {f"scan-{first}": "S-2", f"found-{second}": "yes"}
    look = task.look(site, "", id_of(site, "P-2"), wrong)
    assert set(look.troubles) == {f"scan-{first}", f"scan-{second}"}
    entered = {f"scan-{first}": "s-1", f"where-{first}": "shelf 2", f"found-{third}": "no"}
    look = task.look(site, "", id_of(site, "P-2"), entered)
    assert look.troubles == {}
    assert look.lines == ("2 of 3 counted.", "Not found: S-3. Tell the radiation safety officer now.")
    assert "S-3 will be recorded as missing" in task.form(site, "", "", entered, 3).dangerous
    done = task.keep(site, "", id_of(site, "P-2"), entered)
    assert "Tell the radiation safety officer now" in done.do
    states = [site.journal.source_now(each) for each in (first, second, third)]
    assert [each.counted_on for each in states] == ["2026-06-01", None, "2026-06-01"]
    assert [each.whereabouts for each in states] == ["here", "here", "missing"]
    assert states[0].where == "shelf 2"


def test_nothing_to_count_is_said(site: Site) -> None:
    """A page of nothing would ask nothing."""
    inventory.place(site, id_of(site, "S-1"), "lent")
    with pytest.raises(Trouble, match="no source to count"):
        forms.task("source-count").form(site, "", "", {}, 1)
    with pytest.raises(Trouble, match="no source was counted"):
        _keep(site, "source-count", "", {})


def test_the_condition_form_leads_to_what_relied_on_it(site: Site) -> None:
    """A slipped source puts every check since it was last good in question."""
    clock = site.clock
    assert isinstance(clock, ManualClock)
    desk = Desk(site)
    walk(desk, desk.start(id_of(site, "C-1"), id_of(site, "P-2")), clock)
    source = id_of(site, "S-1")
    done = forms.task("source-condition").keep(
        site, source, id_of(site, "P-2"), {"condition": "slipped", "say": "it rattles"}
    )
    assert done.opens is not None
    assert (done.opens.name, done.opens.about) == ("relied", source)
    words = _words(records.sheet(site, "relied", source, ""))
    assert "C-1 | Tech Person | pass | fit for use" in words
    clock.advance(60)
    _keep(site, "source-condition", source, {"condition": "good", "say": "seated anew"})
    words = _words(records.sheet(site, "relied", source, ""))
    assert words.index("Since it was said to be good") < words.index("Before it was put right") < words.index("C-1")


def test_what_else_speaks_against_a_source_is_not_covered_by_its_condition(site: Site) -> None:
    """A leaking source that rattles as well is not seated by anybody, and is not “good again” because it was."""
    source = id_of(site, "S-1")
    leak_tested(site, source, dt.date(2026, 5, 30), "500")
    slipped = {"condition": "slipped", "say": "it rattles"}
    done = forms.task("source-condition").keep(site, source, id_of(site, "P-2"), slipped)
    assert "leaks" in done.do
    assert "seated" not in done.do
    look = forms.task("source-condition").look(site, source, id_of(site, "P-1"), {"condition": "good", "say": "seated"})
    assert look.tone == "bad"
    assert "leaks" in look.lines[0]


def test_the_sheet_says_what_points_at_the_source(site: Site) -> None:
    """Before a second instrument goes to the bench for nothing."""
    source = id_of(site, "S-1")
    for label in ("C-2", "C-3"):
        made = inventory.register_instrument(site, label=label, serial=label, type="Vent one", profile="mini")
        inventory.bind_source(site, made, "daily", source)
        failed(site, made, source, 0.5)
    assert "points at the source" in _words(records.sheet(site, "source", source, ""))
    shown = sections(site, site.journal.instrument_now(id_of(site, "C-2")))
    assert any(isinstance(each, Lines) and "points at the source" in " ".join(each.lines) for each in shown)


def test_the_instruments_sheet_says_what_should_be_read_today(site: Site) -> None:
    """Cs-137 after a tenth of a year: 1.65·2^(−36.52422/11018.298) mR/h (computed)."""
    clock = site.clock
    assert isinstance(clock, ManualClock)
    clock.advance(86400 * 36.52422 - 60)
    state = site.journal.instrument_now(id_of(site, "C-1"))
    (grid,) = sections(site, state)
    assert isinstance(grid, Grid)
    assert grid.rows[0].cells[:4] == ("S-1", "daily", "x1", f"{1.65 * 2 ** (-36.52422 / 11018.298):.3g} mR/h")
    source_keeping.condition(site, id_of(site, "P-2"), id_of(site, "S-1"), "damaged", "dropped")
    said = sections(site, state)[1]
    assert isinstance(said, Lines)
    assert "damaged" in said.lines[0]


def test_a_source_without_a_reference_says_so(site: Site) -> None:
    """A new source serves nothing before its reference reading is taken."""
    _keep(site, "source-add", "", ADDED)
    instrument = id_of(site, "C-1")
    inventory.bind_source(site, instrument, "weekly", id_of(site, "S-2"))
    said = sections(site, site.journal.instrument_now(instrument))[1]
    assert isinstance(said, Lines)
    assert "S-2 (weekly) has no reference reading" in said.lines[0]


def _labels(site: Site, **query: object) -> list[str]:
    listed: Listing = records.listing(site, "sources", "", "", Query(**query))  # type: ignore[arg-type]
    return [row.cells[0] for row in listed.rows]


def test_the_list_is_searched_narrowed_and_paged(site: Site) -> None:
    """Filters and pages agree with a list made by hand."""
    for n in range(2, 8):
        _keep(site, "source-add", "", {**ADDED, "label": f"S-{n}", "serial": f"N-{n}"})
        source = id_of(site, f"S-{n}")
        if n % 2:
            source_keeping.condition(site, id_of(site, "P-2"), source, "damaged", "dropped")
        if n > 4:
            entered = {"on": "2026-06-01", "result": "3", "by": "x", "with": "y"}
            _keep(site, "leak-test", source, entered)
            _keep(site, "source-count", "", {f"scan-{source}": f"S-{n}"})
    everything = [f"S-{n}" for n in range(1, 8)]
    assert _labels(site) == everything
    assert _labels(site, limit=2, offset=4) == everything[4:6]
    assert _labels(site, search="N-3") == ["S-3"]
    usable = ["S-1", "S-2", "S-4", "S-6"]
    assert _labels(site, filters={"usable": "yes"}) == usable
    assert _labels(site, filters={"usable": "yes"}, limit=2, offset=1) == usable[1:3]
    assert _labels(site, filters={"usable": "no"}) == ["S-3", "S-5", "S-7"]
    assert _labels(site, filters={"usable": "due"}) == ["S-1", "S-2", "S-3", "S-4"]
    assert _labels(site, filters={"usable": "???"}) == everything
    listed = records.listing(site, "sources", "", "", Query(limit=2, filters={"usable": "no"}))
    assert listed.total == 3


TEXTS = st.one_of(
    st.text(max_size=12),
    st.sampled_from(
        [
            "S-1",
            "P-1",
            "yes",
            "no",
            "185",
            "< 3 Bq",
            "Cs-137 | 100 %",
            "|",
            "a|b|c",
            "2026-06-01",
            "1 /s",
            "good",
            "gas",
        ]
    ),
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(name=st.sampled_from(NAMES), about=st.sampled_from(["", "S-1", "C-1", "nothing", "f" * 64]), data=st.data())
def test_looking_raises_nothing_and_writes_nothing(site: Site, name: str, about: str, data: st.DataObject) -> None:
    """Whatever is typed, about whatever: a look is an answer."""
    source = id_of(site, "S-1")
    meant = {"S-1": source, "C-1": id_of(site, "C-1")}.get(about, about)
    ids = [*ADDED, "on", "result", "by", "with", "note", "condition", "say", "why", f"scan-{source}", f"found-{source}"]
    entered = data.draw(st.dictionaries(st.sampled_from(ids), TEXTS, max_size=8))
    if data.draw(st.booleans()):
        entered = {**ADDED, **entered}
    before = site.journal.count()
    person = data.draw(st.sampled_from(["", id_of(site, "P-1"), id_of(site, "P-2"), "nobody"]))
    forms.task(name).look(site, meant, person, entered)
    assert site.journal.count() == before


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(name=st.sampled_from(NAMES), data=st.data())
def test_keeping_raises_trouble_and_nothing_else(site: Site, name: str, data: st.DataObject) -> None:
    """A technician at the shelf never sees a traceback."""
    entered = {**ADDED, **data.draw(st.dictionaries(st.sampled_from([*ADDED, "on", "result", "say"]), TEXTS))}
    try:
        forms.task(name).keep(site, data.draw(st.sampled_from(["", "x", id_of(site, "C-1")])), "", entered)
    except Trouble:
        return
    raise AssertionError("something was kept for nobody")


@pytest.mark.parametrize("about", ["", "nothing", "f" * 64, "x,y", ","])
@pytest.mark.parametrize("name", ["source", "relied"])
def test_a_sheet_about_no_source_says_so(site: Site, name: str, about: str) -> None:
    """Ids come from scans and old links."""
    with pytest.raises(Trouble):
        records.sheet(site, name, about, "")
    with pytest.raises(Trouble):
        records.sheet(site, name, id_of(site, "C-1"), "")


def test_a_source_whose_record_is_broken_still_has_a_sheet(site: Site) -> None:
    """What another program wrote is shown as what cannot be read, not as a traceback."""
    source = id_of(site, "S-1")
    broken = {"nuclide": "Xy-1", "components": [7], "activity": "much", "activity_on": "once", "leak_test_exempt": 3}
    site.record("described", {"set": broken}, about=(source,))
    assert "cannot be read" in _words(records.sheet(site, "source", source, ""))
    assert "S-1" in _labels(site)
    sections(site, site.journal.instrument_now(id_of(site, "C-1")))
    forms.task("source-edit").form(site, source, id_of(site, "P-1"), {}, 1)
    forms.task("source-edit").look(site, source, id_of(site, "P-1"), {})
