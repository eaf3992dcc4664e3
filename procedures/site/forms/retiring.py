"""The form that takes something off the list for good, for whatever sort of thing it is."""
# ruff: noqa: ARG002  what a form is asked is the same for all of them: forms.Task

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from procedures.sheets import Done, Form, FormField, Look
from procedures.site import inventory
from procedures.site.entries import thing, words
from procedures.site.forms.common import Taken, may_open, pin_field

if TYPE_CHECKING:
    from procedures.site.forms import Entered
    from procedures.site.opening import Site
    from procedures.site.rights import Action


class Retire:
    """Asks why; the thing stays in the record, and its label is never used again."""

    name: ClassVar[str] = ""
    sort: ClassVar[str] = ""
    action: ClassVar[Action] = "register"
    says: ClassVar[tuple[str, ...]] = ()
    example: ClassVar[str] = "beyond repair"
    called: ClassVar[str] = "label"
    after: ClassVar[str] = "Take its label off, so that nobody scans it."

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        may_open(site, person, self.action)
        known = thing(site, about, self.sort)
        inventory.may_be_retired(site, known)
        label = known.fields["label"]
        who = str(known.fields.get("name") or label)
        return Form(
            self.name,
            f"Take {who} off the list",
            "Say why.",
            (FormField("why", "why", value=entered.get("why", ""), example=self.example), *pin_field(site)),
            about=about,
            says=(f"Nothing is deleted: all records stay. {who} cannot be taken back onto the list.", *self.says),
            keep=f"Take {who} off the list",
            dangerous=f"{who} goes off the list for good, and the {self.called} {label} is never used again.",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        taken = Taken(entered)
        taken.read("why", lambda text: words("reason", text))
        taken.check("why", lambda: inventory.may_be_retired(site, thing(site, about, self.sort)))
        return taken.look()

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        taken = Taken(entered)
        known = thing(site, about, self.sort)
        inventory.retire(site, about, taken.text("why"), person=person, pin=taken.entered.get("pin"))
        return Done(f"{known.fields.get('name') or known.fields['label']} is off the list.", self.after)
