"""Reading and writing events in the file: plain functions over one connection, inside the caller's transaction."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from procedures.journal.envelope import Altered, Event, reread
from procedures.journal.events import CHECKOUT_KINDS, JUDGES_INSTRUMENT, NOT_WEIGHTY, ODD, OFTEN, body_of, weight
from procedures.journal.lineage import UNFORKED, Branch, Lineage
from procedures.journal.moments import COUNTS, clock_number, utc_text


def setting(db: sqlite3.Connection, name: str) -> str:
    """What the file says of itself under this name: marking, writing (the chain it writes), edition of its index."""
    row = db.execute("SELECT value FROM meta WHERE name = ?", (name,)).fetchone()
    return "" if row is None else str(row[0])


def set_setting(db: sqlite3.Connection, name: str, value: str) -> None:
    """Change what the file says of itself."""
    db.execute("INSERT INTO meta VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value", (name, value))


@dataclass(frozen=True, slots=True)
class Head:
    """The last event of one chain."""

    chain: int
    station: str
    seq: int
    hash: str
    hlc: tuple[int, int]


def heads(db: sqlite3.Connection) -> tuple[Head, ...]:
    """The last event of every chain, in order of chain: one look-up each, however long they are."""
    rows = db.execute(
        "SELECT c.id, c.station, e.seq, e.hash, e.hlc FROM chains c JOIN events e ON e.chain = c.id"
        " AND e.seq = (SELECT max(seq) FROM events WHERE chain = c.id) ORDER BY c.id"
    )
    return tuple(
        Head(chain, station, seq, hashed.hex(), divmod(hlc, COUNTS)) for chain, station, seq, hashed, hlc in rows
    )


def own_head(db: sqlite3.Connection, among: Sequence[Head] | None = None) -> Head:
    """The last event of the chain that this file writes. Raises Altered when the file no longer says which that is."""
    writing = setting(db, "writing")
    for head in heads(db) if among is None else among:
        if str(head.chain) == writing:
            return head
    raise Altered(
        "The journal no longer says which station it writes as.",
        do="Keep this file as it is, tell the site lead, and go on with the newest good copy.",
    )


def names(all_heads: Sequence[Head]) -> Mapping[int, str]:
    """A name for each chain as `seen` has it: the station; where a station has several chains, with # and a number."""
    stations = [head.station for head in all_heads]
    return {
        head.chain: head.station if stations.count(head.station) == 1 else f"{head.station}#{head.chain}"
        for head in all_heads
    }


def add_chain(db: sqlite3.Connection, station: str, parent: int | None, begins: int) -> int:
    """A new chain of a station: its first, or a branch that leaves `parent` before sequence `begins`."""
    cursor = db.execute("INSERT INTO chains (station, parent, begins) VALUES (?, ?, ?)", (station, parent, begins))
    return int(cursor.lastrowid or 0)


@dataclass(frozen=True, slots=True)
class Entry:
    """How an event was indexed: under what, and what it weighs for their state."""

    concerned: frozenset[str]
    weighs: int


def insert(db: sqlite3.Connection, chain: int, event: Event) -> Entry:
    """Write one event at the end of its chain and index it."""
    cursor = db.execute(
        "INSERT INTO events (chain, seq, hash, hlc, raw) VALUES (?, ?, ?, ?, ?)",
        (chain, event.seq, bytes.fromhex(event.hash), clock_number(event.hlc), event.raw),
    )
    return index(db, int(cursor.lastrowid or 0), event)


def index(db: sqlite3.Connection, number: int, event: Event, *, instruments: dict[str, str] | None = None) -> Entry:
    """Enter one event under everything it is about, and under its time unless its kind comes by the dozen.

    `instruments` keeps, from one event to the next, which instrument a checkout is of: an opening is long to read.
    """
    weighs = weight(event)
    concerned = concerns(db, event, weighs, instruments)
    hlc = clock_number(event.hlc)
    db.executemany(
        "INSERT INTO about VALUES (?, ?, ?, ?, ?)",
        [(entity, hlc, number, event.kind, weighs) for entity in concerned],
    )
    if event.kind not in OFTEN:
        db.execute("INSERT INTO happenings VALUES (?, ?, ?, ?)", (event.kind, utc_text(event.utc), hlc, number))
    if weighs != NOT_WEIGHTY:
        for entity in concerned:
            count, digest = tally(db, entity)
            db.execute("REPLACE INTO tallies VALUES (?, ?, ?)", (entity, count + 1, _added(digest, event.hash)))
    return Entry(concerned, weighs)


def tally(db: sqlite3.Connection, entity: str) -> tuple[int, bytes]:
    """How many weighty events there are about a thing, and the exclusive or of their hashes, as they were indexed.

    No hash protects the index by which a fold finds its events; this tells when a line of it is gone.
    """
    row = db.execute("SELECT n, digest FROM tallies WHERE entity = ?", (entity,)).fetchone()
    return (0, bytes(32)) if row is None else (int(row[0]), bytes(row[1]))


def tally_of(events: Sequence[Event]) -> tuple[int, bytes]:
    """The same of the events that a fold has found."""
    digest = bytes(32)
    for event in events:
        digest = _added(digest, event.hash)
    return len(events), digest


def _added(digest: bytes, hashed: str) -> bytes:
    return (int.from_bytes(digest) ^ int(hashed, 16)).to_bytes(32)


def concerns(
    db: sqlite3.Connection, event: Event, weighs: int, instruments: dict[str, str] | None = None
) -> frozenset[str]:
    """What an event is about: as its writer said, itself where it begins something, the instrument behind a checkout.

    The instrument is found from the checkout rather than believed, so that no failure is lost because another program
    forgot to name the instrument.
    """
    found = set(event.about)
    if event.kind in ("registered", "opened"):
        found.add(event.hash)
    checkout = event.body.get("checkout") if event.kind in CHECKOUT_KINDS else None
    if isinstance(checkout, str) and checkout:
        found.add(checkout)
    if event.kind == "opened" and isinstance(event.body.get("instrument"), str):
        found.add(event.body["instrument"])
    elif event.kind in JUDGES_INSTRUMENT or weighs == ODD:
        instruments = {} if instruments is None else instruments
        for entity in tuple(found):
            if entity not in instruments:
                instruments[entity] = instrument_of(db, entity)
            found.add(instruments[entity])
    return frozenset(found - {""})


def instrument_of(db: sqlite3.Connection, checkout: str) -> str:
    """The instrument whose checkout this is; empty when it is no checkout."""
    opened = by_hash(db, checkout)
    if opened is None or opened.kind != "opened":
        return ""
    instrument = opened.body.get("instrument")
    return instrument if isinstance(instrument, str) else ""


def was_opened(db: sqlite3.Connection, checkout: str) -> bool:
    """Whether this is a checkout, told from the index alone."""
    row = db.execute("SELECT kind FROM about WHERE entity = ? ORDER BY hlc LIMIT 1", (checkout,)).fetchone()
    return row is not None and row[0] == "opened"


def by_hash(db: sqlite3.Connection, hashed: str) -> Event | None:
    """The event with this hash, if the journal has it."""
    try:
        key = bytes.fromhex(hashed)
    except ValueError:
        return None
    row = db.execute("SELECT raw FROM events WHERE hash = ?", (key,)).fetchone()
    return None if row is None else reread(row[0], key)


def place(db: sqlite3.Connection, hashed: str) -> tuple[int, int] | None:
    """Chain and sequence of the event with this hash."""
    row = db.execute("SELECT chain, seq FROM events WHERE hash = ?", (bytes.fromhex(hashed),)).fetchone()
    return None if row is None else (row[0], row[1])


def last_of(db: sqlite3.Connection, chain: int) -> int:
    """Sequence of the last event of a chain."""
    return int(db.execute("SELECT max(seq) FROM events WHERE chain = ?", (chain,)).fetchone()[0])


def chains(db: sqlite3.Connection) -> tuple[tuple[int, int | None, int], ...]:
    """Every chain with its parent and the sequence at which it begins."""
    return tuple(db.execute("SELECT id, parent, begins FROM chains"))


def lineage_of(db: sqlite3.Connection, events: Iterable[Event]) -> Lineage:
    """The branches of forked stations, as far as these events need them."""
    forked = frozenset(row[0] for row in db.execute("SELECT station FROM chains GROUP BY station HAVING count(*) > 1"))
    if not forked:
        return UNFORKED
    wanted: set[str] = set()
    for event in events:
        if event.station in forked:
            wanted.add(event.hash)
        for name, (_, hashed) in (event.seen or {}).items():
            if name.partition("#")[0] in forked:
                wanted.add(hashed)
    places = {hashed: found for hashed in wanted if (found := place(db, hashed)) is not None}
    branches = {number: Branch(parent, begins) for number, parent, begins in chains(db)}
    return Lineage(forked, branches, places)


def everything(db: sqlite3.Connection) -> Iterator[tuple[int, Event]]:
    """All events with their numbers, in the order they came into this file, a page at a time."""
    last = 0
    while page := db.execute(
        "SELECT id, raw, hash FROM events WHERE id > ? ORDER BY id LIMIT 1000", (last,)
    ).fetchall():
        for number, raw, hashed in page:
            yield number, reread(raw, hashed)
        last = page[-1][0]


def last_about(db: sqlite3.Connection, entity: str) -> str:
    """Hash of the event about it that came into this file last; empty when there is none."""
    row = db.execute(
        "SELECT hash FROM events WHERE id = (SELECT max(event) FROM about WHERE entity = ?)", (entity,)
    ).fetchone()
    return "" if row is None else str(row[0].hex())


def about(
    db: sqlite3.Connection,
    entity: str,
    *,
    kinds: Iterable[str] | None = None,
    weighty: bool = False,
    newest_first: bool = False,
    before: Event | None = None,
    limit: int = -1,
) -> tuple[Event, ...]:
    """Events about one thing in the order of the logical clock."""
    asked = ["a.entity = ?"]
    values: list[object] = [entity]
    if kinds is not None:
        wanted = tuple(kinds)
        asked.append(f"a.kind IN ({','.join('?' * len(wanted))})")
        values.extend(wanted)
    if weighty:
        asked.append(f"a.weighs > {NOT_WEIGHTY}")
    if before is not None:
        asked.append("(a.hlc, a.event) < (?, (SELECT id FROM events WHERE hash = ?))")
        values.extend((clock_number(before.hlc), bytes.fromhex(before.hash)))
    way = "DESC" if newest_first else "ASC"
    rows = db.execute(
        f"SELECT e.raw, e.hash FROM about a JOIN events e ON e.id = a.event WHERE {' AND '.join(asked)}"
        f" ORDER BY a.hlc {way}, a.event {way} LIMIT ?",
        (*values, limit),
    )
    return tuple(reread(raw, hashed) for raw, hashed in rows)


DESCRIBING: Final = ("registered", "described", "retired")
"""Kinds that say what any registered thing is."""
SOURCE_MARKS: Final = ("source-out", "source-back")
_SCANS: Final = 20


def about_thing(db: sqlite3.Connection, thing: str) -> tuple[Event, ...]:
    """What a person's or a jig's state is folded from: somebody who has been handed ten thousand instruments is the
    same person still."""
    return about(db, thing, kinds=DESCRIBING, weighty=True)


def about_source(db: sqlite3.Connection, source: str) -> tuple[Event, ...]:
    """What a source's state is folded from: all that weighs on it, and of its scans only the newest that can be read.

    What binds it to instruments and what was read with it says nothing of the source. Only the newest scan says whether
    it is out, and there are two for every checkout that it ever served.
    """
    # Written as the index "about_deciding" is, or it would not be used.
    rows = db.execute(
        "SELECT e.raw, e.hash FROM about a JOIN events e ON e.id = a.event"
        " WHERE a.entity = ? AND a.weighs > 0 AND a.kind <> 'scanned'"
        " AND a.kind NOT IN ('source-bound', 'reference-recorded') ORDER BY a.hlc, a.event",
        (source,),
    )
    found = tuple(reread(raw, hashed) for raw, hashed in rows)
    last: Event | None = None
    while True:
        page = about(db, source, kinds=("scanned",), weighty=True, newest_first=True, before=last, limit=_SCANS)
        bodies = [body for event in page if (body := body_of(event)) is not None]
        if len(page) < _SCANS or any(body["mark"] in SOURCE_MARKS for body in bodies):
            # Events that came at one tick of the clock stand side by side in a page; the fold puts them in order.
            return (*found, *page)
        last = page[-1]
