"""What a check source is made of and certified as: reading its describing fields, and the half-life it is judged by.

A source of one nuclide is judged by that nuclide's half-life. One of several is judged by the half-life that leads from
its reference reading to the present: it is worked out when a checkout opens and stored with the other facts, so that
the record can be judged again by itself.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, date, datetime, time
from decimal import Decimal
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from procedures.answers import LONGEST_SCAN
from procedures.site.entries import words
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.mixtures import Component
    from procedures.nuclides import HalfLife

CERTIFIED_AS: Final = ("activity", "emission rate")
EMISSION_UNITS: Final[Mapping[str, int]] = {"/s": 1, "/min": 60}
"""Units of an emission rate (particles sent out, not decays), with their seconds."""
_SPELLED: Final[Mapping[str, str]] = {
    "/s": "/s",
    "1/s": "/s",
    "s-1": "/s",
    "n/s": "/s",
    "per second": "/s",
    "/min": "/min",
    "1/min": "/min",
    "min-1": "/min",
    "per minute": "/min",
}

EXEMPTIONS: Final[Mapping[str, str]] = {
    "": "none: it is leak-tested",
    "short-lived": "half-life of 30 days or less",
    "gas": "holds only gas",
    "small beta or gamma": "3.7 MBq (100 µCi) or less of a beta or gamma emitter",
    "small alpha or neutron": "0.37 MBq (10 µCi) or less of an alpha or neutron emitter",
    "stored": "stored and not used: tested before it is used again",
    "local rule": "another reason, by local rules",
}
"""Why a sealed source need not be leak-tested: 10 CFR 35.67(f) (read; gas and stored from memory). Local rules and the
licence go first, so none is ever applied by itself: a lead claims it."""

_SHORT_LIVED_DAYS: Final = 30
_SMALL_MBQ: Final[Mapping[str, Decimal]] = {
    "small beta or gamma": Decimal("3.7"),
    "small alpha or neutron": Decimal("0.37"),
}

SAME_DECAY: Final = 1e-3
"""How far the decay since one reference reading may be off when the half-life since another stands for it. It is less
than evaluations of one half-life differ over ten years (Cs-137: 0.13 %)."""


# --- reading fields ------------------------------------------------------------------------------------------------


def _one_of(what: str, allowed: Sequence[str], value: Any) -> str:
    if value not in allowed:
        raise Trouble(f"that is no {what}", allowed=", ".join(each for each in allowed if each), do="Choose one.")
    return str(value)


def _components(value: Any) -> list[dict[str, str]]:
    """Parts as the journal keeps them: nuclide, and share as decimal text. An empty list: one nuclide."""
    rows = list(value) if isinstance(value, (list, tuple)) else None
    if rows is None or not all(isinstance(row, Mapping) and {"nuclide", "share"} <= set(row) for row in rows):
        raise Trouble(
            "that is no list of nuclides with their shares",
            allowed="such as Cf-252 95 %, Cf-250 5 %",
            do="Enter them again.",
        )
    if not rows:
        return []
    from procedures.mixtures import mixture
    from procedures.nuclides import half_life
    from procedures.units import read_number

    parts = [(str(row["nuclide"]), read_number(str(row["share"]))) for row in rows]
    mixture(parts)
    return [{"nuclide": half_life(nuclide).nuclide, "share": f"{share:f}"} for nuclide, share in parts]


def _uncertainty(value: Any) -> str:
    text = words("uncertainty", str(value), LONGEST_SCAN, needed=False)
    if not text:
        return ""
    from procedures.units import read_quantity

    found = read_quantity(text, like="%")
    if not 0 < found.value < 100:
        raise Trouble(f"an uncertainty of {found} cannot be", allowed="above 0 %, below 100 %", do="Enter it again.")
    return str(found)


def _text(what: str, value: Any) -> str:
    if not isinstance(value, str):
        raise Trouble(f"the {what} is no text", allowed="a line of words, or nothing", do="Enter it again.")
    return words(what, value, needed=False)


FIELDS: Final[Mapping[str, Callable[[Any], Any]]] = {
    "certified_as": partial(_one_of, "way to certify a source", CERTIFIED_AS),
    "components": _components,
    "model": partial(_text, "model"),
    "uncertainty": _uncertainty,
    "leak_test_exempt": partial(_one_of, "reason not to leak-test", tuple(EXEMPTIONS)),
    "leak_test_exempt_note": partial(_text, "note on leak tests"),
}
"""Describing fields of a source besides those that every source has; each reader gives what the journal keeps."""


def certified_value(certified_as: str, text: str) -> str:
    """The certified activity ("37 kBq") or emission rate ("20000 /s") as it is kept. Raises Trouble for anything else.

    An emission rate counts what leaves the source, an activity its decays: neither is ever turned into the other.
    """
    from procedures.units import read_quantity

    if certified_as == "activity":
        found = read_quantity(words("activity", text, LONGEST_SCAN), like="Bq")
        if found.value <= 0:
            raise Trouble(f"a source of {found} is none", allowed="more than 0", do="Enter the activity again.")
        return str(found)
    value, unit = _emission(words("emission rate", text, LONGEST_SCAN))
    return f"{value:f} {unit}"


def _emission(text: str) -> tuple[Decimal, str]:
    from procedures.units import read_number, shown

    figure, _, unit = text.replace("/", " /", 1).partition(" ")
    spelled = " ".join(unit.split()).casefold().replace("n /", "n/").replace("1 /", "1/")
    if spelled not in _SPELLED:
        raise Trouble(
            f"“{shown(text)}” is no emission rate",
            allowed="a figure and /s or /min",
            do="Type for example 20000 /s.",
        )
    value = read_number(figure)
    if value <= 0:
        raise Trouble(f"an emission rate of {value:f} is none", allowed="more than 0", do="Enter it again.")
    return value, _SPELLED[spelled]


# --- what the fields say -------------------------------------------------------------------------------------------


def composition(fields: Mapping[str, Any]) -> tuple[Component, ...]:
    """The parts of a source; one part with a share of 1 where nothing else is said.

    Raises Trouble when the fields, perhaps written elsewhere, say what cannot be.
    """
    from procedures.mixtures import mixture, single
    from procedures.units import read_number

    rows = fields.get("components") or ()
    if not rows:
        return single(str(fields["nuclide"]))
    try:
        return mixture([(str(row["nuclide"]), read_number(str(row["share"]))) for row in rows])
    except (KeyError, TypeError) as fault:
        raise Trouble(
            "what the source holds cannot be read",
            allowed="nuclides with their shares",
            do="Enter them again.",
        ) from fault


def composition_words(fields: Mapping[str, Any]) -> str:
    """What a source holds, as people say it: "Cs-137", or "Cf-252 95 %, Cf-250 5 %"."""
    try:
        parts = composition(fields)
    except Trouble:
        return "cannot be read"
    if len(parts) == 1:
        return parts[0].nuclide
    return ", ".join(f"{each.nuclide} {_percent(each.share)} %" for each in parts)


def certified_on(fields: Mapping[str, Any]) -> datetime:
    """The moment for which activity and shares are certified. Raises Trouble for a date that is none."""
    try:
        day = date.fromisoformat(str(fields.get("activity_on", "")))
    except ValueError:
        raise Trouble(
            "the date of its certificate cannot be read",
            allowed="a date such as 2026-03-12",
            do="Enter the date again.",
        ) from None
    return datetime.combine(day, time(), UTC)


def half_life_since(fields: Mapping[str, Any], taken: Sequence[datetime], now: datetime) -> tuple[HalfLife | None, str]:
    """The half-life by which readings of this source fell since its references were `taken`, and what is wrong with it.

    A source whose parts all fall alike has that of its nuclide. For others it is the effective one since the newest
    reference; the text says so where readings of other days would fall otherwise, or nothing can be worked out.
    """
    from procedures.mixtures import one_half_life

    try:
        parts = composition(fields)
        known = one_half_life(parts)
        return (known, "") if known is not None else _effective(fields, parts, sorted(taken), now)
    except Trouble as trouble:
        return None, f"what it holds is not known well enough: {trouble.what}"


def _effective(
    fields: Mapping[str, Any], parts: Sequence[Component], taken: Sequence[datetime], now: datetime
) -> tuple[HalfLife, str]:
    from procedures.mixtures import effective_half_life, factor_between
    from procedures.nuclides import HalfLife, decay_factor, elapsed_days

    since = certified_on(fields)
    then = elapsed_days(since, now)
    past = [day for each in taken if (day := elapsed_days(since, each)) <= then]
    first = past[-1] if past else then
    days = effective_half_life(parts, first, then)
    known = [each.half_life.relative_uncertainty for each in parts]
    apart = [day for day in past if not _alike(factor_between(parts, day, then), decay_factor(days, then - day))]
    made = HalfLife(
        nuclide=str(fields["nuclide"]),
        value=Decimal(repr(days)),
        unit="d",
        days=days,
        relative_uncertainty=None if None in known else max(each for each in known if each is not None),
        source=f"worked out for the time since the reference reading, from {composition_words(fields)} "
        f"on {since.date().isoformat()}; {parts[0].half_life.source}",
    )
    if apart:
        return made, "its nuclides fell otherwise since its older reference readings: take them all anew"
    return made, ""


def _alike(one: float, other: float) -> bool:
    return abs(one - other) <= SAME_DECAY * other


def _percent(share: Decimal) -> str:
    figure = round(100 * share, 2).normalize()
    return f"{figure:f}"


# --- leak tests ----------------------------------------------------------------------------------------------------


def exempt(fields: Mapping[str, Any]) -> str:
    """The exemption from leak tests that a lead claimed for this source, in words; "" for none."""
    code = str(fields.get("leak_test_exempt") or "")
    if not code:
        return ""
    note = str(fields.get("leak_test_exempt_note") or "")
    said = EXEMPTIONS.get(code, code)
    return f"{said} ({note})" if note else said


def tested_all_the_same(fields: Mapping[str, Any]) -> bool:
    """Whether the dates of its leak tests count: there is no exemption, or one that ends with the first use."""
    return str(fields.get("leak_test_exempt") or "") in ("", "stored")


def exemption_fits(code: str, fields: Mapping[str, Any]) -> None:
    """Raises Trouble for an exemption that what is recorded of the source speaks against."""
    if code == "local rule" and not fields.get("leak_test_exempt_note"):
        raise Trouble("which local rule is not said", allowed="the rule, in a few words", do="Enter it as the note.")
    if code == "short-lived":
        longest = max(composition(fields), key=lambda each: each.half_life.days)
        if longest.half_life.days > _SHORT_LIVED_DAYS:
            raise Trouble(
                f"{longest.nuclide} has a half-life of {longest.half_life}",
                allowed="30 days or less (10 CFR 35.67)",
                do="Choose another reason, or none.",
            )
    if code in _SMALL_MBQ:
        _small_enough(code, fields)


def _small_enough(code: str, fields: Mapping[str, Any]) -> None:
    from procedures.units import number_in, read_quantity

    emits = str(fields.get("emits") or "").casefold()
    if code == "small beta or gamma" and ("alpha" in emits or "neutron" in emits):
        raise Trouble(f"it emits {emits}", allowed="only beta or gamma emitters", do="Choose another reason, or none.")
    if fields.get("certified_as", "activity") != "activity":
        return
    activity = number_in(read_quantity(str(fields["activity"]), like="Bq"), "MBq")
    if activity > _SMALL_MBQ[code]:
        raise Trouble(
            f"its certificate says {fields['activity']}",
            allowed=f"{_SMALL_MBQ[code]} MBq or less (10 CFR 35.67)",
            do="Choose another reason, or none.",
        )
