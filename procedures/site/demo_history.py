"""The weeks behind the demo's present: what was checked, found, locked out, cleared and handed out, in order."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Final

from procedures.clock import ManualClock
from procedures.site import clearing, handouts, inventory, references
from procedures.site.checkouts import Desk
from procedures.site.demo_player import Player, Script
from procedures.site.demo_readings import EXPECTED, REFERENCE_WEATHER, Day, good_day, reference_readings
from procedures.site.demo_things import INSTRUMENTS, KINDS, VENTED, Instrument, Things
from procedures.site.opening import Site
from procedures.site.profiles import adopt
from procedures.site.views import CheckoutView

WEEKS_BACK: Final = timedelta(days=35)
"""How long before the present the site was begun."""


@dataclass(slots=True)
class History:
    """The site while its past is written. `present` is the moment at which it all ends."""

    site: Site
    clock: ManualClock
    present: datetime
    things: Things
    profiles: dict[str, str]
    player: Player = field(init=False)
    referenced: dict[str, datetime] = field(default_factory=dict)
    labels: dict[str, tuple[date, date]] = field(default_factory=dict)
    checks: int = 0

    def __post_init__(self) -> None:
        self.player = Player(Desk(self.site), self.clock)

    def write(self) -> None:
        """The whole past, up to the present."""
        self._begin()
        self._weeks()
        self._last_days()
        self._this_morning()
        self._go_to(self.present)

    # --- the beginning -------------------------------------------------------------------------------------------

    def _begin(self) -> None:
        for kind in KINDS:
            adopt(self.site, self.profiles[kind.file], self.things.lead)
        for each in INSTRUMENTS:
            due = 4 if each.label == "QO-09" else each.due_days
            calibration = self._calibrate(each, self.present.date() + timedelta(days=due - 365))
            self._reference(each, calibration)

    def _calibrate(self, each: Instrument, on: date) -> str:
        due = on + timedelta(days=365)
        self.labels[each.label] = (on, due)
        return references.calibrated(
            self.site,
            self.things.instruments[each.label],
            on=on,
            due=due,
            by="Invented Calibration Laboratory",
            certificate=f"IC-{on:%y%m}-{each.label[-2:]}",
            as_found="within",
            person=self.things.lead,
        )

    def _reference(self, each: Instrument, calibration: str) -> None:
        expected, kind = EXPECTED[each.kind.type], each.kind
        self.clock.advance(600.0)
        self.referenced[each.label] = self.clock.now().utc
        temperature, pressure = REFERENCE_WEATHER
        references.reference_reading(
            self.site,
            self.things.instruments[each.label],
            source=self.things.sources[each.source],
            jig=self.things.jigs[kind.jig],
            role=kind.role,
            scale=expected.scale,
            readings=reference_readings(kind),
            unit=expected.unit,
            calibration=calibration,
            geometry=expected.geometry,
            temperature_c=str(temperature) if kind is VENTED else None,
            pressure_kpa=str(pressure) if kind is VENTED else None,
            person=self.things.lead,
        )

    # --- what the days bring -------------------------------------------------------------------------------------

    def _weeks(self) -> None:
        """Three weeks of mornings: one chamber steady, another reading less and less."""
        for number, days in enumerate(range(26, 7, -3)):
            by = "QP-5" if days > 13 else "QP-2"
            self._before_present(days=days)
            if days in (26, 20, 14, 8):
                self._check("QO-01", by)
            self._check("QO-02", by, ratio=0.985 - 0.013 * number)
            if days == 20:
                self._handle_breaks()
            if days == 11:
                clearing.end_readiness(
                    self.site, self._id("QO-01"), self._who("QP-3"), "dropped", "It slid off the barrow."
                )
                self._check("QO-01", "QP-3")

    def _handle_breaks(self) -> None:
        instrument = self._id("QO-04")
        lockout = clearing.lock_by_hand(
            self.site, instrument, self._who("QP-6"), "The handle came off; it may have been dropped.", tag="T-HANDLE"
        )
        self.clock.advance(26 * 3600.0)
        clearing.clear(
            self.site,
            instrument,
            self.things.lead,
            lockouts=[lockout],
            cause="A screw of the handle had worked loose.",
            action="Handle fitted anew, case looked over, nothing loose inside.",
            parts="one screw",
        )
        self._check("QO-04", "QP-2")

    def _last_days(self) -> None:
        self._before_present(days=6)
        self._check("QO-11", "QP-2")
        inventory.place(
            self.site, self._id("QO-11"), "at calibration", "Invented Calibration Laboratory", person=self.things.lead
        )
        self._before_present(days=4)
        self._check("QO-03", "QP-3")
        self._hand_out("QO-03", "QP-3", "Monthly survey of the seed store", "Seed store, aisle 4")
        self.clock.advance(5 * 3600.0)
        handouts.take_back(
            self.site,
            self._id("QO-03"),
            by=self._who("QP-3"),
            condition="As it went out; the morning was foggy.",
            person=self._who("QP-2"),
        )
        self._before_present(hours=75)
        self._check("QO-03", "QP-3", changes={"zero/zero": "0.2", "desiccant/colour": "green"})
        self._before_present(hours=50)
        self._calibrate(INSTRUMENTS[8], self.present.date() - timedelta(days=5))
        self._before_present(hours=28)
        self._check("QO-10", "QP-6")
        self._before_present(hours=26)
        self._clear_desiccant()

    def _clear_desiccant(self) -> None:
        instrument = self._id("QO-03")
        clearing.clear(
            self.site,
            instrument,
            self.things.lead,
            lockouts=[
                each.id for each in self.site.journal.instrument_now(instrument).lockouts if each.status == "open"
            ],
            cause="The desiccant was spent.",
            action="Fresh desiccant fitted, case closed, left to dry for a day.",
            parts="one cartridge",
        )

    def _this_morning(self) -> None:
        self._before_present(minutes=200)
        self._check("QO-01", "QP-2")
        self._check("QO-02", "QP-2", ratio=0.885)
        self._check("QO-04", "QP-6")
        self._check("QO-08", "QP-4")
        self._check("QO-06", "QP-2")
        self._hand_out("QO-06", "QP-6", "Survey of the grafting bench after work", "Grafting house")
        self._before_present(minutes=130)
        high = {f"background/{place}-{n}": "190" for place in ("background", "elsewhere") for n in (1, 2, 3)}
        self._check("QO-07", "QP-4", changes={**high, "background/follows": "everywhere the same"})
        inventory.contamination(
            self.site,
            self._id("QO-07"),
            found=True,
            say="Bagged on the contamination bench; radiation protection was told.",
            person=self._who("QP-4"),
        )
        self._check("QO-09", "QP-3")
        self._check("QO-12", "QP-3")
        self._before_present(minutes=70)
        # Left out when its check failed: home shows it until somebody scans it back into its store.
        self._check("QO-05", "QP-2", ratio=0.71)

    # --- within --------------------------------------------------------------------------------------------------

    def _check(self, label: str, by: str, *, ratio: float = 1.0, changes: Script | None = None) -> CheckoutView:
        each = next(one for one in INSTRUMENTS if one.label == label)
        on, due = self.labels[label]
        self.checks += 1
        day = Day(
            label=(on if each.kind.label == "calibrated" else due).isoformat(),
            referenced=self.referenced[label],
            at=self.clock.now().utc,
            number=self.checks,
            ratio=ratio,
        )
        script = {**good_day(each.kind, day), **(changes or {})}
        view = self.player.check(self._id(label), self._who(by), script)
        self.clock.advance(45.0)
        return view

    def _hand_out(self, label: str, to: str, job: str, place: str) -> None:
        self.clock.advance(120.0)
        handouts.hand_out(self.site, self._id(label), to=self._who(to), job=job, place=place, person=self._who("QP-2"))

    def _id(self, label: str) -> str:
        return self.things.instruments[label]

    def _who(self, label: str) -> str:
        return self.things.people[label]

    def _before_present(self, **before: float) -> None:
        self._go_to(self.present - timedelta(**before))

    def _go_to(self, moment: datetime) -> None:
        self.clock.advance((moment - self.clock.now().utc).total_seconds())
