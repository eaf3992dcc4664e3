"""Forms for jigs, the holders that fix the geometry of a source: taking one in, giving it another label, taking it out.

Its label is all there is to say of a jig.
"""
# ruff: noqa: ARG002  what a form is asked is the same for all of them: forms.Task

from __future__ import annotations

from typing import TYPE_CHECKING

from procedures.sheets import Deed, Done, Form, FormField, Look
from procedures.site import inventory
from procedures.site.entries import thing
from procedures.site.forms.common import Taken, may_open, pin_field
from procedures.site.forms.retiring import Retire
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.forms import Entered
    from procedures.site.opening import Site


def _fields(site: Site, label: str) -> tuple[FormField, ...]:
    return (FormField("label", "label", "scan", label, more="Scan the label that it carries."), *pin_field(site))


class AddJig:
    """Takes a jig into the inventory."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        may_open(site, person, "register")
        return Form(
            "jig-add",
            "A new jig",
            "Scan its label.",
            _fields(site, entered.get("label", "")),
            says=("References are taken anew for another jig: the distance counts.",),
            keep="Take it in",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        taken = Taken(entered)
        taken.read("label", lambda text: inventory.free_label(site, text))
        return taken.look()

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        label = Taken(entered).text("label")
        made = inventory.register_jig(site, label=label, person=person, pin=entered.get("pin"))
        return Done(f"{label} is in the inventory.", "", Deed("look at it", "sheet", "jig", made))


class EditJig:
    """Gives a jig another label."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        may_open(site, person, "register")
        label = str(thing(site, about, "jig").fields["label"])
        return Form(
            "jig-edit",
            f"Another label for {label}",
            "Scan the new label.",
            _fields(site, entered.get("label", label)),
            about=about,
            says=("Take the old label off, so that nobody scans it.",),
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        taken = Taken(entered)
        taken.read("label", lambda text: _other(site, about, text))
        return taken.look()

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        label = _other(site, about, Taken(entered).text("label"))
        inventory.describe(site, about, {"label": label}, person=person, pin=entered.get("pin"))
        return Done(f"It is called {label} now.")


class RetireJig(Retire):
    """Takes a jig off the list for good."""

    name, sort = "jig-retire", "jig"
    says = ("What it is bound to ends its checks as not checked, until another jig is bound.",)


def _other(site: Site, jig: str, text: str) -> str:
    known = thing(site, jig, "jig")
    label = inventory.its_label(site, known, text)
    if label == known.fields["label"]:
        raise Trouble("nothing is changed", allowed="another label", do="Scan the new label, or leave this.")
    return label
