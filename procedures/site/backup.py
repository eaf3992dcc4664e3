"""Backing a site up while it is in use, and beginning anew from a backup."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from procedures.clock import Clock
from procedures.journal import copies
from procedures.journal.files import put_in_place
from procedures.site.opening import JOURNAL
from procedures.site.views import Mark
from procedures.trouble import Trouble


@dataclass(frozen=True, slots=True)
class Kept:
    """A copy that was made and looked through. `heads` gives the sequence and hash of the last event of each chain."""

    path: Path
    marking: str
    events: int
    heads: Mapping[str, tuple[int, str]]


def backup(folder: Path, target: Path, marking: Mark = "real") -> Kept:
    """Copy the records in this folder into the new file `target`; whoever works on goes on working.

    Raises Trouble when there are no records, `target` is there already, the disk is full, or the records not sound.
    """
    path = folder / JOURNAL[marking]
    if not path.exists():
        raise Trouble("there is no site here", where=str(folder), do="Name the folder of the site with --data.")
    made = copies.back_up(path, target)
    return Kept(target, made.marking, made.events, made.heads)


def restore(file: Path, folder: Path, clock: Clock, *, station: str, name: str) -> Kept:
    """Begin in an empty `folder` with the records of a backup, as a new station that goes on from its head.

    The laptop that was backed up may go on too: both are stations of one site, and what each recorded since comes
    together by exchange. `station` is a random id from outside. Raises Trouble when the folder holds records already or
    the backup is not sound; then nothing is left behind.
    """
    if not name.strip():
        raise Trouble("the laptop has no name", where="--name", allowed="a few words", do="Give it a name people know.")
    if any((folder / each).exists() for each in JOURNAL.values()):
        raise Trouble(
            "there are records in this folder already; nothing is ever written over them",
            where=str(folder),
            allowed="a folder without records",
            do="Name another folder.",
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise Trouble(
            f"The folder cannot be made ({fault.strerror}).", where=str(folder), do="Name a folder you may write to."
        ) from None
    part = folder / f"restoring-{station}.part"
    try:
        made = copies.begin_from(file, part, station=station, name=name, now=clock.now())
        final = folder / JOURNAL[made.marking]
        put_in_place(part, final)
    finally:
        copies.remove(part)
    return Kept(final, made.marking, made.events, made.heads)
