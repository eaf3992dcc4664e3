"""The exchange file: the records of one laptop on their way to another, on a stick or by any other carrier.

One line of JSON, the header; then the bytes of one event a line, as they were written (the one encoding has no line
ends in it). The header's SHA-256 is over all event lines and over the header itself without it, so that a file that was
cut short or changed anywhere is refused before anything of it is taken. The hashes of the events are made from their
bytes by whoever takes them.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any, BinaryIO, Final

from procedures.journal.envelope import digest, encode
from procedures.journal.fields import is_hash, is_station
from procedures.journal.files import sync_folder
from procedures.journal.moments import utc_moment, utc_text
from procedures.trouble import Trouble

FORMAT: Final = "checklist-tui exchange"
VERSION: Final = 1
LONGEST_HEADER: Final = 4_000_000
BATCH: Final = 5_000
"""Events that are taken at once: a whole journal need not fit into memory."""

_BEGINS: Final = b'{"count":'
"""How every header begins: its keys are sorted."""

Milestones = Mapping[str, tuple[tuple[int, str], ...]]
"""For each chain its head, then events further and further back: enough to find the newest that another one has too."""


@dataclass(frozen=True, slots=True)
class Header:
    """What the first line says. `station` wrote it; `whole`: nothing was left out; `count`: event lines that follow."""

    site: str
    site_name: str
    marking: str
    station: str
    station_name: str
    written: datetime
    milestones: Milestones
    whole: bool
    count: int = 0
    sha256: str = ""

    @property
    def heads(self) -> Mapping[str, tuple[int, str]]:
        """The last event of every chain that the writer had."""
        return {name: marks[0] for name, marks in self.milestones.items()}


def write(path: Path, header: Header, raws: Iterable[bytes]) -> Header:
    """Write the file, or leave what was there: a whole exchange file of the same site is replaced, nothing else is.

    Returns the header as written. Raises Trouble when the file cannot be written.
    """
    _may_replace(path, header)
    part = path.with_name(f"{path.name}.part")
    body = path.with_name(f"{path.name}.body.part")
    try:
        # The header comes first and counts what follows, so the lines wait in a file of their own.
        with body.open("wb") as lines:
            made = hashlib.sha256()
            count = 0
            for raw in raws:
                line = raw + b"\n"
                made.update(line)
                lines.write(line)
                count += 1
        header = replace(header, count=count, sha256="")
        made.update(_line(header))
        header = replace(header, sha256=made.hexdigest())
        with part.open("wb") as whole, body.open("rb") as lines:
            whole.write(_line(header))
            while block := lines.read(1 << 20):
                whole.write(block)
            whole.flush()
            os.fsync(whole.fileno())
        check(part)
        os.replace(part, path)
        sync_folder(path.parent)
    except OSError as fault:
        raise Trouble(
            f"The exchange file cannot be written ({fault.strerror or fault}).",
            where=str(path),
            do="Make room, or name another place. Nothing of the site's records was changed.",
        ) from fault
    finally:
        for left in (part, body):
            with suppress(OSError):
                left.unlink()
    return header


def check(path: Path) -> Header:
    """Look at the whole file. Raises Trouble unless every byte is as it was written and every event line is there."""
    with _opened(path) as file:
        header, made = _header(file, path), hashlib.sha256()
        count = 0
        for line in _lines(file, path):
            made.update(line)
            count += 1
        _is_as_written(path, header, count, made)
    return header


def events_in(path: Path, header: Header) -> Iterator[list[bytes]]:
    """The bytes of the events, some at a time. Raises Trouble at the end when it is not the file that was checked."""
    with _opened(path) as file:
        again, made = _header(file, path), hashlib.sha256()
        count, batch = 0, []
        for line in _lines(file, path):
            made.update(line)
            count += 1
            batch.append(line[:-1])
            if len(batch) == BATCH:
                yield batch
                batch = []
        if again != header:
            raise _damaged(path, "it was exchanged for another file while it was read")
        _is_as_written(path, header, count, made)
    yield batch


def is_of_site(raw: bytes, site: str) -> bool:
    """Whether this event does not begin another site than the one with this id."""
    return b'"kind":"site-begun"' not in raw or json.loads(raw).get("kind") != "site-begun" or digest(raw) == site


def _is_as_written(path: Path, header: Header, count: int, made: Any) -> None:
    if count < header.count:
        raise _damaged(path, f"it is cut short: {count} of its {header.count} records are there")
    made.update(_line(replace(header, sha256="")))
    if count != header.count or made.hexdigest() != header.sha256:
        raise _damaged(path, "its checksum does not fit")


def _may_replace(path: Path, header: Header) -> None:
    if path.is_dir():
        raise Trouble("This is a folder.", where=str(path), do="Name a file inside it.")
    if not path.exists():
        return
    other = Trouble(
        "There is another file here already.",
        where=str(path),
        allowed="a new name, or an older exchange file of the same site",
        do="Choose another name.",
    )
    if not path.is_file():
        raise other
    try:
        with path.open("rb") as file:
            before = _header(file, path)
    except (OSError, Trouble):
        raise other from None
    if (before.site, before.marking) != (header.site, header.marking):
        raise other


def _line(header: Header) -> bytes:
    fields = {
        "format": FORMAT,
        "version": VERSION,
        "site": header.site,
        "site_name": header.site_name,
        "marking": header.marking,
        "station": header.station,
        "station_name": header.station_name,
        "written": utc_text(header.written),
        "heads": {name: [list(mark) for mark in marks] for name, marks in header.milestones.items()},
        "whole": header.whole,
        "count": header.count,
        "sha256": header.sha256,
    }
    return encode(fields) + b"\n"


def _opened(path: Path) -> BinaryIO:
    try:
        if path.is_dir():
            raise Trouble("This is a folder, not an exchange file.", where=str(path), do="Name the file inside it.")
        if path.exists() and not path.is_file():
            raise Trouble("This is a pipe or a device, not an exchange file.", where=str(path), do="Check the path.")
        return path.open("rb")
    except OSError as fault:
        raise Trouble(
            f"The exchange file cannot be read ({fault.strerror or fault}).",
            where=str(path),
            do="Check the path, and that the stick is plugged in.",
        ) from fault


def _lines(file: BinaryIO, path: Path) -> Iterator[bytes]:
    """Every further line with its end; a last one without its end is a file cut short."""
    try:
        for line in file:
            if not line.endswith(b"\n"):
                raise _damaged(path, "it is cut short in the middle of a record")
            yield line
    except OSError as fault:
        raise Trouble(
            f"The exchange file cannot be read to its end ({fault.strerror or fault}).",
            where=str(path),
            do="Plug the stick in again, or write the file once more on the other laptop.",
        ) from fault


def _header(file: BinaryIO, path: Path) -> Header:
    line = file.readline(LONGEST_HEADER)
    if not line:
        raise _damaged(path, "it is empty")
    try:
        fields = json.loads(line.decode("utf-8"))
    except (ValueError, RecursionError):
        fields = None
    if not isinstance(fields, dict) or fields.get("format") != FORMAT:
        if line.startswith(_BEGINS) or _BEGINS.startswith(line):
            raise _damaged(path, "its first line is cut short or damaged")
        raise Trouble(
            "This is no exchange file.",
            where=str(path),
            allowed="a file that “exchange out” wrote",
            do="Name the file that came from the other laptop.",
        )
    if type(fields.get("version")) is int and fields["version"] > VERSION:
        raise Trouble(
            "This exchange file was written by a newer program.",
            where=str(path),
            allowed=f"version {VERSION}",
            do="Update this program on this computer, then take the file in.",
        )
    header = _read(fields)
    if header is None or _line(header) != line:
        raise _damaged(path, "its first line is not as a laptop writes it")
    return header


def _read(fields: Mapping[str, Any]) -> Header | None:
    """The header that these fields say; None where they cannot be what `_line` wrote."""
    try:
        milestones = {
            name: tuple((mark[0], mark[1]) for mark in marks) for name, marks in fields["heads"].items() if marks
        }
        texts = [fields[key] for key in ("site_name", "marking", "station_name", "sha256")]
        good = (
            all(isinstance(text, str) for text in texts)
            and is_hash(fields["site"])
            and is_station(fields["station"])
            and type(fields["whole"]) is bool
            and type(fields["count"]) is int
            and fields["count"] >= 0
            and all(is_station(name.partition("#")[0]) for name in milestones)
            and all(type(seq) is int and is_hash(hashed) for marks in milestones.values() for seq, hashed in marks)
        )
        if not good:
            return None
        return Header(
            site=fields["site"],
            site_name=fields["site_name"],
            marking=fields["marking"],
            station=fields["station"],
            station_name=fields["station_name"],
            written=utc_moment(fields["written"]),
            milestones=milestones,
            whole=fields["whole"],
            count=fields["count"],
            sha256=fields["sha256"],
        )
    except (LookupError, TypeError, ValueError, AttributeError):
        return None


def _damaged(path: Path, what: str) -> Trouble:
    return Trouble(
        f"This exchange file is damaged: {what}. Nothing of it was taken.",
        where=str(path),
        do="Write it once more on the other laptop, and let the stick finish before it is pulled out.",
    )
