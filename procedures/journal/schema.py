"""The tables of a journal file, and how an older file is brought up to date.

`events` and `chains` are the record; triggers refuse to change or remove what stands there. All else can be made anew
from them. Each migration is one named function, applied in one transaction together with the note that it was.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import Final

APPLICATION_ID: Final = 0x63544A31
"""Marks a file as a journal of this program in the header that SQLite keeps ("cTJ1")."""

RECORD: Final = """
CREATE TABLE meta (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE migrations (number INTEGER PRIMARY KEY, name TEXT NOT NULL);
CREATE TABLE chains (
    id INTEGER PRIMARY KEY,
    station TEXT NOT NULL,
    parent INTEGER REFERENCES chains,
    begins INTEGER NOT NULL
);
CREATE TABLE events (
    id INTEGER PRIMARY KEY,
    chain INTEGER NOT NULL REFERENCES chains,
    seq INTEGER NOT NULL,
    hash BLOB NOT NULL UNIQUE,
    hlc INTEGER NOT NULL,
    raw BLOB NOT NULL,
    UNIQUE (chain, seq)
);
CREATE TRIGGER events_are_not_changed BEFORE UPDATE ON events
    BEGIN SELECT RAISE(ABORT, 'an event is never changed'); END;
CREATE TRIGGER events_are_not_removed BEFORE DELETE ON events
    BEGIN SELECT RAISE(ABORT, 'an event is never removed'); END;
CREATE TRIGGER chains_are_not_changed BEFORE UPDATE ON chains
    BEGIN SELECT RAISE(ABORT, 'a chain is never changed'); END;
CREATE TRIGGER chains_are_not_removed BEFORE DELETE ON chains
    BEGIN SELECT RAISE(ABORT, 'a chain is never removed'); END;
CREATE TABLE held (
    hash BLOB PRIMARY KEY,
    station TEXT NOT NULL,
    seq INTEGER NOT NULL,
    why TEXT NOT NULL,
    raw BLOB NOT NULL
);
CREATE TABLE held_about (
    entity TEXT NOT NULL,
    hash BLOB NOT NULL REFERENCES held ON DELETE CASCADE,
    PRIMARY KEY (entity, hash)
) WITHOUT ROWID;
CREATE TABLE about (
    entity TEXT NOT NULL,
    hlc INTEGER NOT NULL,
    event INTEGER NOT NULL REFERENCES events,
    kind TEXT NOT NULL,
    weighs INTEGER NOT NULL,
    PRIMARY KEY (entity, hlc, event)
) WITHOUT ROWID;
CREATE INDEX about_weighty ON about (entity, hlc, event) WHERE weighs > 0;
"""

TABLES: Final = """
CREATE TABLE things (id TEXT PRIMARY KEY, what TEXT NOT NULL, label TEXT NOT NULL COLLATE NOCASE,
    living INTEGER NOT NULL) WITHOUT ROWID;
CREATE INDEX things_by_label ON things (label);
CREATE TABLE instruments (
    id TEXT PRIMARY KEY,
    label TEXT NOT NULL COLLATE NOCASE,
    type TEXT NOT NULL,
    serial TEXT NOT NULL,
    profile TEXT NOT NULL,
    locked TEXT NOT NULL,
    awaiting INTEGER NOT NULL,
    ready_until TEXT,
    newest TEXT,
    problems TEXT NOT NULL,
    why_not TEXT NOT NULL,
    passed_by TEXT,
    fit_for TEXT NOT NULL,
    warnings TEXT NOT NULL,
    factor TEXT,
    whereabouts TEXT NOT NULL,
    place TEXT NOT NULL,
    handed_to TEXT,
    handed_until TEXT,
    contaminated INTEGER NOT NULL,
    calibrated_on TEXT,
    calibration_due TEXT,
    last_checked TEXT,
    retired INTEGER NOT NULL
) WITHOUT ROWID;
CREATE INDEX instruments_by_label ON instruments (label, id);
CREATE TABLE sources (
    id TEXT PRIMARY KEY,
    label TEXT NOT NULL COLLATE NOCASE,
    nuclide TEXT NOT NULL,
    whereabouts TEXT NOT NULL,
    place TEXT NOT NULL,
    out_with TEXT,
    leak_due TEXT,
    retired INTEGER NOT NULL
) WITHOUT ROWID;
CREATE INDEX sources_out ON sources (label) WHERE out_with IS NOT NULL;
CREATE TABLE people (
    id TEXT PRIMARY KEY,
    label TEXT NOT NULL COLLATE NOCASE,
    name TEXT NOT NULL,
    initials TEXT NOT NULL,
    roles TEXT NOT NULL,
    trained_until TEXT,
    retired INTEGER NOT NULL
) WITHOUT ROWID;
CREATE TABLE profiles (
    profile TEXT PRIMARY KEY,
    adoption TEXT,
    revision INTEGER,
    sha256 TEXT,
    title TEXT NOT NULL,
    heads TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE open_checkouts (
    checkout TEXT PRIMARY KEY,
    instrument TEXT NOT NULL,
    person TEXT,
    station TEXT NOT NULL,
    step TEXT NOT NULL,
    phase TEXT NOT NULL,
    wait TEXT,
    failed INTEGER NOT NULL,
    last_event TEXT NOT NULL,
    last_utc TEXT NOT NULL
) WITHOUT ROWID;
"""


def first_tables(db: sqlite3.Connection) -> None:
    """Schema 1: the record, its indexes and the tables for screens."""
    run(db, RECORD)
    run(db, TABLES)


def tallies_of_weighty_events(db: sqlite3.Connection) -> None:
    """Schema 2: how many weighty events each thing has and what their hashes come to. Filled with the next index."""
    run(db, "CREATE TABLE tallies (entity TEXT PRIMARY KEY, n INTEGER NOT NULL, digest BLOB NOT NULL) WITHOUT ROWID;\n")


RECORDS: Final = """
DROP TABLE instruments;
CREATE TABLE instruments (
    id TEXT PRIMARY KEY,
    label TEXT NOT NULL COLLATE NOCASE,
    type TEXT NOT NULL,
    serial TEXT NOT NULL,
    profile TEXT NOT NULL,
    locked TEXT NOT NULL,
    awaiting INTEGER NOT NULL,
    ready_until TEXT,
    newest TEXT,
    problems TEXT NOT NULL,
    why_not TEXT NOT NULL,
    passed_by TEXT,
    fit_for TEXT NOT NULL,
    warnings TEXT NOT NULL,
    factor TEXT,
    whereabouts TEXT NOT NULL,
    place TEXT NOT NULL,
    handed_to TEXT,
    handed_until TEXT,
    handed_at TEXT,
    back_by TEXT,
    emergency INTEGER NOT NULL,
    contaminated INTEGER NOT NULL,
    calibrated_on TEXT,
    calibration_due TEXT,
    last_checked TEXT,
    retired INTEGER NOT NULL
) WITHOUT ROWID;
CREATE INDEX instruments_by_label ON instruments (label, id);
CREATE INDEX instruments_out ON instruments (coalesce(back_by, '~'), handed_at) WHERE handed_to IS NOT NULL;
CREATE INDEX instruments_locked ON instruments (label, id) WHERE locked <> '[]' AND NOT retired;
DROP TABLE sources;
CREATE TABLE sources (
    id TEXT PRIMARY KEY,
    label TEXT NOT NULL COLLATE NOCASE,
    serial TEXT NOT NULL,
    nuclide TEXT NOT NULL,
    whereabouts TEXT NOT NULL,
    place TEXT NOT NULL,
    out_with TEXT,
    leak_tested TEXT,
    leak_due TEXT,
    condition TEXT NOT NULL,
    counted_on TEXT,
    counted_found INTEGER,
    retired INTEGER NOT NULL
) WITHOUT ROWID;
CREATE INDEX sources_by_label ON sources (label, id);
CREATE INDEX sources_out ON sources (label) WHERE out_with IS NOT NULL;
CREATE INDEX people_by_label ON people (label, id);
CREATE INDEX things_by_sort ON things (what, label, id);
CREATE TABLE checkouts (
    checkout TEXT PRIMARY KEY,
    instrument TEXT NOT NULL,
    person TEXT,
    opened TEXT NOT NULL,
    ended TEXT,
    ending TEXT NOT NULL,
    codes TEXT NOT NULL,
    withdrawn INTEGER NOT NULL,
    station TEXT NOT NULL
) WITHOUT ROWID;
CREATE INDEX checkouts_by_opening ON checkouts (opened, instrument, person);
CREATE INDEX checkouts_by_instrument ON checkouts (instrument, opened);
CREATE INDEX checkouts_by_person ON checkouts (person, opened);
CREATE INDEX checkouts_by_ending ON checkouts (ending, opened);
CREATE TABLE checkout_codes (
    code TEXT NOT NULL,
    opened TEXT NOT NULL,
    checkout TEXT NOT NULL,
    PRIMARY KEY (code, opened, checkout)
) WITHOUT ROWID;
CREATE INDEX checkout_codes_of ON checkout_codes (checkout);
CREATE TABLE doubts (
    instrument TEXT NOT NULL,
    cause TEXT NOT NULL,
    kind TEXT NOT NULL,
    use TEXT NOT NULL,
    found_at TEXT NOT NULL,
    used_at TEXT NOT NULL,
    used_by TEXT NOT NULL,
    job TEXT NOT NULL,
    place TEXT NOT NULL,
    review TEXT,
    PRIMARY KEY (instrument, cause, kind, use)
) WITHOUT ROWID;
CREATE INDEX doubts_by_cause ON doubts (cause, use);
CREATE INDEX doubts_by_time ON doubts (found_at DESC, cause, kind, used_at, use);
CREATE INDEX doubts_open ON doubts (found_at DESC, cause, kind, used_at, use) WHERE review IS NULL;
CREATE TABLE happenings (
    kind TEXT NOT NULL,
    utc TEXT NOT NULL,
    hlc INTEGER NOT NULL,
    event INTEGER NOT NULL REFERENCES events,
    PRIMARY KEY (kind, utc, hlc, event)
) WITHOUT ROWID;
UPDATE meta SET value = '' WHERE name = 'edition';
"""


def records_of_checkouts_uses_and_doubts(db: sqlite3.Connection) -> None:
    """Schema 3: every checkout, every use in doubt, what happened when; instruments and sources with more to list.

    What it drops is made from the events alone. Without the edition's name all of it is made anew before it is read.
    """
    run(db, RECORDS)


LOCKOUTS: Final = """
CREATE TABLE lockouts (
    instrument TEXT NOT NULL,
    lockout TEXT NOT NULL,
    made_at TEXT NOT NULL,
    closed_at TEXT,
    PRIMARY KEY (instrument, lockout)
) WITHOUT ROWID;
CREATE INDEX lockouts_by_end ON lockouts (coalesce(closed_at, '~'), made_at, instrument);
CREATE INDEX about_deciding ON about (entity, hlc, event) WHERE weighs > 0 AND kind <> 'scanned';
UPDATE meta SET value = '' WHERE name = 'edition';
"""


def lockouts_by_time(db: sqlite3.Connection) -> None:
    """Schema 4: every lockout there ever was, when it was made and closed; what decides about a thing but scans."""
    run(db, LOCKOUTS)


LASTING: Final = """
DROP INDEX about_weighty;
DROP INDEX about_deciding;
CREATE INDEX about_lasting ON about (entity, kind, hlc, event) WHERE weighs > 0;
UPDATE meta SET value = '' WHERE name = 'edition';
"""


def what_later_events_overtook(db: sqlite3.Connection) -> None:
    """Schema 5: what a fold need not read any more stands out of its way. What each line weighs is found anew."""
    run(db, LASTING)


SINCE: Final = """
ALTER TABLE doubts ADD COLUMN since TEXT;
UPDATE meta SET value = '' WHERE name = 'edition';
"""


def doubts_since_the_last_good_check(db: sqlite3.Connection) -> None:
    """Schema 6: beside each use in doubt the last good check of the kind that failed, where there was one."""
    run(db, SINCE)


MIGRATIONS: Final[tuple[Callable[[sqlite3.Connection], None], ...]] = (
    first_tables,
    tallies_of_weighty_events,
    records_of_checkouts_uses_and_doubts,
    lockouts_by_time,
    what_later_events_overtook,
    doubts_since_the_last_good_check,
)
"""In order; the schema's number is how many were applied."""


def run(db: sqlite3.Connection, script: str) -> None:
    """Run the statements of a script inside the transaction that is open: `executescript` would commit it."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            db.execute(statement)
            statement = ""


def version(db: sqlite3.Connection, attached: str = "main") -> int:
    """Number of the schema in the file, or in one that is `attached` under this name."""
    return int(db.execute(f"PRAGMA {attached}.user_version").fetchone()[0])


def migrate_one(db: sqlite3.Connection) -> None:
    """Apply the next migration and its record; the caller holds the transaction."""
    number = version(db) + 1
    step = MIGRATIONS[number - 1]
    step(db)
    db.execute("INSERT INTO migrations VALUES (?, ?)", (number, step.__name__))
    db.execute(f"PRAGMA user_version = {number}")


def is_whole(db: sqlite3.Connection, attached: str = "main") -> bool:
    """Whether the file has every table, index and trigger as the migrations make them, the refusing triggers too."""
    blank = sqlite3.connect(":memory:", isolation_level=None)
    try:
        while version(blank) < len(MIGRATIONS):
            migrate_one(blank)
        return _contents(db, attached) >= _contents(blank)
    finally:
        blank.close()


def _contents(db: sqlite3.Connection, attached: str = "main") -> set[tuple[str, str, str, str]]:
    return set(db.execute(f"SELECT type, name, tbl_name, sql FROM {attached}.sqlite_master WHERE sql IS NOT NULL"))
