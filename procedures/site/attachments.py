"""Files that belong to a record, such as a calibration certificate: copied beside the journal and named by their hash.

The journal holds name, SHA-256 and size. Whether the file kept is still the one that was attached is looked at whenever
it is shown. It stays on the laptop where it was attached: records are exchanged, files are not.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import stat
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Final

from procedures.journal.fields import is_hash
from procedures.site.opening import Site
from procedures.trouble import Trouble
from procedures.units import shown

FOLDER: Final = "attachments"
MOST_BYTES: Final = 20_000_000
"""A scanned certificate has a few million. What is kept here is kept for years, and backed up each time."""

_CHUNK: Final = 1 << 20
_LONGEST_PATH: Final = 1000
_LONGEST_NAME: Final = 120


@dataclass(frozen=True, slots=True)
class Attached:
    """What a record says of its file. `name` is what the file was called, for people only."""

    name: str
    sha256: str
    bytes: int

    def to_json(self) -> dict[str, Any]:
        return {"name": self.name, "sha256": self.sha256, "bytes": self.bytes}

    def __str__(self) -> str:
        return f"{self.name}, {self.bytes:,} bytes, SHA-256 {self.sha256[:12]}…"


def from_json(said: object) -> Attached | None:
    """What a record says, None for nothing, or for something that names no file that could be kept here."""
    if not isinstance(said, Mapping) or not is_hash(said.get("sha256")):
        return None
    size = said.get("bytes")
    return Attached(shown(str(said.get("name", "")), _LONGEST_NAME), said["sha256"], size if type(size) is int else 0)


def look_at(path_text: str) -> Attached:
    """What the file at this path is, as it would be attached. Nothing is kept. Raises Trouble when it cannot be."""
    with _opened(path_text) as (file, path):
        digest, size = hashlib.sha256(), 0
        for part in _parts(file, path):
            digest.update(part)
            size += len(part)
    return _said(path, digest.hexdigest(), size)


def keep(site: Site, path_text: str) -> Attached:
    """Copy the file at this path into the site's folder, under its hash; it is on the disk when this returns.

    A file that is kept already is kept once. Raises Trouble when it cannot be read, is none, empty, larger than
    MOST_BYTES, or the copy cannot be written.
    """
    folder = site.folder / FOLDER
    with _opened(path_text) as (file, path):
        digest, size = hashlib.sha256(), 0
        part_file = folder / f"{os.getpid()}.part"
        try:
            folder.mkdir(exist_ok=True)
            with part_file.open("wb") as copy:
                for part in _parts(file, path):
                    digest.update(part)
                    size += len(part)
                    copy.write(part)
                copy.flush()
                os.fsync(copy.fileno())
            made = _said(path, digest.hexdigest(), size)
            part_file.replace(folder / made.sha256)
        except OSError as fault:
            raise Trouble(
                f"the file cannot be kept here ({fault.strerror})",
                where=str(folder),
                allowed="a folder that can be written to, on a disk with room",
                do="Make room, then attach it again. Nothing was recorded.",
            ) from None
        finally:
            with suppress(OSError):
                part_file.unlink()
    return made


def why_not_sound(folder: Path, attached: Attached) -> str:
    """Why the file kept in a site's `folder` is not the one that was attached, in words; "" when it is."""
    path = folder / FOLDER / attached.sha256
    if not path.exists():
        return "it is not on this laptop: it stays where it was attached"
    try:
        found = hash_of(path)
    except OSError as fault:
        return f"it cannot be read ({fault.strerror})"
    return "" if found == attached.sha256 else "it was changed since it was attached: do not rely on it"


def hash_of(path: Path) -> str:
    """SHA-256 of a file that is kept, in hexadecimal. OSError when it cannot be read."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def copy_all(source: Path, target: Path) -> tuple[int, tuple[str, ...]]:
    """Copy every kept file from one folder into another; how many are there, and the hashes of those left out.

    A file that is no longer what its name says is left out: its copy would be taken for sound. Raises Trouble when a
    copy cannot be written; what was written by then is removed.
    """
    names = sorted(each.name for each in source.iterdir() if is_hash(each.name)) if source.is_dir() else []
    unsound: list[str] = []
    made: list[Path] = []
    try:
        for name in names:
            target.mkdir(parents=True, exist_ok=True)
            new = target / name
            if new.exists() and hash_of(new) == name:
                continue
            part = target / f"{name}.part"
            made.append(part)
            shutil.copyfile(source / name, part)
            if hash_of(part) != name:
                part.unlink()
                unsound.append(name)
                continue
            part.replace(new)
            made.append(new)
    except OSError as fault:
        for each in made:
            with suppress(OSError):
                each.unlink(missing_ok=True)
        with suppress(OSError):
            target.rmdir()
        raise Trouble(
            f"the attached files cannot be copied ({fault.strerror})",
            where=str(target),
            allowed="a folder that can be written to, on a disk with room",
            do="Make room, or name another folder.",
        ) from None
    return len(names) - len(unsound), tuple(unsound)


@contextmanager
def _opened(path_text: str) -> Iterator[tuple[IO[bytes], Path]]:
    path = _path(path_text)
    file = None
    try:
        # Not blocking: a pipe that somebody names must not hold the screen.
        number = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        file = os.fdopen(number, "rb")
        kind = os.fstat(number)
        if not stat.S_ISREG(kind.st_mode):
            raise Trouble("this is no file", where=shown(str(path), 200), allowed="a file", do="Name the certificate.")
        if kind.st_size > MOST_BYTES:
            raise _too_large(path)
    except (OSError, ValueError) as fault:
        if file is not None:
            file.close()
        said = getattr(fault, "strerror", None) or "that is no path"
        raise Trouble(
            f"there is no file here that can be read ({said})",
            where=shown(str(path), 200),
            allowed="the path of a file on this laptop",
            do="Look at the path again, or leave it empty and attach nothing.",
        ) from None
    except Trouble:
        if file is not None:
            file.close()
        raise
    with file:
        yield file, path


def _parts(file: IO[bytes], path: Path) -> Iterator[bytes]:
    """The file piece by piece. It may grow while it is read: the limit is held here too."""
    size = 0
    try:
        while part := file.read(_CHUNK):
            size += len(part)
            if size > MOST_BYTES:
                raise _too_large(path)
            yield part
    except OSError as fault:
        raise Trouble(
            f"the file cannot be read to its end ({fault.strerror})",
            where=shown(str(path), 200),
            do="Copy it to this laptop first.",
        ) from None


def _said(path: Path, digest: str, size: int) -> Attached:
    if size == 0:
        raise Trouble(
            "the file is empty", where=shown(str(path), 200), allowed="a file that holds something", do="Name another."
        )
    return Attached(shown(path.name, _LONGEST_NAME), digest, size)


def _path(text: str) -> Path:
    line = text.strip().strip("\"'").strip()
    if not line or len(line) > _LONGEST_PATH:
        raise Trouble(
            "no file is named" if not line else "this is too long for a path",
            allowed=f"a path of at most {_LONGEST_PATH} characters",
            do="Type where the file is.",
        )
    try:
        return Path(line).expanduser()
    except (RuntimeError, ValueError):
        return Path(line)


def _too_large(path: Path) -> Trouble:
    return Trouble(
        f"the file is larger than {MOST_BYTES // 1_000_000} million bytes",
        where=shown(str(path), 200),
        allowed=f"at most {MOST_BYTES // 1_000_000} million bytes",
        do="Scan the certificate with a lower resolution, or in grey.",
    )
