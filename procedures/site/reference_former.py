"""What a reference reading comes to today, and how a new series stands to it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from procedures.air import density_factor, reference_air
from procedures.nuclides import decay_factor, elapsed_days, half_life_share
from procedures.site.reference_figures import Air
from procedures.site.references import Key, key_of
from procedures.trouble import Trouble
from procedures.units import number_in, read_quantity

if TYPE_CHECKING:
    from procedures.clock import Instant
    from procedures.journal.envelope import Event
    from procedures.journal.states import InstrumentState
    from procedures.series import Series
    from procedures.site.opening import Site

UNSTATED_HALF_LIFE: Final = 0.01
"""Relative standard uncertainty for a half-life whose source states none; evaluations in use differ by less (Cs-137:
30.1671 y in ICRP-107, 30.05 y in DDEP, the latter from memory: 0.4 %)."""


@dataclass(frozen=True, slots=True)
class Former:
    """How a series stands to the former reference of the same source, scale and geometry, brought to today.

    `expected` is that reference after decay, in today's air and in the unit of the scale; `ratio` is the new reading
    over it. Where they cannot be compared both are None and `why_not` says why.
    """

    event: Event | None
    expected: float | None
    ratio: float | None
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class Today:
    """What a reference comes to today, in the unit of a scale, and the parts of its relative standard uncertainty."""

    value: float
    parts: Mapping[str, float]
    days: float
    decay: float


def brought_to(site: Site, reference: Event, unit: str, now: Instant, air: Air | None) -> Today:
    """A reference after its source has decayed, in `unit`; with `air`, as it would be read in that air.

    R₀·2^(−Δt/T½)·k₀/k. Raises Trouble when it is later than now, of another kind of quantity, or when `air` is given
    and it does not say in which air it was taken.
    """
    from procedures.site.source_facts import half_life_since

    body = reference.body
    days = elapsed_days(reference.utc, now.utc)
    fields = site.journal.source_now(str(body["source"])).fields
    known, why = half_life_since(fields, (reference.utc,), now.utc)
    if known is None or why:
        raise Trouble(why or "the half-life of its source is not known", do="Look at what is recorded of the source.")
    decay = decay_factor(known.days, days)
    value = number_in(read_quantity(str(body["value"])), unit)
    conditions = 1.0 if air is None else _air_ratio(site, body, air)
    share = half_life_share(known, days)
    if share is None:
        share = math.log(2) * days / known.days * UNSTATED_HALF_LIFE
    parts = {"reference": float(body["relative_uncertainty"]), "half_life": share}
    return Today(float(value) * decay * conditions, parts, days, decay)


def _air_ratio(site: Site, body: Mapping[str, Any], air: Air) -> float:
    """What turns a reading in the reference's air into one in today's: k₀/k."""
    then = (body["temperature_c"], body["pressure_kpa"])
    if None in then or None in air:
        raise Trouble("temperature and pressure of the former reading are not recorded")
    to = reference_air(site.settings()["air_reference"])
    k_then = density_factor(Decimal(str(then[0])), Decimal(str(then[1])), to)
    return k_then / density_factor(float(air[0] or 0), float(air[1] or 0), to)


def former_of(state: InstrumentState, key: Key) -> Event | None:
    """The newest reference of this source, scale and geometry, whichever calibration it belongs to."""
    return next((event for event in state.references if key_of(event) == key), None)


def compared(
    site: Site, former: Event | None, series: Series, unit: str, now: Instant, air: Air, *, corrected: bool
) -> Former:
    """A series beside the former reference. Never raises: what cannot be compared says why."""
    if former is None:
        return Former(None, None, None, "there is no earlier reference reading of this source, scale and geometry")
    try:
        today = brought_to(site, former, unit, now, air if corrected else None)
    except Trouble as trouble:
        return Former(former, None, None, trouble.what)
    except (KeyError, TypeError, ValueError, ArithmeticError):
        return Former(former, None, None, "the former reference cannot be read")
    if today.value <= 0:
        return Former(former, None, None, "nothing is left of what the former reference showed")
    return Former(former, today.value, float(series.net_exact) / today.value)
