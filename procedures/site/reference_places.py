"""Which reference readings the checkouts of an instrument compare with: role, scale and geometry, by its profile."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from procedures.journal.states import InstrumentState
    from procedures.site.opening import Site

OPEN_AND_CLOSED: Final = ("closed", "open")
"""Geometries of the two references that a window's ratio is compared with."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """One reference that a step compares with. `low` and `high` are its limits as the profile writes them, "" for
    none."""

    step: str
    role: str
    scale: str
    geometry: str
    low: str = ""
    high: str = ""

    def __str__(self) -> str:
        return f"role {self.role}, scale {self.scale}" + (f", {self.geometry}" if self.geometry else "")


def wanted(site: Site, state: InstrumentState) -> tuple[Wanted, ...]:
    """What the profile in force compares with, each once, in the order of its steps; nothing where none is in force.

    The text was proved when it was adopted, so plain TOML is enough.
    """
    adopted = site.journal.profile_now(str(state.fields.get("profile", ""))).in_force
    if adopted is None:
        return ()
    try:
        steps = tomllib.loads(adopted.text).get("step", [])
    except tomllib.TOMLDecodeError:
        return ()
    found: dict[tuple[str, str, str], Wanted] = {}
    for step in steps:
        for each in _wanted_by(step):
            found.setdefault((each.role, each.scale, each.geometry), each)
    return tuple(found.values())


def _wanted_by(step: Mapping[str, Any]) -> Iterator[Wanted]:
    name = str(step.get("id", ""))
    if step.get("source") and step.get("scale"):
        limits = step.get("limits") or {}
        yield Wanted(
            name,
            str(step["source"]),
            str(step["scale"]),
            str(step.get("geometry", "")),
            str(limits.get("low", "")),
            str(limits.get("high", "")),
        )
    ratio = step.get("ratio")
    if isinstance(ratio, Mapping) and ratio.get("source") and ratio.get("scale"):
        for geometry in OPEN_AND_CLOSED:
            yield Wanted(name, str(ratio["source"]), str(ratio["scale"]), geometry)
