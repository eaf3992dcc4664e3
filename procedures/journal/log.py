"""Reading and writing events in the file: plain functions over one connection, inside the caller's transaction."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from procedures.journal.envelope import Altered, Event, reread
from procedures.journal.events import ALWAYS_LASTING, NOT_WEIGHTY
from procedures.journal.lineage import UNFORKED, Branch, Lineage
from procedures.journal.moments import COUNTS, clock_number


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


def insert(db: sqlite3.Connection, chain: int, event: Event) -> int:
    """Write one event at the end of its chain; its number in the file comes back."""
    cursor = db.execute(
        "INSERT INTO events (chain, seq, hash, hlc, raw) VALUES (?, ?, ?, ?, ?)",
        (chain, event.seq, bytes.fromhex(event.hash), clock_number(event.hlc), event.raw),
    )
    return int(cursor.lastrowid or 0)


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
    lasting: bool = False,
    newest_first: bool = False,
    before: Event | None = None,
    after: Event | None = None,
    limit: int = -1,
) -> tuple[Event, ...]:
    """Events about one thing in the order of the logical clock; with `lasting` those alone that a fold reads."""
    asked = ["a.entity = ?"]
    values: list[object] = [entity]
    if kinds is not None:
        wanted = tuple(kinds)
        # For these there is an index by kind.
        lasting = lasting or ALWAYS_LASTING.issuperset(wanted)
        asked.append(f"a.kind IN ({','.join('?' * len(wanted))})")
        values.extend(wanted)
    if lasting:
        asked.append(f"a.weighs > {NOT_WEIGHTY}")
    if before is not None:
        asked.append("(a.hlc, a.event) < (?, (SELECT id FROM events WHERE hash = ?))")
        values.extend((clock_number(before.hlc), bytes.fromhex(before.hash)))
    if after is not None:
        asked.append("(a.hlc, a.event) > (?, (SELECT id FROM events WHERE hash = ?))")
        values.extend((clock_number(after.hlc), bytes.fromhex(after.hash)))
    way = "DESC" if newest_first else "ASC"
    by = "INDEXED BY about_lasting" if lasting else ""
    rows = db.execute(
        f"SELECT e.raw, e.hash FROM about a {by} JOIN events e ON e.id = a.event WHERE {' AND '.join(asked)}"
        f" ORDER BY a.hlc {way}, a.event {way} LIMIT ?",
        (*values, limit),
    )
    return tuple(reread(raw, hashed) for raw, hashed in rows)
