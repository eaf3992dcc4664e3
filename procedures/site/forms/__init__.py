"""Every form there is, by name. A form's module is imported when somebody opens it.

A form is a class with `form`, `look` and `keep` (see `Task`). What was typed so far comes as text by field id, whatever
the page; nothing is kept before `keep`, and `keep` looks at everything again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from importlib import import_module
from typing import TYPE_CHECKING, Final, Protocol

from procedures.sheets import Done, Form, Look
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.opening import Site

Entered = Mapping[str, str]

FORMS: Final[Mapping[str, str]] = {
    "instrument-add": "instruments:AddInstrument",
    "instrument-edit": "instruments:EditInstrument",
    "instrument-retire": "instruments:RetireInstrument",
    "source-add": "sources:AddSource",
    "source-edit": "sources:EditSource",
    "source-retire": "sources:RetireSource",
    "leak-test": "sources:LeakTest",
    "source-count": "sources:CountSources",
    "source-condition": "sources:SourceCondition",
    "jig-add": "jigs:AddJig",
    "jig-edit": "jigs:EditJig",
    "jig-retire": "jigs:RetireJig",
    "person-add": "people:AddPerson",
    "person-edit": "people:EditPerson",
    "person-retire": "people:RetirePerson",
    "pin-set": "people:SetPin",
    "place": "placing:Place",
    "contamination": "placing:Contamination",
    "bind": "binding:Bind",
    "settings": "settings:Settings",
    "calibration": "calibration:RecordCalibration",
    "repair": "calibration:RecordRepair",
    "reference": "reference:TakeReference",
    "source-replace": "replacement:ReplaceSource",
    "lock-out": "clearing:LockOut",
    "clear": "clearing:Clear",
    "strike": "clearing:Strike",
    "hand-out": "handing:HandOut",
    "take-back": "handing:TakeBack",
    "emergency": "emergency:EmergencyUse",
    "review-use": "doubts:ReviewUse",
    "adoption-choice": "choosing:ChooseAdoption",
    "label-new": "choosing:NewLabel",
    "exchange-out": "exchanging:Out",
    "exchange-in": "exchanging:In",
    "paper-enter": "paper:EnterPaper",
    "binder-dates": "dates:BinderDates",
    "day-date": "dates:DayDate",
}
"""Name → "module:Class" in this package."""


class Task(Protocol):
    """What a form does. `about` names what it is about (ids joined by commas), `person` is who fills it in."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        """The page to show, given what was entered on the pages before. Raises Trouble when it cannot be opened."""
        ...

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        """What comes of this, before anything is kept. Raises nothing for what was typed."""
        ...

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        """Record it. Raises Trouble when it cannot be."""
        ...


def task(name: str) -> Task:
    """The form of this name. Raises Trouble for none."""
    if name not in FORMS:
        raise Trouble(f"there is no form called {name[:40]!r}", allowed=", ".join(sorted(FORMS)))
    module, _, kind = FORMS[name].partition(":")
    made: Task = getattr(import_module(f"{__name__}.{module}"), kind)()
    return made


def form(site: Site, name: str, about: str, person: str, entered: Entered, page: int) -> Form:
    """A page of the form of this name. Whose PIN it wants is said by name: two people may stand at the laptop."""
    from procedures.site.forms.common import pin_is_missing

    kind = task(name)
    made = kind.form(site, about, person, entered, page)
    if made.page == 1 and (missing := pin_is_missing(site, person)):
        last = _last(lambda page: kind.form(site, about, person, entered, page), made)
        if any(each.id == "pin" and each.needed for each in last.fields):
            made = replace(made, says=(*missing, *made.says))
    if not any(each.id == "pin" for each in made.fields):
        return made
    whose = str(site.journal.thing_now(person).fields.get("name", "")) if person else ""
    fields = tuple(replace(each, say=f"PIN of {whose}") if each.id == "pin" and whose else each for each in made.fields)
    return replace(made, fields=fields)


def _last(page: Callable[[int], Form], first: Form) -> Form:
    """The last page of a form as it can be seen from its first: that one where it cannot be told yet."""
    try:
        return page(first.pages) if first.pages > 1 else first
    except Trouble:
        return first
