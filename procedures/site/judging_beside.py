"""Judging again in processes beside this one, while it looks through chains and tables.

Nothing is risked for speed. The others judge by the index that lies in the file, which nobody has looked at yet: what
they say counts only when that index turns out to be the one that the events make. They look at no event past the last
that this process sees, so that whatever is recorded meanwhile changes nothing. What they do not answer, for whatever
reason, is judged here.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sqlite3
import sys
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Final

from procedures.journal import verify
from procedures.site.judged_again import Again, Judge, Occasion, Outcome, every_version, occasions

FEW: Final = 20_000
"""So many events are judged in the time that another process takes to start."""

MOST_PROCESSES: Final = 60
"""Windows waits for no more than 63 things at once (`concurrent.futures` takes up to 61 processes there)."""

_SLICE: Final = 60
"""Checkouts that are judged in one go: some tenths of a second."""

Slice = tuple[Occasion, ...]


def to_spare() -> int:
    """How many processes may judge beside this one: it keeps a processor of its own."""
    return min(max(1, (os.cpu_count() or 1) - 1), MOST_PROCESSES)


@dataclass(frozen=True, slots=True)
class View:
    """As far as this process sees a journal: its last event, by number and hash."""

    path: Path
    last: int
    hash: bytes


def view_of(db: sqlite3.Connection, path: Path) -> View | None:
    """As far as this connection sees; None for a journal without events."""
    row = db.execute("SELECT id, hash FROM kept.events ORDER BY id DESC LIMIT 1").fetchone()
    return None if row is None else View(path, *row)


def judge_slice(view: View, wanted: Slice) -> Outcome | None:
    """Judge these by the file's own index, all of them as they stood at the last event of the view.

    None when that is not possible: the process that asked then does it itself, and tells what is wrong.
    """
    try:
        with verify.reading(view.path) as db:
            # A number could have gone to another event in a file that was exchanged for this one.
            last = db.execute("SELECT hash FROM kept.events WHERE id = ?", (view.last,)).fetchone()
            if last != (view.hash,):
                return None
            # A table is looked for among these first, so every question that is asked sees no more than this.
            for name in ("about", "happenings"):
                db.execute(f"CREATE TEMP VIEW {name} AS SELECT * FROM kept.{name} WHERE event <= {int(view.last)}")
            return Again(db, _judges()).outcome(wanted)
    except Exception:
        return None


@cache
def _judges() -> Mapping[str, Judge]:
    """One for the life of a process: profiles are compiled once."""
    return every_version()


@dataclass(slots=True)
class Beside:
    """What is being judged beside this process: slices of the whole list, and who does them."""

    asked: list[tuple[Slice, Future[Outcome | None]]] = field(default_factory=list)

    def outcome(self, here: Callable[[Sequence[Occasion]], Outcome]) -> Outcome:
        """The outcome of the whole list, in its order. Whatever was not begun or not answered is judged `here`."""
        done: dict[int, Outcome] = {}
        for number in reversed(range(len(self.asked))):
            wanted, future = self.asked[number]
            if future.cancel():
                # What cannot be judged is told below, where everything comes in its order.
                with suppress(Exception):
                    done[number] = here(wanted)
        whole = Outcome()
        for number, (wanted, future) in enumerate(self.asked):
            whole += done.get(number) or _answer(future) or here(wanted)
        return whole


def _answer(future: Future[Outcome | None]) -> Outcome | None:
    """What the other process says; None when it says nothing, or is no more."""
    if future.cancelled():
        return None
    try:
        return future.result()
    except Exception:
        return None


@contextmanager
def beside(db: sqlite3.Connection, path: Path, processes: int) -> Iterator[Beside | None]:
    """Begin to judge every checkout that the file's index lists, in so many processes.

    None where that gains nothing or cannot be done: in a small journal, without processes, in a program that was packed
    into one file (it cannot be started as an interpreter), in a process that was itself started for this.
    """
    with ExitStack() as stack:
        begun = None
        # A system without semaphores has no such processes, a full one starts none, and a damaged index lists nothing.
        with suppress(OSError, ImportError, RuntimeError, ValueError, TypeError, sqlite3.Error):
            if processes > 0 and _can_start():
                begun = _begun(stack, db, path, processes)
        yield begun


def _begun(stack: ExitStack, db: sqlite3.Connection, path: Path, processes: int) -> Beside | None:
    """Slices given to processes that end with the `stack`."""
    view = view_of(db, path)
    if view is None or view.last <= FEW:
        return None
    spawning = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(min(processes, MOST_PROCESSES), spawning, initializer=_begin)
    stack.callback(pool.shutdown, wait=True, cancel_futures=True)
    listed = list(occasions(db))
    slices = [tuple(listed[first : first + _SLICE]) for first in range(0, len(listed), _SLICE)]
    return Beside([(wanted, pool.submit(judge_slice, view, wanted)) for wanted in slices])


def _can_start() -> bool:
    frozen = getattr(sys, "frozen", False)
    return bool(sys.executable) and not frozen and multiprocessing.parent_process() is None


def _begin() -> None:
    """The first thing in another process: Ctrl-C is for the one that asked, and this one ends with it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.join,), daemon=True).start()


def _end_with(wait: Callable[[], None]) -> None:
    wait()
    os._exit(1)
