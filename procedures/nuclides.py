"""Radioactive decay of check sources: half-lives, and what is left after a time.

Half-lives are those of ICRP Publication 107, with its year of 365.2422 days. Evaluations differ: over ten years Cs-137
moves by less than 0.13 % between them, which `half_life_share` carries into the uncertainty.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from decimal import Decimal
from functools import cache
from types import MappingProxyType

from procedures.data import table
from procedures.trouble import Trouble
from procedures.unit_table import DAYS_IN_YEAR
from procedures.units import shown

_DAYS_IN = {
    "s": Decimal(1) / 86400,
    "min": Decimal(1) / 1440,
    "h": Decimal(1) / 24,
    "d": Decimal(1),
    "y": DAYS_IN_YEAR,
}

_SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹ᵐ‐‑–−", "0123456789m----")
_ELEMENT_FIRST = re.compile(r"([A-Za-z]{1,2})[\s-]*([0-9]{1,3})(m[0-9]?)?")
_NUMBER_FIRST = re.compile(r"([0-9]{1,3})(m[0-9]?)?[\s-]*([A-Za-z]{1,2})")


@dataclass(frozen=True, slots=True)
class HalfLife:
    """A nuclide's half-life as its source prints it, and in days.

    `relative_uncertainty` is the standard uncertainty over the half-life, None where the source states none.
    """

    nuclide: str
    value: Decimal
    unit: str
    days: float
    relative_uncertainty: float | None
    source: str

    def __str__(self) -> str:
        return f"{self.value:f} {self.unit}"


def half_life(nuclide: str) -> HalfLife:
    """The half-life of a nuclide named as people type it: "Cs-137", "cs137", "CS 137", "137Cs", "¹³⁷Cs".

    Raises Trouble for a nuclide that is not in the packaged table, naming the nearest that are.
    """
    known = _half_lives()
    name = _tidied(nuclide)
    if name in known:
        return known[name]
    from difflib import get_close_matches

    near = get_close_matches(name, list(known), n=3, cutoff=0.6)
    raise Trouble(
        f"“{shown(nuclide)}” is no nuclide known here",
        allowed=", ".join(near or known),
        do=f"Did you mean {' or '.join(near)}?" if near else "Type it as on the source, for example Cs-137.",
    )


def known_nuclides() -> tuple[str, ...]:
    """The names of all nuclides in the packaged table, by mass number."""
    return tuple(_half_lives())


def elapsed_days(earlier: date | datetime, later: date | datetime) -> float:
    """Days from one moment to another; negative when `later` comes first.

    A moment carries its zone; a bare date stands for its midnight in UTC. Raises Trouble for a moment without zone.
    """
    return (_moment(later) - _moment(earlier)).total_seconds() / 86400


def decay_factor(half_life_days: float, elapsed_days: float) -> float:
    """The fraction that is left: 2^(−Δt/T½), both in days.

    Raises Trouble when time runs backwards (a reading before its reference puts the clock in doubt) or when a figure
    is none.
    """
    _want_half_life(half_life_days)
    if not math.isfinite(elapsed_days):
        raise Trouble("the time elapsed is no number")
    if elapsed_days < 0:
        raise Trouble(
            f"the time elapsed is {elapsed_days:.6g} days: the later date comes before the earlier one",
            allowed="a date on or after that of the reference",
            do="Set the clock of this station, or correct the date of the reference.",
        )
    return float(2.0 ** (-elapsed_days / half_life_days))


def decayed(value: float | Decimal, half_life_days: float, elapsed_days: float) -> float:
    """What `value` has come down to after `elapsed_days`, in its own unit. Raises as `decay_factor`."""
    return float(value) * decay_factor(half_life_days, elapsed_days)


def time_to_fraction(half_life_days: float, fraction: float) -> float:
    """Days until a fraction (0 < fraction ≤ 1) is left: −T½·log₂(fraction). Raises Trouble outside."""
    _want_half_life(half_life_days)
    if not 0 < fraction <= 1:
        raise Trouble(f"{fraction} is no fraction that can be left", allowed="above 0, and 1 at most")
    return abs(half_life_days * math.log2(fraction))


def half_life_share(half_life: HalfLife, elapsed_days: float) -> float | None:
    """The half-life's part in the relative standard uncertainty of a decayed value: ln 2 · Δt/T½ · u(T½)/T½.

    From the derivative of 2^(−Δt/T½). None where the half-life's own uncertainty is unknown and time has passed.
    """
    if elapsed_days == 0:
        return 0.0
    if half_life.relative_uncertainty is None:
        return None
    return math.log(2) * abs(elapsed_days) / half_life.days * half_life.relative_uncertainty


@cache
def _half_lives() -> Mapping[str, HalfLife]:
    data = table("nuclides")
    sources = data["sources"]
    rows = {}
    for row in data["nuclide"]:
        value = Decimal(row["half_life"])
        known = row["uncertainty"] != "unknown"
        said = [sources[row["source"]], *([f"uncertainty: {sources[row['uncertainty_source']]}"] if known else [])]
        rows[row["name"]] = HalfLife(
            nuclide=row["name"],
            value=value,
            unit=row["unit"],
            days=float(value * _DAYS_IN[row["unit"]]),
            relative_uncertainty=float(Decimal(row["uncertainty"]) / value) if known else None,
            source="; ".join(said),
        )
    return MappingProxyType(rows)


def _tidied(nuclide: str) -> str:
    typed = nuclide.strip().translate(_SUPERSCRIPTS)
    if match := _ELEMENT_FIRST.fullmatch(typed):
        element, mass, state = match.groups()
    elif match := _NUMBER_FIRST.fullmatch(typed):
        mass, state, element = match.groups()
    else:
        return shown(typed)
    return f"{element.capitalize()}-{int(mass)}{state or ''}"


def _moment(when: date | datetime) -> datetime:
    if not isinstance(when, datetime):
        return datetime.combine(when, time(), UTC)
    if when.utcoffset() is None:
        raise Trouble(f"the moment {when.isoformat()} says no time zone", do="State the offset from UTC.")
    return when


def _want_half_life(half_life_days: float) -> None:
    if not (math.isfinite(half_life_days) and half_life_days > 0):
        raise Trouble(f"{half_life_days} days is no half-life", allowed="above 0 days")
