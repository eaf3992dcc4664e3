"""A case: an instrument with what is wrong with it, as a trainer wrote it, or every mistake in what was written."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from procedures.practice.case_schema import CaseFile, FaultRow
from procedures.practice.catalogue import Fault, Kind, Range, kinds, possible
from procedures.practice.controls import controls_of
from procedures.practice.model import Model, division_of, full_scale_of
from procedures.practice.pages import Mistakes, read_page, text_of
from procedures.practice.pairs import clash
from procedures.practice.surroundings import Room
from procedures.steps.base import LONGEST_WAIT
from procedures.trouble import Trouble
from procedures.units import number_in, read_number, read_quantity, shown

START: Final = "start"
_AT: Final = re.compile(r"at ([a-z-]+)")
_UNITS: Final = {"%": "%", "mm": "mm", "cps": "cps"}


@dataclass(frozen=True, slots=True)
class Case:
    """A case that was read. `notes` are the trainer's words for each fault, "" where none."""

    title: str
    about: str
    hints: tuple[str, ...]
    profile: str
    room: Room
    faults: tuple[Fault, ...]
    notes: tuple[str, ...]


def load_case(path: Path, models: Mapping[str, Model]) -> Case:
    """The case in a file, for one of `models` (by profile). Raises PracticeErrors with all mistakes."""
    return read_case(text_of(path), path.name, models)


def read_case(text: str, file: str, models: Mapping[str, Model]) -> Case:
    """The case in a text; `file` is named in its mistakes. Raises PracticeErrors with all of them."""
    page, read = read_page(text, file, CaseFile)
    mistakes = Mistakes(page)
    profile = read.instrument.profile
    if not mistakes.among(("instrument", "profile"), profile, models, "there is no model for this profile"):
        mistakes.raise_any()
    model = models[profile]
    faults = [_fault(model, row, place, mistakes) for place, row in enumerate(read.fault)]
    _together(read.fault, mistakes)
    mistakes.raise_any()
    return Case(
        title=read.title,
        about=read.about,
        hints=read.hints,
        profile=profile,
        room=_room(model.room, read),
        faults=tuple(fault for fault in faults if fault is not None),
        notes=tuple(row.note for row in read.fault),
    )


def _room(room: Room, read: CaseFile) -> Room:
    stated = {
        "temperature_c": (read.room.temperature, "°C"),
        "pressure_kpa": (read.room.pressure, "kPa"),
        "humidity": (read.room.humidity, "%"),
    }
    changes = {name: float(number_in(each, unit)) for name, (each, unit) in stated.items() if each is not None}
    return replace(room, **changes)


def _fault(model: Model, row: FaultRow, place: int, mistakes: Mistakes) -> Fault | None:
    path = ("fault", place)
    if not mistakes.among((*path, "kind"), row.kind, kinds(), "there is no such kind of fault"):
        return None
    kind = kinds()[row.kind]
    if not kind.needs <= model.labels:
        missing = ", ".join(sorted(kind.needs - model.labels))
        said = f"{model.profile} cannot have this fault: it has no {missing}"
        mistakes.add((*path, "kind"), said, found=row.kind, allowed=", ".join(possible(model.labels)))
        return None
    level = mistakes.tried((*path, "level"), lambda: level_of(model, kind, row.level), 0.0)
    after, at = mistakes.tried((*path, "begins"), lambda: _begins(model, row.begins), (0.0, ""))
    scales = tuple(scale.selector.name for scale in model.scales)
    if kind.of_scale:
        mistakes.among((*path, "scale"), row.scale, scales, "there is no such scale")
    elif row.scale:
        mistakes.add((*path, "scale"), "this kind is not about one range", found=row.scale, allowed="left out")
    return Fault(row.kind, level, after, at, row.scale)


def level_of(model: Model, kind: Kind, text: str) -> float:
    """How large a fault is, in the unit of its kind: a part for %, else a figure. Raises Trouble."""
    wanted = kind.range
    if wanted is None:
        if text:
            raise Trouble(f"“{shown(text)}”: this kind has no size", allowed="left out")
        return 0.0
    if not text:
        raise Trouble("the level is missing", allowed=f'such as "{_example(model, wanted)}"')
    value = _figure(model, wanted, text)
    low, high = _bounds(model, wanted)
    if not low <= value <= high or value == 0:
        raise Trouble(f"{shown(text)} is outside what is allowed", allowed=_bounds_in_words(model, wanted))
    if wanted.unit == "scale" and abs(value) < division_of(model.scales[0]) / 2:
        least = division_of(model.scales[0]) / 2
        raise Trouble(f"{shown(text)} could not be seen", allowed=f"at least {least:g} {model.unit}, half a division")
    return value / 100 if wanted.unit == "%" else value


def _figure(model: Model, wanted: Range, text: str) -> float:
    if wanted.unit == "turns":
        return float(read_number(text))
    unit = _UNITS.get(wanted.unit, model.unit)
    return float(number_in(read_quantity(text, like=unit), unit))


def _bounds(model: Model, wanted: Range) -> tuple[float, float]:
    """Of a level on a scale, which are parts of the lowest full scale."""
    times = full_scale_of(model.scales[0]) if wanted.unit == "scale" else 1.0
    return wanted.low * times, wanted.high * times


def within_bounds(model: Model, kind: Kind, level: float, where: str) -> None:
    """Raises Trouble for a level that a fault of this kind cannot have; in the unit of its kind, a part for %."""
    wanted = kind.range
    if wanted is None:
        if level:
            raise Trouble(f"{kind.name} has no size", where=where, allowed="0")
        return
    low, high = level_bounds(model, wanted)
    if not low - 1e-12 <= level <= high + 1e-12 or level == 0:
        raise Trouble(f"{level:g} is no level of {kind.name}", where=where, allowed=f"{low:g} to {high:g}, and not 0")


def level_bounds(model: Model, wanted: Range) -> tuple[float, float]:
    """The bounds of a level in the unit of `Fault.level`: parts for %, else the unit of the kind."""
    low, high = _bounds(model, wanted)
    return (low / 100, high / 100) if wanted.unit == "%" else (low, high)


def _bounds_in_words(model: Model, wanted: Range) -> str:
    low, high = _bounds(model, wanted)
    unit = {"turns": "turns", "scale": model.unit}.get(wanted.unit, wanted.unit)
    every = " each minute" if wanted.per else ""
    return f"{low:g} to {high:g} {unit}{every}, and not 0"


def _example(model: Model, wanted: Range) -> str:
    if wanted.unit != "scale":
        return wanted.example
    return f"{2 * division_of(model.scales[0]):g} {model.unit}"


def _begins(model: Model, text: str) -> tuple[float, str]:
    """Seconds of being on, or the control, at which a fault begins."""
    allowed = (
        f'"{START}", a time of being on such as "90 s", or "at" and one of: {", ".join(sorted(controls_of(model)))}'
    )
    if text == START:
        return 0.0, ""
    if match := _AT.fullmatch(text):
        if match[1] not in controls_of(model):
            raise Trouble(f"this instrument has no control “{shown(match[1])}”", allowed=allowed)
        return 0.0, match[1]
    try:
        seconds = float(number_in(read_quantity(text, like="s"), "s"))
    except Trouble:
        raise Trouble(f"“{shown(text)}” is no moment at which a fault begins", allowed=allowed) from None
    if not 0 < seconds <= LONGEST_WAIT:
        raise Trouble(f"{shown(text)} is outside what is allowed", allowed=f"more than 0 s, at most {LONGEST_WAIT} s")
    return seconds, ""


def _together(rows: tuple[FaultRow, ...], mistakes: Mistakes) -> None:
    """Faults that cannot be together: named at the later of the two, with the line of the first."""
    for place, row in enumerate(rows):
        for earlier, other in enumerate(rows[:place]):
            line = mistakes.page.point(("fault", earlier), "key")[0]
            same = row.kind == other.kind and row.scale == other.scale
            why = "it is there already" if same else clash(row.kind, other.kind)
            if why:
                said = f"{row.kind} cannot be together with {other.kind} of line {line}: {why}"
                mistakes.add(("fault", place, "kind"), said, found=row.kind, allowed="one of the two")
