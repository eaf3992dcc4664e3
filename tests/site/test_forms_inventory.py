"""Forms for instruments, jigs, whereabouts, contamination and bindings: what they refuse, keep, and say beforehand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from desk_walk import MINI, START, id_of, leak_tested, small_site, walk
from hypothesis import given, settings
from hypothesis import strategies as st

from procedures.clock import ManualClock
from procedures.journal.states import fitness
from procedures.sheets import Done, Form, Look
from procedures.site import forms, handouts, inventory, profiles, secrets
from procedures.site.checkouts import Desk
from procedures.site.opening import Site
from procedures.trouble import Trouble

PIN = "285914"


class Desktop:
    """A small site and whoever fills forms in."""

    def __init__(self, folder: Path) -> None:
        self.clock = ManualClock(START)
        self.site = small_site(folder, self.clock)
        self.clock.advance(60)
        self.lead, self.tech = id_of(self.site, "P-1"), id_of(self.site, "P-2")
        self.instrument, self.source, self.jig = (id_of(self.site, label) for label in ("C-1", "S-1", "J-1"))

    def form(self, name: str, about: str = "", entered: Mapping[str, str] | None = None, /, *, by: str = "") -> Form:
        return forms.task(name).form(self.site, about, by or self.lead, entered or {}, 1)

    def look(self, name: str, about: str, /, *, by: str = "", **entered: str) -> Look:
        before = self.site.journal.count()
        seen = forms.task(name).look(self.site, about, by or self.lead, entered)
        assert self.site.journal.count() == before
        return seen

    def keep(self, name: str, about: str, /, *, by: str = "", **entered: str) -> Done:
        return forms.task(name).keep(self.site, about, by or self.lead, entered)

    def refuses(self, name: str, about: str, field: str, says: str, /, *, by: str = "", **entered: str) -> None:
        """Looked at, it stands under its field; kept, it is refused; nothing is recorded; the words help."""
        seen = self.look(name, about, by=by, **entered).troubles
        assert says in seen[field].what
        before = self.site.journal.count()
        with pytest.raises(Trouble) as refused:
            self.keep(name, about, by=by, **entered)
        assert self.site.journal.count() == before
        for trouble in (refused.value, *seen.values()):
            assert trouble.allowed, trouble.what
            assert trouble.do, trouble.what

    def word(self) -> str:
        return fitness(self.site.journal.instrument_now(self.instrument), self.clock.now().utc).word

    def check(self) -> None:
        desk = Desk(self.site)
        walk(desk, desk.start(self.instrument, self.tech), self.clock)

    def with_pins(self) -> None:
        self.site.record("settings-changed", {"set": {"pins": "on"}}, about=("site",))
        secrets.set_pin(self.site, self.lead, PIN, salt=b"1" * 16, cost=secrets.Cost(n=16))


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desktop]:
    made = Desktop(tmp_path)
    yield made
    made.site.close()


NEW = {"label": "C-2", "serial": "102", "type": "Vent one", "profile": "mini", "detector": "", "cable": ""}

# --- instruments ---------------------------------------------------------------------------------------------------


def test_a_new_instrument_is_taken_in(desk: Desktop) -> None:
    """With the only profile in force offered; what comes next is said, and its sheet opens."""
    form = desk.form("instrument-add")
    (profile,) = (field for field in form.fields if field.id == "profile")
    assert [option.value for option in profile.options] == ["mini"]
    assert not desk.look("instrument-add", "", **NEW).troubles
    done = desk.keep("instrument-add", "", **NEW)
    made = id_of(desk.site, "C-2")
    assert done.opens is not None
    assert (done.opens.name, done.opens.about) == ("instrument", made)
    assert desk.site.journal.instrument_now(made).fields["serial"] == "102"


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"label": ""}, "label", "no label"),
        ({"label": "C-1"}, "label", "in use"),
        ({"label": "s-1"}, "label", "in use"),
        ({"label": "x" * 121}, "label", "no label"),
        ({"type": ""}, "type", "missing"),
        ({"serial": "101"}, "serial", "registered already, as C-1"),
        ({"serial": "101", "type": "VENT ONE"}, "serial", "registered already, as C-1"),
        ({"serial": "9" * 500}, "serial", "too long"),
        ({"profile": ""}, "profile", "nothing is chosen"),
        ({"profile": "another"}, "profile", "not one of the choices"),
        ({"cable": "x" * 500}, "cable", "too long"),
    ],
)
def test_a_second_entry_and_what_cannot_be_is_refused(
    desk: Desktop, changes: dict[str, str], field: str, says: str
) -> None:
    """The same id, label, or serial number of the same type; each under its field, in words."""
    desk.refuses("instrument-add", "", field, says, **NEW | changes)


def test_a_short_serial_number_is_found_among_many(desk: Desktop) -> None:
    """“1” stands in many labels and serial numbers; the one that is the same is found all the same."""
    inventory.register_instrument(desk.site, label="Z-1", serial="1", type="Vent one", profile="mini")
    for number in range(60):
        inventory.register_instrument(desk.site, label=f"D-1{number}", serial=f"7{number}", type="V", profile="mini")
    desk.refuses("instrument-add", "", "serial", "as Z-1", **NEW | {"serial": "1"})


def test_without_a_profile_in_force_no_instrument_is_taken_in(desk: Desktop) -> None:
    """It could never be checked. Two adopted apart are none."""
    desk.site.record(
        "profile-adopted",
        {"profile": "mini", "revision": 2, "title": "T", "sha256": "ab" * 32, "text": MINI, "replaces": []},
        about=("profile:mini",),
    )
    with pytest.raises(Trouble, match="no profile is in force") as refused:
        desk.form("instrument-add")
    assert refused.value.do


@pytest.mark.parametrize("name", ["instrument-add", "jig-add", "person-add", "settings"])
def test_a_form_that_could_not_be_kept_is_not_opened(desk: Desktop, name: str) -> None:
    """A technician does not fill in a page for nothing; nobody yet may look."""
    with pytest.raises(Trouble, match="only a site lead"):
        desk.form(name, by=desk.tech)
    forms.task(name).form(desk.site, "", "", {}, 1)
    with pytest.raises(Trouble, match="nobody has said who"):
        forms.task(name).keep(desk.site, "", "", NEW | {"initials": "N", "name": "N", "role_lead": "yes"})


@pytest.mark.parametrize(("field", "value"), [("detector", "D-9"), ("cable", "K-9")])
def test_another_detector_says_beforehand_that_readiness_and_calibration_end(
    desk: Desktop, field: str, value: str
) -> None:
    """Before it is kept, and asked once more; then it is so."""
    desk.check()
    assert desk.word() == "ready"
    form = desk.form("instrument-edit", desk.instrument)
    assert any("ends its readiness and its calibration" in line for line in form.says)
    seen = desk.look("instrument-edit", desk.instrument, **{field: value})
    assert any("Its readiness and its calibration end" in line for line in seen.lines)
    assert desk.form("instrument-edit", desk.instrument, {field: value}).dangerous
    desk.keep("instrument-edit", desk.instrument, **{field: value})
    assert desk.word() == "needs check"
    assert desk.site.journal.instrument_now(desk.instrument).calibration is None


def test_another_label_ends_nothing(desk: Desktop) -> None:
    """The sticker is not what was checked."""
    desk.check()
    seen = desk.look("instrument-edit", desk.instrument, label="C-7")
    assert (seen.lines, seen.tone) == (("label: C-1 → C-7",), "")
    assert not desk.form("instrument-edit", desk.instrument, {"label": "C-7"}).dangerous
    desk.keep("instrument-edit", desk.instrument, label="C-7")
    assert desk.word() == "ready"


def test_what_is_not_changed_is_not_recorded(desk: Desktop) -> None:
    """A form that is kept as it was opened would end readiness for nothing: it says so instead."""
    desk.check()
    stands = {field.id: field.value for field in desk.form("instrument-edit", desk.instrument).fields}
    assert desk.look("instrument-edit", desk.instrument, **stands).lines == ("Nothing is changed.",)
    with pytest.raises(Trouble, match="nothing is changed"):
        desk.keep("instrument-edit", desk.instrument, **stands)
    desk.keep("instrument-edit", desk.instrument, **stands | {"label": "C-3"})
    assert desk.word() == "ready"


def test_editing_cannot_make_two_of_one(desk: Desktop) -> None:
    """What adding refuses is no way round it."""
    inventory.register_instrument(desk.site, label="C-2", serial="102", type="Vent one", profile="mini")
    desk.refuses("instrument-edit", desk.instrument, "serial", "as C-2", serial="102")
    desk.refuses("instrument-edit", desk.instrument, "label", "in use", label="C-2")
    desk.refuses("instrument-edit", desk.instrument, "profile", "not one of", profile="other")


def test_a_profile_that_is_not_in_force_any_more_may_stay(desk: Desktop) -> None:
    """An instrument that waits for its profile can still be given another label."""
    other = inventory.register_instrument(desk.site, label="C-2", serial="102", type="Vent two", profile="later")
    (profile,) = (field for field in desk.form("instrument-edit", other).fields if field.id == "profile")
    assert "no revision of it is in force" in {option.value: option.say for option in profile.options}["later"]
    desk.keep("instrument-edit", other, profile="later", label="C-3")


def test_retiring_needs_a_reason_and_deletes_nothing(desk: Desktop) -> None:
    """Its records stay; its label is never used again; it is asked once more."""
    assert desk.form("instrument-retire", desk.instrument).dangerous
    desk.refuses("instrument-retire", desk.instrument, "why", "missing", why=" ")
    before = desk.site.journal.count()
    desk.keep("instrument-retire", desk.instrument, why="beyond repair")
    assert desk.site.journal.count() == before + 1
    assert desk.site.journal.instrument_now(desk.instrument).retired
    desk.refuses("instrument-add", "", "label", "was once", **NEW | {"label": "C-1"})
    with pytest.raises(Trouble, match="off the list for good"):
        desk.form("instrument-retire", desk.instrument)


def test_what_is_handed_out_is_not_retired(desk: Desktop) -> None:
    """The form is not even opened; and what goes out while it is open is seen when it is kept."""
    desk.check()
    task = forms.task("instrument-retire")
    task.form(desk.site, desk.instrument, desk.lead, {}, 1)
    handouts.hand_out(desk.site, desk.instrument, to=desk.tech, job="survey", place="yard", person=desk.lead)
    desk.refuses("instrument-retire", desk.instrument, "why", "handed out", why="old")
    with pytest.raises(Trouble, match="handed out"):
        desk.form("instrument-retire", desk.instrument)


def test_with_pins_the_lead_gives_theirs_and_looking_costs_no_try(desk: Desktop) -> None:
    """A look never checks a PIN; a mistake elsewhere in the form costs no try either."""
    desk.with_pins()
    assert "pin" in {field.id for field in desk.form("instrument-add").fields}
    desk.look("instrument-add", "", **NEW, pin="000111")
    desk.refuses("instrument-add", "", "label", "in use", **NEW | {"label": "C-1", "pin": "000111"})
    with pytest.raises(Trouble, match="a PIN is needed"):
        desk.keep("instrument-add", "", **NEW)
    with pytest.raises(Trouble, match="not the PIN"):
        desk.keep("instrument-add", "", **NEW, pin="000111")
    desk.clock.advance(10)
    desk.keep("instrument-add", "", **NEW, pin=PIN)
    assert not any(PIN.encode() in event.raw for event in desk.site.journal.about(id_of(desk.site, "C-2")))


# --- jigs ----------------------------------------------------------------------------------------------------------


def test_a_jig_is_taken_in_relabelled_and_retired(desk: Desktop) -> None:
    """Its label is all there is to it, and no label is used twice."""
    desk.keep("jig-add", "", label="J-2")
    made = id_of(desk.site, "J-2")
    desk.refuses("jig-add", "", "label", "in use", label="j-2")
    desk.refuses("jig-edit", made, "label", "nothing is changed", label="J-2")
    desk.refuses("jig-edit", made, "label", "in use", label="J-1")
    desk.keep("jig-edit", made, label="J-3")
    desk.refuses("jig-add", "", "label", "was once", label="J-2")
    desk.keep("jig-retire", made, why="bent")
    desk.refuses("jig-add", "", "label", "was once", label="J-3")


# --- whereabouts and contamination ---------------------------------------------------------------------------------


def test_a_missing_source_says_whom_to_tell_now(desk: Desktop) -> None:
    """Before, on looking, and after; by anyone, without a PIN. Found again, it is looked over first."""
    desk.with_pins()
    told = "TELL THE RADIATION SAFETY OFFICER NOW."
    assert told in desk.form("place", desk.source, by=desk.tech).caution
    seen = desk.look("place", desk.source, by=desk.tech, whereabouts="missing")
    assert (seen.lines[0], seen.tone) == (told, "bad")
    done = desk.keep("place", desk.source, by=desk.tech, whereabouts="missing", where="not in its store")
    assert told in done.do
    assert desk.site.journal.source_now(desk.source).whereabouts == "missing"
    with pytest.raises(Trouble, match="only a site lead"):
        desk.keep("place", desk.source, by=desk.tech, whereabouts="here")
    assert "leak-tested" in desk.keep("place", desk.source, whereabouts="here", pin=PIN).do


@pytest.mark.parametrize("label", ["C-1", "J-1"])
def test_other_things_are_placed_without_alarm(desk: Desktop, label: str) -> None:
    """A missing jig is a nuisance."""
    thing = id_of(desk.site, label)
    assert not desk.form("place", thing).caution
    assert desk.look("place", thing, whereabouts="missing").lines == ()
    desk.keep("place", thing, whereabouts="in storage", where="north store")
    (placed,) = desk.site.journal.about(thing, kinds=("placed",))
    assert (placed.body["whereabouts"], placed.body["where"]) == ("in storage", "north store")


def test_where_a_thing_cannot_be_is_refused(desk: Desktop) -> None:
    """Nowhere, on the moon, too long a place, and what is handed out."""
    desk.refuses("place", desk.source, "whereabouts", "nothing is chosen")
    desk.refuses("place", desk.source, "whereabouts", "not one of", whereabouts="on the moon")
    desk.refuses("place", desk.source, "where", "too long", whereabouts="here", where="x" * 400)
    desk.check()
    handouts.hand_out(desk.site, desk.instrument, to=desk.tech, job="survey", place="yard", person=desk.lead)
    desk.refuses("place", desk.instrument, "whereabouts", "handed out", whereabouts="here")


def test_contamination_is_said_by_anyone_and_taken_back_by_a_lead_who_says_how(desk: Desktop) -> None:
    """It ends a hand-out; that it is clean needs what showed it."""
    desk.keep("contamination", desk.instrument, by=desk.tech, found="found", say="on the handle")
    assert desk.site.journal.instrument_now(desk.instrument).contaminated
    desk.refuses("contamination", desk.instrument, "say", "missing", found="clean")
    with pytest.raises(Trouble, match="only a site lead"):
        desk.keep("contamination", desk.instrument, by=desk.tech, found="clean", say="wiped")
    desk.keep("contamination", desk.instrument, found="clean", say="wipe of the handle, 0.2 Bq")
    assert not desk.site.journal.instrument_now(desk.instrument).contaminated
    desk.refuses("contamination", desk.instrument, "found", "no contamination", found="clean", say="wiped")
    desk.refuses("contamination", desk.instrument, "found", "nothing is chosen", say="wiped")


# --- binding -------------------------------------------------------------------------------------------------------


def test_binding_says_what_the_profile_wants_of_the_source(desk: Desktop) -> None:
    """The role, where it is read, within what; and what the source is that was scanned."""
    form = desk.form("bind", desk.instrument)
    said = " ".join(form.says)
    assert "daily: response: read on x1, has to lie within -20 % and 20 %" in said
    assert "photon exposure rate" in said
    stands = {field.id: field.value for field in form.fields}
    assert (stands["role"], stands["source"], stands["jig"]) == ("daily", "S-1", "J-1")
    assert "Cs-137" in desk.look("bind", desk.instrument, source="S-1", jig="J-1").lines[0]


def test_a_source_and_jig_are_bound_by_scanning(desk: Desktop) -> None:
    """The last binding counts."""
    jig = inventory.register_jig(desk.site, label="J-2")
    desk.keep("bind", desk.instrument, role="daily", source="S-1", jig="J-2")
    bound = desk.site.journal.instrument_now(desk.instrument).bindings["daily"]
    assert (bound.source, bound.jig) == (desk.source, jig)


def test_only_what_is_there_is_bound(desk: Desktop) -> None:
    """A jig is no source, a role of another profile is none, nor is what is off the list."""
    bind = {"role": "daily", "source": "S-1", "jig": "J-1"}
    desk.refuses("bind", desk.instrument, "source", "no source here is called", **bind | {"source": "J-1"})
    desk.refuses("bind", desk.instrument, "jig", "no jig here is called", **bind | {"jig": "S-1"})
    desk.refuses("bind", desk.instrument, "role", "not one of", **bind | {"role": "weekly"})
    inventory.retire(desk.site, desk.jig, "bent")
    desk.refuses("bind", desk.instrument, "jig", "no jig here is called", **bind)


def test_a_source_that_may_not_be_used_is_said_when_it_is_bound(desk: Desktop) -> None:
    """It may be bound, and says at once why it would stop every check."""
    leak_tested(desk.site, desk.source, dt.date(2025, 1, 1), pin=PIN)
    seen = desk.look("bind", desk.instrument, source="S-1")
    assert "may not be used now" in " ".join(seen.lines)
    assert seen.tone == "warn"


def test_an_instrument_without_a_profile_in_force_cannot_be_bound(desk: Desktop) -> None:
    """Nothing says what a source would be for."""
    bare = inventory.register_instrument(desk.site, label="C-9", serial="9", type="V", profile="none")
    with pytest.raises(Trouble, match="no revision of none is in force") as refused:
        desk.form("bind", bare)
    assert refused.value.allowed
    assert refused.value.do


# --- whatever is typed ---------------------------------------------------------------------------------------------

ABOUT = {
    "instrument-add": "", "instrument-edit": "C-1", "instrument-retire": "C-1", "jig-add": "", "jig-edit": "J-1",
    "jig-retire": "J-1", "person-add": "", "person-edit": "P-2", "person-retire": "P-2", "pin-set": "P-2",
    "place": "S-1", "contamination": "C-1", "bind": "C-1", "settings": "",
}  # fmt: skip


@pytest.mark.parametrize("name", ABOUT)
def test_whatever_is_typed_is_looked_at_without_a_traceback(desk: Desktop, name: str) -> None:
    """Control characters, a pasted page, another alphabet's digits, markup: words, and nothing is recorded."""
    about = id_of(desk.site, ABOUT[name]) if ABOUT[name] else ""
    fields = [field.id for field in desk.form(name, about).fields]
    for text in ("", "\x00\x1b[2J", "\ud800", "x" * 100_000, "[/]", "٣", "-1", "1e999", "yes", "\u202e", "2026-13-01"):
        entered = dict.fromkeys(fields, text)
        seen = desk.look(name, about, **entered)
        for trouble in seen.troubles.values():
            assert trouble.allowed, (name, text, trouble.what)
            assert trouble.do, (name, text, trouble.what)
        forms.task(name).form(desk.site, about, desk.lead, entered, 1)


@pytest.mark.parametrize("name", [name for name, about in ABOUT.items() if about])
@pytest.mark.parametrize("about", ["", "nothing", "ab" * 32, "\ud800", "of another sort"])
def test_a_form_about_nothing_is_refused_in_words(desk: Desktop, name: str, about: str) -> None:
    """An id that is old, mistyped, or of something else."""
    meant = (
        desk.tech if about == "of another sort" and name not in ("person-edit", "person-retire", "pin-set") else about
    )
    meant = desk.jig if meant == "of another sort" else meant
    task = forms.task(name)
    assert isinstance(task.look(desk.site, meant, desk.lead, {}), Look)
    for call in (
        lambda: task.form(desk.site, meant, desk.lead, {}, 1),
        lambda: task.keep(desk.site, meant, desk.lead, {"label": "X-1", "why": "x", "whereabouts": "here"}),
    ):
        with pytest.raises(Trouble):
            call()


# --- any order of forms --------------------------------------------------------------------------------------------

LABELS = st.sampled_from(["A-1", "a-1", "A-2", "C-1", "J-1", "P-2", ""])
FILLS = st.one_of(
    st.tuples(st.just("instrument-add"), st.none(), LABELS, st.sampled_from(["101", "1", "2", ""])),
    st.tuples(st.just("jig-add"), st.none(), LABELS, st.just("")),
    st.tuples(st.just("person-add"), st.none(), LABELS, st.just("")),
    st.tuples(
        st.sampled_from(["instrument-edit", "jig-edit", "person-edit"]), st.integers(0, 5), LABELS,
        st.sampled_from(["101", "1", "2"]),
    ),
    st.tuples(
        st.sampled_from(["instrument-retire", "jig-retire", "person-retire"]), st.integers(0, 5), st.just(""),
        st.just(""),
    ),
)  # fmt: skip
SORTS = {"instrument": "instrument", "jig": "jig", "person": "person"}


@settings(max_examples=60, deadline=None)
@given(st.lists(FILLS, max_size=12))
def test_no_order_of_forms_doubles_a_label_or_loses_an_entry(fills: list[tuple[str, int | None, str, str]]) -> None:
    """Two living things never share a label; a label once carried is never another thing's; nothing ever vanishes."""
    with TemporaryDirectory() as folder:
        desk = Desktop(Path(folder))
        with desk.site as site:
            ever: dict[str, set[str]] = {}
            known: list[str] = [desk.lead, desk.tech, desk.instrument, desk.source, desk.jig]
            _note(site, known, ever)
            for name, place, label, serial in fills:
                of_sort = [each for each in known if site.journal.thing_now(each).what == name.split("-")[0]]
                about = of_sort[place % len(of_sort)] if place is not None else ""
                entered = {
                    "label": label, "serial": serial, "type": "Vent one", "profile": "mini", "name": "N. Body",
                    "initials": "NB", "role_technician": "yes", "why": "worn out",
                }  # fmt: skip
                count = site.journal.count()
                done = _kept(desk, name, about, entered)
                if done is None:
                    assert site.journal.count() == count
                    continue
                assert site.journal.count() == count + 1
                if name.endswith("-add"):
                    assert done.opens is not None
                    known.append(done.opens.about)
                _note(site, known, ever)
            assert site.journal.shared_labels() == {}
            assert all(site.journal.thing_now(each).registered for each in known)
            assert all(len(carriers) == 1 for carriers in ever.values()), ever
            people = [row for row in site.journal.people(limit=-1) if "lead" in row.roles]
            assert people, "a site keeps a lead"


def _kept(desk: Desktop, name: str, about: str, entered: Mapping[str, str]) -> Done | None:
    """What became of a form; None where it was refused, in words that help."""
    refused = None
    try:
        return desk.keep(name, about, **entered)
    except Trouble as trouble:
        refused = trouble
    assert refused.allowed, refused.what
    assert refused.do, refused.what
    return None


def _note(site: Site, known: list[str], ever: dict[str, set[str]]) -> None:
    """Who carries, or ever carried, which label."""
    for each in known:
        label = str(site.journal.thing_now(each).fields["label"]).casefold()
        ever.setdefault(label, set()).add(each)


def test_profiles_come_by_title(desk: Desktop) -> None:
    """What is chosen is what people call it; several are offered without one being chosen for them."""
    profiles.adopt(desk.site, MINI.replace('"mini"', '"other"').replace("A small", "Another"), desk.lead)
    (profile,) = (field for field in desk.form("instrument-add").fields if field.id == "profile")
    assert [option.say for option in profile.options] == [
        "A small invented procedure, revision 1 (mini)",
        "Another invented procedure, revision 1 (other)",
    ]
    assert profile.value == ""
