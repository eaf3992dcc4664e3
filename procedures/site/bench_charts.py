"""The bench calculator's charts and counts: figures as they are typed or stand in a file, answers ready for JSON.

Quantities have no unit here: a chart is in the unit of its figures. Nothing is rounded.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, get_args

from procedures import charts, counts, trends
from procedures.run_rules import RULE_SETS, RuleSet
from procedures.site.figures_file import read_figures
from procedures.trouble import Trouble
from procedures.units import read_number, shown

Answer = dict[str, Any]

KINDS: Final[tuple[charts.Kind, ...]] = get_args(charts.Kind)

_TAKES: Final[Mapping[charts.Kind, frozenset[str]]] = {
    "individuals": frozenset({"target", "sigma", "rules"}),
    "ewma": frozenset({"target", "sigma", "lambda", "k"}),
    "cusum": frozenset({"target", "sigma", "k", "h"}),
    "counts": frozenset({"target"}),
    "check-standard": frozenset(),
}
"""Options that mean something to each kind of chart."""

_DEFAULTS: Final = {"lambda": 0.2, "h": 5.0}
_K: Final = {"ewma": 3.0, "cusum": 0.5}


def chart(kind: str, values: str, options: Mapping[str, str | None] | None = None) -> Answer:
    """A control chart of the figures in the file `values`.

    `options` are target, sigma, lambda, k, h (figures as typed) and rules, all of them optional. Centre and sigma come
    from the figures themselves unless they are stated; below 20 figures `notes` says how little that means.
    """
    wanted = next((each for each in KINDS if each == kind.strip().lower()), None)
    if wanted is None:
        raise Trouble(f"there is no chart “{shown(kind)}”", where="--kind", allowed=", ".join(KINDS))
    given = {name: text for name, text in (options or {}).items() if text}
    for name in given:
        if name not in _TAKES[wanted]:
            takes = ", ".join(f"--{each}" for each in sorted(_TAKES[wanted])) or "none besides --values"
            raise Trouble(f"a chart of {wanted} does not take it", where=f"--{name}", allowed=takes)
    found = read_figures(Path(values))
    try:
        made = _drawn(wanted, found.values, given, values)
    except Trouble as trouble:
        where = trouble.where or ", ".join(f"--{name}" for name in given) or "--values"
        raise Trouble(trouble.what, where=where, allowed=trouble.allowed, do=trouble.do) from None
    notes = tuple(_notes(made, found.values, found.heading))
    return {
        "kind": made.kind,
        "center": made.center,
        "upper": made.upper,
        "lower": made.lower,
        "limits": made.limits,
        "target": made.scatter.center,
        "sigma": made.scatter.sigma,
        "mean_moving_range": made.scatter.mean_moving_range,
        "largest_moving_range": made.scatter.largest_moving_range,
        "rule_set": _rules(given) if wanted == "individuals" else None,
        "notes": list(notes),
        "points": [
            {"value": each.value, "statistic": _listed(each.statistic), "out": each.out, "rules": list(each.rules)}
            for each in made.points
        ],
    }


def count_test(typed: str) -> Answer:
    """Whether repeated counts over equal times scatter as Poisson statistics say. `typed` parts them by commas."""
    words = [word for word in re.split(r"[,;\s]+", typed.strip().strip(",;")) if word]
    numbers = [_whole(word, f"--counts, count {at}") for at, word in enumerate(words, 1)]
    try:
        found = counts.count_statistics(numbers)
    except Trouble as trouble:
        raise Trouble(trouble.what, where="--counts", allowed=trouble.allowed, do=trouble.do) from None
    return {
        "count": found.count,
        "mean": found.mean,
        "stdev": found.stdev,
        "chi_square": found.chi_square,
        "degrees": found.degrees,
        "p": found.p,
        "reliability_factor": found.reliability_factor,
        "scattering": found.scattering,
    }


@dataclass(frozen=True, slots=True)
class _Options:
    """The options of one chart as figures."""

    typed: Mapping[str, str]

    def get(self, name: str, default: float) -> float:
        found = self.maybe(name)
        return default if found is None else found

    def maybe(self, name: str) -> float | None:
        if name not in self.typed:
            return None
        try:
            return float(read_number(self.typed[name]))
        except Trouble as trouble:
            raise Trouble(trouble.what, where=f"--{name}", allowed=trouble.allowed, do=trouble.do) from None


def _drawn(kind: charts.Kind, values: tuple[float, ...], given: Mapping[str, str], file: str) -> charts.Chart:
    options = _Options(given)
    if kind == "counts":
        return charts.count_chart(_all_whole(values, file), options.maybe("target"))
    if kind == "check-standard":
        return charts.check_standard(values)
    scatter = _scatter(values, options.maybe("target"), options.maybe("sigma"))
    if kind == "individuals":
        return charts.individuals(values, scatter, _rules(given))
    k = options.get("k", _K[kind])
    if kind == "ewma":
        return charts.ewma(values, scatter, weight=options.get("lambda", _DEFAULTS["lambda"]), k=k)
    return charts.cusum(values, scatter, k=k, h=options.get("h", _DEFAULTS["h"]))


def _scatter(values: tuple[float, ...], target: float | None, sigma: float | None) -> charts.Scatter:
    """Centre and sigma as stated, what is not stated from the figures, however few they are."""
    if target is not None and sigma is not None:
        return charts.Scatter(target, sigma)
    if sigma is not None:
        return charts.Scatter(charts.center_of(values), sigma, len(values))
    found = charts.scatter_of(values, fewest=2)
    if isinstance(found, charts.NoLimits):
        raise Trouble(
            found.say,
            where="--values",
            allowed="two figures or more that are not all the same",
            do="Look how they were taken, or state --sigma.",
        )
    center = found.center if target is None else target
    return charts.Scatter(center, found.sigma, found.count, found.mean_moving_range)


def _rules(given: Mapping[str, str]) -> RuleSet:
    name = given.get("rules", RULE_SETS[0]).strip().lower()
    found = next((each for each in RULE_SETS if each == name), None)
    if found is None:
        raise Trouble(f"there are no rules of “{shown(name)}”", where="--rules", allowed=", ".join(RULE_SETS))
    return found


def _notes(made: charts.Chart, values: tuple[float, ...], heading: str) -> list[str]:
    notes = []
    if not made.scatter.enough:
        few = f"limits from {made.scatter.count} figures: at least some {charts.FEWEST} are needed to mean anything"
        notes.append(f"{few} (ANSI/AARST MS-QA 2019 s. 7.6)")
    notes += [
        f"figures {run.first + 1} to {run.first + run.count} are all {values[run.first]:g}: too regular, ask how"
        for run in trends.alike(values)
    ]
    if heading:
        notes.append(f"“{shown(heading)}” was taken for a heading")
    return notes


def _all_whole(values: tuple[float, ...], file: str) -> list[int]:
    for at, value in enumerate(values, 1):
        if not (value.is_integer() and 0 <= value <= counts.LARGEST_COUNT):
            raise Trouble(
                f"figure {at} is {value:g}, which is no count", where=Path(file).name, allowed="whole numbers from 0"
            )
    return [int(value) for value in values]


def _whole(word: str, where: str) -> int:
    if not (word.isascii() and word.isdecimal() and len(word) <= len(str(counts.LARGEST_COUNT))):
        raise Trouble(
            f"“{shown(word)}” is no count",
            where=where,
            allowed="whole numbers from 0, parted by commas",
            do="Write them as 1200,1156,1181.",
        )
    return int(word)


def _listed(statistic: float | tuple[float, float]) -> float | list[float]:
    return list(statistic) if isinstance(statistic, tuple) else statistic
