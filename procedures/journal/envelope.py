"""The envelope of an event: its fields, its one encoding as bytes, and the clock that orders what stations saw.

The bytes are made once, hashed as made and stored as made. Whoever reads an event later hashes the very same bytes, so
nothing is ever encoded again to be compared. Numbers measured by a clock may be floats; everything else a person or an
instrument said is text or a whole number, so that no reading is changed by being written down.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final, NoReturn

from procedures.journal.fields import FIELDS, fault_in
from procedures.journal.moments import utc_text
from procedures.trouble import Trouble

FORMAT: Final = 1
"""The format of the envelope itself; a kind of event has its own version beside it."""


class Altered(Trouble):
    """Bytes that are not what a station wrote: changed, cut, or never an event."""


class Malformed(ValueError):  # noqa: N818  named like Altered and Overtaken
    """A draft that may not become an event. Whoever wrote the draft has a fault in their program."""


@dataclass(frozen=True, slots=True)
class Draft:
    """What a caller wants recorded; the journal adds station, sequence, time and chain."""

    kind: str
    body: Mapping[str, Any]
    about: tuple[str, ...] = ()
    ends_fitness: bool = False
    """Said by the caller; the catalogue sets it besides wherever the kind and body leave no choice."""
    person: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Event:
    """One event as it was written. Two are the same when their bytes are."""

    kind: str
    version: int
    station: str
    seq: int
    utc: datetime
    offset: int
    """Local offset in minutes east of UTC."""
    hlc: tuple[int, int]
    """Hybrid logical clock: milliseconds since 1970 and a count within them; past anything the writer had seen."""
    person: str | None
    about: tuple[str, ...]
    ends_fitness: bool
    prev: str
    """Hash of the event before it in its station; empty for the first."""
    seen: Mapping[str, tuple[int, str]] | None
    """Heads of other chains as (sequence, hash). After a fork, a station's further branches are keyed `station#n`."""
    body: Mapping[str, Any]
    hash: str
    raw: bytes

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Event) and other.hash == self.hash

    def __hash__(self) -> int:
        return hash(self.hash)

    @property
    def stamp(self) -> tuple[tuple[int, int], str, str]:
        """Where last-writer fields compare: logical clock, then station, then hash."""
        return (self.hlc, self.station, self.hash)


def local_day(event: Event) -> str:
    """The day on which it was written, by the calendar on the wall there: YYYY-MM-DD."""
    return (event.utc + timedelta(minutes=event.offset)).date().isoformat()


def digest(raw: bytes) -> str:
    """SHA-256 of the stored bytes in hex."""
    return hashlib.sha256(raw).hexdigest()


def encode(value: Mapping[str, Any]) -> bytes:
    """The one canonical encoding: JSON, UTF-8, sorted keys, no spaces. Raises Malformed for what JSON cannot keep."""
    _require_plain(value, "event")
    return _dump(value)


_ENCODER: Final = json.JSONEncoder(ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"))


def _dump(value: Mapping[str, Any]) -> bytes:
    try:
        return _ENCODER.encode(value).encode("utf-8")
    except UnicodeEncodeError:
        raise Malformed("a text holds half a character (a lone surrogate), which no file can keep") from None
    except TypeError as fault:
        raise Malformed(f"it cannot be recorded ({fault}); write it as text") from None
    except ValueError:
        raise Malformed("not a number and infinity cannot be recorded") from None


def _require_plain(value: object, where: str) -> None:
    """Only what comes back from JSON as it went in: no keys that are not text, no sets, dates or decimals."""
    if value is None or isinstance(value, str | bool | int | float):
        return
    if isinstance(value, Mapping):
        for key, part in value.items():
            if not isinstance(key, str):
                raise Malformed(f"{where}: a key must be text, not {key!r}")
            _require_plain(part, key)
        if not isinstance(value, dict):
            raise Malformed(f"{where}: a plain dict is wanted, not {type(value).__name__}")
    elif isinstance(value, list | tuple):
        for part in value:
            _require_plain(part, where)
    else:
        raise Malformed(f"{where}: {type(value).__name__} cannot be recorded; write it as text")


def seal(
    draft: Draft,
    *,
    version: int,
    ends_fitness: bool,
    station: str,
    seq: int,
    utc: datetime,
    offset: int,
    hlc: tuple[int, int],
    prev: str,
    seen: Mapping[str, tuple[int, str]] | None,
) -> Event:
    """Close the envelope round a draft: encode once, hash what was encoded, hand back what a reader will find.

    Raises Malformed when the draft cannot be written down.
    """
    if not all(isinstance(one, str) and one for one in draft.about) or draft.person == "":
        raise Malformed("what an event is about, and who wrote it, are ids, never empty")
    raw = _dump(
        {
            "format": FORMAT,
            "kind": draft.kind,
            "version": version,
            "station": station,
            "seq": seq,
            "utc": utc_text(utc),
            "offset": offset,
            "hlc": hlc,
            "person": draft.person,
            "about": draft.about,
            "ends_fitness": ends_fitness,
            "prev": prev,
            "seen": seen,
            "body": draft.body,
        }
    )
    fields = json.loads(raw)
    if fields["body"] != draft.body:
        # A tuple is a list from here on; anything else that JSON turned into something different is refused.
        _require_plain(draft.body, "body")
    return _event(fields, raw, digest(raw))


def decode(raw: bytes, *, foreign: bool = False, hashed: str = "") -> Event:
    """Read one event from its bytes. Raises Altered when they are not an event.

    `foreign` bytes come from outside this file: they must also be in the canonical encoding. `hashed` is the digest of
    these very bytes where the caller has just made it.
    """
    try:
        fields = _STRICT.decode(raw.decode("utf-8"))
    except (ValueError, RecursionError) as unreadable:
        raise _altered("it is not readable JSON") from unreadable
    if not isinstance(fields, dict) or fields.keys() != FIELDS:
        raise _altered("its fields are not those of an event")
    if type(fields["format"]) is not int or fields["format"] != FORMAT:
        raise Trouble(
            f"An event has envelope format {fields['format']!r}.",
            allowed=f"format {FORMAT}",
            do="Update this program on this laptop, then try again.",
        )
    fault = fault_in(fields)
    if fault:
        raise _altered(fault)
    if foreign and not _canonical(fields, raw):
        raise _altered("it is not written in the one canonical way")
    return _event(fields, raw, hashed or digest(raw))


def reread(raw: object, kept: object) -> Event:
    """Read an event back that was checked when it came in; `kept` is the SHA-256 beside it, as bytes.

    Raises Altered when it is no longer the hash of `raw`, or either is not bytes any more.
    """
    if not isinstance(raw, bytes) or not isinstance(kept, bytes) or digest(raw) != kept.hex():
        raise _altered("its bytes no longer match the hash kept beside them")
    return _event(_DECODER.decode(raw.decode("utf-8")), raw, kept.hex())


def _event(fields: Mapping[str, Any], raw: bytes, hashed: str) -> Event:
    seen = fields["seen"]
    return Event(
        kind=fields["kind"],
        version=fields["version"],
        station=fields["station"],
        seq=fields["seq"],
        utc=datetime.fromisoformat(fields["utc"]),
        offset=fields["offset"],
        hlc=(fields["hlc"][0], fields["hlc"][1]),
        person=fields["person"],
        about=tuple(fields["about"]),
        ends_fitness=fields["ends_fitness"],
        prev=fields["prev"],
        seen=None if seen is None else {name: (head[0], head[1]) for name, head in seen.items()},
        body=fields["body"],
        hash=hashed,
        raw=raw,
    )


def _canonical(fields: Mapping[str, Any], raw: bytes) -> bool:
    try:
        return encode(fields) == raw
    except (Malformed, RecursionError):
        return False


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands twice")
    return found


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a number")


_DECODER: Final = json.JSONDecoder()
_STRICT: Final = json.JSONDecoder(object_pairs_hook=_once, parse_constant=_no_constant)


def _altered(what: str) -> Altered:
    return Altered(
        f"An event was changed or damaged: {what}.",
        do="Keep this file as it is, tell the site lead, and go on with the newest good copy.",
    )
