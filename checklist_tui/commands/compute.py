"""`checklist-tui compute`: the bench calculator."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from checklist_tui import output
from checklist_tui.parsing import Parser

Answer = dict[str, Any]


@dataclass(frozen=True)
class Calculation:
    """One calculation: a line about it, an example, its options (name, whether it must be given, help), the function.

    The bench is imported inside the function, when it is called.
    """

    about: str
    example: str
    options: tuple[tuple[str, bool, str], ...]
    work_out: Callable[[argparse.Namespace], Answer]


def _decay(given: argparse.Namespace) -> Answer:
    from procedures.site import bench

    return bench.decay(given.nuclide, given.value, getattr(given, "from"), given.to)


def _air_density(given: argparse.Namespace) -> Answer:
    from procedures.site import bench

    return bench.air_density(
        given.temperature, given.pressure, given.reference_temperature or "", given.reference_pressure or ""
    )


def _pressure(given: argparse.Namespace) -> Answer:
    from procedures.site import bench

    return bench.pressure(given.altitude)


def _settle(given: argparse.Namespace) -> Answer:
    from procedures.site import bench

    return bench.settle(given.time_constant, given.residual)


def _acceptance(given: argparse.Namespace) -> Answer:
    from procedures.site import bench

    return bench.acceptance(
        given.reading, given.expected, given.tolerance, given.standard_uncertainty or "", given.false_accept or ""
    )


def _convert(given: argparse.Namespace) -> Answer:
    from procedures.site import bench

    return bench.convert_to(given.value, given.to)


def _chart(given: argparse.Namespace) -> Answer:
    from procedures.site import bench_charts

    options = {name: getattr(given, name) for name in ("target", "sigma", "lambda", "k", "h", "rules")}
    return bench_charts.chart(given.kind, given.values, options)


def _counts(given: argparse.Namespace) -> Answer:
    from procedures.site import bench_charts

    return bench_charts.count_test(given.counts)


CALCULATIONS = {
    "decay": Calculation(
        "what a source's activity or reading has come down to",
        'checklist-tui compute decay --nuclide Cs-137 --value "4.00 mR/h" --from 2020-03-01 --to 2026-03-01',
        (
            ("nuclide", True, "such as Cs-137"),
            ("value", True, 'value at the earlier date, such as "4.00 mR/h"'),
            ("from", True, "earlier date, year-month-day"),
            ("to", True, "later date, year-month-day"),
        ),
        _decay,
    ),
    "air-density": Calculation(
        "factor that brings a vented chamber's reading to reference temperature and pressure",
        'checklist-tui compute air-density --temperature "30 degC" --pressure "95 kPa"',
        (
            ("temperature", True, 'at the instrument, such as "30 degC"'),
            ("pressure", True, 'station pressure (not reduced to sea level), such as "95 kPa"'),
            ("reference-temperature", False, "default: 20 degC"),
            ("reference-pressure", False, "default: 101.325 kPa"),
        ),
        _air_density,
    ),
    "pressure": Calculation(
        "pressure of the standard atmosphere at a geopotential altitude, -500 m to 20 km",
        'checklist-tui compute pressure --altitude "1500 m"',
        (("altitude", True, 'geopotential altitude, such as "1500 m"'),),
        _pressure,
    ),
    "settle": Calculation(
        "how long an instrument takes to settle to a residual",
        'checklist-tui compute settle --time-constant "3 s" --residual "1 %"',
        (
            ("time-constant", True, 'such as "3 s"'),
            ("residual", True, 'share of the change still to come, such as "1 %%"'),
        ),
        _settle,
    ),
    "acceptance": Calculation(
        "whether a reading is within tolerance of what is expected",
        'checklist-tui compute acceptance --reading "1.61 mR/h" --expected "1.64 mR/h" --tolerance "20 %"',
        (
            ("reading", True, 'such as "1.61 mR/h"'),
            ("expected", True, 'such as "1.64 mR/h"'),
            ("tolerance", True, 'to each side: a share of what is expected ("20 %%") or an amount ("0.3 mR/h")'),
            ("standard-uncertainty", False, "of the reading: a share of what is expected, or an amount"),
            ("false-accept", False, "highest chance of a wrong pass, such as 0.05: draws the limits in"),
        ),
        _acceptance,
    ),
    "convert": Calculation(
        "a quantity in another unit of its kind",
        'checklist-tui compute convert --value "6000 cpm" --to cps',
        (("value", True, 'such as "6000 cpm"'), ("to", True, "the unit wanted, such as cps")),
        _convert,
    ),
    "chart": Calculation(
        "control limits of readings, and which of them are out",
        "checklist-tui compute chart --kind individuals --values readings.txt\n"
        "checklist-tui compute chart --kind ewma --values readings.csv --target 50 --sigma 2.05 --lambda 0.3",
        (
            ("kind", True, "individuals, ewma, cusum, counts or check-standard"),
            ("values", True, "file with one figure a line, or a table whose first column is charted"),
            ("target", False, "centre; default: the mean of the figures"),
            ("sigma", False, "standard deviation; default: mean moving range / 1.128"),
            ("lambda", False, "ewma: weight of the newest figure, default 0.2"),
            ("k", False, "ewma: half width of the limits, default 3; cusum: slack, default 0.5; in sigmas"),
            ("h", False, "cusum: decision interval in sigmas, default 5"),
            ("rules", False, "individuals: run rules, western-electric (default) or nelson"),
        ),
        _chart,
    ),
    "counts": Calculation(
        "whether repeated counts scatter as Poisson statistics say",
        "checklist-tui compute counts --counts 1200,1156,1181,1249,1151",
        (("counts", True, "counts over equal times, parted by commas"),),
        _counts,
    ),
}


def configure(parser: Parser) -> None:
    """Add the calculations, each with its options."""
    parser.set_example(CALCULATIONS["decay"].example)
    kinds = parser.add_subparsers(
        title="calculations", metavar="CALCULATION", dest="calculation", required=True, parser_class=Parser
    )
    for name, calculation in CALCULATIONS.items():
        about = calculation.about
        one = kinds.add_parser(name, help=about, description=about, example=calculation.example)
        for option, required, text in calculation.options:
            one.add_argument(f"--{option}", required=required, metavar=option.split("-")[-1].upper(), help=text)
        one.add_argument("--json", action="store_true", help="one JSON object on standard output")
        one.set_defaults(run=run, work_out=calculation.work_out)


def run(given: argparse.Namespace) -> int:
    """Work it out and print it: rounded for people, unrounded as JSON."""
    answer = given.work_out(given)
    if given.json:
        output.write_json({"ok": True, **answer})
    else:
        output.write("\n".join(_lines(answer)))
    return output.OK


def _lines(answer: Answer) -> list[str]:
    """A line for each part of the answer, and for each part of a list: "point 3"."""
    rows: list[tuple[str, Any]] = []
    for name, value in answer.items():
        each = name.replace("_", " ")
        rows += (
            [(f"{each[:-1]} {n}", one) for n, one in enumerate(value, 1)]
            if isinstance(value, list)
            else [(each, value)]
        )
    width = max(len(name) for name, _ in rows)
    return [f"{name:<{width}}  {_words(value)}" for name, value in rows]


def _words(value: Any) -> str:
    if value is None:
        return "not known"
    if isinstance(value, dict) and "statistic" in value:
        return _point(value)
    if isinstance(value, dict):
        return f"{value['value']:.6g} {value['unit']}".rstrip()
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _point(point: Answer) -> str:
    """A point of a chart: its value, what is charted of it where that is something else, and what it shows."""
    value, statistic = point["value"], point["statistic"]
    charted = statistic if isinstance(statistic, list) else [statistic]
    words = [f"{value:.6g}", *(f"{each:.6g}" for each in charted if charted != [value])]
    return "  ".join([*words, *(["OUT"] if point["out"] else []), "; ".join(point["rules"])]).rstrip()
