"""The bench calculator: the program's own computing, for one question at a time.

Each function takes text as a person types it and returns a dict that is ready for JSON. A quantity in it is
{"value": number, "unit": symbol}. Nothing is rounded; whoever shows it rounds.
"""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final

from procedures import acceptance as rules
from procedures import air, nuclides, settling
from procedures.trouble import Trouble
from procedures.units import Quantity, convert, kind_of, number_in, read_number, read_quantity, shown

Answer = dict[str, Any]

_DECAYS: Final = frozenset(
    {
        "activity",
        "count rate",
        "counts",
        "exposure rate",
        "exposure",
        "dose equivalent rate",
        "dose equivalent",
        "absorbed dose or air kerma rate",
        "absorbed dose or air kerma",
        "percentage",
        "plain number",
    }
)
"""Kinds of quantity that a source's decay scales."""


def decay(nuclide: str, value: str, since: str, until: str) -> Answer:
    """What `value` of a source has come down to: value · 2^(−Δt/T½), with the half-life and where it comes from.

    `since` and `until` are dates, or moments with their offset from UTC; a date stands for its midnight in UTC.
    """
    found = _named("--nuclide", nuclides.half_life, nuclide)
    start = _named("--value", read_quantity, value)
    kind = kind_of(start.unit)
    if kind not in _DECAYS:
        raise Trouble(f"{start} is {kind}, which does not decay", where="--value", allowed=", ".join(sorted(_DECAYS)))
    if start.value < 0:
        raise Trouble(f"{start} is below zero", where="--value", allowed="zero or more")
    elapsed = nuclides.elapsed_days(_moment("--from", since), _moment("--to", until))
    return {
        "nuclide": found.nuclide,
        "result": _figure(nuclides.decayed(start.value, found.days, elapsed), start.unit),
        "half_life": _figure(found.value, found.unit),
        "elapsed": _figure(elapsed, "d"),
        "source": found.source,
    }


def air_density(
    temperature: str, pressure: str, reference_temperature: str = "", reference_pressure: str = ""
) -> Answer:
    """The factor for a vented chamber's reading at `temperature` and station `pressure`, and the reference it leads to.

    Reference conditions left out are those of IAEA practice, 20 °C and 101.325 kPa.
    """
    celsius = _size("--temperature", temperature, "°C")
    kilopascals = _size("--pressure", pressure, "kPa")
    reference = air.IAEA
    if reference_temperature or reference_pressure:
        warm = _size("--reference-temperature", reference_temperature or f"{reference.temperature_c} °C", "°C")
        high = _size("--reference-pressure", reference_pressure or f"{reference.pressure_kpa} kPa", "kPa")
        reference = air.ReferenceAir("as stated", float(warm), float(high), "as stated")
        # The reference must be air that can be, as the air at the instrument must.
        air.density_factor(warm, high, air.IAEA)
    return {
        "factor": air.density_factor(celsius, kilopascals, reference),
        "reference_temperature": _figure(reference.temperature_c, "°C"),
        "reference_pressure": _figure(reference.pressure_kpa, "kPa"),
        "source": reference.source,
    }


def pressure(altitude: str) -> Answer:
    """The pressure of the standard atmosphere at a geopotential altitude, −500 m to 20 km."""
    metres = _size("--altitude", altitude, "m")
    return {
        "pressure": _figure(air.pressure_at_altitude(float(metres)), "kPa"),
        "source": "ISO 2533:1975 standard atmosphere, geopotential altitude; weather moves it by some 3 %",
    }


def settle(time_constant: str, residual: str) -> Answer:
    """How long to wait until only `residual` of a change is still to come: t = −τ·ln(ε)."""
    tau = _size("--time-constant", time_constant, "s")
    left = _share("--residual", residual)
    return {"wait": _figure(settling.wait_for_residual(float(tau), float(left)), "s")}


def acceptance(
    reading: str, expected: str, tolerance: str, standard_uncertainty: str = "", false_accept: str = ""
) -> Answer:
    """Whether `reading` is within `tolerance` to either side of `expected`; a reading on the limit passes.

    `tolerance` and `standard_uncertainty` are a percentage of what is expected, or an amount. `false_accept` is the
    highest chance of a wrong pass: it draws the limits in and needs the uncertainty. Answers are in the unit of
    `expected`; `chance_outside` is None where no uncertainty was given.
    """
    wanted = _named("--expected", read_quantity, expected)
    seen = _named("--reading", lambda typed: read_quantity(typed, like=wanted.unit), reading)
    bound = _bound("--tolerance", tolerance, wanted)
    spread = _bound("--standard-uncertainty", standard_uncertainty, wanted) if standard_uncertainty else None
    verdict = rules.judge(
        number_in(seen, wanted.unit),
        wanted.value,
        rules.Limits(rules.Bound(-bound.amount, bound.relative), bound),
        rules.Guarded(float(_share("--false-accept", false_accept))) if false_accept else rules.Simple(),
        standard_uncertainty=None if spread is None else float(spread.at(Fraction(wanted.value))),
        exact=seen.unit == wanted.unit,
    )
    return {
        "verdict": "pass" if verdict.passed else "fail",
        "ratio": verdict.ratio,
        "lower": _figure(verdict.lower, wanted.unit),
        "upper": _figure(verdict.upper, wanted.unit),
        "accept_lower": _figure(verdict.accept_lower, wanted.unit),
        "accept_upper": _figure(verdict.accept_upper, wanted.unit),
        "chance_outside": verdict.chance_outside,
        "rule": f"{verdict.rule} {verdict.version}",
    }


def convert_to(value: str, unit: str) -> Answer:
    """The same quantity in another unit of its kind. Between kinds: Trouble with the reason."""
    found = convert(_named("--value", read_quantity, value), unit)
    return {"result": _figure(found.value, found.unit)}


def _named(option: str, read: Any, text: str) -> Any:
    """What `read` makes of `text`; its trouble names the option."""
    try:
        return read(text)
    except Trouble as trouble:
        raise Trouble(trouble.what, where=option, allowed=trouble.allowed, do=trouble.do) from None


def _size(option: str, text: str, unit: str) -> Decimal:
    return Decimal(_named(option, lambda typed: number_in(read_quantity(typed, like=unit), unit), text))


def _share(option: str, text: str) -> Decimal:
    """A share as a plain ratio, from "1 %" or "0.01"."""

    def read(typed: str) -> Decimal:
        found = read_quantity(typed)
        if found.unit == "%":
            return found.value / 100
        if found.unit:
            raise Trouble(f"“{shown(typed)}” is no share", allowed="a percentage such as 1 %, or a ratio such as 0.01")
        return read_number(typed)

    return Decimal(_named(option, read, text))


def _bound(option: str, text: str, wanted: Quantity) -> rules.Bound:
    """A percentage of what is wanted, or an amount of its kind; zero or more."""
    found = _named(option, read_quantity, text)
    if found.unit == "%" and wanted.unit != "%":
        bound = rules.Bound(found.value / 100, relative=True)
    else:
        bound = rules.Bound(_size(option, text, wanted.unit), relative=False)
    if bound.amount < 0:
        raise Trouble(f"{found} is below zero", where=option, allowed="zero or more; it counts to either side")
    return bound


def _moment(option: str, text: str) -> date | datetime:
    typed = text.strip()
    try:
        return datetime.fromisoformat(typed) if len(typed) > len("2026-03-01") else date.fromisoformat(typed)
    except ValueError:
        raise Trouble(
            f"“{shown(text)}” is no date",
            where=option,
            allowed="year-month-day such as 2026-03-01, or a moment such as 2026-03-01T06:30+01:00",
            do="Write the date as year-month-day.",
        ) from None


def _figure(value: Decimal | float, unit: str) -> Answer:
    return {"value": float(value), "unit": unit}
