"""The file that holds what `secrets` keeps: JSON in the site's folder, for the person who runs the program alone.

It is replaced as a whole, so that it is the old one or the new one after a power cut. It belongs to one station: in a
copied or restored folder, which writes as another, it counts for nothing.
"""

from __future__ import annotations

import json
import math
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Final

from procedures.journal.fields import is_hash
from procedures.journal.files import sync_folder
from procedures.journal.moments import utc_moment
from procedures.site.opening import Site
from procedures.trouble import Trouble

NAMES: Final = {"real": "site.pins", "demo": "demo.pins", "practice": "practice.pins"}
FORMAT: Final = 1
LARGEST: Final = 10_000_000
"""Bytes; tens of thousands of people."""

MOST_MEMORY: Final = 1 << 28
"""Bytes that checking one hash may take: a file from elsewhere must not bring the laptop to its knees."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A person's hash with the parameters it was made with, and the wrong tries since the last right one.

    `at` is the last wrong try in UTC as the journal writes it, `ticks` and `session` the same by the other clock.
    """

    salt: str
    hash: str
    n: int
    r: int
    p: int
    tries: int = 0
    at: str = ""
    ticks: float = 0.0
    session: str = ""

    def refused(self, tries: int, at: str, ticks: float, session: str) -> Kept:
        """With the wrong tries that there are now, the last of them at this moment."""
        return replace(self, tries=tries, at=at, ticks=ticks, session=session)

    def forgiven(self) -> Kept:
        """After a right one."""
        return Kept(self.salt, self.hash, self.n, self.r, self.p)


def path_of(site: Site) -> Path:
    """Where this station keeps its PINs."""
    return site.folder / NAMES[site.marking]


def read(site: Site) -> dict[str, Kept]:
    """What is kept, by person. Raises Trouble when the file cannot be read or is not one of these."""
    path = path_of(site)
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST + 1)
    except FileNotFoundError:
        return {}
    except OSError as fault:
        raise _unusable(path, f"cannot be read ({fault.strerror})") from None
    try:
        if len(raw) > LARGEST:
            raise ValueError("size")
        held = json.loads(raw)
        if held["format"] != FORMAT:
            raise ValueError("format")
        found = {person: _checked(person, row) for person, row in held["people"].items()}
        station = held["station"]
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        raise _unusable(path, "is damaged, or of a newer program") from None
    return found if station == site.journal.station else {}


def _checked(person: str, row: dict[str, Any]) -> Kept:
    kept = Kept(**row)
    whole = (kept.n, kept.r, kept.p, kept.tries)
    sound = (
        is_hash(person)
        and all(type(each) is int for each in whole)
        and kept.n > 1
        and kept.n & (kept.n - 1) == 0
        and min(kept.r, kept.p) > 0
        and 128 * kept.r * (kept.n + kept.p) <= MOST_MEMORY
        and kept.tries >= 0
        and len(bytes.fromhex(kept.hash)) == 32
        and len(bytes.fromhex(kept.salt)) > 0
        and type(kept.ticks) in (int, float)
        and math.isfinite(kept.ticks)
        and isinstance(kept.session, str)
        and (kept.tries == 0 or utc_moment(kept.at) is not None)
    )
    if not sound:
        raise ValueError(person)
    return kept


def write(site: Site, kept: dict[str, Kept]) -> None:
    """Replace the file. It is on the disk when this returns."""
    path = path_of(site)
    held = {
        "format": FORMAT,
        "station": site.journal.station,
        "people": {person: asdict(row) for person, row in sorted(kept.items())},
    }
    made = path.with_name(f"{path.name}.new")
    try:
        with suppress(FileNotFoundError):
            made.unlink()
        # Made for its owner alone from the first moment, not narrowed afterwards.
        handle = os.open(made, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(json.dumps(held, indent=1, sort_keys=True, allow_nan=False).encode())
            file.flush()
            os.fsync(file.fileno())
        made.replace(path)
    except OSError as fault:
        raise _unusable(path, f"cannot be written ({fault.strerror})") from None
    sync_folder(path.parent)


@contextmanager
def alone(site: Site) -> Iterator[dict[str, Kept]]:
    """What is kept, while no other program reads it to change it. Whoever changes it writes it."""
    path = path_of(site)
    handle = -1
    try:
        handle = os.open(path.with_name(f"{path.name}.lock"), os.O_RDWR | os.O_CREAT, 0o600)
        _lock(handle)
    except OSError as fault:
        if handle >= 0:
            os.close(handle)
        raise _unusable(path, f"cannot be locked ({fault.strerror})") from None
    try:
        yield read(site)
    finally:
        os.close(handle)  # which also lets go of the lock


def _lock(handle: int) -> None:
    """Wait until no other program holds the lock."""
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(handle, msvcrt.LK_LOCK, 1)
    else:
        import fcntl

        fcntl.flock(handle, fcntl.LOCK_EX)


def _unusable(path: Path, why: str) -> Trouble:
    return Trouble(
        f"the file of PINs {why}",
        where=str(path),
        do="Nothing that needs a PIN is done meanwhile. If it stays so, move the file away; a lead sets PINs anew.",
    )
