"""Writing a sheet or a listing as a file for people (HTML) or programs (CSV, JSON).

What is written is of one moment: it is made again when something was recorded meanwhile, so the heads that stand on it
vouch for all of it. A file gets its name only when it is whole, and never over another one unless that is asked for.
"""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import count
from pathlib import Path
from typing import IO, TYPE_CHECKING, Final, Literal, Protocol

from procedures.journal.files import put_in_place, sync_folder
from procedures.readiness import zone_of
from procedures.reports.printed import Head, Printed
from procedures.sheets import Filter, Listing, Query, Row, Sheet
from procedures.site import records
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.opening import Site

FileKind = Literal["html", "csv", "json"]

FOLDER: Final = "reports"
PAGE: Final = 1000
"""Rows that are asked for at a time."""
TRIES: Final = 5
_ID: Final = re.compile(r"[0-9a-f]{64}")


def write(
    site: Site,
    name: str,
    about: str = "",
    *,
    goes: str = "sheet",
    kind: FileKind = "html",
    person: str = "",
    query: Query | None = None,
    path: Path | None = None,
    overwrite: bool = False,
) -> Path:
    """Write the sheet or listing (`goes`) of this name, and say where it is.

    Without a `path` it goes to the folder "reports" of the site, under a name of its own. Of a listing, all rows that
    fit the search and filters of the `query` are written, whatever its page. Raises Trouble when the file is there
    already and may not be written over, cannot be written, or the report cannot be made.
    """
    report = _Report(site, name, about, goes, kind, person, query or Query())
    if path is not None:
        _may_write(path, overwrite=overwrite)
        return _put(report, path, overwrite=overwrite)
    folder = site.folder / FOLDER
    try:
        folder.mkdir(exist_ok=True)
    except OSError as fault:
        raise _not_written(fault, folder) from None
    stem = _stem(site, name, about)
    for number in count(1):
        target = folder / f"{stem}{f'-{number}' if number > 1 else ''}.{kind}"
        if not target.exists():
            with suppress(_Taken):
                return _put(report, target, overwrite=False)
    raise AssertionError("counting ends before there is a free name")


def copy(
    site: Site,
    name: str,
    about: str,
    out: Callable[[bytes], object],
    *,
    goes: str = "sheet",
    kind: FileKind = "html",
    person: str = "",
    query: Query | None = None,
) -> None:
    """Give the same, UTF-8, to `out` in blocks: nothing of it before it is whole. Raises Trouble as `write` does."""
    with tempfile.TemporaryFile() as spool:
        try:
            _make(_Report(site, name, about, goes, kind, person, query or Query()), spool)
            spool.seek(0)
        except OSError as fault:
            raise _not_written(fault, Path(tempfile.gettempdir())) from None
        while block := spool.read(1 << 16):
            out(block)


def printed(site: Site) -> Printed:
    """What stands on a report that is made now."""
    zone = site.settings()["zone"]
    station = site.journal.station
    heads = [Head(chain, seq, hashed) for chain, (seq, hashed) in site.journal.heads().items()]
    return Printed(
        site=site.settings()["name"],
        station=station,
        station_name=site.journal.stations().get(station, ""),
        marking=site.marking,
        made=site.clock.now().utc.astimezone(zone_of(zone)),
        zone=zone,
        heads=tuple(sorted(heads, key=lambda head: head.station.partition("#")[0] != station)),
    )


# --- making --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Report:
    """What is asked for."""

    site: Site
    name: str
    about: str
    goes: str
    kind: FileKind
    person: str
    query: Query


def _make(report: _Report, file: IO[bytes]) -> None:
    """Write the report into an open file, again and again until nothing was recorded meanwhile."""
    for _ in range(TRIES):
        now = printed(report.site)
        file.seek(0)
        file.truncate()
        for piece in _pieces(report, now):
            file.write(piece.encode())
        file.flush()
        if printed(report.site).heads == now.heads:
            return
    raise Trouble(
        "something was recorded again and again while the report was made",
        do="Make it again when nobody works on this laptop. Nothing was lost.",
    )


def _pieces(report: _Report, now: Printed) -> Iterator[str]:
    from procedures.reports import html, objects, tables

    if report.goes != "listing":
        sheet = _made(report.site).sheet(report.site, report.name, report.about, report.person)
        makers = {"html": html.sheet_pieces, "csv": tables.sheet_csv, "json": objects.sheet_json}
        yield from makers[report.kind](sheet, now)
        return
    first = _page(report, 0)
    narrowed = _narrowed(first, report.query)
    rows = _rows(report, first)
    if report.kind == "html":
        yield from html.listing_pieces(first, rows, now, [f"Only {say}." for say in narrowed.values()])
    elif report.kind == "csv":
        yield from tables.listing_csv(first, rows, now)
    else:
        yield from objects.listing_json(first, rows, now, {**report.query.filters, **_search(report.query)})


class _Makers(Protocol):
    """Where sheets and listings come from."""

    def sheet(self, site: Site, name: str, about: str, person: str) -> Sheet: ...
    def listing(self, site: Site, name: str, about: str, person: str, query: Query) -> Listing: ...


def _made(site: Site) -> _Makers:
    """Those of practice are its own."""
    if site.marking != "practice":
        return records
    from procedures.site.practising import records as of_practice

    return of_practice


def _page(report: _Report, offset: int) -> Listing:
    query = replace(report.query, limit=PAGE, offset=offset)
    return _made(report.site).listing(report.site, report.name, report.about, report.person, query)


def _rows(report: _Report, page: Listing) -> Iterator[Row]:
    """The rows of all pages, one page in memory at a time."""
    given = 0
    while page.rows:
        yield from page.rows
        given += len(page.rows)
        if given >= page.total:
            return
        page = _page(report, given)


def _search(query: Query) -> Mapping[str, str]:
    return {"search": query.search} if query.search else {}


def _narrowed(listing: Listing, query: Query) -> dict[str, str]:
    """What a listing is narrowed by, in words, by id. Raises Trouble for a filter that it has not."""
    known = {each.id: each for each in listing.filters}
    said = {}
    for filter_id, value in query.filters.items():
        if filter_id not in known:
            raise Trouble(
                f"{listing.name} cannot be narrowed by {filter_id[:40]!r}",
                allowed=", ".join(f"{each.id} ({each.say})" for each in listing.filters) or "no filter",
                do="Leave it out, or use another one.",
            )
        said[filter_id] = f"{known[filter_id].say}: {_in_words(known[filter_id], value)}"
    return said | {each: f"what fits the search “{text}”" for each, text in _search(query).items()}


def _in_words(narrows: Filter, value: str) -> str:
    if not narrows.options:
        return value
    for option in narrows.options:
        if option.value == value:
            return option.say
    raise Trouble(
        f"{value[:40]!r} is none of the choices of {narrows.id}",
        allowed=", ".join(option.value for option in narrows.options),
        do="Choose one of them.",
    )


# --- the file ------------------------------------------------------------------------------------------------------


class _Taken(Trouble):
    """A file of this name came into being meanwhile."""


def _put(report: _Report, target: Path, *, overwrite: bool) -> Path:
    part = target.with_name(f".report-{os.getpid()}.part")
    try:
        part.unlink(missing_ok=True)
        with part.open("xb") as file:
            _make(report, file)
            os.fsync(file.fileno())
        if overwrite:
            os.replace(part, target)
            sync_folder(target.parent)
        else:
            _name(part, target)
    except OSError as fault:
        raise _not_written(fault, target) from None
    finally:
        with suppress(OSError):
            part.unlink()
    return target


def _name(part: Path, target: Path) -> None:
    try:
        put_in_place(part, target)
    except Trouble as trouble:
        raise _Taken(trouble.what, where=trouble.where, do=trouble.do) from None


def _may_write(path: Path, *, overwrite: bool) -> None:
    """Raises Trouble for a path that is no place for a new file."""
    if "\0" in str(path):
        raise Trouble("this is no name of a file", where=repr(str(path))[:60], do="Name a file.")
    try:
        if path.is_dir():
            raise Trouble("this is a folder", where=str(path), allowed="a file", do="Name a file in it.")
        there = path.exists() or path.is_symlink()
        writable = overwrite and path.is_file() and path.suffix in (".html", ".csv", ".json")
    except OSError as fault:
        raise _not_written(fault, path) from None
    if there and not writable:
        raise Trouble(
            "there is a file here already; nothing is ever written over it",
            where=str(path),
            do="Choose another name, such as one with the date.",
        )


def _not_written(fault: OSError, path: Path) -> Trouble:
    return Trouble(
        f"the report cannot be written ({fault.strerror or fault})",
        where=str(path),
        allowed="a new file in a folder that you may write to",
        do="Name another place, or make room there. The records are not touched.",
    )


def _stem(site: Site, name: str, about: str) -> str:
    """The name of a file: what it is, of what, and when; a demo's or practice says so."""
    parts: list[str] = ["" if site.marking == "real" else site.marking, name]
    for each in about.split(","):
        label = str(site.journal.thing_now(each).fields.get("label", "")) if _ID.fullmatch(each) else each
        parts.append(label or each[:8])
    zone = zone_of(site.settings()["zone"])
    parts.append(f"{site.clock.now().utc.astimezone(zone):%Y-%m-%d-%H%M%S}")
    plain = (re.sub(r"[^A-Za-z0-9]+", "-", part)[:32].strip("-") for part in parts)
    return "-".join(part for part in plain if part)
