"""The facts a checkout is judged by. They are stored whole in its opening, so that it can be judged again years later.

Figures are text with a unit in the journal and are parsed once, here. Dates are UTC moments or calendar dates.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from procedures.asks import Selector
from procedures.clock import Instant
from procedures.findings import Finding


@dataclass(frozen=True, slots=True)
class InstrumentFacts:
    """What is marked on the instrument and what its papers say. Empty text: there is none of that part."""

    id: str
    label: str
    serial: str
    type: str
    detector: str = ""
    cable: str = ""
    calibrated_on: date | None = None
    calibration_due: date | None = None


@dataclass(frozen=True, slots=True)
class ComponentFacts:
    """One nuclide of a source that holds several. `share` is its part of the reading on the day of the certificate.

    `half_life_days` is the one that it falls by: its own, or that of the mother that feeds it.
    """

    nuclide: str
    share: Decimal
    half_life_days: float


@dataclass(frozen=True, slots=True)
class SourceFacts:
    """The real source that the site bound to a role. `trouble` says in words why it may not be used ("" if it may).

    `components` are its nuclides where they fall differently, with shares of the day `shares_on`; they are what it is
    judged by then, and `half_life_days` only describes it. Empty: it falls by `half_life_days`.
    """

    role: str
    id: str
    label: str
    nuclide: str
    half_life_days: float
    half_life_relative_u: float | None
    half_life_source: str
    jig: str = ""
    emits: str = ""
    strong: bool = False
    trouble: str = ""
    components: tuple[ComponentFacts, ...] = ()
    shares_on: date | None = None


@dataclass(frozen=True, slots=True)
class ReferenceFacts:
    """A reference reading: mean of repeated readings of this instrument, source, geometry and scale on a date.

    `value` is net of background, in `unit`; `temperature_c` in °C and `pressure_kpa` in kPa where recorded.
    `relative_u` is the standard uncertainty of the mean as a fraction.
    """

    role: str
    source: str
    scale: str
    geometry: str
    value: Decimal
    unit: str
    relative_u: float
    at: datetime
    temperature_c: Decimal | None = None
    pressure_kpa: Decimal | None = None


@dataclass(frozen=True, slots=True)
class ScaleFacts:
    """A scale of the instrument as its profile states it: selector position with full scale and division."""

    selector: Selector
    full_scale: Decimal
    shown_by: str


@dataclass(frozen=True, slots=True)
class Facts:
    """All a step may know: what the checkout was opened with, and what has happened in it so far.

    `marks` are moments fixed by answers (see asks.SWITCHED_ON). `findings` are those that still count, by step, the
    oldest first. `first_visit` says that nothing was adjusted or repeated yet for this step: its finding is the
    as-found one.
    """

    instrument: InstrumentFacts
    scales: tuple[ScaleFacts, ...]
    opened: datetime
    air_density: str = "none"
    operating: Mapping[str, tuple[Decimal, Decimal]] = field(default_factory=dict)
    soak_seconds: float = 0.0
    sources: tuple[SourceFacts, ...] = ()
    references: tuple[ReferenceFacts, ...] = ()
    settings: Mapping[str, str] = field(default_factory=dict)
    marks: Mapping[str, Instant] = field(default_factory=dict)
    findings: Mapping[str, Finding] = field(default_factory=dict)
    first_visit: bool = True

    def source(self, role: str) -> SourceFacts | None:
        return next((each for each in self.sources if each.role == role), None)

    def scale(self, name: str) -> ScaleFacts | None:
        return next((each for each in self.scales if each.selector.name == name), None)

    def reference(self, source: str, scale: str, geometry: str = "") -> ReferenceFacts | None:
        """The newest reference reading of that source on that scale in that geometry, or None."""
        rows = [r for r in self.references if r.source == source and r.scale == scale and r.geometry == geometry]
        return max(rows, key=lambda r: r.at, default=None)

    def fact(self, name: str) -> str:
        """The newest value of that name that a finding of this checkout recorded ("temperature_c"), or ""."""
        return next((text for finding in self._newest_first() if (text := finding.fact(name))), "")

    def background(self, scale: str) -> Finding | None:
        """The finding of background on that scale, else the newest on another; None when none was taken.

        Two scales may belong to two channels, each with a background of its own.
        """
        taken = [each for each in self._newest_first() if each.fact("background") or each.fact("background_counts")]
        same = (each for each in taken if each.fact("background_scale") == scale)
        return next(same, taken[0] if taken else None)

    def _newest_first(self) -> Iterator[Finding]:
        return reversed(tuple(self.findings.values()))


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _figure(text: str | None) -> Decimal | None:
    return None if text is None else Decimal(text)


def _text(figure: Decimal | None) -> str | None:
    return None if figure is None else str(figure)


def facts_to_json(facts: Facts) -> dict[str, Any]:
    """What the opening stores: everything but the scales and operating range, which the adopted profile holds."""
    made = facts.instrument
    return {
        "instrument": {
            "id": made.id,
            "label": made.label,
            "serial": made.serial,
            "type": made.type,
            "detector": made.detector,
            "cable": made.cable,
            "calibrated_on": made.calibrated_on.isoformat() if made.calibrated_on else None,
            "calibration_due": made.calibration_due.isoformat() if made.calibration_due else None,
        },
        "opened": facts.opened.isoformat(),
        "sources": [_source_json(each) for each in facts.sources],
        "references": [
            {
                "role": r.role,
                "source": r.source,
                "scale": r.scale,
                "geometry": r.geometry,
                "value": str(r.value),
                "unit": r.unit,
                "relative_u": r.relative_u,
                "at": r.at.isoformat(),
                "temperature_c": _text(r.temperature_c),
                "pressure_kpa": _text(r.pressure_kpa),
            }
            for r in facts.references
        ],
        "settings": dict(facts.settings),
    }


def _source_json(source: SourceFacts) -> dict[str, Any]:
    row = {
        "role": source.role,
        "id": source.id,
        "label": source.label,
        "nuclide": source.nuclide,
        "half_life_days": source.half_life_days,
        "half_life_relative_u": source.half_life_relative_u,
        "half_life_source": source.half_life_source,
        "jig": source.jig,
        "emits": source.emits,
        "strong": source.strong,
        "trouble": source.trouble,
    }
    if not source.components:
        # Programs that know no components read the record of any other source as before.
        return row
    return row | {
        "components": [
            {"nuclide": each.nuclide, "share": str(each.share), "half_life_days": each.half_life_days}
            for each in source.components
        ],
        "shares_on": source.shares_on.isoformat() if source.shares_on else None,
    }


def _source(row: Mapping[str, Any]) -> SourceFacts:
    made = dict(row)
    made["components"] = tuple(
        ComponentFacts(each["nuclide"], Decimal(each["share"]), float(each["half_life_days"]))
        for each in made.get("components", ())
    )
    made["shares_on"] = _date(made.get("shares_on"))
    return SourceFacts(**made)


def _date(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


def facts_from_json(body: Mapping[str, Any]) -> Facts:
    """The facts an opening holds, still without the profile's scales. KeyError: the event is malformed."""
    made = dict(body["instrument"])
    made["calibrated_on"] = _date(made["calibrated_on"])
    made["calibration_due"] = _date(made["calibration_due"])
    return Facts(
        instrument=InstrumentFacts(**made),
        scales=(),
        opened=_moment(body["opened"]),
        sources=tuple(_source(row) for row in body["sources"]),
        references=tuple(
            ReferenceFacts(
                role=row["role"],
                source=row["source"],
                scale=row["scale"],
                geometry=row["geometry"],
                value=Decimal(row["value"]),
                unit=row["unit"],
                relative_u=float(row["relative_u"]),
                at=_moment(row["at"]),
                temperature_c=_figure(row["temperature_c"]),
                pressure_kpa=_figure(row["pressure_kpa"]),
            )
            for row in body["references"]
        ),
        settings=dict(body["settings"]),
    )
