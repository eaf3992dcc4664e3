"""Forms for people and PINs: the list keeps a lead, badges stay apart, and no PIN is shown or set behind a back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_walk import START, id_of, small_site

from procedures.clock import ManualClock
from procedures.sheets import Done, Form, Look
from procedures.site import forms, inventory, people, secrets
from procedures.site.opening import Site
from procedures.site.records import listing, sheet
from procedures.trouble import Trouble

PINS = {"P-1": "285914", "P-2": "730164"}
NEW = {"label": "P-9", "name": "Osa Brindle", "initials": "OB", "role_technician": "yes", "trained_until": "2027-03-01"}


class Office:
    """A small site, its lead and its technician."""

    def __init__(self, folder: Path) -> None:
        self.clock = ManualClock(START)
        self.site: Site = small_site(folder, self.clock)
        self.clock.advance(60)
        self.lead, self.tech = id_of(self.site, "P-1"), id_of(self.site, "P-2")

    def form(self, task: str, about: str = "", /, *, by: str = "", **entered: str) -> Form:
        return forms.task(task).form(self.site, about, by or self.lead, entered, 1)

    def look(self, task: str, about: str, /, *, by: str = "", **entered: str) -> Look:
        return forms.task(task).look(self.site, about, by or self.lead, entered)

    def keep(self, task: str, about: str, /, *, by: str = "", **entered: str) -> Done:
        return forms.task(task).keep(self.site, about, by or self.lead, entered)

    def refuses(self, task: str, about: str, field: str, says: str, /, *, by: str = "", **entered: str) -> None:
        seen = self.look(task, about, by=by, **entered).troubles
        assert says in seen[field].what
        before = self.site.journal.count()
        with pytest.raises(Trouble) as refused:
            self.keep(task, about, by=by, **entered)
        assert self.site.journal.count() == before
        assert refused.value.allowed
        assert refused.value.do

    def fields(self, person: str) -> dict[str, object]:
        return dict(self.site.journal.thing_now(person).fields)

    def pins_on(self) -> None:
        self.site.record("settings-changed", {"set": {"pins": "on"}}, about=("site",))

    def has_pin(self, label: str) -> None:
        """Sets the PIN of this person directly."""
        by = {} if label == "P-1" else {"by": self.lead, "by_pin": PINS["P-1"]}
        salt = label.encode() * 8
        secrets.set_pin(self.site, id_of(self.site, label), PINS[label], salt=salt, cost=secrets.Cost(n=16), **by)


@pytest.fixture
def office(tmp_path: Path) -> Iterator[Office]:
    made = Office(tmp_path)
    yield made
    made.site.close()


# --- the list ------------------------------------------------------------------------------------------------------


def test_a_person_is_taken_onto_the_list(office: Office) -> None:
    """With roles, training, and a word on the PIN where the site wants PINs."""
    done = office.keep("person-add", "", **NEW, role_lead="no", role_trainer="yes")
    made = id_of(office.site, "P-9")
    assert done.opens is not None
    assert done.opens.about == made
    found = office.fields(made)
    assert (found["roles"], found["trained_until"]) == (["technician", "trainer"], "2027-03-01")
    office.pins_on()
    office.has_pin("P-1")
    more = NEW | {"label": "P-8", "initials": "XX"}
    assert "PIN" in office.keep("person-add", "", **more, pin=PINS["P-1"]).do


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"label": "P-2"}, "label", "in use"),
        ({"label": "p-1"}, "label", "in use"),
        ({"label": ""}, "label", "no label"),
        ({"name": " \u200b"}, "name", "name is missing"),
        ({"name": "x" * 121}, "name", "too long"),
        ({"initials": ""}, "initials", "initials are missing"),
        ({"initials": "x" * 13}, "initials", "too long"),
        ({"role_technician": "no"}, "role_technician", "no role"),
        ({"role_technician": "perhaps"}, "role_technician", "not answered"),
        ({"trained_until": "soon"}, "trained_until", "no date"),
        ({"trained_until": "2027-02-30"}, "trained_until", "no date"),
    ],
)
def test_who_cannot_be_is_refused_under_the_field(
    office: Office, changes: dict[str, str], field: str, says: str
) -> None:
    """A record signed by nobody, by two, or by somebody without a role."""
    office.refuses("person-add", "", field, says, **NEW | changes)


def test_initials_that_two_people_share_are_said(office: Office) -> None:
    """They are no mistake; but whoever types them is asked for the badge from now on."""
    assert "P-2 has these initials too" in office.look("person-add", "", **NEW | {"initials": "tp"}).lines[0]


def test_what_is_different_is_changed_and_nothing_else(office: Office) -> None:
    """One field of six; and a form kept as it was opened records nothing."""
    stands = {field.id: field.value for field in office.form("person-edit", office.tech).fields}
    assert (stands["role_technician"], stands["role_lead"], stands["trained_until"]) == ("yes", "no", "")
    with pytest.raises(Trouble, match="nothing is changed"):
        office.keep("person-edit", office.tech, **stands)
    office.keep("person-edit", office.tech, **stands | {"trained_until": "2027-01-01"})
    (event,) = office.site.journal.about(office.tech, kinds=("described",))
    assert dict(event.body["set"]) == {"trained_until": "2027-01-01"}
    office.keep("person-edit", office.tech, **stands | {"trained_until": ""})
    assert office.fields(office.tech)["trained_until"] is None


def test_the_last_lead_keeps_the_role_and_stays(office: Office) -> None:
    """Without one nothing could be cleared or set up any more: neither form lets go."""
    office.refuses("person-edit", office.lead, "role_lead", "only site lead", role_lead="no", role_technician="yes")
    with pytest.raises(Trouble, match="only site lead"):
        office.form("person-retire", office.lead)
    with pytest.raises(Trouble, match="only site lead"):
        office.keep("person-retire", office.lead, why="left")
    office.keep("person-edit", office.tech, role_lead="yes")
    office.keep("person-retire", office.lead, why="left", by=office.tech)
    assert people.may(office.site, office.lead, "check") != ""


def test_the_last_lead_stays_whoever_asks(office: Office) -> None:
    """The inventory's own calls are no way round it."""
    with pytest.raises(Trouble, match="only site lead"):
        inventory.describe(office.site, office.lead, {"roles": ["technician"]}, person=office.lead)
    with pytest.raises(Trouble, match="only site lead"):
        inventory.retire(office.site, office.lead, "left", person=office.lead)


def test_a_technician_changes_nobody(office: Office) -> None:
    """Not even themselves."""
    for task, about in (("person-edit", office.tech), ("person-retire", office.tech), ("person-add", "")):
        with pytest.raises(Trouble, match="only a site lead"):
            office.form(task, about, by=office.tech)
        with pytest.raises(Trouble, match="only a site lead"):
            office.keep(task, about, by=office.tech, **NEW, why="left")


def test_a_badge_of_somebody_who_left_is_never_used_again(office: Office) -> None:
    """What the old badge signed would be another's."""
    office.keep("person-retire", office.tech, why="left")
    office.refuses("person-add", "", "label", "was once", **NEW | {"label": "P-2"})
    office.keep("person-edit", office.lead, label="P-7")
    office.refuses("person-add", "", "label", "was once", **NEW | {"label": "P-1"})


# --- PINs ----------------------------------------------------------------------------------------------------------

NEW_PIN = {"new": "492817", "again": "492817"}


def ids(form: Form) -> set[str]:
    return {field.id for field in form.fields}


def test_the_first_lead_sets_theirs_alone_and_everybody_else_with_a_lead(office: Office) -> None:
    """First the lead's, with nobody's; a technician's with the lead's; changed with one's own."""
    office.pins_on()
    office.refuses("pin-set", office.tech, "lead", "no person is named", by=office.tech, **NEW_PIN)
    assert ids(office.form("pin-set", office.lead)) == {"new", "again"}
    office.keep("pin-set", office.lead, **NEW_PIN)
    secrets.check_pin(office.site, office.lead, "492817")

    assert ids(office.form("pin-set", office.tech)) == {"by_pin", "new", "again"}
    office.keep("pin-set", office.tech, by_pin="492817", new="730164", again="730164")
    secrets.check_pin(office.site, office.tech, "730164")

    own = office.form("pin-set", office.tech, by=office.tech)
    assert "until now" in next(field.say for field in own.fields if field.id == "by_pin")
    office.keep("pin-set", office.tech, by=office.tech, by_pin="730164", new="615240", again="615240")
    secrets.check_pin(office.site, office.tech, "615240")


def test_who_has_none_needs_a_lead_who_is_there(office: Office) -> None:
    """A technician who forgot it names the lead, who gives theirs; another technician is none."""
    office.pins_on()
    office.has_pin("P-1")
    other = inventory.register_person(office.site, label="P-4", name="O", initials="O", roles=["technician"])
    assert ids(office.form("pin-set", office.tech, by=office.tech)) == {"lead", "by_pin", "new", "again"}
    office.refuses("pin-set", office.tech, "lead", "no site lead", by=office.tech, **NEW_PIN | {"lead": "P-4"})
    with pytest.raises(Trouble, match="not the PIN"):
        office.keep("pin-set", office.tech, by=office.tech, **NEW_PIN, lead="P-1", by_pin="000111")
    office.clock.advance(10)
    office.keep("pin-set", office.tech, by=office.tech, **NEW_PIN, lead="P-1", by_pin=PINS["P-1"])
    secrets.check_pin(office.site, office.tech, "492817")
    assert not secrets.has_pin(office.site, other)


@pytest.mark.parametrize(
    ("typed", "field", "says"),
    [
        ({"new": "1234", "again": "1234"}, "new", "guessed at once"),
        ({"new": "", "again": ""}, "new", "cannot be a PIN"),
        ({"new": "492817", "again": "492871"}, "again", "not the same"),
        ({"new": "Tech Person", "again": "Tech Person"}, "new", "on the badge"),
    ],
)
def test_a_pin_that_is_guessed_or_mistyped_is_refused_before_any_try(
    office: Office, typed: dict[str, str], field: str, says: str
) -> None:
    """And what was typed is never repeated; a look costs the lead no try."""
    office.pins_on()
    office.has_pin("P-1")
    office.refuses("pin-set", office.tech, field, says, **typed, by_pin="000111")
    seen = office.look("pin-set", office.tech, **typed, by_pin="000111")
    for trouble in seen.troubles.values():
        assert not any(text in str(trouble) for text in typed.values() if text)
    assert office.site.journal.about(office.lead, kinds=("pin-refused",)) == ()


def test_no_pin_is_in_the_record_or_on_the_form(office: Office) -> None:
    """Neither the new one nor whose was given; not even after an error, when fields keep what was typed."""
    office.pins_on()
    office.has_pin("P-1")
    entered = {"by_pin": PINS["P-1"], **NEW_PIN}
    assert all(field.value == "" for field in office.form("pin-set", office.tech, **entered).fields)
    office.keep("pin-set", office.tech, **entered)
    for event in office.site.journal.about(office.tech):
        assert not any(pin.encode() in event.raw for pin in entered.values())


def test_nobody_off_the_list_gets_a_pin(office: Office) -> None:
    """Who left, or is no person."""
    inventory.retire(office.site, office.tech, "left")
    for about in (office.tech, id_of(office.site, "S-1")):
        with pytest.raises(Trouble):
            office.form("pin-set", about)
        with pytest.raises(Trouble):
            office.keep("pin-set", about, **NEW_PIN)


def test_training_that_is_renewed_lets_somebody_check_again(office: Office) -> None:
    """The whole of it, by forms."""
    office.keep("person-edit", office.tech, trained_until=(START.date() - dt.timedelta(days=1)).isoformat())
    assert "training ended" in people.may(office.site, office.tech, "check")
    office.keep("person-edit", office.tech, trained_until=(START.date() + dt.timedelta(days=365)).isoformat())
    assert people.may(office.site, office.tech, "check") == ""


@pytest.mark.parametrize("name", ["jig-add", "settings", "calibration", "person-add", "pin-set"])
def test_who_has_no_pin_is_told_on_the_first_page(tmp_path: Path, name: str) -> None:
    """Not after the last page of many: with the remedy on the screen, and only to whom it concerns."""
    office = Office(tmp_path)
    about = {"calibration": id_of(office.site, "C-1"), "pin-set": office.lead}.get(name, "")

    def told() -> bool:
        return any("no PIN on this laptop" in each for each in office_form().says)

    def office_form() -> Form:
        return forms.form(office.site, name, about, office.lead, {}, 1)

    assert not told(), "this site asks for no PINs"
    office.pins_on()
    assert told() == (name != "pin-set"), "setting one is the remedy"
    office.has_pin("P-1")
    assert not told()


def test_the_instruction_follows_the_order_of_the_fields(tmp_path: Path) -> None:
    """Two people at one laptop: each is named at the field that is theirs, and the lead's comes first."""
    office = Office(tmp_path)
    office.pins_on()
    office.has_pin("P-1")
    page = office.form("pin-set", office.tech)
    lead, other = (str(office.fields(each)["name"]) for each in (office.lead, office.tech))
    assert [each.id for each in page.fields] == ["by_pin", "new", "again"]
    assert page.fields[0].say == f"PIN of {lead} (site lead, you)"
    assert page.fields[1].say == f"new PIN, typed by {other}"
    assert page.instruction == f"First your PIN as the lead; then {other} types the new one, twice."
    own = office.form("pin-set", office.lead)
    assert [each.say for each in own.fields[:2]] == ["your PIN until now", "your new PIN"]
    assert own.instruction == "First your PIN until now; then you type the new one, twice."


# --- in words ------------------------------------------------------------------------------------------------------


def test_nobody_may_do_nothing(office: Office) -> None:
    """Whose training is over still may, and must, take an instrument out of use."""
    office.keep("person-edit", office.tech, trained_until="2026-06-01")
    office.clock.advance(5 * 86_400)
    sections = sheet(office.site, "person", office.tech).sections
    may = next(each for each in sections if getattr(each, "title", "") == "May")
    assert any("lock an instrument out" in line for line in may.lines)  # type: ignore[union-attr]


def test_the_role_that_may_most_stands_first(office: Office) -> None:
    """On a narrow screen the end of a cell is cut: a lead is seen to be one."""
    office.keep("person-edit", office.lead, role_trainer="yes", role_technician="yes")
    row = next(each for each in listing(office.site, "people").rows if each.key == office.lead)
    assert "lead, trainer, technician" in row.cells


def test_a_person_is_taken_off_in_words_for_a_person(office: Office) -> None:
    """People wear badges, and are never beyond repair."""
    made = office.form("person-retire", office.tech)
    name = str(office.fields(office.tech)["name"])
    assert name in made.title
    said = " ".join([*made.says, made.dangerous, made.keep, *(each.example for each in made.fields)])
    assert "repair" not in said
    assert " label " not in said
    done = office.keep("person-retire", office.tech, why="works elsewhere now")
    assert done.what == f"{name} is off the list."
    assert "badge" in done.do
