"""What only a person can decide after laptops were apart: which adopted profile counts, which thing keeps its label."""

from __future__ import annotations

from procedures.answers import clean_line
from procedures.journal.rows import Labelled
from procedures.journal.states import Adoption
from procedures.site import inventory, people, profiles
from procedures.site.entries import thing
from procedures.site.opening import Site
from procedures.trouble import Trouble


def apart(site: Site, profile: str) -> tuple[Adoption, ...]:
    """The adoptions of a profile between which somebody has to choose. Raises Trouble when there is no choice."""
    state = site.journal.profile_now(clean_line(profile))
    heads = tuple(each for each in state.adoptions if each.event in state.heads)
    if len(heads) < 2:
        raise Trouble(
            f"there is nothing to decide about the profile {profile[:60]!r}",
            allowed="a profile of which several revisions were adopted apart",
            do="Look at the sheet of exchanges.",
        )
    return heads


def chosen(site: Site, profile: str, adoption: str) -> Adoption:
    """The adoption that is meant. Raises Trouble for any but those made apart."""
    heads = apart(site, profile)
    for each in heads:
        if each.event == adoption:
            return each
    raise Trouble(
        "no revision is chosen" if not adoption else "that is not one of the revisions adopted apart",
        allowed="; ".join(f"revision {each.revision} ({each.title})" for each in heads),
        do="Choose the one that counts.",
    )


def choose_adoption(site: Site, profile: str, person: str, *, adoption: str, pin: str | None = None) -> str:
    """Let one of several adoptions made apart count: its text is adopted again in the place of all of them.

    The id of the new adoption comes back. Raises Trouble unless a lead chooses one of them.
    """
    made = chosen(site, profile, adoption)
    people.require(site, person, "adopt", pin)
    return profiles.adopt(site, made.text, person)


def sharing(site: Site, thing_id: str) -> tuple[Labelled, ...]:
    """All living things that carry this one's label. Raises Trouble unless there are several."""
    known = thing(site, thing_id, "instrument", "source", "jig", "person")
    label = str(known.fields.get("label", ""))
    living = tuple(each for each in site.journal.labelled(label) if each.living)
    if len(living) < 2 or thing_id not in {each.id for each in living}:
        raise Trouble(
            f"nothing else carries the label {label}",
            allowed="one of several things that share a label",
            do="Another label of its own is a change of its description.",
        )
    return living


def new_label(site: Site, thing_id: str, person: str, *, label: str, pin: str | None = None) -> None:
    """Give one of several things that share a label a label of its own.

    Raises Trouble unless a lead does it, with a label that nothing here has ever carried.
    """
    sharing(site, thing_id)
    line = inventory.free_label(site, label)
    people.entitled(site, person, "register")
    inventory.describe(site, thing_id, {"label": line}, person=person, pin=pin)
