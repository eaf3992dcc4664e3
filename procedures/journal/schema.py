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


def first_tables(db: sqlite3.Connection) -> None:
    """Schema 1: the record, its indexes and the tables for screens."""
    run(db, RECORD)


MIGRATIONS: Final[tuple[Callable[[sqlite3.Connection], None], ...]] = (first_tables,)
"""In order; the schema's number is how many were applied."""


def run(db: sqlite3.Connection, script: str) -> None:
    """Run the statements of a script inside the transaction that is open: `executescript` would commit it."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            db.execute(statement)
            statement = ""


def version(db: sqlite3.Connection) -> int:
    """Number of the schema in the file."""
    return int(db.execute("PRAGMA user_version").fetchone()[0])


def migrate_one(db: sqlite3.Connection) -> None:
    """Apply the next migration and its record; the caller holds the transaction."""
    number = version(db) + 1
    step = MIGRATIONS[number - 1]
    step(db)
    db.execute("INSERT INTO migrations VALUES (?, ?)", (number, step.__name__))
    db.execute(f"PRAGMA user_version = {number}")
