"""The closed catalogue of what can be wrong, and what faults do to an instrument.

Kinds stand in `catalogue.toml`. A kind names what it changes among the effects, how large it may be, and what is seen
of it; the physics knows no kinds.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Literal

from procedures.practice.effects import Effects
from procedures.trouble import Trouble

Of = Literal["instrument", "source", "place", "papers", "nothing"]
"""What is at fault. "nothing": an oddity that is no fault."""


@dataclass(frozen=True, slots=True)
class Range:
    """How large a fault may be: a kind of quantity and its bounds, both inclusive.

    `unit` is "%", "mm", "turns", "cps", or "scale" for a level in the unit of the scales; bounds of such a level are
    parts of the lowest full scale. `per` is "min" for what goes on and on.
    """

    unit: Literal["%", "mm", "turns", "cps", "scale"]
    low: float
    high: float
    example: str
    per: str = ""


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of fault.

    `say` is what is wrong, `seen` what is seen of it. `needs` are labels of a model that can have it. `level` says of
    each effect how the level changes it: "set" it, "add" to it, "multiply" it, or "scale by" 1 + level. `sets` are
    effects it sets by itself, `on` the same for models with a label. `mended_by` are the remedies that end it.
    """

    name: str
    of: Of
    say: str
    seen: str
    needs: frozenset[str]
    range: Range | None
    level: Mapping[str, str]
    sets: Mapping[str, Any]
    on: Mapping[str, Mapping[str, Any]]
    remark: str
    of_scale: bool
    mended_by: frozenset[str]


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault of one instrument. `level` is in the unit of its kind's range: a part (0.3 for 30 %), or a level.

    It begins `after` seconds of being switched on, or when the control `at` is worked; with neither it is there from
    the start. `scale` is the one range it is about, for kinds that are about one.
    """

    kind: str
    level: float = 0.0
    after: float = 0.0
    at: str = ""
    scale: str = ""

    @property
    def what(self) -> Kind:
        return kinds()[self.kind]


@cache
def kinds() -> Mapping[str, Kind]:
    """All kinds by name, in the order of the table."""
    text = files(__package__).joinpath("catalogue.toml").read_text(encoding="utf-8")
    return MappingProxyType({row["name"]: _kind(row) for row in tomllib.loads(text)["kind"]})


def _kind(row: dict[str, Any]) -> Kind:
    return Kind(
        name=row["name"],
        of=row["of"],
        say=row["say"],
        seen=row["seen"],
        needs=frozenset(row.get("needs", ())),
        range=Range(**row["range"]) if "range" in row else None,
        level=MappingProxyType(row.get("level", {})),
        sets=MappingProxyType(row.get("sets", {})),
        on=MappingProxyType(row.get("on", {})),
        remark=row.get("remark", ""),
        of_scale=row.get("of_scale", False),
        mended_by=frozenset(row.get("mended_by", ())),
    )


def possible(labels: frozenset[str]) -> tuple[str, ...]:
    """The kinds of fault that a model with these labels can have."""
    return tuple(name for name, kind in kinds().items() if kind.needs <= labels)


def remaining(faults: tuple[Fault, ...], *actions: str) -> tuple[Fault, ...]:
    """The faults that are left when these remedies were carried out, in the order in which they stood."""
    return tuple(fault for fault in faults if fault.what.mended_by.isdisjoint(actions))


def effects_of(faults: tuple[Fault, ...], labels: frozenset[str]) -> Effects:
    """What these faults do together to a model with these labels. Raises Trouble for one that it cannot have."""
    effects = Effects()
    for fault in faults:
        kind = kinds().get(fault.kind)
        if kind is None or not kind.needs <= labels:
            raise Trouble(f"this instrument cannot have the fault {fault.kind}", allowed=", ".join(possible(labels)))
        for name, how in kind.level.items():
            _by_level(effects, name, how, fault)
        for name, value in kind.sets.items():
            setattr(effects, name, value)
        for label, sets in kind.on.items():
            for name, value in sets.items() if label in labels else ():
                setattr(effects, name, value)
        if kind.remark:
            effects.remarks = (*effects.remarks, kind.remark)
    return effects


def _by_level(effects: Effects, name: str, how: str, fault: Fault) -> None:
    each = fault.what.range
    level = fault.level / 60 if each is not None and each.per == "min" else fault.level
    if name == "scale_response":
        effects.scale_response[fault.scale] = effects.scale_response.get(fault.scale, 1.0) * (1 + level)
        return
    now = getattr(effects, name)
    ways = {"add": lambda: now + level, "multiply": lambda: now * level, "scale by": lambda: now * (1 + level)}
    setattr(effects, name, ways[how]() if how in ways else level)
