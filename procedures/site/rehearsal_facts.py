"""The facts an imagined checkout is judged by, made from an answers file as a real opening makes them."""

from __future__ import annotations

from decimal import Decimal

from procedures.facts import Facts, InstrumentFacts, ReferenceFacts, SourceFacts
from procedures.nuclides import half_life
from procedures.procedure import Procedure
from procedures.site.opening import DEFAULTS
from procedures.site.rehearsal_schema import Answers, ReferenceRow, SourceRow
from procedures.units import Quantity, number_in

SETTINGS = {"zone": "Etc/UTC", "day_starts": "06:00", "shifts": "06:00 14:00 22:00", **DEFAULTS}
"""Settings of a site that has said nothing else."""


def facts_of(procedure: Procedure, answers: Answers) -> Facts:
    """The facts of an opening at the start that the file names."""
    made = answers.instrument
    return Facts(
        instrument=InstrumentFacts(
            id="rehearsal",
            label=made.label,
            serial=made.serial,
            type=made.type,
            detector=made.detector,
            cable=made.cable,
            calibrated_on=made.calibrated_on,
            calibration_due=made.calibration_due,
        ),
        scales=procedure.scales,
        opened=answers.start,
        air_density=procedure.air_density,
        operating=procedure.operating,
        soak_seconds=procedure.soak_seconds,
        sources=tuple(_source(row) for row in answers.source),
        references=tuple(_reference(row) for row in answers.reference),
        settings={**SETTINGS, **answers.settings},
    )


def source_id(role: str) -> str:
    """The made-up id of the source that plays a role."""
    return f"source of role {role}"


def _source(row: SourceRow) -> SourceFacts:
    known = half_life(row.nuclide)
    return SourceFacts(
        role=row.role,
        id=source_id(row.role),
        label=row.label,
        nuclide=known.nuclide,
        half_life_days=known.days,
        half_life_relative_u=known.relative_uncertainty,
        half_life_source=known.source,
        jig=row.jig,
        emits=row.emits,
        strong=row.strong,
        trouble=row.trouble,
    )


def _reference(row: ReferenceRow) -> ReferenceFacts:
    uncertainty = row.relative_uncertainty
    return ReferenceFacts(
        role=row.role,
        source=source_id(row.role),
        scale=row.scale,
        geometry=row.geometry,
        value=row.value.value,
        unit=row.value.unit,
        relative_u=0.0 if uncertainty is None else float(number_in(uncertainty, "%")) / 100,
        at=row.at,
        temperature_c=_figure(row.temperature, "°C"),
        pressure_kpa=_figure(row.pressure, "kPa"),
    )


def _figure(found: Quantity | None, unit: str) -> Decimal | None:
    return None if found is None else Decimal(number_in(found, unit))
