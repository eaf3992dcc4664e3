"""Forms for people: taking somebody onto the list, changing what is said of them, taking them off, setting a PIN."""
# ruff: noqa: ARG002  what a form is asked is the same for all of them: forms.Task

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Any, Final

from procedures.sheets import Deed, Done, Form, FormField, Look
from procedures.site import inventory, lookups, people, secrets
from procedures.site.describing import read_fields
from procedures.site.entries import thing
from procedures.site.forms.common import Taken, day, may_open, meant, pin_field, yes
from procedures.site.forms.retiring import Retire
from procedures.site.rights import keep_a_lead
from procedures.site.system import new_salt
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.states import ThingState
    from procedures.site.forms import Entered
    from procedures.site.opening import Site

ROLE_WORDS: Final[Mapping[str, str]] = {
    "technician": "technician: runs checkouts",
    "trainer": "trainer: runs checkouts, and trains others",
    "lead": "site lead: clears lockouts, records calibrations, changes lists and settings",
}
SAID: Final[Mapping[str, str]] = {
    "label": "badge",
    "name": "name",
    "initials": "initials",
    "roles": "roles",
    "trained_until": "training is good until",
}
ROLE_FIELDS: Final = {f"role_{role}": role for role in people.ROLES}


def _fields(site: Site, values: Mapping[str, str]) -> tuple[FormField, ...]:
    return (
        FormField("label", "badge", "scan", values.get("label", ""), more="Scan the badge."),
        FormField("name", "name", value=values.get("name", "")),
        FormField("initials", "initials", value=values.get("initials", ""), more="Those that stand in records."),
        *(FormField(field, ROLE_WORDS[role], "yes-no", values.get(field, "no")) for field, role in ROLE_FIELDS.items()),
        FormField(
            "trained_until",
            "training is good until",
            "date",
            values.get("trained_until", ""),
            needed=False,
            more="The last day it is good on. Empty: it does not end.",
        ),
        *pin_field(site),
    )


def _stands(known: ThingState) -> dict[str, str]:
    """What stands now, field by field, as a form shows it."""
    fields = known.fields
    plain = {field: str(fields.get(field) or "") for field in ("label", "name", "initials", "trained_until")}
    return plain | {field: "yes" if role in fields.get("roles", ()) else "no" for field, role in ROLE_FIELDS.items()}


class AddPerson:
    """Takes a person onto the list."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        may_open(site, person, "set up")
        return Form(
            "person-add",
            "A new person",
            "Enter who they are.",
            _fields(site, {"role_technician": "yes", **entered}),
            keep="Take them onto the list",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        taken, said = _said(site, entered, None)
        return taken.look(*_same_initials(site, said))

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        taken, said = _said(site, entered, None)
        taken.whole()
        made = people.add(site, person, **said, pin=entered.get("pin"))
        then = "Set their PIN on this laptop, with them present." if secrets.pins_wanted(site) else ""
        return Done(f"{said['name']} is on the list.", then, Deed("look at it", "sheet", "person", made))


class EditPerson:
    """Changes what is said of a person: name, badge, roles, training."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        may_open(site, person, "set up")
        known = thing(site, about, "person")
        return Form(
            "person-edit",
            f"Change {known.fields['name']}",
            "Change what is different.",
            _fields(site, {**_stands(known), **entered}),
            about=about,
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        try:
            known = thing(site, about, "person")
        except Trouble as trouble:
            return Look(troubles={"label": trouble})
        taken, changed = _changed(site, entered, known)
        lines = [f"{SAID[field]}: {_words(value)}" for field, value in changed.items() if field not in taken.troubles]
        return taken.look(*(lines or ["Nothing is changed."]), *_same_initials(site, changed))

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        taken, changed = _changed(site, entered, thing(site, about, "person"))
        taken.whole()
        people.describe(site, person, about, changed, pin=entered.get("pin"))
        return Done(f"{site.journal.thing_now(about).fields['name']} was changed.")


class RetirePerson(Retire):
    """Takes a person off the list. What they did stays in the record."""

    name, sort, action = "person-retire", "person", "set up"
    says = ("What this person did stays in the records, under their name.",)
    example, called = "works elsewhere now", "badge"
    after = "Take the badge back, so that nobody scans it."


def _said(site: Site, entered: Entered, known: ThingState | None) -> tuple[Taken, dict[str, Any]]:
    """What is said of a person, each field read; what cannot be is under its field."""
    taken = Taken(entered if known is None else {**_stands(known), **entered})
    whose = (
        (lambda text: inventory.free_label(site, text))
        if known is None
        else (lambda text: inventory.its_label(site, known, text))
    )
    label = taken.read("label", whose)
    for field in ("name", "initials"):
        taken.check(field, lambda field=field: read_fields("person", {field: taken.text(field)}))  # type: ignore[misc]
    roles = [role for field, role in ROLE_FIELDS.items() if taken.optional(field, yes)]
    first = next(iter(ROLE_FIELDS))
    taken.check(first, lambda: read_fields("person", {"roles": roles}))
    if known is not None and "lead" not in roles:
        taken.check("role_lead", lambda: keep_a_lead(site, known.id))
    said = {
        "label": label or "",
        "name": taken.text("name"),
        "initials": taken.text("initials"),
        "roles": roles,
        "trained_until": taken.optional("trained_until", day),
    }
    return taken, said


def _changed(site: Site, entered: Entered, known: ThingState) -> tuple[Taken, dict[str, Any]]:
    taken, said = _said(site, entered, known)
    now = {**known.fields, "trained_until": _day(known.fields.get("trained_until"))}
    return taken, {field: value for field, value in said.items() if value != now.get(field)}


def _day(text: Any) -> date | None:
    return date.fromisoformat(text) if text else None


def _words(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(value) or "none"
    return str(value) if value else "does not end"


def _same_initials(site: Site, said: Mapping[str, Any]) -> tuple[str, ...]:
    """Initials that two people share are no way to say who one is: the badge is."""
    wanted = str(said.get("initials") or "").casefold()
    others = [row.label for row in site.journal.people(limit=-1) if wanted and row.initials.casefold() == wanted]
    return (f"{', '.join(others)} has these initials too: both will have to scan their badge.",) if others else ()


# --- PINs ----------------------------------------------------------------------------------------------------------


class SetPin:
    """Sets the PIN of a person on this laptop: by a lead, by themselves with the old one, or, once, the first lead's.

    `about` is whose PIN; whoever fills the form in gives their own where they may set it, else a lead who is present
    gives theirs.
    """

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        name = str(_person(site, about).fields["name"])
        says = ["It counts on this laptop only, and is never shown or sent anywhere.", f"{secrets.ALLOWED}."]
        if not secrets.pins_wanted(site):
            says.append("This site asks for no PINs at present.")
        return Form(
            "pin-set",
            f"PIN of {name}",
            _in_order(site, about, person, name),
            (
                *_present_fields(site, about, person, entered),
                FormField("new", "your new PIN" if about == person else f"new PIN, typed by {name}", "secret"),
                FormField("again", "the new PIN once more", "secret"),
            ),
            about=about,
            says=tuple(says),
            keep="Set this PIN",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        try:
            _person(site, about)
        except Trouble as trouble:
            return Look(troubles={"new": trouble})
        return self._taken(site, about, person, entered)[0].look()

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        _person(site, about)
        taken, by = self._taken(site, about, person, entered)
        taken.whole()
        by_pin = entered.get("by_pin", "")
        secrets.set_pin(site, about, entered.get("new", ""), salt=new_salt(), by=by, by_pin=by_pin)
        return Done(f"{site.journal.thing_now(about).fields['name']} has a PIN on this laptop now.")

    def _taken(self, site: Site, about: str, person: str, entered: Entered) -> tuple[Taken, str]:
        taken = Taken(entered)
        taken.check("new", lambda: _well_chosen(site, about, entered.get("new", "")))
        taken.check("again", lambda: _the_same(entered))
        by = _present(site, about, person)
        if by is None:
            by = taken.read("lead", lambda text: _lead(site, text, about)) or ""
        return taken, by


def _person(site: Site, about: str) -> ThingState:
    known = thing(site, about, "person")
    if known.retired:
        raise Trouble("nobody on the list is meant", allowed="a person on the list", do="Scan their badge.")
    return known


def _present(site: Site, about: str, person: str) -> str | None:
    """Whose PIN has to be given: an id, "" for nobody's, None where a lead has to be named first."""
    if secrets.first_may_begin(site, about):
        return ""
    if secrets.has_pin(site, person) and (person == about or "lead" in lookups.roles(site, person)):
        return person
    return None


def _in_order(site: Site, about: str, person: str, name: str) -> str:
    """Who types what, in the order of the fields."""
    by = _present(site, about, person)
    whose = "you type the new one" if about == person else f"{name} types the new one"
    if by == "":
        return f"{whose[0].upper()}{whose[1:]}, twice."
    if by is None:
        return f"The lead gives their PIN first; then {whose}, twice."
    return f"First your PIN {'until now' if by == about else 'as the lead'}; then {whose}, twice."


def _present_fields(site: Site, about: str, person: str, entered: Entered) -> tuple[FormField, ...]:
    by = _present(site, about, person)
    if by == "":
        return ()
    if by is not None:
        name = site.journal.thing_now(by).fields["name"]
        own = "your PIN until now" if by == about else f"PIN of {name} (site lead, you)"
        return (FormField("by_pin", own, "secret"),)
    return (
        FormField("lead", "lead who is present", "scan", entered.get("lead", ""), example="badge or initials"),
        FormField("by_pin", "PIN of the lead", "secret"),
    )


def _lead(site: Site, text: str, about: str) -> str:
    found = meant(site, text, "person")
    if found != about and "lead" not in lookups.roles(site, found):
        raise Trouble("this is no site lead", allowed="a site lead", do="Ask the site lead to be present.")
    return found


def _well_chosen(site: Site, about: str, pin: str) -> None:
    fields = _person(site, about).fields
    secrets.well_chosen(pin, tuple(str(fields[field]) for field in ("label", "name", "initials")))


def _the_same(entered: Entered) -> None:
    if entered.get("new", "") != entered.get("again", ""):
        raise Trouble("the two are not the same", allowed="the same PIN twice", do="Type both again.")
