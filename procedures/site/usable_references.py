"""The reference readings by which an instrument may be judged now: of its calibration in force, and not too old."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from procedures.facts import ReferenceFacts
from procedures.months import months_after
from procedures.readiness import end_of_day, zone_of
from procedures.site.source_trouble import whole
from procedures.units import read_quantity

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from procedures.journal.envelope import Event
    from procedures.journal.states import InstrumentState


def since_calibration(state: InstrumentState) -> tuple[Event, ...]:
    """The references that belong to the calibration in force and were taken after the last repair, newest first."""
    if state.calibration is None:
        return ()
    repair = state.repair
    if repair is not None and str(repair.body.get("on", "9999")) < state.calibration.on:
        # Recorded late: the calibration came after it.
        repair = None
    return tuple(
        event
        for event in state.references
        if event.body["calibration"] == state.calibration.event and (repair is None or event.stamp > repair.stamp)
    )


def references_of(state: InstrumentState) -> list[ReferenceFacts]:
    """The references that count; a new calibration or a repair makes older ones unusable."""
    rows = []
    for event in since_calibration(state):
        body = event.body
        value = read_quantity(body["value"])
        rows.append(
            ReferenceFacts(
                role=body["role"],
                source=body["source"],
                scale=body["scale"],
                geometry=body["geometry"],
                value=value.value,
                unit=value.unit,
                relative_u=float(body["relative_uncertainty"]),
                at=event.utc,
                temperature_c=_figure(body["temperature_c"]),
                pressure_kpa=_figure(body["pressure_kpa"]),
            )
        )
    return rows


@dataclass(frozen=True, slots=True)
class UsableReferences:
    """References since the calibration in force: those that count, and those older than the site allows."""

    usable: tuple[ReferenceFacts, ...]
    too_old: tuple[ReferenceFacts, ...]
    months: int
    zone: ZoneInfo

    @property
    def all(self) -> tuple[ReferenceFacts, ...]:
        return (*self.usable, *self.too_old)

    def trouble_with(self, source: str) -> str:
        """Why readings of this source have nothing to be compared with, where that is for age; "" otherwise."""
        old = [each for each in self.too_old if each.source == source]
        if not old or any(each.source == source for each in self.usable):
            return ""
        newest = max(each.at for each in old)
        return (
            f"its reference reading of {newest.astimezone(self.zone):%Y-%m-%d} is older than {self.months} months: "
            "a new one is taken after the next calibration"
        )


def usable_references(state: InstrumentState, now: datetime, settings: Mapping[str, str]) -> UsableReferences:
    """The references by which readings may be judged now, by the site's `highest_reference_age_months` (0: any age)."""
    months = whole(settings, "highest_reference_age_months")
    rows, zone = references_of(state), zone_of(settings["zone"])
    if not months:
        return UsableReferences(tuple(rows), (), 0, zone)
    old = {id(each) for each in rows if now >= end_of_day(reference_good_until(each.at, zone, months), zone)}
    usable = tuple(each for each in rows if id(each) not in old)
    return UsableReferences(usable, tuple(each for each in rows if id(each) in old), months, zone)


def reference_good_until(taken: datetime, zone: ZoneInfo, months: int) -> date:
    """The last day on which a reference reading taken at this moment counts, by the site's calendar."""
    return months_after(taken.astimezone(zone).date(), months)


def _figure(text: Any) -> Decimal | None:
    return None if text is None else Decimal(str(text))
