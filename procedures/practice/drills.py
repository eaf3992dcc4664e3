"""What is practised: free practice, a drill on one instrument, an exam of several. All of it follows from a seed.

An exam paper is a value that can be written down and run by others: the same instruments in the same order with the
same faults and seeds. It keeps its faults as a session does; whoever opens it sees them.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from random import Random
from typing import Any, Final, Literal

from procedures.practice.case_values import case_from_json, case_to_json
from procedures.practice.cases import Case, level_bounds
from procedures.practice.catalogue import Fault, Kind, kinds, possible
from procedures.practice.kit import Kit
from procedures.practice.model import division_of
from procedures.practice.pairs import clash
from procedures.practice.plain import Plain
from procedures.practice.session import SPEEDS
from procedures.practice.truth import truth_of
from procedures.trouble import Trouble

FORMAT: Final = 1
MOST_INSTRUMENTS: Final = 40
LONGEST_EXAM_S: Final = 8 * 3600.0
Sort = Literal["free", "drill", "exam"]

_FAULTS: Final = ((0, 0.3), (1, 0.55), (2, 0.15))
"""How many faults a drawn instrument has, with what chance: often enough none, since most instruments are sound."""
_TRIES: Final = 40


@dataclass(frozen=True, slots=True)
class Drill:
    """One instrument to be checked. `seed` fixes its noise, `start` when the session begins."""

    case: Case
    seed: str
    start: datetime
    sort: Sort = "drill"
    speed: int = 1

    @property
    def profile(self) -> str:
        return self.case.profile

    @property
    def hints(self) -> tuple[str, ...]:
        """What may be said one after another to somebody who asks; nothing in an exam."""
        return self.case.hints if self.sort != "exam" else ()


@dataclass(frozen=True, slots=True)
class Paper:
    """An exam. `seconds` is the time allowed for all of it."""

    title: str
    seed: str
    seconds: float
    drills: tuple[Drill, ...]
    speed: int = 1


# --- drawing -------------------------------------------------------------------------------------------------------


def free_practice(kit: Kit, case: Case | None, seed: int | str, start: datetime) -> Drill:
    """Practice with hints on one case, or on a sound instrument."""
    return Drill(sound(kit) if case is None else case, str(seed), start, "free")


def sound(kit: Kit) -> Case:
    """An instrument with nothing wrong."""
    return Case("Nothing is wrong", "", (), kit.id, kit.model.room, (), ())


def drill_of(cases: Sequence[Case], seed: int | str, start: datetime) -> Drill:
    """A drill on one of some cases, by the seed."""
    if not cases:
        raise Trouble("there is no case to draw from")
    return Drill(Random(f"{seed}/drill").choice(list(cases)), str(seed), start)


def drawn_drill(kits: Mapping[str, Kit], seed: int | str, start: datetime) -> Drill:
    """A drill on an instrument of one of the kits, with faults drawn from the catalogue."""
    random = Random(f"{seed}/drill")
    kit = kits[random.choice(sorted(kits))]
    return Drill(drawn_case(kit, random), str(seed), start)


def drawn_case(kit: Kit, random: Random) -> Case:
    """Faults of the catalogue that this model can have together, none, one or two, of a size that can be scored."""
    case = sound(kit)
    count = random.choices([n for n, _ in _FAULTS], [chance for _, chance in _FAULTS])[0]
    if not count:
        return case
    for _ in range(_TRIES):
        faults = _faults(kit, random, count)
        drawn = replace(case, title=" ".join(each.what.say for each in faults), faults=faults, notes=("",) * count)
        if not truth_of(kit.model, kit.profile, faults, case.room).near_limit:
            return drawn
    return case


def _faults(kit: Kit, random: Random, count: int) -> tuple[Fault, ...]:
    faults: tuple[Fault, ...] = ()
    names = list(possible(kit.model.labels))
    random.shuffle(names)
    for name in names:
        if len(faults) < count and not any(clash(name, each.kind) for each in faults):
            faults = (*faults, _fault(kit, kinds()[name], random))
    return faults


def _fault(kit: Kit, kind: Kind, random: Random) -> Fault:
    scale = random.choice(kit.model.scales).selector.name if kind.of_scale else ""
    if kind.range is None:
        return Fault(kind.name, scale=scale)
    low, high = level_bounds(kit.model, kind.range)
    if kind.range.unit == "scale":
        least = division_of(kit.model.scales[0]) / 2
        level = random.choice((-1, 1) if low < 0 else (1,)) * random.uniform(least, high)
    elif low > 0 and high / low > 20:
        level = low * (high / low) ** random.random()
    else:
        level = random.uniform(low, high)
    return Fault(kind.name, float(f"{level:.3g}") or low, scale=scale)


def exam_of(
    kits: Mapping[str, Kit],
    seed: int | str,
    start: datetime,
    *,
    title: str,
    instruments: int,
    seconds: float,
    speed: int = 1,
    cases: Sequence[Case] = (),
) -> Paper:
    """An exam on so many instruments, from a list of cases or drawn from the catalogue. Raises Trouble for limits."""
    if not 1 <= instruments <= MOST_INSTRUMENTS:
        raise Trouble(f"{instruments} instruments are no exam", allowed=f"1 to {MOST_INSTRUMENTS}")
    if not 0 < seconds <= LONGEST_EXAM_S:
        raise Trouble(f"{seconds:g} s is no time for an exam", allowed=f"more than 0 s, at most {LONGEST_EXAM_S:g} s")
    if speed not in SPEEDS:
        raise Trouble(f"{speed} is no speed", allowed=", ".join(map(str, SPEEDS)))
    drawn = []
    for n in range(1, instruments + 1):
        each = f"{seed}/{n}"
        drawn.append(drill_of(cases, each, start) if cases else drawn_drill(kits, each, start))
    drills = tuple(replace(each, sort="exam", speed=speed) for each in drawn)
    return Paper(title, str(seed), float(seconds), drills, speed)


# --- plain values --------------------------------------------------------------------------------------------------


def drill_to_json(drill: Drill) -> dict[str, Any]:
    """Plain JSON values."""
    return {
        "case": case_to_json(drill.case),
        "seed": drill.seed,
        "start": drill.start.isoformat(),
        "sort": drill.sort,
        "speed": drill.speed,
    }


def drill_from_json(body: Any, kits: Mapping[str, Kit], where: str = "drill") -> Drill:
    """The drill again. Raises Trouble for anything that is none, or is of a kit that is not among `kits`."""
    plain = Plain(body, where, ("case", "seed", "start", "sort", "speed"))
    case = body["case"]
    profile = case.get("profile") if isinstance(case, Mapping) else None
    if not isinstance(profile, str) or profile not in kits:
        raise Trouble(f"there is no model for {str(profile)[:60]!r}", where=where, allowed=", ".join(sorted(kits)))
    sorts: dict[str, Sort] = {"free": "free", "drill": "drill", "exam": "exam"}
    return Drill(
        case_from_json(case, kits[profile].model, f"{where}, case"),
        plain.text("seed", longest=200),
        plain.moment("start"),
        sorts[plain.text("sort", among=sorts)],
        _speed(plain),
    )


def _speed(plain: Plain) -> int:
    speed = plain.whole("speed", 1, max(SPEEDS))
    if speed not in SPEEDS:
        raise Trouble(f"{speed} is no speed", where=plain.where, allowed=", ".join(map(str, SPEEDS)))
    return speed


def paper_to_json(paper: Paper) -> dict[str, Any]:
    """Plain JSON values."""
    return {
        "format": FORMAT,
        "title": paper.title,
        "seed": paper.seed,
        "seconds": paper.seconds,
        "speed": paper.speed,
        "drill": [drill_to_json(each) for each in paper.drills],
    }


def paper_from_json(body: Any, kits: Mapping[str, Kit]) -> Paper:
    """The paper again. Raises Trouble for anything that is none."""
    plain = Plain(body, "exam", ("format", "title", "seed", "seconds", "speed", "drill"))
    plain.whole("format", FORMAT, FORMAT)
    rows = plain.rows("drill", MOST_INSTRUMENTS)
    if not rows:
        raise Trouble("an exam has at least one instrument", where="exam, drill")
    return Paper(
        title=plain.text("title", longest=200),
        seed=plain.text("seed", longest=200),
        seconds=plain.figure("seconds", 1, LONGEST_EXAM_S),
        drills=tuple(drill_from_json(row, kits, f"drill {n}") for n, row in enumerate(rows, start=1)),
        speed=_speed(plain),
    )


def paper_to_toml(paper: Paper) -> str:
    """The paper as a TOML file."""
    body = paper_to_json(paper)
    lines = ["# An exam of practice. It tells what is wrong with its instruments: not for those who take it."]
    lines += [f"{key} = {_toml(value)}" for key, value in body.items() if key != "drill"]
    for row in body["drill"]:
        lines += ["", "[[drill]]", *(f"{key} = {_toml(value)}" for key, value in row.items())]
    return "\n".join(lines) + "\n"


def paper_from_toml(text: str, kits: Mapping[str, Kit]) -> Paper:
    """The paper in a TOML file. Raises Trouble for anything that is none."""
    try:
        body = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise Trouble(f"this is no TOML: {error}", where="exam", do="Take the file as it was written.") from None
    return paper_from_json(body, kits)


def _toml(value: Any) -> str:
    """A value on one line. The strings of JSON are those of TOML, but for the sign that JSON leaves unescaped."""
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {_toml(each)}" for key, each in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_toml(each) for each in value) + "]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
