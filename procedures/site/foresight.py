"""What already stands in the way of fit for use before a checkout is begun: said first, not after two minutes' work."""

from __future__ import annotations

from procedures.site import lookups, opening_facts
from procedures.site.opening import Site


def obstacles(site: Site, instrument: str) -> tuple[str, ...]:
    """Why a checkout of this instrument begun now could not end fit for use, each in words; () when nothing is known.

    A checkout may be begun all the same: what it finds wrong counts.
    """
    state = site.journal.instrument_now(instrument)
    settings = site.settings()
    found = []
    if state.calibration is None:
        found.append("no calibration is recorded")
    elif state.calibration.due and lookups.is_over(site, state.calibration.due):
        found.append(f"the calibration ended on {state.calibration.due}")
    if site.journal.profile_now(str(state.fields.get("profile", ""))).in_force is None:
        found.append("no revision of its profile is in force")
    if not state.bindings:
        found.append("no check source is bound to it")
    for binding in state.bindings.values():
        trouble = opening_facts.source_trouble(site.journal.source_now(binding.source), site.clock.now().utc, settings)
        if trouble:
            found.append(trouble)
    if state.calibration is not None and not opening_facts.references_of(state):
        found.append("there is no reference reading since its calibration")
    return tuple(found)
