"""A profile that was read and proved, in short: what its check prints."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from procedures.profile.load import Loaded
from procedures.profile.paths import PathRow, StepLimit, bounds, limit_chances, path_table
from procedures.routing import StepPlan


@dataclass(frozen=True, slots=True)
class StepSummary:
    """One step in a row: how it is reached, where its failure leads, and the reason code it ends with."""

    id: str
    kind: str
    required: bool
    lockout: str
    on_fail: str
    remedies: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Summary:
    """What there is to say of a proved profile. Times are in seconds: see paths.bounds."""

    id: str
    title: str
    revision: int
    sha256: str
    detector: str
    scales: tuple[tuple[str, str], ...]
    steps: tuple[StepSummary, ...]
    paths: tuple[PathRow, ...]
    limits: tuple[StepLimit, ...]
    shortest: float
    longest: float

    def to_json(self) -> dict[str, Any]:
        return {
            "id": self.id,
            "title": self.title,
            "revision": self.revision,
            "sha256": self.sha256,
            "detector": self.detector,
            "scales": [{"name": name, "shown_by": shown_by} for name, shown_by in self.scales],
            "steps": [
                {
                    "id": step.id,
                    "kind": step.kind,
                    "required": step.required,
                    "lockout": step.lockout,
                    "on_fail": step.on_fail,
                    "remedies": list(step.remedies),
                }
                for step in self.steps
            ],
            "paths": [row.to_json() for row in self.paths],
            "limits": [
                {"step": row.step, "limit": row.limit.name, "chance": row.limit.chance, "assumed": row.limit.assumed}
                for row in self.limits
            ],
            "shortest_seconds": self.shortest,
            "longest_seconds": self.longest,
        }


def summary_of(loaded: Loaded) -> Summary:
    """The summary of a profile, with its path table and the chances of its limits."""
    profile = loaded.profile
    shortest, longest = bounds(profile)
    return Summary(
        id=profile.id,
        title=profile.title,
        revision=profile.revision,
        sha256=loaded.sha256,
        detector=profile.instrument.detector,
        scales=tuple((scale.name, scale.shown_by) for scale in profile.instrument.scale),
        steps=tuple(_step(step) for step in loaded.plan.steps),
        paths=path_table(profile),
        limits=limit_chances(profile),
        shortest=shortest,
        longest=longest,
    )


def _step(step: StepPlan) -> StepSummary:
    actions = tuple(remedy.action for remedy in step.remedies)
    return StepSummary(step.id, step.kind, step.required, step.lockout, step.on_fail, actions)
