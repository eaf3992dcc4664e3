"""Quantities as people type them: a decimal figure and a unit out of a closed set.

Every unit belongs to one kind, and only units of one kind convert into each other. Exposure, air kerma, ambient dose
equivalent, activity and count rate are different things: going from one to another needs a coefficient that somebody
states (energy, geometry, efficiency), so it is never a change of unit here. A unit of dose cannot tell absorbed dose
from air kerma, nor ambient from personal dose equivalent; which is meant is written in the profile.

dpm is activity (60 dpm = 1 Bq): it counts disintegrations. cpm and cps count pulses of one detector and are never Bq.

Conversion goes through pint with definitions of our own, since its table joins what the trade keeps apart. Loading pint
takes longer than the rest of the core together, so it is imported when a unit is first converted, never before.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from procedures.trouble import Trouble
from procedures.unit_table import DEFINITIONS, KINDS, SPELLINGS, WHY_APART

if TYPE_CHECKING:
    from pint import UnitRegistry

READING_KINDS = ("exposure rate", "dose equivalent rate", "absorbed dose or air kerma rate", "count rate")
"""The kinds of quantity that a survey instrument's scale shows."""

_KIND_OF = {symbol: kind for kind, units in KINDS.items() for symbol in units}

_SPELLINGS = {symbol: symbol for symbol in _KIND_OF if symbol}
_SPELLINGS |= {"u" + symbol[1:]: symbol for symbol in _KIND_OF if symbol.startswith("µ")}
_SPELLINGS |= {spelling: symbol for symbol, spellings in SPELLINGS.items() for spelling in spellings}
# No two units differ by case alone (a test holds that), so a slip of case has one meaning at most.
_FOLDED = {spelling.lower(): spelling for spelling in _SPELLINGS}

_LONGEST_NUMBER = 80
_LONGEST_QUANTITY = 120
_LARGEST_POWER_OF_TEN = 30

_NUMBER = re.compile(r"([+-]?)([0-9.,]+)(?:[eE]([+-]?[0-9]+))?")
_NUMBER_AND_UNIT = re.compile(r"([+-]?\s?[0-9.,]+(?:[eE][+-]?[0-9]+)?)\s*(.*)", re.DOTALL)
_MINUS_SIGNS = str.maketrans({"\N{MINUS SIGN}": "-", "\N{EN DASH}": "-"})
_LOOK_ALIKES = str.maketrans({"\N{GREEK SMALL LETTER MU}": "µ", "\N{MASCULINE ORDINAL INDICATOR}": "°"})


@dataclass(frozen=True, slots=True)
class Quantity:
    """A decimal value and the canonical symbol of its unit ("" for a plain number).

    Raises Trouble when the unit is not a canonical symbol or the value is not finite.
    """

    value: Decimal
    unit: str

    def __post_init__(self) -> None:
        if self.unit not in _KIND_OF:
            raise _unknown(self.unit, None)
        if not self.value.is_finite():
            raise Trouble(f"{self.value} is not a number that can be worked with")

    def __str__(self) -> str:
        return f"{_plainly(self.value)} {self.unit}".rstrip()


def read_number(text: str) -> Decimal:
    """Read a decimal figure with a sign, a decimal point or comma, and a power of ten ("1.5e3") if need be.

    The figures are kept as typed: "1.60" keeps its nought. A comma before exactly three figures could be a decimal
    comma or mark thousands, a thousandfold difference, so it is refused unless a leading nought settles it.
    Raises Trouble for anything else.
    """
    typed = text.strip().translate(_MINUS_SIGNS)
    if len(typed) > _LONGEST_NUMBER:
        raise _not_a_number(text, f"it is longer than {_LONGEST_NUMBER} characters")
    if not typed:
        raise _not_a_number(text, "nothing is written")
    match = _NUMBER.fullmatch(typed)
    if match is None:
        raise _not_a_number(text, _why_no_number(typed))
    sign, figures, power = match.groups()
    if len(re.findall("[.,]", figures)) > 1:
        raise _not_a_number(text, "thousands are not marked, and there is one decimal point or comma at most")
    if re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", figures):
        whole, part = figures.split(",")
        raise Trouble(
            f"“{shown(text)}” may mean {whole}.{part} or {whole}{part}",
            allowed="a decimal point, and no mark between thousands",
            do=f"Type {sign}{whole}.{part} or {sign}{whole}{part}.",
        )
    if figures[-1] in ".,":
        raise _not_a_number(text, "no figure follows the decimal point")
    if power and len(power) > 3:
        raise _not_a_number(text, "its power of ten is beyond sense")
    number = Decimal(f"{sign}{figures.replace(',', '.')}e{power or 0}")
    if number == 0:
        return abs(number) if number.as_tuple().exponent in range(-_LARGEST_POWER_OF_TEN, 1) else Decimal(0)
    if not -_LARGEST_POWER_OF_TEN <= number.adjusted() <= _LARGEST_POWER_OF_TEN:
        raise _not_a_number(text, "its power of ten is beyond sense")
    return number


def read_quantity(text: str, *, like: str | None = None) -> Quantity:
    """Read a figure and a unit, with or without a space between: "1.62 mR/h", "1,62mR/h", "20 °C", "-20 %", "3".

    `like` is any unit of the kind wanted; the quantity keeps the unit that was typed.
    Raises Trouble when the text is no quantity, or of another kind than wanted.
    """
    wanted = None if like is None else kind_of(like)
    typed = text.strip().translate(_MINUS_SIGNS)
    if len(typed) > _LONGEST_QUANTITY:
        raise _no_quantity(text, f"it is longer than {_LONGEST_QUANTITY} characters", wanted)
    match = _NUMBER_AND_UNIT.fullmatch(typed)
    if match is None:
        raise _no_quantity(text, "it does not begin with a figure" if typed else "nothing is written", wanted)
    figure, rest = match.groups()
    if rest[:1].isdigit():
        raise _no_quantity(text, "a figure is broken up", wanted)
    number = read_number(figure.replace(" ", ""))
    unit = _canonical(rest, wanted) if rest else ""
    if wanted is not None and _KIND_OF[unit] != wanted:
        if not unit:
            raise _no_quantity(text, "the unit is missing", wanted)
        raise _other_kind(f"“{shown(text)}” is {_KIND_OF[unit]}, and {wanted} is wanted", _KIND_OF[unit], wanted)
    return Quantity(number, unit)


def canonical_unit(text: str) -> str:
    """The symbol by which a unit is kept: "uSv/hr" → "µSv/h", "degC" → "°C", "" → "". Raises Trouble."""
    return _canonical(text, None)


def kind_of(unit: str) -> str:
    """The kind of quantity that a unit measures: "mR/h" → "exposure rate". Raises Trouble for an unknown unit."""
    kind = _KIND_OF.get(unit)
    return _KIND_OF[canonical_unit(unit)] if kind is None else kind


def units_of(kind: str) -> tuple[str, ...]:
    """All units of a kind, as they are written here. Raises Trouble for an unknown kind."""
    units = KINDS.get(kind)
    if units is None:
        raise Trouble(f"“{shown(kind)}” is no kind of quantity", allowed=", ".join(KINDS))
    return tuple(units)


def convert(q: Quantity, unit: str) -> Quantity:
    """The same quantity in another unit of its kind; temperatures move with their zero.

    Exact where the answer ends within 50 figures, else rounded to 34. Raises Trouble between kinds, with the reason.
    """
    target = canonical_unit(unit)
    if target == q.unit:
        return q
    ours, theirs = _KIND_OF[q.unit], _KIND_OF[target]
    if ours != theirs:
        raise _other_kind(f"{q.unit or 'A figure without a unit'} is {ours}, {target} is {theirs}", ours, theirs)
    answer = _registry().convert(Fraction(q.value), KINDS[ours][q.unit], KINDS[theirs][target])
    return Quantity(_decimal(Fraction(answer)), target)


def number_in(q: Quantity, unit: str) -> Decimal:
    """The bare figure of a quantity in a unit of its kind. Raises Trouble between kinds."""
    return convert(q, unit).value


def shown(text: str, longest: int = 40) -> str:
    """What somebody typed, fit to be shown in one line: cut to length, unprintable characters made visible."""
    cut = text if len(text) <= longest else text[: longest - 1] + "…"
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in cut)


@lru_cache(maxsize=1)
def _registry() -> UnitRegistry[Any]:
    from pint import UnitRegistry

    # Fractions, not decimals: 1/60 has no end as a decimal, and 6000 cpm must be 100 cps to the last figure.
    registry: UnitRegistry[Any] = UnitRegistry(None, non_int_type=Fraction, cache_folder=None, on_redefinition="raise")
    registry.load_definitions(DEFINITIONS.splitlines())
    return registry


def _decimal(fraction: Fraction) -> Decimal:
    with localcontext(prec=50) as context:
        answer = Decimal(fraction.numerator) / Decimal(fraction.denominator)
        if Fraction(answer) == fraction:
            return answer
        context.prec = 34
        return +answer


def _plainly(value: Decimal) -> str:
    return f"{value:f}" if value == 0 or -15 <= value.adjusted() <= 20 else f"{value:E}"


def _canonical(text: str, wanted: str | None) -> str:
    typed = _tidied(text)
    if typed == "":
        return ""
    symbol = _SPELLINGS.get(typed)
    if symbol is None:
        spelling = _FOLDED.get(typed.lower())
        if spelling is None or _mega_for_milli(typed, spelling):
            raise _unknown(typed, wanted)
        symbol = _SPELLINGS[spelling]
    return symbol


def _tidied(text: str) -> str:
    """One way of writing what several keyboards and typesetters write in several."""
    typed = " ".join(text.split()).translate(_LOOK_ALIKES).replace("℃", "°C").replace("℉", "°F")
    typed = re.sub(r"\s*/\s*", "/", typed)
    typed = re.sub(r"/(hr|hour)$", "/h", typed, flags=re.IGNORECASE)
    return re.sub(r"^(°|deg\b) ?", lambda m: m[1], typed, flags=re.IGNORECASE)


def _mega_for_milli(typed: str, spelling: str) -> bool:
    """Whether taking `typed` for `spelling` would take M for m, which differ by a thousand million."""
    return {typed[0], spelling[0]} == {"m", "M"} and not spelling.startswith("min")


def _unknown(typed: str, wanted: str | None) -> Trouble:
    from difflib import get_close_matches

    pool = {s.lower(): unit for s, unit in _SPELLINGS.items() if wanted is None or _KIND_OF[unit] == wanted}
    near = dict.fromkeys(pool[s] for s in get_close_matches(typed.lower(), list(pool), n=5, cutoff=0.5))
    what = f"“{shown(typed)}” is no unit known here"
    meant = _FOLDED.get(typed.lower())
    if meant is not None and _mega_for_milli(typed, meant):
        what += ": m is milli, M is mega, and neither is taken for the other"
        near = dict.fromkeys([_SPELLINGS[meant], *near])
    nearest = list(near)[:3]
    return Trouble(
        what,
        allowed=_listed(wanted) if wanted else ", ".join(nearest or (unit for unit in _KIND_OF if unit)),
        do=f"Did you mean {' or '.join(nearest)}?" if nearest else "",
    )


def _listed(kind: str) -> str:
    units = ", ".join(unit or "a figure without a unit" for unit in units_of(kind))
    return f"{kind} in {units}"


def _no_quantity(text: str, why: str, wanted: str | None) -> Trouble:
    kind = wanted or "exposure rate"
    example = f"1.62 {units_of(kind)[0]}".rstrip()
    allowed = _listed(wanted) if wanted else "a figure and a unit"
    return Trouble(f"“{shown(text)}” cannot be read: {why}", allowed=allowed, do=f"Type for example {example}.")


def _other_kind(what: str, ours: str, theirs: str) -> Trouble:
    ours_over_time, theirs_over_time = ours.removesuffix(" rate"), theirs.removesuffix(" rate")
    why: str | None
    if ours_over_time == theirs_over_time:
        why = "a rate becomes an amount only with a time"
    else:
        why = WHY_APART.get(frozenset({ours, theirs})) or WHY_APART.get(frozenset({ours_over_time, theirs_over_time}))
    return Trouble(
        f"{what}: {why or 'these are different quantities'}",
        allowed=_listed(theirs),
        do="Use a unit of the kind that is wanted; none is worked out from another kind.",
    )


def _not_a_number(text: str, why: str) -> Trouble:
    return Trouble(
        f"“{shown(text)}” is no number: {why}", allowed="figures 0 to 9, one decimal point or comma", do="Type 1.62."
    )


def _why_no_number(typed: str) -> str:
    if re.search(r"\s", typed):
        return "a space stands in it"
    if any(c.isdigit() and c not in "0123456789" for c in typed):
        return "its figures are not the figures 0 to 9"
    if not any(c.isdigit() for c in typed):
        return "it holds no figure"
    return "it holds other signs than figures"
