"""What each field of an envelope may be: small tests without any judgement of what the event says."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

from procedures.journal.moments import COUNTS, milliseconds, utc_moment

SEES: Final = frozenset(
    {"opened", "ended", "locked-out", "cleared", "handed-out", "emergency-use", "profile-adopted", "readiness-ended"},
)
"""Kinds that carry `seen`: what other stations had written, as far as the writer knew."""
MAY_SEE: Final = frozenset({"calibrated", "source-condition", "counted", "placed"})
"""Kinds that are written with `seen` too. Older ones have none, and then speak of their own station's past alone."""

_HEX = re.compile(r"[0-9a-f]{64}")
_STATION = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
FIELDS = frozenset(
    {"format", "kind", "version", "station", "seq", "utc", "offset", "hlc", "person", "about", "ends_fitness"}
    | {"prev", "seen", "body"}
)


def is_hash(text: object) -> bool:
    """Whether `text` looks like the hash of an event."""
    return isinstance(text, str) and _HEX.fullmatch(text) is not None


def is_station(text: object) -> bool:
    """Whether `text` may name a station: letters, digits, `.`, `_`, `-`; `#` is kept for branches."""
    return isinstance(text, str) and _STATION.fullmatch(text) is not None


def fault_in(fields: Mapping[str, Any]) -> str:
    """What is wrong with the fields of an envelope, FIELDS exactly; empty when nothing is."""
    wrong = _wrong_field(fields)
    if wrong:
        return f"its field {wrong!r} cannot be what a station wrote"
    return "it does not say what its station had seen" if fields["kind"] in SEES and fields["seen"] is None else ""


def _wrong_field(fields: Mapping[str, Any]) -> str:
    """The first field that cannot be; empty when there is none. Asked of a million events: one test after another."""
    if not isinstance(fields["kind"], str) or fields["kind"] == "":
        return "kind"
    if not _whole(fields["version"], 1):
        return "version"
    if not is_station(fields["station"]):
        return "station"
    if not _whole(fields["seq"], 1):
        return "seq"
    if not _is_utc(fields["utc"]):
        return "utc"
    if not _whole(fields["offset"], -24 * 60) or fields["offset"] > 24 * 60:
        return "offset"
    if not _is_clock(fields["hlc"]):
        return "hlc"
    if fields["person"] is not None and (not isinstance(fields["person"], str) or fields["person"] == ""):
        return "person"
    if not isinstance(fields["about"], list) or not all(isinstance(one, str) and one for one in fields["about"]):
        return "about"
    if not isinstance(fields["ends_fitness"], bool):
        return "ends_fitness"
    if fields["prev"] != "" if fields["seq"] == 1 else not is_hash(fields["prev"]):
        return "prev"
    seen = fields["seen"]
    if seen is not None and (not isinstance(seen, dict) or not all(_is_head(*item) for item in seen.items())):
        return "seen"
    return "" if isinstance(fields["body"], dict) else "body"


def _whole(value: object, least: int) -> bool:
    return type(value) is int and least <= value < 1 << 53


def _is_utc(value: object) -> bool:
    try:
        return isinstance(value, str) and milliseconds(utc_moment(value)) >= 0
    except ValueError:
        return False


def _is_clock(value: object) -> bool:
    # 1 << 46 milliseconds is past the year 4000 and still fits a signed 64-bit number with its count.
    return (
        isinstance(value, list)
        and len(value) == 2
        and _whole(value[0], 0)
        and _whole(value[1], 0)
        and value[0] < 1 << 46
        and value[1] < COUNTS
    )


def _is_head(name: str, head: object) -> bool:
    return (
        is_station(name.partition("#")[0])
        and isinstance(head, list)
        and len(head) == 2
        and _whole(head[0], 1)
        and is_hash(head[1])
    )
