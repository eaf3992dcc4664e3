"""Bringing the records of several laptops together by a file, on a stick or by any other carrier.

A file holds what the other laptop has not seen; it is checked whole before anything of it is taken, may be taken again,
and files may be taken in any order. What refers to records that are missing waits. Whatever came of it is told: records
that wait, copies used side by side, labels that two things carry, profiles adopted apart.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from procedures.clock import Clock
from procedures.journal import exchange
from procedures.journal.arrivals import Taken
from procedures.journal.exchange import Header
from procedures.journal.files import put_in_place
from procedures.journal.moments import utc_moment, utc_text
from procedures.journal.store import MARKED, Journal
from procedures.site import naming, source_due
from procedures.site.exchange_age import GIVEN, TAKEN, Heard, LastExchange, exchange_age, last_exchange
from procedures.site.exchange_age import heard as stations_heard
from procedures.site.exchange_views import AdoptedApart, CallBack, Coming, Given, NewDoubt, Received, SharedLabel
from procedures.site.opening import JOURNAL, Site
from procedures.trouble import Trouble

__all__ = [
    "AdoptedApart",
    "CallBack",
    "Coming",
    "Given",
    "Heard",
    "LastExchange",
    "NewDoubt",
    "Received",
    "SharedLabel",
    "adopted_apart",
    "exchange_age",
    "exchange_heads",
    "exchange_in",
    "exchange_out",
    "join",
    "last_exchange",
    "look_at",
]


# --- giving out ----------------------------------------------------------------------------------------------------


def exchange_out(site: Site, path: Path, *, since: Path | None = None) -> Given:
    """Write what another laptop has not: all records, or all that the writer of the file `since` had not.

    Raises Trouble when either file is no good, of another site, or cannot be written.
    """
    there = None
    if since is not None:
        header = _checked(since)
        _is_of(site.journal, header, since)
        there = header.milestones
    header = _header(site, whole=there is None)
    with site.journal.outgoing(there) as (milestones, raws):
        header = exchange.write(path, _with(header, milestones), raws)
    site.journal.remember(GIVEN, utc_text(header.written))
    return Given(path, header.count, header.whole)


def exchange_heads(site: Site, path: Path) -> Given:
    """Write only what this laptop has, in few words: for `since` on the other one, which then writes the rest."""
    header = _with(_header(site, whole=False), site.journal.milestones())
    exchange.write(path, header, ())
    return Given(path, 0, False)


def _header(site: Site, *, whole: bool) -> Header:
    journal = site.journal
    return Header(
        site=_site_id(journal),
        site_name=site.settings()["name"],
        marking=site.marking,
        station=journal.station,
        station_name=journal.stations().get(journal.station, ""),
        written=site.clock.now().utc,
        milestones={},
        whole=whole,
    )


def _with(header: Header, milestones: exchange.Milestones) -> Header:
    return replace(header, milestones=milestones)


def _site_id(journal: Journal) -> str:
    site = journal.site_id()
    if not site:
        raise Trouble("this journal holds no site", where=str(journal.path), do="Use the folder of the site.")
    return site


# --- taking in -----------------------------------------------------------------------------------------------------


def exchange_in(site: Site, path: Path) -> Received:
    """Take a file in: all of it or nothing.

    Raises Trouble when the file is damaged, cut short, of another site, or practice where real records are kept.
    """
    header = _checked(path)
    _is_of(site.journal, header, path)
    before = _locked_out(site.journal)
    doubted, withdrawn = _in_doubt(site.journal), source_due.withdrawn(site)
    tally = _take(site.journal, site.clock, path, header)
    return replace(
        _received(site.journal, header, tally, before),
        doubts=_new_doubts(site.journal, doubted),
        call_back=_call_back(site, before),
        withdrawn=tuple(why for source, why in source_due.withdrawn(site).items() if withdrawn.get(source) != why),
    )


def look_at(site: Site, path: Path) -> Coming:
    """What the file holds, and that it may be taken in here. Nothing is taken. Raises Trouble as `exchange_in` does."""
    header = _checked(path)
    _is_of(site.journal, header, path)
    return Coming(header.site_name, header.station, header.station_name, header.written, header.count, header.whole)


@dataclass(slots=True)
class _Tally:
    known: int = 0
    kinds: Counter[str] = field(default_factory=Counter)

    def hear(self, taken: Taken) -> None:
        self.known += taken.known
        self.kinds.update(event.kind for event in taken.added)


def _take(journal: Journal, clock: Clock, path: Path, header: Header) -> _Tally:
    tally = _Tally()
    now = clock.now()
    journal.take_many(_of_one_site(path, header), now, tally.hear)
    heard = stations_heard(journal)
    # A clock ahead of this one must not make the exchange look younger than it is.
    written = min(header.written, now.utc)
    if header.station not in heard or utc_moment(heard[header.station]["written"]) <= written:
        heard[header.station] = {
            "name": header.station_name,
            "written": utc_text(written),
            "taken": utc_text(now.utc),
        }
        journal.remember(TAKEN, json.dumps(heard, sort_keys=True))
    return tally


def _of_one_site(path: Path, header: Header) -> Iterator[list[bytes]]:
    batches = exchange.events_in(path, header)
    while True:
        with _in_words(path):
            batch = next(batches, None)
        if batch is None:
            return
        if not all(exchange.is_of_site(raw, header.site) for raw in batch):
            raise Trouble(
                "This exchange file holds the beginning of another site. Nothing of it was taken.",
                where=str(path),
                do="Keep the file and tell the site lead. Write it once more on the other laptop.",
            )
        yield batch


def _checked(path: Path) -> Header:
    with _in_words(path):
        return exchange.check(path)


@contextmanager
def _in_words(path: Path) -> Iterator[None]:
    """A stick that fails, or is pulled out, while it is read."""
    try:
        yield
    except OSError as fault:
        raise Trouble(
            f"The exchange file cannot be read to its end ({fault.strerror or fault}). Nothing of it was taken.",
            where=str(path),
            do="Put the stick in again, or copy the file to this laptop first. Else write it once more.",
        ) from None


def _is_of(journal: Journal, header: Header, path: Path) -> None:
    if header.marking != journal.marking:
        raise Trouble(
            f"This exchange file holds {MARKED.get(header.marking, header.marking)}, not {MARKED[journal.marking]}.",
            where=str(path),
            allowed="records of the same sort",
            do="Practice, demonstration and real records are never mixed. Take the right file.",
        )
    if header.site != _site_id(journal):
        raise Trouble(
            f"This exchange file is of another site ({header.site_name[:80]}).",
            where=str(path),
            allowed="a file of this site",
            do="Take the right file. A laptop joins a site once, with: exchange join.",
        )


def _received(journal: Journal, header: Header, tally: _Tally, before: Mapping[str, str]) -> Received:
    after = _locked_out(journal)
    return Received(
        station=header.station,
        station_name=header.station_name,
        written=header.written,
        added=tally.kinds.total(),
        known=tally.known,
        kinds=dict(tally.kinds),
        waiting=journal.held(),
        forks=journal.forks(),
        shared=tuple(SharedLabel(label, what) for label, what in journal.shared_labels().items()),
        apart=adopted_apart(journal),
        locked=tuple(label for instrument, label in after.items() if instrument not in before),
        lacking=journal.missing_there(header.milestones),
    )


def _locked_out(journal: Journal) -> dict[str, str]:
    found, _ = journal.locked(limit=-1)
    return {row.id: row.label for row in found}


def _call_back(site: Site, before: Mapping[str, str]) -> tuple[CallBack, ...]:
    """Who has what is locked out since `before`."""
    found = []
    for instrument, label in _locked_out(site.journal).items():
        out = site.journal.instrument_now(instrument).handed if instrument not in before else None
        if out is not None:
            found.append(CallBack(label, naming.name(site, out.to), out.job, out.place))
    return tuple(found)


def _in_doubt(journal: Journal) -> frozenset[tuple[str, str]]:
    """Cause and use of everything in doubt that nobody has reviewed yet."""
    found, _ = journal.doubts_open(limit=-1, offset=0)
    return frozenset((row.cause, row.use) for row in found)


def _new_doubts(journal: Journal, before: frozenset[tuple[str, str]]) -> tuple[NewDoubt, ...]:
    found, _ = journal.doubts_open(limit=-1, offset=0)
    uses: dict[tuple[str, str], set[str]] = {}
    for row in found:
        if (row.cause, row.use) not in before:
            uses.setdefault((row.label, row.instrument), set()).add(row.use)
    return tuple(NewDoubt(instrument, label, len(each)) for (label, instrument), each in sorted(uses.items()))


def adopted_apart(journal: Journal) -> tuple[AdoptedApart, ...]:
    """Every profile of which several revisions were adopted without knowing of each other."""
    found = []
    for row in journal.profiles(limit=-1):
        if len(row.heads) < 2:
            continue
        adoptions = {one.event: one for one in journal.profile_now(row.profile).adoptions}
        heads = [adoptions[head] for head in row.heads if head in adoptions]
        words = [
            f"revision {one.revision} ({one.title}), adopted {one.when:%Y-%m-%d %H:%M} UTC by "
            f"{_name(journal, one.person)}, SHA-256 {one.sha256[:16]}…"
            for one in heads
        ]
        found.append(AdoptedApart(row.profile, tuple(words)))
    return tuple(found)


def _name(journal: Journal, person: str | None) -> str:
    fields: Mapping[str, Any] = journal.thing_now(person).fields if person else {}
    return str(fields.get("name") or "somebody unknown")


# --- joining -------------------------------------------------------------------------------------------------------


def join(path: Path, folder: Path, clock: Clock, *, station: str, name: str) -> Received:
    """Begin a new laptop of the site whose whole exchange file this is, in an empty `folder`.

    `station` is a random id from outside. Raises Trouble when the folder holds records already, the file is not whole,
    or the clock here stands before the records: then nothing is left behind.
    """
    header = _checked(path)
    _may_join(path, folder, header, name)
    final = folder / JOURNAL[header.marking]
    part = folder / f"joining-{station}.part"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise Trouble(
            f"The folder cannot be made ({fault.strerror}).", where=str(folder), do="Name a folder you may write to."
        ) from None
    try:
        begun = clock.now()
        with Journal.create(part, station=station, name=name, now=begun, marking=header.marking) as journal:  # type: ignore[arg-type]
            tally = _take(journal, clock, path, header)
            _is_whole(journal, header, path)
            received = _received(journal, header, tally, {})
        put_in_place(part, final)
    finally:
        for end in ("", "-wal", "-shm"):
            part.with_name(part.name + end).unlink(missing_ok=True)
    return received


def _may_join(path: Path, folder: Path, header: Header, name: str) -> None:
    if not name.strip():
        raise Trouble("the laptop has no name", where="--name", allowed="a few words", do="Give it a name people know.")
    if header.marking not in JOURNAL:
        raise Trouble(
            "This exchange file has no marking that is known here.", where=str(path), do="Update the program."
        )
    if any((folder / file).exists() for file in JOURNAL.values()):
        raise Trouble(
            "there are records in this folder already",
            where=str(folder),
            allowed="a folder without records",
            do="Name another folder, or take the file in with: exchange in.",
        )
    if not header.whole:
        raise Trouble(
            "This exchange file holds only what another laptop had not: with it no laptop can begin.",
            where=str(path),
            allowed="a file with all records",
            do="Write one on the other laptop without --since.",
        )


def _is_whole(journal: Journal, header: Header, path: Path) -> None:
    if any(held.why == "future" for held in journal.held()):
        raise Trouble(
            "The records are of a time that this laptop's clock has not reached. It has not joined.",
            where=str(path),
            do="Set the clock of this laptop, or of the one that wrote the file, then join again.",
        )
    if journal.site_id() != header.site or any(journal.by_hash(hashed) is None for _, hashed in header.heads.values()):
        raise Trouble(
            "Records are missing in this exchange file. The laptop has not joined.",
            where=str(path),
            do="Write the file once more on the other laptop, without --since.",
        )
