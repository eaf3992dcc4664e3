"""Forms for instruments: taking one into the inventory, changing what is said of it, taking it out for good."""
# ruff: noqa: ARG002  what a form is asked is the same for all of them: forms.Task

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from procedures.asks import Option
from procedures.sheets import Deed, Done, Form, FormField, Look
from procedures.site import inventory
from procedures.site.describing import read_fields
from procedures.site.entries import thing
from procedures.site.forms.common import Taken, may_open, one_of, pin_field
from procedures.site.forms.retiring import Retire
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.states import ThingState
    from procedures.site.forms import Entered
    from procedures.site.opening import Site

FIELDS: Final = ("label", "serial", "type", "profile", "detector", "cable")
CALIBRATED_AS_ONE: Final = frozenset({"detector", "cable"})
ANOTHER_SET: Final = (
    "Another detector or cable ends its readiness and its calibration. Another serial number, type or profile ends "
    "its readiness."
)


def profiles_in_force(site: Site, present: str = "") -> tuple[Option, ...]:
    """The profiles that an instrument may be checked by, and the `present` one even where it is not in force."""
    rows = [row for row in site.journal.profiles(limit=-1) if row.adoption is not None]
    found = [Option(row.profile, f"{row.title}, revision {row.revision} ({row.profile})") for row in rows]
    if present and present not in {option.value for option in found}:
        found.append(Option(present, f"{present} (no revision of it is in force)"))
    return tuple(found)


def _fields(site: Site, values: Mapping[str, Any], choices: tuple[Option, ...]) -> tuple[FormField, ...]:
    def stands(field: str) -> str:
        return str(values.get(field, "") or "")

    return (
        FormField("label", "label", "scan", stands("label"), more="Scan the label that it carries."),
        FormField(
            "serial", "serial number", value=stands("serial"), needed=False, more="As it is marked on the instrument."
        ),
        FormField("type", "type", value=stands("type"), more="As its type plate says."),
        FormField("profile", "checked by", "choice", stands("profile"), options=choices),
        FormField("detector", "detector", "scan", stands("detector"), needed=False, more="Only where it comes off."),
        FormField("cable", "cable", "scan", stands("cable"), needed=False, more="Only where it comes off."),
        *pin_field(site),
    )


class AddInstrument:
    """Takes an instrument into the inventory."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        may_open(site, person, "register")
        choices = profiles_in_force(site)
        if not choices:
            raise Trouble(
                "no profile is in force, so no instrument could be checked",
                allowed="an instrument with a profile that was adopted",
                do="Adopt a profile first: checklist-tui profile adopt",
            )
        only = {"profile": choices[0].value} if len(choices) == 1 else {}
        return Form(
            "instrument-add",
            "A new instrument",
            "Enter what is marked on it.",
            _fields(site, only, choices),
            says=("A new instrument needs a calibration, a reference reading and a check before it is used.",),
            keep="Take it in",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        return self._taken(site, entered).look()

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        taken = self._taken(site, entered)
        taken.whole()
        given = {field: taken.text(field) for field in FIELDS} | {
            "profile": one_of(profiles_in_force(site))(taken.text("profile"))
        }
        made = inventory.register_instrument(site, **given, person=person, pin=taken.entered.get("pin"))
        return Done(
            f"{given['label']} is in the inventory.",
            "Record its calibration, bind its check source, then take its reference reading.",
            Deed("look at it", "sheet", "instrument", made),
        )

    def _taken(self, site: Site, entered: Entered) -> Taken:
        taken = Taken(entered)
        taken.read("label", lambda text: inventory.free_label(site, text))
        taken.read("profile", one_of(profiles_in_force(site)))
        _read_each(taken, ("serial", "type", "detector", "cable"))
        taken.check("serial", lambda: inventory.registered_once(site, taken.text("serial"), taken.text("type")))
        return taken


class EditInstrument:
    """Changes what is said of an instrument."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        may_open(site, person, "register")
        known = thing(site, about, "instrument")
        values = {**known.fields, **{field: entered[field] for field in FIELDS if field in entered}}
        return Form(
            "instrument-edit",
            f"Change {known.fields['label']}",
            "Change what is different.",
            _fields(site, values, profiles_in_force(site, str(known.fields["profile"]))),
            about=about,
            says=(ANOTHER_SET,),
            dangerous=" ".join(_ends(_changes(site, known, entered)[1])),
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        try:
            taken, changed = _changes(site, thing(site, about, "instrument"), entered)
        except Trouble as trouble:
            return Look(troubles={"label": trouble})
        known = site.journal.thing_now(about).fields
        lines = [f"{field}: {known.get(field) or 'none'} → {new or 'none'}" for field, new in changed.items()]
        ends = _ends(changed)
        return Look((*(lines or ["Nothing is changed."]), *ends), dict(taken.troubles), "warn" if ends else "")

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        known = thing(site, about, "instrument")
        taken, changed = _changes(site, known, entered)
        taken.whole()
        inventory.describe(site, about, changed, person=person, pin=taken.entered.get("pin"))
        return Done(f"{changed.get('label', known.fields['label'])} was changed.", " ".join(_ends(changed)))


class RetireInstrument(Retire):
    """Takes an instrument off the list for good."""

    name, sort = "instrument-retire", "instrument"


def _read_each(taken: Taken, fields: tuple[str, ...]) -> None:
    for field in fields:
        taken.check(field, lambda field=field: read_fields("instrument", {field: taken.text(field)}))  # type: ignore[misc]


def _changes(site: Site, known: ThingState, entered: Entered) -> tuple[Taken, dict[str, str]]:
    """What was entered, and what of it is different from what stands; what cannot be is under its field."""
    taken = Taken(entered)
    now = {field: str(known.fields.get(field, "") or "") for field in FIELDS}
    said = {field: taken.text(field) if field in entered else now[field] for field in FIELDS}
    choices = profiles_in_force(site, now["profile"])
    if "profile" in entered:
        said["profile"] = taken.read("profile", one_of(choices)) or said["profile"]
    changed = {field: text for field, text in said.items() if text != now[field]}
    if "label" in changed:
        taken.check("label", lambda: inventory.its_label(site, known, changed["label"]))
    _read_each(taken, tuple(field for field in ("serial", "type", "detector", "cable") if field in changed))
    if not changed.keys().isdisjoint({"serial", "type"}):
        taken.check("serial", lambda: inventory.registered_once(site, said["serial"], said["type"], but=known.id))
    return taken, changed


def _ends(changed: Mapping[str, str]) -> tuple[str, ...]:
    """What these changes end."""
    if not CALIBRATED_AS_ONE.isdisjoint(changed):
        return (
            "Its readiness and its calibration end: it needs a calibration, a reference reading and a check before "
            "it is used.",
        )
    if changed.keys() - {"label"}:
        return ("Its readiness ends: it needs a check before it is used.",)
    return ()
