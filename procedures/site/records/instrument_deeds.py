"""What can be done with an instrument now, and why not where it cannot: asked of the forms that would not open."""

from __future__ import annotations

from typing import TYPE_CHECKING

from procedures.sheets import Deed, Goes
from procedures.site import people, status
from procedures.site.forms import task
from procedures.site.records import lockout
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.states import InstrumentState
    from procedures.site.opening import Site

OFF_THE_LIST = "It is off the list."


def deeds(site: Site, state: InstrumentState, person: str) -> tuple[Deed, ...]:
    """Everything, the most usual first. Where nobody has said who they are, no one's rights are in the way."""

    def form(say: str, name: str) -> Deed:
        return Deed(say, "form", name, state.id, may_not=_why_not_opened(site, state, name, person))

    locked = any(each.status != "closed" for each in state.lockouts)
    of_lockouts = lockout.deeds(site, state, person)
    # What is locked out is repaired, cleared and looked into; nothing else can be done with it first.
    first = of_lockouts if locked else ()
    unchecked = "It was used although it is locked out" if locked else "Emergency use, unchecked"
    return (
        *first,
        _checkout(site, state, person),
        form("Hand out", "hand-out"),
        form("Take back", "take-back"),
        form(unchecked, "emergency"),
        form("Calibration", "calibration"),
        form("Repair", "repair"),
        form("Reference reading", "reference"),
        form("Bind a check source", "bind"),
        Deed("Say where it is", "form", "place", state.id),
        Deed("Contamination", "form", "contamination", state.id),
        *_records(site, state, person),
        *(() if locked else of_lockouts),
        form("Change", "instrument-edit"),
        form("New label", "label-new"),
        form("Take it off the list", "instrument-retire"),
    )


def _why_not_opened(site: Site, state: InstrumentState, name: str, person: str) -> str:
    """Why the form would refuse to open now; "" when it would not. What is off the list takes no more of these."""
    if state.retired:
        return OFF_THE_LIST
    try:
        task(name).form(site, state.id, person, {}, 1)
    except Trouble as trouble:
        return trouble.what
    return ""


def _checkout(site: Site, state: InstrumentState, person: str) -> Deed:
    row = status.instrument(site, state.id)
    open_here = row.checkout if row else ""
    reasons = (
        OFF_THE_LIST if state.retired else "",
        row.may_begin if row and not open_here else "",
        people.may(site, person, "check") if person else "",
    )
    say = "Go on with its checkout" if open_here else "Begin a checkout"
    return Deed(say, "checkout", "checkout", state.id, may_not=next((each for each in reasons if each), ""))


def _records(site: Site, state: InstrumentState, person: str) -> tuple[Deed, ...]:
    """What was recorded of it, and what is printed for it."""
    in_force = site.journal.profile_now(str(state.fields.get("profile", ""))).in_force is not None
    off = OFF_THE_LIST if state.retired else ""
    none = off or ("" if in_force else "No revision of its profile is in force.")
    may_not = people.may(site, person, "check") if person else ""

    def deed(say: str, goes: Goes, name: str, why_not: str = "") -> Deed:
        return Deed(say, goes, name, state.id, may_not=why_not)

    return (
        deed("Its checkouts", "listing", "checkouts"),
        deed("Drift", "sheet", "drift"),
        deed("History", "sheet", "history"),
        deed("Form for a check on paper", "sheet", "paper-form", none),
        deed("Expected values for a check on paper", "sheet", "paper-expected", none),
        deed("Enter a check made on paper", "form", "paper-enter", off or may_not),
        deed("Its checks on paper", "listing", "papers"),
    )
