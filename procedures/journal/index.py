"""The index: under which things each event stands, and what it weighs for their state."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from typing import Final

from procedures.journal import log, overtaken, tallies
from procedures.journal.envelope import Event
from procedures.journal.events import CHECKOUT_KINDS, JUDGES_INSTRUMENT, LATEST, NOT_WEIGHTY, ODD, OFTEN, weight
from procedures.journal.moments import clock_number, utc_text
from procedures.journal.overtaken import ENTERS, Gathered

BEGINS: Final = frozenset({"registered", "opened", "practice-begun", "practice-exam"})
"""Kinds that begin something that others name: each stands under itself too."""
NEEDED: Final = "about_lasting"
"""The index of the index without which no event is entered."""


@dataclass(frozen=True, slots=True)
class Entry:
    """How an event was indexed: under what, and what it weighs for their state."""

    concerned: frozenset[str]
    weighs: int


def insert(db: sqlite3.Connection, chain: int, event: Event) -> Entry:
    """Write one event at the end of its chain and index it."""
    return index(db, log.insert(db, chain, event), event)


def index(db: sqlite3.Connection, number: int, event: Event, *, gathered: Gathered | None = None) -> Entry:
    """Enter one event under everything it is about, and under its time unless its kind comes by the dozen.

    `gathered` goes from one event to the next while an index is made from nothing.
    """
    weighs = weight(event)
    concerned = concerns(db, event, weighs, None if gathered is None else gathered.instruments)
    hlc = clock_number(event.hlc)
    lines = [(entity, hlc, number, event.kind, weighs) for entity in concerned]
    if gathered is None:
        db.executemany(ENTERS, lines)
    else:
        # Nothing asks for what does not weigh until all of it is entered.
        gathered.lines += lines
        if weighs != NOT_WEIGHTY:
            gathered.write(db)
    if event.kind not in OFTEN:
        db.execute("INSERT INTO happenings VALUES (?, ?, ?, ?)", (event.kind, utc_text(event.utc), hlc, number))
    if weighs == NOT_WEIGHTY:
        return Entry(concerned, weighs)
    for entity in concerned:
        if gathered is None:
            tallies.count(db, entity, event.hash, 1)
        if weighs == LATEST:
            if event.kind != "scanned" or entity == event.body["is"]:
                overtaken.moved(db, entity, event, gathered)
        elif (event.kind == "opened" or event.kind in CHECKOUT_KINDS or weighs == ODD) and was_opened(db, entity):
            overtaken.checked(db, entity, gathered)
    return Entry(concerned, weighs)


def concerns(
    db: sqlite3.Connection, event: Event, weighs: int, instruments: dict[str, str] | None = None
) -> frozenset[str]:
    """What an event is about: as its writer said, itself where it begins something, the instrument behind a checkout.

    The instrument is found from the checkout rather than believed, so that no failure is lost because another program
    forgot to name the instrument.
    """
    found = set(event.about)
    if event.kind in BEGINS:
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
    opened = log.by_hash(db, checkout)
    if opened is None or opened.kind != "opened":
        return ""
    instrument = opened.body.get("instrument")
    return instrument if isinstance(instrument, str) else ""


def was_opened(db: sqlite3.Connection, checkout: str) -> bool:
    """Whether this is a checkout, told from the index alone."""
    row = db.execute("SELECT kind FROM about WHERE entity = ? ORDER BY hlc LIMIT 1", (checkout,)).fetchone()
    return row is not None and row[0] == "opened"


DESCRIBING: Final = ("registered", "described", "retired")
"""Kinds that say what any registered thing is."""
OF_A_SOURCE: Final = (*DESCRIBING, "placed", "scanned", "leak-tested", "counted", "source-condition")
"""Kinds that say what a source is and where."""


def of_instrument(db: sqlite3.Connection, instrument: str) -> tuple[Event, ...]:
    """What an instrument's state is folded from: all that weighs on it and was not overtaken."""
    return log.about(db, instrument, lasting=True)


def of_source(db: sqlite3.Connection, source: str) -> tuple[Event, ...]:
    """What a source's state is folded from: of its scans those that were not overtaken."""
    return log.about(db, source, kinds=OF_A_SOURCE, lasting=True)


def of_thing(db: sqlite3.Connection, thing: str) -> tuple[Event, ...]:
    """What a person's or a jig's state is folded from: somebody who was handed ten thousand instruments is the same
    person still."""
    return log.about(db, thing, kinds=DESCRIBING, lasting=True)
