"""What already stands in the way of fit for use before a checkout is begun: said first, not after two minutes' work."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import TYPE_CHECKING

from procedures.site import lookups
from procedures.site.opening import Site
from procedures.site.source_trouble import source_trouble
from procedures.site.usable_references import usable_references

if TYPE_CHECKING:
    from procedures.journal.states import InstrumentState


def obstacles(site: Site, instrument: str) -> tuple[str, ...]:
    """Why a checkout of this instrument begun now could not end fit for use, each in words; () when nothing is known.

    A checkout may be begun all the same: what it finds wrong counts.
    """
    state = site.journal.instrument_now(instrument)
    settings = site.settings()
    now = site.clock.now().utc
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
        trouble = source_trouble(site.journal.source_now(binding.source), now, settings)
        if trouble:
            found.append(trouble)
    found.extend(_references(state, now, settings))
    return tuple(found)


def _references(state: InstrumentState, now: datetime, settings: Mapping[str, str]) -> Iterator[str]:
    if state.calibration is None:
        return
    references = usable_references(state, now, settings)
    if not references.usable and not references.too_old:
        yield "there is no reference reading since its calibration"
    for scale in sorted({each.scale for each in references.too_old}):
        yield f"its reference reading on scale {scale} is older than {references.months} months"
