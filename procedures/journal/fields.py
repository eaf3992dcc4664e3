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
    good = {
        "kind": isinstance(fields["kind"], str) and fields["kind"] != "",
        "version": _whole(fields["version"], 1),
        "station": is_station(fields["station"]),
        "seq": _whole(fields["seq"], 1),
        "utc": _is_utc(fields["utc"]),
        "offset": _whole(fields["offset"], -24 * 60) and fields["offset"] <= 24 * 60,
        "hlc": _is_clock(fields["hlc"]),
        "person": fields["person"] is None or (isinstance(fields["person"], str) and fields["person"] != ""),
        "about": isinstance(fields["about"], list) and all(isinstance(one, str) and one for one in fields["about"]),
        "ends_fitness": isinstance(fields["ends_fitness"], bool),
        "prev": fields["prev"] == "" if fields["seq"] == 1 else is_hash(fields["prev"]),
        "seen": fields["seen"] is None
        or (isinstance(fields["seen"], dict) and all(_is_head(*item) for item in fields["seen"].items())),
        "body": isinstance(fields["body"], dict),
    }
    for name, right in good.items():
        if not right:
            return f"its field {name!r} cannot be what a station wrote"
    return "it does not say what its station had seen" if fields["kind"] in SEES and fields["seen"] is None else ""


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
        and all(_whole(part, 0) for part in value)
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
