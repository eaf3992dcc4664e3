"""Whether a reference reading may be taken now: of this instrument, with this source and jig, so soon after its
calibration."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from procedures.readiness import end_of_day, zone_of
from procedures.site import calibrations, lookups
from procedures.site.entries import thing
from procedures.site.opening_facts import clock_is_believed, source_trouble
from procedures.site.reference_figures import setting
from procedures.site.references import not_locked_out
from procedures.trouble import Trouble
from procedures.units import shown

if TYPE_CHECKING:
    from procedures.clock import Instant
    from procedures.journal.states import Binding, InstrumentState
    from procedures.site.opening import Site


def may_be_taken(site: Site, state: InstrumentState, now: Instant) -> None:
    """Raises Trouble unless this instrument may be given a reference reading now.

    It is here, clean and in nobody's checkout, no lockout of it is open, and its calibration has not ended.
    """
    clock_is_believed(site, now)
    not_locked_out(state)
    label = str(state.fields.get("label", "this instrument"))
    if state.whereabouts in lookups.AWAY or state.handed is not None:
        raise Trouble(
            f"{label} is recorded as {state.whereabouts}",
            allowed="an instrument that is here",
            do="Record first that it came back.",
        )
    if state.contaminated:
        raise Trouble(
            f"{label} is contaminated: every reading would hold that",
            allowed="a clean instrument",
            do="Tell the radiation safety officer.",
        )
    if any(row.instrument == state.id for row in lookups.open_checkouts(site)):
        raise Trouble(f"a checkout of {label} is open", do="End or abandon it first, then take the reference reading.")
    if state.calibration is None:
        raise Trouble(
            f"{label} has no calibration in force",
            allowed="a reference reading after a calibration",
            do="Record the calibration first.",
        )
    due, zone = state.calibration.due, zone_of(site.settings()["zone"])
    if due is not None and now.utc >= end_of_day(date.fromisoformat(due), zone):
        raise Trouble(f"the calibration of {label} ended on {due}", do="Have it calibrated again.")


def soon_enough(site: Site, state: InstrumentState) -> None:
    """Raises Trouble when the calibration, and the last repair, are longer ago than the site lets a reference wait.

    Taken late, a reference would take over whatever the instrument has drifted since.
    """
    calibration = state.calibration
    if calibration is None:
        raise Trouble("there is no calibration in force", do="Record the calibration first.")
    days = int(setting(site.settings(), "reference_within_days"))
    repair = state.repair
    since = max(calibration.on, str(repair.body.get("on", "")) if repair is not None else "")
    last = date.fromisoformat(since) + timedelta(days=days)
    if calibrations.today(site) > last:
        raise Trouble(
            f"it was calibrated or repaired on {since}, more than {days} days ago",
            allowed=f"a reference reading by {last}",
            do="Have it calibrated again, then take the reference reading at once.",
        )


def bound_to(state: InstrumentState, role: str) -> Binding:
    """The source and jig of a role. Raises Trouble where none is bound."""
    binding = state.bindings.get(role)
    if binding is None:
        raise Trouble(
            f"no check source has the role “{shown(role)}” for this instrument",
            allowed=", ".join(state.bindings) or "a role to which a source is bound",
            do="Bind the source first.",
        )
    return binding


def source_may_be_used(site: Site, source: str, now: Instant) -> None:
    """Raises Trouble when a source may not be used, or is out with a checkout."""
    thing(site, source, "source")
    known = site.journal.source_now(source)
    trouble = source_trouble(known, now.utc, site.settings())
    if trouble:
        raise Trouble(trouble, allowed="a source that may be used", do="Take no reading with it.")
    if known.out_with is not None:
        raise Trouble(
            f"source {known.fields['label']} is out with a checkout",
            allowed="a source that is in its store",
            do="Have it scanned back first.",
        )


def source_fits(site: Site, state: InstrumentState, role: str, source: str, now: Instant) -> None:
    """Raises Trouble unless this is the source of that role, and it may be used."""
    bound = bound_to(state, role)
    source_may_be_used(site, source, now)
    if source != bound.source:
        wanted = label_of(site, bound.source)
        raise Trouble(
            f"that is not the source of the role “{role}”", allowed=f"source {wanted}", do=f"Scan source {wanted}."
        )


def jig_fits(site: Site, state: InstrumentState, role: str, jig: str | None) -> None:
    """Raises Trouble unless this is the jig of that role (None: the role has none)."""
    bound = bound_to(state, role)
    if jig != bound.jig:
        wanted = f"jig {label_of(site, bound.jig)}" if bound.jig else "no jig: none is bound to this role"
        raise Trouble("that is not the jig of this role", allowed=wanted, do="Use the jig that checkouts use.")


def label_of(site: Site, thing_id: str) -> str:
    """What is marked on a thing; "" when it is not here."""
    return str(site.journal.thing_now(thing_id).fields.get("label", ""))
