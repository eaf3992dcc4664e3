"""Whole copies of a journal: a backup while it is in use, and a new station begun from one.

A copy is made page by page by SQLite itself, from one state of the file, and is looked through event by event before it
gets its name: a backup that nobody ever read is a hope.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Mapping
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from procedures.clock import Instant
from procedures.journal import files, log, verify, verify_chains
from procedures.journal.store import MARKED, Journal
from procedures.trouble import Trouble

_ENDS: Final = ("", "-wal", "-shm", "-journal")


@dataclass(frozen=True, slots=True)
class Copied:
    """A copy that was made and looked through: its marking, how many events it holds, and the head of each chain."""

    path: Path
    marking: str
    events: int
    heads: Mapping[str, tuple[int, str]]


def back_up(path: Path, target: Path) -> Copied:
    """Copy the journal, in use or not, into the new file `target`.

    Raises Trouble when there is a file already, the disk is full, or the journal itself is not sound.
    """
    _is_free(target)
    part = target.with_name(f"{target.name}.part")
    try:
        copied = _copy(path, part)
        files.put_in_place(part, target)
    finally:
        remove(part)
    return Copied(target, copied.marking, copied.events, copied.heads)


def begin_from(backup: Path, part: Path, *, station: str, name: str, now: Instant) -> Copied:
    """Copy a backup to `part`, which goes on from its head as a new station. The backup is not touched.

    Whoever calls this gives `part` its name, and removes it whatever happens. Raises Trouble when the backup is no
    journal of this program, or not sound.
    """
    copied = _copy(backup, part)
    if copied.marking not in MARKED:
        raise Trouble("This backup has no marking that is known here.", where=str(backup), do="Update this program.")
    marking = next(each for each in ("real", "practice", "demo") if each == copied.marking)
    with Journal.fork(part, station=station, name=name, now=now, marking=marking) as journal:
        # A backup copies the lists drawn from the events as they are, damaged ones too: these are made anew.
        journal.rebuild()
        return Copied(part, copied.marking, journal.count(), journal.heads())


def remove(path: Path) -> None:
    """Remove a copy that did not get its name, and what SQLite keeps beside it."""
    for end in _ENDS:
        with suppress(OSError):
            path.with_name(path.name + end).unlink()


def _copy(path: Path, part: Path) -> Copied:
    files.look_at(path, writing=False)
    remove(part)
    try:
        part.touch(exist_ok=False)
    except OSError as fault:
        raise Trouble(
            f"The copy cannot be written ({fault.strerror}).",
            where=str(part.parent),
            do="Name a folder you may write to.",
        ) from None
    with files.in_words(path, unproved=True):
        # Checked first: another database must not be copied, however well that would go.
        with verify.reading(path) as db:
            marking = verify.marking_of(db)
        source = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None)
    with closing(source), closing(files.connect(part)) as target, files.in_words(part):
        source.backup(target)
        # One file by itself: nothing beside it that could be left behind when it is carried away.
        target.execute("PRAGMA journal_mode = DELETE")
    with suppress(OSError), part.open("rb") as whole:
        os.fsync(whole.fileno())
    with verify.reading(part) as db:
        faults = verify.faults_of_file(db)
        looked = verify_chains.look_through(db)
        heads = log.heads(db)
    if faults or looked.changed:
        raise Trouble(
            "The records are not sound: no copy of them was kept.",
            where=str(path),
            do="Run “checklist-tui verify”, keep every older backup, and tell the site lead.",
        )
    names = log.names(heads)
    return Copied(part, marking, looked.events, {names[head.chain]: (head.seq, head.hash) for head in heads})


def _is_free(target: Path) -> None:
    try:
        taken = target.exists()
    except OSError:
        taken = False
    if taken:
        raise Trouble(
            "There is a file here already; nothing is ever written over it.",
            where=str(target),
            do="Choose another name, such as one with the date.",
        )
