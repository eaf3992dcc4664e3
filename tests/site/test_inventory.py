"""The inventory: what may be said of a thing, and that only a thing of the site is meant."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from desk_walk import START, id_of, small_site, walk
from hypothesis import given
from hypothesis import strategies as st

from procedures.clock import ManualClock
from procedures.site import describing, handouts, inventory, status
from procedures.site.checkouts import Desk
from procedures.site.opening import Site
from procedures.trouble import Trouble

SAID = {
    "C-1": {"serial": "102", "type": "Vent two", "profile": "other", "detector": "D-2", "cable": "K-2"},
    "S-1": {"serial": "8", "nuclide": "co60", "activity": "5 µCi", "activity_on": dt.date(2025, 1, 1), "emits": "beta"},
    "P-2": {"name": "Another Name", "initials": "AN", "roles": ["lead", "lead"], "trained_until": dt.date(2027, 1, 1)},
}


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(START)


@pytest.fixture
def site(tmp_path: Path, clock: ManualClock) -> Iterator[Site]:
    with small_site(tmp_path, clock) as made:
        clock.advance(60)
        yield made


@pytest.mark.parametrize("label", SAID)
def test_everything_that_is_said_of_a_thing_can_be_changed(site: Site, label: str) -> None:
    """It is kept as registering would have kept it: a nuclide by its name, a date as a date."""
    thing = id_of(site, label)
    inventory.describe(site, thing, {**SAID[label], "label": "X-9"})
    found = site.journal.thing_now(thing).fields
    kept = {"nuclide": "Co-60", "activity": "5 µCi", "roles": ["lead"]}
    for field, value in SAID[label].items():
        wanted = value.isoformat() if isinstance(value, dt.date) else kept.get(field, value)
        assert found[field] == wanted
    assert found["label"] == "X-9"


@pytest.mark.parametrize(
    ("label", "changes", "says"),
    [
        ("C-1", {}, "nothing is changed"),
        ("C-1", {"label": ""}, "no label"),
        ("C-1", {"label": "\x00\ud800"}, "no label"),
        ("C-1", {"label": "S-1"}, "in use"),
        ("C-1", {"label": "p-1"}, "in use"),
        ("C-1", {"colour": "red"}, "colour is not what is said of an instrument"),
        ("C-1", {"nuclide": "Cs-137"}, "is not what is said"),
        ("C-1", {"what": "source"}, "is not what is said"),
        ("C-1", {"type": " "}, "type is missing"),
        ("C-1", {"profile": ""}, "profile is missing"),
        ("C-1", {"serial": "9" * 500}, "too long"),
        ("C-1", {"detector": None}, "no text"),
        ("S-1", {"nuclide": "Xy-1"}, "no nuclide"),
        ("S-1", {"nuclide": ""}, "nuclide is missing"),
        ("S-1", {"activity": "5 mR/h"}, "activity"),
        ("S-1", {"activity": "0 Bq"}, "is none"),
        ("S-1", {"activity_on": "some day"}, "no date"),
        ("S-1", {"strength": "huge"}, "no strength"),
        ("P-2", {"roles": ["chief"]}, "chief is not a role"),
        ("P-2", {"roles": []}, "no role"),
        ("P-2", {"roles": "lead, chief"}, "not a role"),
        ("P-2", {"name": "\u200b"}, "name is missing"),
        ("P-2", {"initials": ""}, "initials are missing"),
        ("P-2", {"trained_until": "soon"}, "no date"),
        ("J-1", {"serial": "3"}, "is not what is said"),
    ],
)
def test_what_cannot_be_said_of_a_thing_is_refused_and_changes_nothing(
    site: Site, label: str, changes: Mapping[str, Any], says: str
) -> None:
    """A record cannot be put right later: what says nothing, or the wrong thing, is not written."""
    thing = id_of(site, label)
    before = site.journal.thing_now(thing)
    with pytest.raises(Trouble, match=says):
        inventory.describe(site, thing, changes)
    assert site.journal.thing_now(thing) == before


def test_a_serial_number_belongs_to_one_instrument_of_its_type(site: Site) -> None:
    """Registering refuses it; describing must not be the way round."""
    second = inventory.register_instrument(site, label="C-2", serial="102", type="Vent one", profile="mini")
    with pytest.raises(Trouble, match="registered already, as C-1"):
        inventory.describe(site, second, {"serial": "101"})
    inventory.describe(site, second, {"serial": "102", "label": "c-2"})


@pytest.mark.parametrize("field", ["serial", "type", "detector", "cable", "profile"])
def test_another_set_than_was_checked_is_not_ready(site: Site, clock: ManualClock, field: str) -> None:
    """What was shown was shown of these: another serial number is another instrument."""
    instrument = id_of(site, "C-1")
    desk = Desk(site)
    walk(desk, desk.start(instrument, id_of(site, "P-2")), clock)
    assert status.home(site).instruments[0].fitness == "ready"
    inventory.describe(site, instrument, {field: "another"})
    assert status.home(site).instruments[0].fitness == "needs check"
    assert site.journal.instrument_now(instrument).counting is None


def test_a_new_label_leaves_it_ready(site: Site, clock: ManualClock) -> None:
    """The sticker is not part of what was checked."""
    desk = Desk(site)
    walk(desk, desk.start(id_of(site, "C-1"), id_of(site, "P-2")), clock)
    inventory.describe(site, id_of(site, "C-1"), {"label": "C-77"})
    assert status.home(site).instruments[0].fitness == "ready"


@pytest.mark.parametrize("empty", [{"name": ""}, {"initials": " "}, {"name": "\u200b"}, {"roles": []}])
def test_a_person_has_a_name_initials_and_a_role(site: Site, empty: dict[str, Any]) -> None:
    """A record signed by nobody is none."""
    given_: dict[str, Any] = {"label": "P-9", "name": "N. Body", "initials": "NB", "roles": ["technician"]} | empty
    with pytest.raises(Trouble):
        inventory.register_person(site, **given_)
    assert site.journal.labelled("P-9") == ()


@pytest.mark.parametrize("text", ["", "  ", "\u200b"])
def test_nobody_is_meant_by_an_empty_line(site: Site, text: str) -> None:
    """Enter pressed too early names nobody, whatever stands on the list."""
    site.record("registered", {**site.journal.thing_now(id_of(site, "P-2")).fields, "what": "person", "label": "P-8",
                               "initials": ""})  # fmt: skip
    with pytest.raises(Trouble, match="nothing was entered"):
        status.who(site, text)


# --- who may -------------------------------------------------------------------------------------------------------

BY: dict[str, Callable[[Site, str], object]] = {
    "instrument": lambda site, who: inventory.register_instrument(
        site, label="C-9", serial="9", type="Vent one", profile="mini", person=who
    ),
    "jig": lambda site, who: inventory.register_jig(site, label="J-9", person=who),
    "person": lambda site, who: inventory.register_person(
        site, label="P-9", name="N", initials="N", roles=["lead"], person=who
    ),
    "describe": lambda site, who: inventory.describe(site, id_of(site, "C-1"), {"detector": "D"}, person=who),
    "describe a person": lambda site, who: inventory.describe(site, id_of(site, "P-2"), {"name": "D"}, person=who),
    "retire": lambda site, who: inventory.retire(site, id_of(site, "C-1"), "old", person=who),
    "bind": lambda site, who: inventory.bind_source(site, id_of(site, "C-1"), "daily", id_of(site, "S-1"), person=who),
    "place": lambda site, who: inventory.place(site, id_of(site, "S-1"), "lent", person=who),
    "clean": lambda site, who: inventory.contamination(site, id_of(site, "C-1"), found=False, say="wiped", person=who),
}


@pytest.mark.parametrize("call", BY)
def test_what_changes_the_inventory_takes_a_lead_whoever_calls(site: Site, call: str) -> None:
    """A form, the command line or a script: the same answer. Nothing is recorded of what is refused."""
    before = site.journal.count()
    for who, says in ((id_of(site, "P-2"), "only a site lead"), ("", "nobody has said who"), ("ab" * 32, "not on the")):
        with pytest.raises(Trouble, match=says) as refused:
            BY[call](site, who)
        assert refused.value.allowed
        assert refused.value.do
    site.record("settings-changed", {"set": {"pins": "on"}}, about=("site",))
    with pytest.raises(Trouble, match="a PIN is needed"):
        BY[call](site, id_of(site, "P-1"))
    assert site.journal.count() == before + 1
    site.record("settings-changed", {"set": {"pins": "off"}}, about=("site",))
    BY[call](site, id_of(site, "P-1"))
    assert site.journal.count() == before + 3


@pytest.mark.parametrize("who", ["", "P-2"])
def test_anyone_may_end_trust(site: Site, who: str) -> None:
    """Missing and contaminated are said by whoever sees it, without a PIN, and at once."""
    site.record("settings-changed", {"set": {"pins": "on"}}, about=("site",))
    person = id_of(site, who) if who else ""
    inventory.place(site, id_of(site, "S-1"), "missing", person=person)
    inventory.contamination(site, id_of(site, "C-1"), found=True, say="", person=person)
    assert site.journal.source_now(id_of(site, "S-1")).whereabouts == "missing"
    assert site.journal.instrument_now(id_of(site, "C-1")).contaminated


def test_what_is_out_is_taken_back_first(site: Site, clock: ManualClock) -> None:
    """Off the list nobody would look for it; placed by hand, nobody would ask in what condition it came back."""
    instrument, lead = id_of(site, "C-1"), id_of(site, "P-1")
    desk = Desk(site)
    walk(desk, desk.start(instrument, lead), clock)
    handouts.hand_out(site, instrument, to=id_of(site, "P-2"), job="survey", place="yard", person=lead)
    for call in (
        lambda: inventory.retire(site, instrument, "old", person=lead),
        lambda: inventory.place(site, instrument, "here", person=lead),
    ):
        with pytest.raises(Trouble, match="handed out"):
            call()
    inventory.place(site, instrument, "missing", person=lead)
    inventory.retire(site, instrument, "lost", person=lead)


def test_what_is_off_the_list_is_not_changed(site: Site) -> None:
    """It is history: its record stands as it was."""
    inventory.retire(site, id_of(site, "J-1"), "bent")
    for call in ("describe", "retire"):
        with pytest.raises(Trouble, match="off the list for good"):
            CALLS[call](site, id_of(site, "J-1"))


def test_a_label_that_was_given_up_is_never_used_again(site: Site) -> None:
    """The old sticker lies somewhere. The thing itself may take it back."""
    inventory.describe(site, id_of(site, "C-1"), {"label": "C-2"})
    for label in ("C-1", "c-1"):
        with pytest.raises(Trouble, match="in use, or was once"):
            inventory.register_jig(site, label=label)
    inventory.describe(site, id_of(site, "C-2"), {"label": "C-1"})
    with pytest.raises(Trouble, match="in use, or was once"):
        inventory.register_jig(site, label="C-2")


CALLS: dict[str, Callable[[Site, str], object]] = {
    "describe": lambda site, thing: inventory.describe(site, thing, {"label": "X-9"}),
    "retire": lambda site, thing: inventory.retire(site, thing, "gone"),
    "place": lambda site, thing: inventory.place(site, thing, "missing"),
    "contamination": lambda site, thing: inventory.contamination(site, thing, found=True, say=""),
    "bind to": lambda site, thing: inventory.bind_source(site, thing, "daily", id_of(site, "S-1")),
    "bind": lambda site, thing: inventory.bind_source(site, id_of(site, "C-1"), "daily", thing),
    "bind jig": lambda site, thing: inventory.bind_source(site, id_of(site, "C-1"), "daily", id_of(site, "S-1"), thing),
}
OTHERS = {"describe": "", "retire": "", "place": "P-1", "contamination": "S-1", "bind to": "S-1",
          "bind": "J-1", "bind jig": "S-1"}  # fmt: skip


@pytest.mark.parametrize("call", CALLS)
@pytest.mark.parametrize("meant", ["", "nobody", "e" * 64, "\ud800", "of another sort"])
def test_only_a_thing_of_the_site_and_of_the_right_sort_is_meant(site: Site, call: str, meant: str) -> None:
    """An event about nothing, or about the wrong sort of thing, would never be seen again."""
    other = OTHERS[call]
    if meant == "of another sort" and not other:
        return
    before = site.journal.last_time()
    with pytest.raises(Trouble, match="of this site"):
        CALLS[call](site, id_of(site, other) if meant == "of another sort" else meant)
    assert site.journal.last_time() == before


@pytest.mark.parametrize(
    "call",
    [
        lambda site: inventory.place(site, id_of(site, "C-1"), "on the moon"),
        lambda site: inventory.place(site, id_of(site, "C-1"), "handed out"),
        lambda site: inventory.place(site, id_of(site, "C-1"), "lent", "x" * 400),
        lambda site: inventory.bind_source(site, id_of(site, "C-1"), " ", id_of(site, "S-1")),
        lambda site: inventory.retire(site, id_of(site, "C-1"), "\ud800"),
    ],
)
def test_what_makes_no_sense_is_refused(site: Site, call: Callable[[Site], object]) -> None:
    """Where a thing cannot be, a role without a name."""
    with pytest.raises(Trouble):
        call(site)


def test_a_scanned_label_that_means_nothing_any_more_says_why(site: Site) -> None:
    """Off the list, on two things, given up, too much at once, or nothing at all: each in its own words."""
    inventory.describe(site, id_of(site, "S-1"), {"label": "S-2"})
    inventory.retire(site, id_of(site, "J-1"), "bent")
    site.record("registered", {"what": "jig", "label": "C-1"})
    for text, says in {
        "J-1": "out of service for good",
        "c-1": "2 things carry the label",
        "s-1": "the old label of S-2",
        "": "Nothing was entered",
        "C-1" * 100: "Scan one label, once",
        "X-77": "Nothing here is called",
    }.items():
        found = status.find(site, text)
        assert found.kind == "nothing"
        assert says in found.say
    assert status.find(site, "s-2").kind == "source"


@given(
    what=st.sampled_from(["instrument", "source", "jig", "person"]),
    given_=st.dictionaries(
        st.sampled_from(["serial", "type", "nuclide", "activity", "activity_on", "emits", "roles", "name", "x"]),
        st.none() | st.booleans() | st.integers() | st.floats() | st.text() | st.lists(st.text() | st.none()),
    ),
)
def test_whatever_is_given_is_read_or_refused_in_words(what: str, given_: dict[str, Any]) -> None:
    """Figures, lists, nothing at all in the place of text: never a traceback."""
    try:
        read = describing.read_fields(what, given_)
    except Trouble:
        return
    assert set(read) == set(given_)


@pytest.mark.parametrize(
    ("field", "value", "why"),
    [
        ("leak_test_exempt", "short-lived", "half-life"),
        ("certified_as", "emission rate", "no emission rate"),
        ("components", [{"nuclide": "Sr-90", "share": "1"}], "Cs-137 is not among"),
    ],
)
def test_what_is_changed_of_a_source_fits_the_rest_of_it(site: Site, field: str, value: Any, why: str) -> None:
    """An exemption that the half-life speaks against, an activity called a rate, parts without the main nuclide."""
    before = site.journal.count()
    with pytest.raises(Trouble, match=why):
        inventory.describe(site, id_of(site, "S-1"), {field: value})
    assert site.journal.count() == before
