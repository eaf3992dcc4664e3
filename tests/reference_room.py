"""A site on the day of a calibration, for tests: an instrument back from the bench, its source and jig, two leads."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

from desk_walk import MINI, START, id_of, small_site

from procedures.calibration import Point
from procedures.clock import ManualClock
from procedures.journal.envelope import Event
from procedures.journal.states import InstrumentState
from procedures.sheets import Done, Form, Look
from procedures.site import calibrations, forms, inventory, reference_readings, secrets
from procedures.site.calibrations import Given as Certificate
from procedures.site.reference_readings import Given as Read

TODAY = START.date()
READINGS = ("1.62", "1.64", "1.66", "1.64", "1.63", "1.65", "1.64", "1.66", "1.62", "1.64")
CORRECTED = MINI.replace('air_density = "none"', 'air_density = "correct"').replace(
    '[[step]]\nid = "battery"',
    '[[step]]\nid = "air"\nkind = "environment"\npressure = "barometer"\n[[step]]\nid = "battery"',
)
"""The small procedure with a chamber that the program corrects for the density of air."""
PINS = {"P-1": "482915", "P-2": "730264"}


def points(*rows: tuple[str, str | None, str | None]) -> tuple[Point, ...]:
    """Points of a calibration: standard, as found, as left."""
    return tuple(
        Point("x1", Decimal(standard), *(None if each is None else Decimal(each) for each in (found, left)), "mR/h")
        for standard, found, left in rows
    )


CERTIFICATE = Certificate(
    on=TODAY, due=None, by="bench", certificate="K-2", points=points(("2", "2.1", "2.02")), tolerance=Decimal(10)
)


class Room:
    """The site, its clock, and the ids that tests name."""

    def __init__(self, folder: Path, profile: str = MINI) -> None:
        self.clock = ManualClock(START)
        self.site = small_site(folder, self.clock, profile=profile)
        self.clock.advance(60)
        self.instrument, self.lead, self.technician = (id_of(self.site, each) for each in ("C-1", "P-1", "P-2"))
        self.source, self.jig = id_of(self.site, "S-1"), id_of(self.site, "J-1")

    @property
    def state(self) -> InstrumentState:
        return self.site.journal.instrument_now(self.instrument)

    def event(self, hashed: str) -> Event:
        found = self.site.journal.by_hash(hashed)
        assert found is not None
        return found

    def last(self, kind: str) -> Mapping[str, Any]:
        """What the newest event of this kind about the instrument says."""
        return self.site.journal.about(self.instrument, kinds=(kind,), limit=1)[0].body

    def last_event(self, kind: str) -> str:
        """The id of the newest event of this kind about the instrument."""
        return self.site.journal.about(self.instrument, kinds=(kind,), limit=1)[0].hash

    def setting(self, **values: str) -> None:
        self.site.record("settings-changed", {"set": values}, about=("site",))

    def pins(self) -> None:
        """From now on the site wants PINs, and both have one."""
        self.setting(pins="on")
        cheap = secrets.Cost(2, 1, 1)
        for number, (label, pin) in enumerate(PINS.items()):
            by = {} if number == 0 else {"by": self.lead, "by_pin": PINS["P-1"]}
            salt = bytes([number]) * secrets.SALT_BYTES
            secrets.set_pin(self.site, id_of(self.site, label), pin, salt=salt, cost=cheap, **by)

    def calibrated(self, **changes: Any) -> str:
        """A calibration of today, as the certificate says or changed."""
        return calibrations.record(self.site, self.instrument, self.lead, replace(CERTIFICATE, **changes))

    def read(self, **changes: Any) -> Read:
        made = Read(role="daily", source=self.source, jig=self.jig, scale="x1", readings=READINGS)
        return replace(made, **changes)

    def take(self, person: str = "", **changes: Any) -> str:
        """A reference reading; what is no part of it goes to `take`."""
        more = {name: changes.pop(name) for name in ("reason", "second", "pin", "second_pin") if name in changes}
        who = person or self.lead
        return reference_readings.take(self.site, self.instrument, who, self.read(**changes), **more)

    def second_source(self, label: str = "S-2") -> str:
        return inventory.register_source(
            self.site,
            label=label,
            serial=label,
            nuclide="Cs-137",
            activity="74 kBq",
            activity_on=dt.date(2026, 1, 1),
            emits="gamma",
        )

    # -- forms

    def form(self, name: str, entered: Mapping[str, str] | None = None, page: int = 1) -> Form:
        return forms.task(name).form(self.site, self.instrument, self.lead, entered or {}, page)

    def look(self, name: str, entered: Mapping[str, str]) -> Look:
        return forms.task(name).look(self.site, self.instrument, self.lead, entered)

    def keep(self, name: str, entered: Mapping[str, str]) -> Done:
        return forms.task(name).keep(self.site, self.instrument, self.lead, entered)
