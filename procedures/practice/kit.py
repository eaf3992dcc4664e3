"""What a practice checkout is made with: a profile, the model of its instrument, and the papers of both."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from functools import cache
from hashlib import sha256
from types import MappingProxyType
from typing import Final

from procedures.facts import Facts, InstrumentFacts, ReferenceFacts, SourceFacts
from procedures.nuclides import half_life
from procedures.practice import packaged
from procedures.practice.instrument import SimInstrument
from procedures.practice.model import Model
from procedures.practice.sources import SourceModel
from procedures.profile.load import Loaded

SETTINGS: Final[Mapping[str, str]] = MappingProxyType(
    {"zone": "Etc/UTC", "day_starts": "06:00", "shifts": "06:00 14:00 22:00", "ready_ends": "shift"}
)
"""Settings of a site that has said nothing else."""


@dataclass(frozen=True, slots=True)
class Kit:
    """A profile with the model of its instrument."""

    model: Model
    profile: Loaded

    @property
    def id(self) -> str:
        return self.profile.procedure.id

    @property
    def model_sha256(self) -> str:
        """Names the values of the model: of its text as a value, since a model keeps no file."""
        return sha256(repr(self.model).encode()).hexdigest()


@cache
def kits() -> Mapping[str, Kit]:
    """Those that come along, by the id of their profile."""
    profiles = packaged.profiles()
    return MappingProxyType({name: Kit(model, profiles[name]) for name, model in packaged.models().items()})


@dataclass(frozen=True, slots=True)
class SourceLabels:
    """What is marked on a source and its jig."""

    role: str
    label: str
    jig: str = ""


@dataclass(frozen=True, slots=True)
class Papers:
    """What is marked on the things of a practice checkout, which its scans are compared with."""

    label: str
    serial: str
    sources: tuple[SourceLabels, ...]


def papers_of(kit: Kit) -> Papers:
    """Invented labels, for who has none."""
    sources = tuple(SourceLabels(each.role, f"PS-{n}", f"PJ-{n}") for n, each in enumerate(kit.model.sources, start=1))
    return Papers("P-1", "PRACTICE", sources)


def facts_of(kit: Kit, papers: Papers, start: datetime, settings: Mapping[str, str] = SETTINGS) -> Facts:
    """The facts of an opening at `start`: as a real opening makes them, with the model's sources and references.

    The papers are right. What a case does to a label or a source is seen on the bench, and not in the records.
    """
    label = SimInstrument(kit.model, (), 0, start, quiet=True).face().look
    procedure = kit.profile.procedure
    return Facts(
        instrument=InstrumentFacts(
            id="practice",
            label=papers.label,
            serial=papers.serial,
            type=kit.model.title,
            calibrated_on=label.calibrated,
            calibration_due=label.due,
        ),
        scales=procedure.scales,
        opened=start,
        air_density=procedure.air_density,
        operating=procedure.operating,
        soak_seconds=procedure.soak_seconds,
        sources=tuple(_source(kit.model.source(each.role), each) for each in papers.sources),
        references=tuple(_reference(each, start) for each in kit.model.sources),
        settings=settings,
    )


def source_id(role: str) -> str:
    """The made-up id of the source that plays a role."""
    return f"source of role {role}"


def _source(model: SourceModel, labels: SourceLabels) -> SourceFacts:
    known = half_life(model.nuclide)
    return SourceFacts(
        role=model.role,
        id=source_id(model.role),
        label=labels.label,
        nuclide=known.nuclide,
        half_life_days=known.days,
        half_life_relative_u=known.relative_uncertainty,
        half_life_source=known.source,
        jig=labels.jig,
    )


def _reference(model: SourceModel, start: datetime) -> ReferenceFacts:
    return ReferenceFacts(
        role=model.role,
        source=source_id(model.role),
        scale=model.scale,
        geometry=model.geometry,
        value=Decimal(repr(model.reading)),
        unit=model.unit,
        relative_u=model.relative_u,
        at=model.referenced(start),
        temperature_c=Decimal(repr(model.temperature_c)),
        pressure_kpa=Decimal(repr(model.pressure_kpa)),
    )
