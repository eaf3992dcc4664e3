"""The invented orchard laboratory of the demo: its people, instruments, sources and jigs. Nothing here is real."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final, Literal

from procedures.site import inventory, source_keeping
from procedures.site.opening import Site
from procedures.site.source_keeping import Counted

NAME: Final = "Quillmere Orchard (nothing here is real)"
STATION: Final = "demo-quillmere-1"
STATION_NAME: Final = "demo laptop"


@dataclass(frozen=True, slots=True)
class Person:
    """`trained_days` is how long from now the training is valid; negative when it is over."""

    label: str
    name: str
    roles: tuple[str, ...]
    trained_days: int

    @property
    def initials(self) -> str:
        return "".join(part[0] for part in self.name.split())


PEOPLE: Final = (
    Person("QP-1", "Runa Feldmire", ("lead",), 500),
    Person("QP-2", "Ansa Quellby", ("technician",), 210),
    Person("QP-3", "Teo Branduil", ("technician",), 95),
    Person("QP-4", "Ilse Marrowick", ("trainer", "technician"), 330),
    Person("QP-5", "Pim Osterlow", ("technician",), -12),
    Person("QP-6", "Joss Wyndelow", ("technician",), 9),
)


@dataclass(frozen=True, slots=True)
class Kind:
    """An invented type of instrument, with its profile and the role and jig its source goes by.

    `label` says which date its calibration label carries.
    """

    type: str
    profile: str
    file: str
    role: str
    jig: str
    prefix: str
    label: Literal["due", "calibrated"] = "due"


VENTED: Final = Kind("Brindlow V", "vented-chamber-analog", "vented_chamber.toml", "daily", "QJ-1", "BV")
SEALED: Final = Kind("Pellark S", "sealed-chamber-digital", "sealed_chamber.toml", "daily", "QJ-1", "PS")
PANCAKE: Final = Kind("Tusmer G", "pancake-ratemeter", "pancake_ratemeter.toml", "daily", "QJ-2", "TG")
ALPHA: Final = Kind("Ovelin A", "alpha-scaler", "alpha_scaler.toml", "plate", "QJ-3", "OA")
NEUTRON: Final = Kind("Hedrane N", "neutron-moderated", "neutron_moderated.toml", "neutron", "QJ-4", "HN", "calibrated")
KINDS: Final = (VENTED, SEALED, PANCAKE, ALPHA, NEUTRON)


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument, the source that serves it, and the days until its calibration ends."""

    label: str
    kind: Kind
    source: str
    due_days: int


INSTRUMENTS: Final = (
    Instrument("QO-01", VENTED, "QS-1", 200),
    Instrument("QO-02", VENTED, "QS-1", 160),
    Instrument("QO-03", VENTED, "QS-1", 120),
    Instrument("QO-04", SEALED, "QS-1", 240),
    Instrument("QO-05", SEALED, "QS-5", 90),
    Instrument("QO-06", PANCAKE, "QS-1", 17),
    Instrument("QO-07", PANCAKE, "QS-1", 210),
    Instrument("QO-08", ALPHA, "QS-2", 150),
    Instrument("QO-09", ALPHA, "QS-2", 360),
    Instrument("QO-10", NEUTRON, "QS-3", 75),
    Instrument("QO-11", NEUTRON, "QS-3", 30),
    Instrument("QO-12", SEALED, "QS-4", -6),
)


@dataclass(frozen=True, slots=True)
class Source:
    """A check source. `tested_days` is how many days ago it was leak-tested.

    None: so little of it that 10 CFR 35.67 and 39.35 ask for none (at most 3.7 MBq of beta or gamma emitters, 0.37 MBq
    of alpha or neutron emitters), which the lead claimed as `exempt`.
    """

    label: str
    serial: str
    nuclide: str
    activity: str
    emits: str
    strong: bool
    tested_days: int | None
    exempt: str = ""


SOURCES: Final = (
    Source("QS-1", "invented-4411", "Cs-137", "340 kBq", "beta, gamma", False, None, "small beta or gamma"),
    Source("QS-2", "invented-4412", "Am-241", "3.1 kBq", "alpha", False, None, "small alpha or neutron"),
    Source("QS-3", "invented-4413", "Cf-252", "1.6 MBq", "neutron, gamma", True, 160),
    Source("QS-4", "invented-4414", "Cs-137", "4.1 MBq", "gamma", False, 193),
    Source("QS-5", "invented-4415", "Cs-137", "350 kBq", "beta, gamma", False, None, "small beta or gamma"),
)

JIGS: Final = ("QJ-1", "QJ-2", "QJ-3", "QJ-4")


@dataclass(frozen=True, slots=True)
class Things:
    """Ids by label."""

    people: dict[str, str]
    instruments: dict[str, str]
    sources: dict[str, str]
    jigs: dict[str, str]

    @property
    def lead(self) -> str:
        return self.people["QP-1"]


def register(site: Site, today: date) -> Things:
    """Take everybody and everything onto the site's lists; dates are reckoned from `today`, the demo's present."""
    people = {
        each.label: inventory.register_person(
            site,
            label=each.label,
            name=each.name,
            initials=each.initials,
            roles=each.roles,
            trained_until=today + timedelta(days=each.trained_days),
        )
        for each in PEOPLE
    }
    lead = people["QP-1"]
    jigs = {label: inventory.register_jig(site, label=label, person=lead) for label in JIGS}
    sources = {each.label: _source(site, each, today, lead) for each in SOURCES}
    source_keeping.count(site, lead, [Counted(each, True, "the source safe") for each in sources.values()])
    instruments = {
        each.label: _instrument(site, each, number, sources, jigs, lead) for number, each in enumerate(INSTRUMENTS, 1)
    }
    return Things(people, instruments, sources, jigs)


def _source(site: Site, each: Source, today: date, lead: str) -> str:
    given = {
        "serial": each.serial,
        "nuclide": each.nuclide,
        "activity": each.activity,
        "activity_on": today - timedelta(days=900),
        "emits": each.emits,
        "strength": "strong" if each.strong else "",
        "leak_test_exempt": each.exempt,
    }
    source = source_keeping.add(site, lead, each.label, given)
    if each.tested_days is not None:
        source_keeping.leak_test(
            site,
            lead,
            source,
            on=today - timedelta(days=each.tested_days),
            result="12 Bq",
            tested_by="an invented laboratory",
            measured_with="an invented well counter",
        )
    return source


def _instrument(
    site: Site, each: Instrument, number: int, sources: dict[str, str], jigs: dict[str, str], lead: str
) -> str:
    kind = each.kind
    instrument = inventory.register_instrument(
        site,
        label=each.label,
        serial=f"{kind.prefix}-{7300 + 17 * number}",
        type=kind.type,
        profile=kind.profile,
        person=lead,
    )
    inventory.bind_source(site, instrument, kind.role, sources[each.source], jigs[kind.jig], person=lead)
    return instrument
