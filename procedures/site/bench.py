"""The bench calculator: the program's own computing, for one question at a time.

Each function takes text as a person types it and returns a dict that is ready for JSON. A quantity in it is
{"value": number, "unit": symbol}. Nothing is rounded; whoever shows it rounds.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final, TypeVar

from procedures import acceptance as rules
from procedures import air, nuclides, settling
from procedures.trouble import Trouble
from procedures.units import Quantity, convert, kind_of, number_in, read_number, read_quantity, shown

Answer = dict[str, Any]

Found = TypeVar("Found")

_SHARES: Final = "a percentage such as 1 %, or a ratio such as 0.01"
_MOMENTS: Final = "year-month-day such as 2026-03-01, or a moment such as 2026-03-01T06:30+01:00"

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
    first, last = _moment("--from", since), _moment("--to", until)
    elapsed = nuclides.elapsed_days(first, last)
    left = _within(
        "--from, --to",
        lambda: nuclides.decayed(start.value, found.days, elapsed),
        allowed="--to on or after --from",
        do="Exchange the dates, or correct one.",
    )
    return {
        "nuclide": found.nuclide,
        "result": _figure(left, start.unit),
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
        _within("--reference-temperature, --reference-pressure", lambda: air.density_factor(warm, high, air.IAEA))
    return {
        "factor": _within("--temperature, --pressure", lambda: air.density_factor(celsius, kilopascals, reference)),
        "reference_temperature": _figure(reference.temperature_c, "°C"),
        "reference_pressure": _figure(reference.pressure_kpa, "kPa"),
        "source": reference.source,
    }


def pressure(altitude: str) -> Answer:
    """The pressure of the standard atmosphere at a geopotential altitude, −500 m to 20 km."""
    metres = _size("--altitude", altitude, "m")
    return {
        "pressure": _figure(_within("--altitude", lambda: air.pressure_at_altitude(float(metres))), "kPa"),
        "source": "ISO 2533:1975 standard atmosphere, geopotential altitude; weather moves it by some 3 %",
    }


def settle(time_constant: str, residual: str) -> Answer:
    """How long to wait until only `residual` of a change is still to come: t = −τ·ln(ε)."""
    tau = _size("--time-constant", time_constant, "s")
    left = _share("--residual", residual)
    wait = _within("--time-constant, --residual", lambda: settling.wait_for_residual(float(tau), float(left)))
    return {"wait": _figure(wait, "s")}


def acceptance(
    reading: str, expected: str, tolerance: str, standard_uncertainty: str = "", false_accept: str = ""
) -> Answer:
    """Whether `reading` is within `tolerance` to either side of `expected`; a reading on the limit passes.

    `tolerance` and `standard_uncertainty` are a percentage of what is expected, or an amount. `false_accept` is the
    highest chance of a wrong pass: it draws the limits in and needs the uncertainty. Answers are in the unit of
    `expected`; `chance_outside` is None where no uncertainty was given.
    """
    wanted = _named("--expected", read_quantity, expected)
    if wanted.value <= 0:
        raise Trouble(
            f"an expected reading of {wanted} leaves nothing to compare with",
            where="--expected",
            allowed="more than zero",
            do="Look at the reference reading again.",
        )
    seen = _named("--reading", lambda typed: read_quantity(typed, like=wanted.unit), reading)
    bound = _bound("--tolerance", tolerance, wanted)
    if bound.at(Fraction(wanted.value)) >= wanted.value:
        raise Trouble(
            f"a tolerance of {tolerance.strip()} would pass an instrument that does not respond",
            where="--tolerance",
            allowed=f"less than 100 %, or less than {wanted}",
            do="State the tolerance that the site has set, such as 20 %.",
        )
    spread = _bound("--standard-uncertainty", standard_uncertainty, wanted) if standard_uncertainty else None
    chance = float(_share("--false-accept", false_accept)) if false_accept else None
    verdict = _within(
        "--standard-uncertainty, --false-accept",
        lambda: rules.judge(
            number_in(seen, wanted.unit),
            wanted.value,
            rules.Limits(rules.Bound(-bound.amount, bound.relative), bound),
            rules.Simple() if chance is None else rules.Guarded(chance),
            standard_uncertainty=None if spread is None else float(spread.at(Fraction(wanted.value))),
            exact=seen.unit == wanted.unit,
        ),
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
    given = _named("--value", read_quantity, value)
    if kind_of(given.unit) == "temperature" and number_in(given, "K") < 0:
        raise Trouble(f"{given} is below absolute zero", where="--value", allowed="0 K or more", do="Read it again.")
    if not unit.strip():
        raise Trouble(
            "no unit is named",
            where="--to",
            allowed=f"a unit of {kind_of(given.unit)}",
            do="Name the unit, such as cps.",
        )
    found = _within("--to", lambda: convert(given, unit))
    return {"result": _figure(found.value, found.unit)}


def _named(option: str, read: Callable[[str], Found], text: str, *, allowed: str = "", do: str = "") -> Found:
    """What `read` makes of `text`; its trouble names the option."""
    return _within(option, lambda: read(text), allowed=allowed, do=do)


def _within(options: str, work: Callable[[], Found], *, allowed: str = "", do: str = "") -> Found:
    """What `work` comes to; its trouble names the options it comes from. `allowed` and `do` replace its own."""
    try:
        return work()
    except Trouble as trouble:
        raise Trouble(trouble.what, where=options, allowed=allowed or trouble.allowed, do=do or trouble.do) from None


def _size(option: str, text: str, unit: str) -> Decimal:
    return _named(option, lambda typed: number_in(read_quantity(typed, like=unit), unit), text)


def _share(option: str, text: str) -> Decimal:
    """A share as a plain ratio, from "1 %" or "0.01"."""

    def read(typed: str) -> Decimal:
        found = read_quantity(typed)
        if found.unit == "%":
            return found.value / 100
        if found.unit:
            raise Trouble(f"“{shown(typed)}” is no share")
        return read_number(typed)

    return _named(option, read, text, allowed=_SHARES, do="Type 5 % or 0.05.")


def _bound(option: str, text: str, wanted: Quantity) -> rules.Bound:
    """A percentage of what is wanted, or an amount of its kind; zero or more."""
    allowed = f"a percentage such as 20 %, or {kind_of(wanted.unit)} such as {wanted}"
    found = _named(option, read_quantity, text, allowed=allowed, do="Type it with its unit.")
    if found.unit == "%" and wanted.unit != "%":
        bound = rules.Bound(found.value / 100, relative=True)
    else:
        amount = _named(
            option,
            lambda typed: number_in(read_quantity(typed, like=wanted.unit), wanted.unit),
            text,
            allowed=allowed,
            do="Type it with its unit.",
        )
        bound = rules.Bound(amount, relative=False)
    if bound.amount < 0:
        raise Trouble(f"{found} is below zero", where=option, allowed="zero or more; it counts to either side")
    return bound


def _moment(option: str, text: str) -> date | datetime:
    typed = text.strip()
    try:
        long = len(typed) > len("2026-03-01")
        moment: date | datetime = datetime.fromisoformat(typed) if long else date.fromisoformat(typed)
    except ValueError:
        raise Trouble(
            f"“{shown(text)}” is no date", where=option, allowed=_MOMENTS, do="Write the date as year-month-day."
        ) from None
    if isinstance(moment, datetime) and moment.tzinfo is None:
        raise Trouble(
            f"“{shown(text)}” says no offset from UTC", where=option, allowed=_MOMENTS, do="Write it behind the time."
        )
    return moment


def _figure(value: Decimal | float, unit: str) -> Answer:
    return {"value": float(value), "unit": unit}
