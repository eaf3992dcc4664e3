"""Which lines of the index say nothing any more that later ones do not say: a fold leaves them out.

An instrument that is checked, handed out and brought back every day for ten years has 16,000 lines that weigh. Only the
last of them, and those that failed, were cleared or locked out, decide what it is now; so a check costs the same in its
tenth year as in its first. What is left out never changes a fold:

- A scan that took a source or brought it back, a hand-out, a return: the later of two alone says where a thing is.
- A checkout that was opened without a clearing to close, ended once, fit for use, and in which nothing else weighs. It
  made no lockout and closed none. Once the opening of another such checkout has seen all of it, it cannot count as a
  pass, and whatever has seen the other has seen it. (Only readiness that ends with it could tell the two apart.)

Neither is left out where its time would still stand out as the newest. What is overtaken stays in the index for
whoever asks what happened.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

from procedures.journal import log, tallies
from procedures.journal.envelope import Event, reread
from procedures.journal.events import CHECKOUT_KINDS, LATEST, NOT_WEIGHTY, ODD, PAST, WEIGHTY, body_of
from procedures.journal.moments import clock_number

TOGETHER: Final = {"handed-out": ("handed-out", "returned"), "returned": ("handed-out", "returned")}
"""Kinds of which the later overtakes the earlier; any other kind overtakes its own."""


_SAID_OF_IT: Final = ("opened", *sorted(CHECKOUT_KINDS - {"scanned"}))
"""Kinds that belong to a checkout. What else names it (a clearing, a hand-out) is no part of it."""
_LASTING: Final = f"a.weighs > {NOT_WEIGHTY}"
_NUMBER: Final = "(SELECT id FROM events WHERE hash = ?)"


ENTERS: Final = "INSERT INTO about VALUES (?, ?, ?, ?, ?)"


@dataclass(slots=True)
class Gathered:
    """What is kept in mind while an index is made from nothing, so that it need not be asked for again and again.

    Tallies are then made at the end, by `tallies.make_anew`.
    """

    instruments: dict[str, str] = field(default_factory=dict)
    """Which instrument a checkout is of: an opening is long to read."""
    moves: dict[tuple[str, tuple[str, ...]], list[Event]] = field(default_factory=dict)
    """What `_latest` would find of scans, hand-outs and returns."""
    lines: list[tuple[str, int, int, str, int]] = field(default_factory=list)
    """Lines of the index that are still to be written."""

    def write(self, db: sqlite3.Connection) -> None:
        """Write the lines that wait."""
        db.executemany(ENTERS, self.lines)
        self.lines.clear()


def moved(db: sqlite3.Connection, entity: str, event: Event, gathered: Gathered | None = None) -> None:
    """A scan, hand-out or return was entered about this thing: it overtakes the one before, or came in behind it."""
    kinds = TOGETHER.get(event.kind, (event.kind,))
    others = _latest(db, entity, kinds, but=event) if gathered is None else gathered.moves.get((entity, kinds), [])
    left, overtaken = [], False
    for other in others:
        if _later(event, other):
            _weigh(db, entity, other, PAST, gathered)
        else:
            left.append(other)
            overtaken = overtaken or _later(other, event)
    if overtaken:
        _weigh(db, entity, event, PAST, gathered)
    elif gathered is not None:
        gathered.moves[entity, kinds] = [*left, event]


def _later(one: Event, other: Event) -> bool:
    return one.stamp > other.stamp and one.utc >= other.utc


def checked(db: sqlite3.Connection, checkout: str, gathered: Gathered | None = None) -> None:
    """Something that weighs was entered about this checkout: perhaps it is settled now, or no longer."""
    settled = _settled(db, checkout)
    if settled is None:
        _unsettle(db, checkout, gathered)
        return
    if _weight(db, settled.instrument, settled.ended) == WEIGHTY:
        _settle(db, settled, gathered)


@dataclass(frozen=True, slots=True)
class _Settled:
    """A checkout that made no lockout, closed none, and is over."""

    instrument: str
    opened: Event
    ended: Event

    @property
    def events(self) -> tuple[Event, Event]:
        return self.opened, self.ended


def _settled(db: sqlite3.Connection, checkout: str) -> _Settled | None:
    """The checkout with this id, if it is one of these."""
    lines = db.execute(
        f"SELECT a.kind, a.weighs FROM about a INDEXED BY about_lasting WHERE a.entity = ? AND {_LASTING}"
        f" AND (a.weighs = ? OR a.kind IN ({','.join('?' * len(_SAID_OF_IT))}))",
        (checkout, ODD, *_SAID_OF_IT),
    ).fetchall()
    if sorted(lines) != [("ended", WEIGHTY), ("opened", WEIGHTY)]:
        return None
    opened = log.by_hash(db, checkout)
    if opened is None or opened.kind != "opened":
        return None
    (ended,) = log.about(db, checkout, kinds=("ended",))
    begun, over = body_of(opened), body_of(ended)
    if begun is None or over is None or begun["clearings"] or ended.ends_fitness:
        return None
    if over["ending"] != "fit for use" or over["checkout"] != checkout:
        return None
    if _weight(db, begun["instrument"], opened) == NOT_WEIGHTY:
        # Its opening is yet to be entered; what stands here is another's that names it.
        return None
    return _Settled(begun["instrument"], opened, ended)


def _settle(db: sqlite3.Connection, settled: _Settled, gathered: Gathered | None) -> None:
    """Let it overtake those whose whole its opening has seen, or be overtaken: they come in any order."""
    for event in settled.events:
        _weigh(db, settled.instrument, event, LATEST, gathered)
    for ended in _latest(db, settled.instrument, ("ended",), but=settled.ended):
        other = _settled(db, ended.body["checkout"])
        if other is not None and _overtakes(db, settled, other):
            _pass(db, other, gathered)
        elif other is not None and _overtakes(db, other, settled):
            _pass(db, settled, gathered)


def _pass(db: sqlite3.Connection, overtaken: _Settled, gathered: Gathered | None) -> None:
    for event in overtaken.events:
        _weigh(db, overtaken.instrument, event, PAST, gathered)


def _overtakes(db: sqlite3.Connection, one: _Settled, other: _Settled) -> bool:
    lineage = log.lineage_of(db, (*one.events, *other.events))
    return all(lineage.saw(one.opened, event) and event.utc <= one.ended.utc for event in other.events)


def _unsettle(db: sqlite3.Connection, checkout: str, gathered: Gathered | None) -> None:
    """Take back what it overtook: a withdrawn checkout speaks for none before it."""
    opened = log.by_hash(db, checkout)
    instrument = opened.body.get("instrument") if opened is not None and opened.kind == "opened" else None
    if opened is None or not isinstance(instrument, str) or _weight(db, instrument, opened) not in (LATEST, PAST):
        return
    for event in (opened, *log.about(db, checkout, kinds=("ended",))):
        if _weight(db, instrument, event) in (LATEST, PAST):
            _weigh(db, instrument, event, WEIGHTY, gathered)
    rows = db.execute(
        "SELECT e.hash FROM about a JOIN events e ON e.id = a.event WHERE a.entity = ? AND a.kind = 'opened'"
        " AND a.weighs IN (?, ?) ORDER BY a.hlc, a.event",
        (instrument, LATEST, PAST),
    )
    others = [one for (hashed,) in rows.fetchall() if (one := _settled(db, hashed.hex())) is not None]
    for event in _all(others):
        _weigh(db, instrument, event, WEIGHTY, gathered)
    for one in sorted(others, key=lambda each: each.ended.stamp):
        _settle(db, one, gathered)


def _all(settled: Iterable[_Settled]) -> list[Event]:
    return [event for one in settled for event in one.events]


def _latest(db: sqlite3.Connection, entity: str, kinds: tuple[str, ...], *, but: Event) -> list[Event]:
    """Other events of these kinds about a thing that nothing has overtaken yet."""
    rows = db.execute(
        "SELECT e.raw, e.hash FROM about a INDEXED BY about_lasting JOIN events e ON e.id = a.event"
        f" WHERE a.entity = ? AND a.kind IN ({','.join('?' * len(kinds))}) AND {_LASTING} AND a.weighs = ?"
        " AND e.hash <> ?",
        (entity, *kinds, LATEST, bytes.fromhex(but.hash)),
    )
    return [reread(raw, hashed) for raw, hashed in rows.fetchall()]


def _weight(db: sqlite3.Connection, entity: str, event: Event) -> int:
    row = db.execute(
        "SELECT weighs FROM about WHERE entity = ? AND hlc = ? AND event = " + _NUMBER, _line(entity, event)
    )
    found = row.fetchone()
    return NOT_WEIGHTY if found is None else int(found[0])


def _weigh(db: sqlite3.Connection, entity: str, event: Event, weighs: int, gathered: Gathered | None) -> None:
    """Change what a line weighs; the tally is of the lines that a fold reads."""
    before = _weight(db, entity, event)
    if before in (NOT_WEIGHTY, weighs):
        return
    line = _line(entity, event)
    db.execute(f"UPDATE about SET weighs = ? WHERE entity = ? AND hlc = ? AND event = {_NUMBER}", (weighs, *line))
    if PAST in (before, weighs) and gathered is None:
        tallies.count(db, entity, event.hash, -1 if weighs == PAST else 1)


def _line(entity: str, event: Event) -> tuple[str, int, bytes]:
    return entity, clock_number(event.hlc), bytes.fromhex(event.hash)
