"""The journal's file: opening it safely, transactions, and words for what the disk or another program does to it.

WAL with `synchronous=FULL`: a commit that returned survives a kill and a power cut. WAL needs shared memory between the
programs that have the file open, so a journal never lies on a network share; that is not checked here, only said.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from procedures.journal import schema
from procedures.trouble import Trouble

MAGIC = b"SQLite format 3\0"
NO_ROOM = frozenset({"SQLITE_FULL", "SQLITE_IOERR_SHMSIZE", "SQLITE_IOERR_SHMMAP", "SQLITE_IOERR_SHMOPEN"})
"""What SQLite says on a full disk: the memory that programs share lies in a file, which grows as the journal opens
(sqlite.org/rescode.html; memory. Seen on a full disk: SQLITE_FULL and SQLITE_IOERR_SHMSIZE)."""
WAIT_SECONDS = 5.0
"""How long to wait while another program writes."""


def connect(path: Path, *, create: bool = False, wait: float = WAIT_SECONDS) -> sqlite3.Connection:
    """A connection that has changed nothing in the file yet. Raises Trouble, never sqlite3.Error."""
    mode = "rwc" if create else "rw"
    with in_words(path):
        return sqlite3.connect(f"{path.absolute().as_uri()}?mode={mode}", uri=True, isolation_level=None, timeout=wait)


def make_safe(db: sqlite3.Connection, path: Path) -> None:
    """Every pragma that the journal relies on, once it is known that the file is or will be a journal."""
    with in_words(path):
        mode = db.execute("PRAGMA journal_mode = WAL").fetchone()[0]
        for pragma in ("synchronous = FULL", "fullfsync = ON", "foreign_keys = ON", "recursive_triggers = ON"):
            db.execute(f"PRAGMA {pragma}")
    if mode != "wal":
        raise Trouble(
            "The journal cannot be kept safely on this disk.",
            where=str(path),
            allowed="a disk of this computer, not a network share",
            do="Move the journal to a folder on this computer.",
        )


def identity(path: Path) -> tuple[int, int]:
    """What tells this file from another one of the same name; (0, 0) when there is none."""
    try:
        seen = path.stat()
    except OSError:
        return (0, 0)
    return (seen.st_dev, seen.st_ino)


def still_there(path: Path, known: tuple[int, int]) -> None:
    """Raises Trouble when the file that is open was removed, or another one lies in its place.

    What is written into a removed file is lost with the program's end, however safely it was written.
    """
    if identity(path) != known:
        raise Trouble(
            "The journal was moved, removed or replaced while it was open. Nothing more is recorded.",
            where=str(path),
            do="Put the file back where it was, then start the program again. Look for whatever cleans or synchronises"
            " this folder.",
        )


def put_in_place(made: Path, path: Path) -> None:
    """Give a file that was made under another name, in the same folder, its own name; never over another file.

    Raises Trouble when there is a file of that name already.
    """
    try:
        os.link(made, path)
        made.unlink()
    except FileExistsError:
        raise _exists(path) from None
    except OSError:
        # A disk that knows no second names.
        if path.exists():
            raise _exists(path) from None
        made.rename(path)
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """The names in this folder are on the disk when this returns, where the system can do that."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _exists(path: Path) -> Trouble:
    return Trouble("There is a file here already.", where=str(path), do="Choose another name.")


class Damaged(Trouble):
    """The file was a journal once and can no longer be read as one."""


def look_at(path: Path, *, writing: bool = True) -> None:
    """Refuse, in words, what cannot be a journal, before SQLite touches it; unless `writing`, it may be read-only."""
    where = str(path)
    try:
        if path.is_dir():
            raise Trouble("This is a folder, not a journal file.", where=where, do="Name the file inside it.")
        if not path.exists():
            raise Trouble("There is no journal here.", where=where, do="Check the path, or begin a new site.")
        if not path.is_file():
            raise no_file(path)
        with path.open("rb") as file:
            start = file.read(100)
    except OSError as fault:
        raise _unreadable(path, fault) from fault
    if not start:
        raise Trouble("This file is empty.", where=where, do="Use the newest good copy of the journal.")
    if not start.startswith(MAGIC):
        raise Trouble("This file is not a journal.", where=where, allowed="a journal made by this program")
    if len(start) < 100:
        raise damaged(path)
    if writing and not _may_write(path):
        raise _read_only(path)


def _may_write(path: Path) -> bool:
    return os.access(path, os.R_OK | os.W_OK) and os.access(path.parent, os.W_OK | os.X_OK)


@contextmanager
def in_words(path: Path, *, unproved: bool = False) -> Iterator[None]:
    """Turn what SQLite says about the file into Trouble. In a file still `unproved`, any error is the file's."""
    try:
        yield
    except sqlite3.Error as fault:
        said = trouble(fault, path) or (damaged(path) if unproved else None)
        if said is None:
            raise
        raise said from fault
    except UnicodeDecodeError as fault:
        # A damaged name in the file's own table of contents, as SQLite's message quotes it.
        raise damaged(path) from fault


@contextmanager
def snapshot(db: sqlite3.Connection, path: Path) -> Iterator[None]:
    """Several questions answered from one state of the file, whatever others write meanwhile. Blocks nobody.

    Raises Trouble for a question about a text that no file can keep, such as half a character of a damaged scan.
    """
    with in_words(path):
        db.execute("BEGIN")
        try:
            yield
        except UnicodeEncodeError as fault:
            raise Trouble(
                "what was asked for holds half a character: nothing here is called so",
                allowed="a label, a name or words of whole characters",
                do="Scan or type it again.",
            ) from fault
        finally:
            db.execute("ROLLBACK")


@contextmanager
def snapshot_of_tables(db: sqlite3.Connection, path: Path) -> Iterator[None]:
    """A snapshot for reading the tables of screens, whose content no hash protects: what cannot be read is damage."""
    with snapshot(db, path):
        try:
            yield
        except UnicodeEncodeError:
            raise  # of the question, not of what is kept
        except (ValueError, TypeError, OverflowError) as fault:
            raise damaged(path) from fault


@contextmanager
def transaction(db: sqlite3.Connection, path: Path) -> Iterator[None]:
    """One write transaction: all of it is on the disk when this returns, or nothing of it ever was."""
    with in_words(path):
        db.execute("BEGIN IMMEDIATE")
        try:
            yield
            db.execute("COMMIT")
        except BaseException:
            if db.in_transaction:
                db.execute("ROLLBACK")
            raise


def trouble(fault: sqlite3.Error, path: Path) -> Trouble | None:
    """What a person can do about an error of SQLite; None where it is a fault of this program."""
    name = getattr(fault, "sqlite_errorname", None) or ""
    where = str(path)
    if name in NO_ROOM:
        return Trouble(
            "The disk is full. What you did last was not recorded.",
            where=where,
            do="Make room on the disk, then do it again. Nothing recorded before is lost.",
        )
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return Trouble(
            "Another program is holding the journal. What you did last was not recorded.",
            where=where,
            do="Close whatever else has this file open, then do it again.",
        )
    if name.startswith("SQLITE_NOTADB"):
        return Trouble("This file is not a journal.", where=where, allowed="a journal made by this program")
    # In a whole file nothing that this program writes breaks a constraint. Text that is no longer UTF-8 has no code.
    if name.startswith(("SQLITE_CORRUPT", "SQLITE_CONSTRAINT")) or (
        not name and isinstance(fault, sqlite3.OperationalError)
    ):
        return damaged(path)
    if name.startswith(("SQLITE_READONLY", "SQLITE_PERM", "SQLITE_AUTH")):
        return _read_only(path)
    if name.startswith("SQLITE_CANTOPEN"):
        return _unreadable(path, fault)
    if name.startswith("SQLITE_IOERR"):
        return Trouble(
            "The disk did not read or write the journal. What you did last was not recorded.",
            where=where,
            do="Check the disk and its cable, then do it again. Copy the journal to a good disk soon.",
        )
    return None


def no_file(path: Path) -> Trouble:
    """A pipe, a device or a socket has this name; reading it may wait for ever."""
    return Trouble(
        "This is a pipe or a device, not a journal file.",
        where=str(path),
        allowed="a file on a disk of this computer",
        do="Check the path.",
    )


def damaged(path: Path) -> Damaged:
    """The file was a journal once."""
    return Damaged(
        "The journal is damaged or cut short.",
        where=str(path),
        do="Keep this file as it is, tell the site lead, and go on with the newest good copy.",
    )


def newer(path: Path, found: int) -> Trouble:
    """The file was made by a later program."""
    return Trouble(
        f"The journal was made by a newer program (its tables have number {found}).",
        where=str(path),
        allowed=f"numbers up to {len(schema.MIGRATIONS)}",
        do="Update this program on this computer.",
    )


def _unreadable(path: Path, fault: Exception) -> Trouble:
    return Trouble(
        f"The journal cannot be opened ({fault}).",
        where=str(path),
        do="Check that the folder exists and that you may read and write in it.",
    )


def _read_only(path: Path) -> Trouble:
    return Trouble(
        "The journal cannot be written.",
        where=str(path),
        allowed="a file and a folder that you may write",
        do="Change their permissions or ask whoever looks after this computer.",
    )
