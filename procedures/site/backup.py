"""Backing a site up while it is in use, and beginning anew from a backup.

The records are one file. Files attached to them, where there are any, go into a folder beside it, named like it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from procedures.clock import Clock
from procedures.journal import copies
from procedures.journal.files import put_in_place
from procedures.site import attachments, verification
from procedures.site.opening import JOURNAL
from procedures.site.views import Mark
from procedures.trouble import Trouble


@dataclass(frozen=True, slots=True)
class Kept:
    """A copy that was made and looked through. `heads` gives the sequence and hash of the last event of each chain.

    `attached` counts the attached files that were copied; `unsound` are the hashes of those that were left out, because
    they are not what was attached any more. `damaged` says where lists drawn from the records, which are copied as they
    are, differ from them.
    """

    path: Path
    marking: str
    events: int
    heads: Mapping[str, tuple[int, str]]
    attached: int = 0
    unsound: tuple[str, ...] = ()
    damaged: tuple[str, ...] = ()


def attached_beside(file: Path) -> Path:
    """The folder with the attached files that belong to a backup."""
    return file.with_name(f"{file.name}.{attachments.FOLDER}")


def backup(folder: Path, target: Path, marking: Mark = "real") -> Kept:
    """Copy the records in this folder into the new file `target`; whoever works on goes on working.

    Attached files go into `attached_beside(target)`.

    Raises Trouble when there are no records, `target` is there already, the disk is full, or the records not sound.
    """
    path = folder / JOURNAL[marking]
    if not path.exists():
        raise Trouble("there is no site here", where=str(folder), do="Name the folder of the site with --data.")
    made = copies.back_up(path, target)
    damaged = verification.damaged_lists(target)
    try:
        attached, unsound = attachments.copy_all(folder / attachments.FOLDER, attached_beside(target))
    except Trouble as trouble:
        # The records matter more than the papers: their copy is sound, and stays.
        raise Trouble(
            f"the records are backed up in {target}, but {trouble.what}", where=trouble.where, do=trouble.do
        ) from None
    return Kept(target, made.marking, made.events, made.heads, attached, unsound, damaged)


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
        attached, unsound = attachments.copy_all(attached_beside(file), folder / attachments.FOLDER)
        final = folder / JOURNAL[made.marking]
        put_in_place(part, final)
    finally:
        copies.remove(part)
    return Kept(final, made.marking, made.events, made.heads, attached, unsound)
