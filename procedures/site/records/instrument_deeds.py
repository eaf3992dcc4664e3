"""What can be done with an instrument now, and why not where it cannot: asked of the use cases that would refuse it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from procedures.sheets import Deed
from procedures.site import emergency, handouts, inventory, people, status
from procedures.site.records import lockout
from procedures.site.reference_readings import may_be_taken
from procedures.site.roles import roles_wanted
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.states import InstrumentState
    from procedures.site.opening import Site
    from procedures.site.rights import Action

OFF_THE_LIST = "It is off the list."


def deeds(site: Site, state: InstrumentState, person: str) -> tuple[Deed, ...]:
    """Everything, the most usual first. Where nobody has said who they are, no one's rights are in the way."""
    made = (*_use(site, state, person), *_care(site, state, person), *_papers(site, state, person))
    return (*made, *lockout.deeds(site, state, person), *_inventory(site, state, person))


def _deed(state: InstrumentState, say: str, name: str, *why_not: str, goes: str = "form", about: str = "") -> Deed:
    """A deed with the first reason that stands against it. What is off the list takes none but looking at it."""
    off = OFF_THE_LIST if state.retired and goes in ("form", "checkout") else ""
    reason = next((each for each in (off, *why_not) if each), "")
    return Deed(say, goes, name, about or state.id, may_not=reason)  # type: ignore[arg-type]


def _use(site: Site, state: InstrumentState, person: str) -> tuple[Deed, ...]:
    """Checking it, and its going out and coming back."""
    row = status.instrument(site, state.id)
    open_here = row.checkout if row else ""
    out = "" if state.handed is not None else "It is not handed out."
    return (
        _deed(
            state,
            "Go on with its checkout" if open_here else "Begin a checkout",
            "checkout",
            row.may_begin if row and not open_here else "",
            _may_not(site, person, "check"),
            goes="checkout",
        ),
        _deed(state, "Hand out", "hand-out", _refused(lambda: handouts.offer(site, state.id))),
        _deed(state, "Take back", "take-back", out),
        _deed(
            state,
            "Emergency use, unchecked",
            "emergency",
            _refused(lambda: emergency.state_for(site, state.id, "after" if state.standing.locked else "before")),
        ),
    )


def _care(site: Site, state: InstrumentState, person: str) -> tuple[Deed, ...]:
    """Calibration, repair, reference readings, check sources."""
    calibrate = _may_not(site, person, "calibrate")
    return (
        _deed(state, "Calibration", "calibration", calibrate),
        _deed(state, "Repair", "repair", calibrate),
        _deed(
            state,
            "Reference reading",
            "reference",
            _refused(lambda: may_be_taken(site, state, site.clock.now())),
            _may_not(site, person, "reference"),
        ),
        _deed(
            state,
            "Bind a check source",
            "bind",
            "" if roles_wanted(site, state) else "Its profile in force uses no check source.",
            _may_not(site, person, "register"),
        ),
        Deed("Say where it is", "form", "place", state.id),
        Deed("Contamination", "form", "contamination", state.id),
    )


def _papers(site: Site, state: InstrumentState, person: str) -> tuple[Deed, ...]:
    """What was recorded of it, and what is printed for it."""
    no_profile = site.journal.profile_now(str(state.fields.get("profile", ""))).in_force is None
    none = "No revision of its profile is in force." if no_profile else ""
    return (
        _deed(state, "Drift", "drift", goes="sheet"),
        _deed(state, "History", "history", goes="sheet"),
        _deed(state, "Form for a check on paper", "paper-form", none, goes="sheet"),
        _deed(state, "Enter a check made on paper", "paper-enter", none, _may_not(site, person, "check")),
    )


def _inventory(site: Site, state: InstrumentState, person: str) -> tuple[Deed, ...]:
    register = _may_not(site, person, "register")
    stays = _refused(lambda: inventory.may_be_retired(site, site.journal.thing_now(state.id)))
    return (
        _deed(state, "Change", "instrument-edit", register),
        _deed(state, "New label", "label-new", register),
        _deed(state, "Take it off the list", "instrument-retire", stays, register),
    )


def _may_not(site: Site, person: str, action: Action) -> str:
    return people.may(site, person, action) if person else ""


def _refused(ask: Callable[[], object]) -> str:
    """Why a use case would refuse this now; "" when it would not."""
    try:
        ask()
    except Trouble as trouble:
        return trouble.what
    return ""
