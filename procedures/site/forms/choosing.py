"""Forms for what only a person can decide after laptops were apart."""

from __future__ import annotations

from typing import TYPE_CHECKING

from procedures.asks import Option
from procedures.sheets import Deed, Done, Form, FormField, Look
from procedures.site import deciding, inventory, local_time, naming, people
from procedures.site.forms.common import Taken, pin_field

if TYPE_CHECKING:
    from procedures.journal.states import Adoption
    from procedures.site.forms import Entered
    from procedures.site.opening import Site

EXCHANGES = Deed("Laptops of this site", "sheet", "exchange")


class ChooseAdoption:
    """Choosing which of several revisions adopted apart counts. `about` is the profile's id."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        """The revisions. Raises Trouble when there is nothing to choose."""
        del entered, page
        heads = deciding.apart(site, about)
        if person:
            people.entitled(site, person, "adopt")
        options = tuple(Option(each.event, _said(site, each)) for each in heads)
        return Form(
            "adoption-choice",
            f"Which revision of {about} counts",
            "Choose the revision by which instruments are checked.",
            (FormField("adoption", "revision", "choice", options=options), *pin_field(site)),
            about=about,
            says=(
                "They were adopted on different laptops, neither knowing of the other. Until one is chosen, none is in "
                "force and nothing is checked by this profile.",
                "The others are kept in the records. Read them before you choose.",
            ),
            keep="This one counts",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        """Which one is going to count."""
        taken, chosen = self._read(site, about, person, entered)
        return taken.look(*([f"In force from now on: {_said(site, chosen)}."] if chosen else []))

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        """Adopt it again in the place of all. Raises Trouble unless a lead chooses."""
        taken, chosen = self._read(site, about, person, entered)
        taken.whole()
        assert chosen is not None
        deciding.choose_adoption(site, about, person, adoption=chosen.event, pin=entered.get("pin"))
        return Done(
            f"Revision {chosen.revision} of {about} is in force.", "Give the other laptops an exchange file.", EXCHANGES
        )

    def _read(self, site: Site, about: str, person: str, entered: Entered) -> tuple[Taken, Adoption | None]:
        taken = Taken(entered)
        chosen = taken.read("adoption", lambda line: deciding.chosen(site, about, line))
        taken.check("adoption", lambda: people.entitled(site, person, "adopt"))
        return taken, chosen


def _said(site: Site, each: Adoption) -> str:
    when = f"{local_time.said(site, each.when)} by {naming.name(site, each.person)}"
    return f"revision {each.revision} ({each.title}), adopted {when}, SHA-256 {each.sha256[:16]}…"


class NewLabel:
    """Giving one of several things that share a label another one."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        """The new label. Raises Trouble when the thing shares its label with nothing."""
        del entered, page
        sharing = deciding.sharing(site, about)
        if person:
            people.entitled(site, person, "register")
        mine = next(each for each in sharing if each.id == about)
        others = ", ".join(f"{each.what} {naming.name(site, each.id)}" for each in sharing if each.id != about)
        fields = site.journal.thing_now(about).fields
        told = ", ".join(str(fields[key]) for key in ("name", "type", "nuclide", "serial") if fields.get(key))
        return Form(
            "label-new",
            f"A new label for one {mine.what}",
            "Hang the new label on it, and scan it.",
            (FormField("label", "new label", "scan", example="C-117"), *pin_field(site)),
            about=about,
            says=(
                f"This {mine.what}: {told or 'nothing else is known of it'}.",
                f"The label {mine.label} is carried by {len(sharing)} things ({others}). Until only one does, none of "
                "them may be used.",
                "If it is one and the same thing, registered twice, retire the entry that is wrong instead.",
            ),
            keep="Give it this label",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        """Whether the label is free."""
        taken = self._read(site, about, person, entered)
        return taken.look(f"New label: {taken.text('label')}" if taken.text("label") else "")

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        """Change the label. Raises Trouble unless it is free and a lead does it."""
        taken = self._read(site, about, person, entered)
        taken.whole()
        deciding.new_label(site, about, person, label=taken.text("label"), pin=entered.get("pin"))
        return Done(
            f"Its label is {taken.text('label')} from now on.",
            "Take the old label off it. Exchange with the others.",
            EXCHANGES,
        )

    def _read(self, site: Site, about: str, person: str, entered: Entered) -> Taken:
        taken = Taken(entered)
        taken.check("label", lambda: deciding.sharing(site, about))
        taken.read("label", lambda line: inventory.free_label(site, line))
        taken.check("label", lambda: people.entitled(site, person, "register"))
        return taken
