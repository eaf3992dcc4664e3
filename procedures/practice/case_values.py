"""A case as plain values and back: what a session and an exam paper keep of it, with levels as its faults hold them."""

from __future__ import annotations

from typing import Any

from procedures.practice.case_schema import MOST_FAULTS
from procedures.practice.cases import Case, within_bounds
from procedures.practice.catalogue import Fault, kinds, possible
from procedures.practice.controls import controls_of
from procedures.practice.model import Model
from procedures.practice.pairs import clash
from procedures.practice.plain import Plain
from procedures.practice.surroundings import Room
from procedures.steps.base import LONGEST_WAIT
from procedures.trouble import Trouble


def case_to_json(case: Case) -> dict[str, Any]:
    """Plain JSON values."""
    room = case.room
    return {
        "title": case.title,
        "about": case.about,
        "hints": list(case.hints),
        "profile": case.profile,
        "room": {
            "temperature_c": room.temperature_c,
            "pressure_kpa": room.pressure_kpa,
            "humidity": room.humidity,
            "background": room.background,
        },
        "faults": [
            {"kind": f.kind, "level": f.level, "after": f.after, "at": f.at, "scale": f.scale} for f in case.faults
        ],
        "notes": list(case.notes),
    }


def case_from_json(body: Any, model: Model, where: str = "case") -> Case:
    """The case again. Raises Trouble for anything that is not one of an instrument of this model."""
    plain = Plain(body, where, ("title", "about", "hints", "profile", "room", "faults", "notes"))
    place = Plain(body["room"], f"{where}, room", ("temperature_c", "pressure_kpa", "humidity", "background"))
    room = Room(
        place.figure("temperature_c", -60, 80),
        place.figure("pressure_kpa", 30, 120),
        place.figure("humidity", 0, 100),
        place.figure("background", 0, 1e6),
    )
    rows = plain.rows("faults", MOST_FAULTS)
    faults = tuple(_fault(row, model, f"{where}, fault {n}") for n, row in enumerate(rows, start=1))
    _together(faults, where)
    return Case(
        title=plain.text("title"),
        about=plain.text("about"),
        hints=plain.texts("hints"),
        profile=plain.text("profile", among=(model.profile,)),
        room=room,
        faults=faults,
        notes=plain.texts("notes"),
    )


def _fault(row: Any, model: Model, where: str) -> Fault:
    plain = Plain(row, where, ("kind", "level", "after", "at", "scale"))
    name = plain.text("kind", among=possible(model.labels))
    kind = kinds()[name]
    level = plain.figure("level")
    within_bounds(model, kind, level, where)
    scales = [each.selector.name for each in model.scales] if kind.of_scale else [""]
    return Fault(
        name,
        level,
        plain.figure("after", 0, LONGEST_WAIT),
        plain.text("at", among=("", *sorted(controls_of(model)))),
        plain.text("scale", among=scales),
    )


def _together(faults: tuple[Fault, ...], where: str) -> None:
    for place, fault in enumerate(faults):
        for other in faults[:place]:
            same = fault.kind == other.kind and fault.scale == other.scale
            why = "it is there already" if same else clash(fault.kind, other.kind)
            if why:
                raise Trouble(f"{fault.kind} cannot be together with {other.kind}: {why}", where=where)
