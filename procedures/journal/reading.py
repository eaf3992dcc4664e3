"""What can be asked of a journal: its events, the state of things folded afresh, and rows for screens."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Final

from procedures.journal import arrivals, files, log, outgoing, rows, tables
from procedures.journal.arrivals import Fork, Held
from procedures.journal.doubts import Doubt, uses_in_doubt
from procedures.journal.envelope import Event
from procedures.journal.exchange import Milestones
from procedures.journal.fold_things import fold_checkout, fold_profile, fold_site, fold_source, fold_thing
from procedures.journal.rows import InstrumentRow, Labelled, PersonRow, ProfileRow, SourceRow
from procedures.journal.states import (
    CheckoutState,
    InstrumentState,
    ProfileState,
    SiteState,
    SourceState,
    ThingState,
)

DOUBTED_BY: Final = ("opened", "found", "failed-by-judgement", "withdrawn", "handed-out", "calibrated")
"""Kinds that decide which uses are in doubt."""


class Reading:
    """Everything that only reads. Each method answers from one state of the file."""

    def __init__(self, db: sqlite3.Connection, path: Path) -> None:
        self._db = db
        self.path = path

    def about(
        self, entity: str, *, kinds: Iterable[str] | None = None, limit: int = 50, before: Event | None = None
    ) -> tuple[Event, ...]:
        """Events about one thing, newest first, at most `limit`; the next page is `before` the last of this one."""
        with files.snapshot(self._db, self.path):
            return log.about(self._db, entity, kinds=kinds, newest_first=True, before=before, limit=limit)

    def checkout_events(self, checkout: str) -> tuple[Event, ...]:
        """Every event of one checkout, its opening first."""
        with files.snapshot(self._db, self.path):
            return log.about(self._db, checkout)

    def last_about(self, entity: str) -> str:
        """Hash of the event about this thing that was recorded here last, as `append` wants it; empty for none."""
        with files.snapshot(self._db, self.path):
            return log.last_about(self._db, entity)

    def by_hash(self, hashed: str) -> Event | None:
        """The event with this hash."""
        with files.snapshot(self._db, self.path):
            return log.by_hash(self._db, hashed)

    def head(self) -> tuple[str, int, str]:
        """Station, sequence and hash of the last event that this file itself wrote."""
        with files.snapshot(self._db, self.path):
            head = log.own_head(self._db)
        return (head.station, head.seq, head.hash)

    def heads(self) -> Mapping[str, tuple[int, str]]:
        """Sequence and hash of the last event of every chain; further branches of a station are keyed `station#n`."""
        with files.snapshot(self._db, self.path):
            heads = log.heads(self._db)
        names = log.names(heads)
        return {names[head.chain]: (head.seq, head.hash) for head in heads}

    @property
    def station(self) -> str:
        """The station that this file writes as."""
        return self.head()[0]

    def count(self) -> int:
        """How many events there are. Rows are only ever added, so the last number is the count."""
        with files.snapshot(self._db, self.path):
            return int(self._db.execute("SELECT coalesce(max(id), 0) FROM events").fetchone()[0])

    def last_time(self) -> datetime:
        """The latest moment any station here had known of, to the millisecond below. A clock before it is in doubt."""
        with files.snapshot(self._db, self.path):
            return self._newest()

    # State of things, folded afresh: what decides (opening, ending, hand-out) asks these

    def instrument_now(self, instrument: str) -> InstrumentState:
        """The instrument's state from its events, not from the tables."""
        with files.snapshot(self._db, self.path):
            return self._instrument_now(instrument)

    def _instrument_now(self, instrument: str) -> InstrumentState:
        state = tables.instrument_now(self._db, instrument)
        label = state.fields.get("label")
        living = rows.labelled(self._db, label) if isinstance(label, str) else ()
        problems = state.standing.problems
        if any(one.living and one.id != instrument for one in living):
            problems += (rows.LABEL_SHARED,)
        return replace(state, standing=replace(state.standing, problems=problems, newest=self._newest()))

    def source_now(self, source: str) -> SourceState:
        """The source's state from its events."""
        with files.snapshot(self._db, self.path):
            return fold_source(source, log.about(self._db, source, weighty=True))

    def thing_now(self, thing: str) -> ThingState:
        """A person's or a jig's state from its events."""
        with files.snapshot(self._db, self.path):
            return fold_thing(thing, log.about(self._db, thing, weighty=True))

    def profile_now(self, profile: str) -> ProfileState:
        """A profile's adoptions from its events."""
        with files.snapshot(self._db, self.path):
            return fold_profile(profile, log.about(self._db, f"profile:{profile}", weighty=True))

    def site_now(self) -> SiteState | None:
        """The site and its settings; None before it has begun."""
        with files.snapshot(self._db, self.path):
            return fold_site(log.about(self._db, "site"))

    def checkout_now(self, checkout: str) -> CheckoutState | None:
        """One checkout, ended or not, from its events."""
        with files.snapshot(self._db, self.path):
            return fold_checkout(log.about(self._db, checkout))

    def uses_in_doubt(self, instrument: str) -> tuple[Doubt, ...]:
        """Which uses of this instrument each of its failures puts in doubt, oldest failure first."""
        with files.snapshot(self._db, self.path):
            events = log.about(self._db, instrument, kinds=DOUBTED_BY)
            return uses_in_doubt(events, lineage=tables.lineage_of(self._db, events))

    # Rows for screens

    def home_rows(
        self, *, limit: int = 200, past: tuple[str, str] = ("", ""), retired: bool = False
    ) -> tuple[InstrumentRow, ...]:
        """Instruments by label; the next page is `past` the label and id of the last row."""
        with files.snapshot_of_tables(self._db, self.path):
            found = rows.instruments(self._db, past=past, retired=retired, limit=limit)
            newest = self._newest()
        return tuple(rows.clock_at_least(row, newest) for row in found)

    def instruments_found(self, text: str, *, limit: int, offset: int = 0) -> tuple[tuple[InstrumentRow, ...], int]:
        """One page of the instruments in service whose label, type or serial holds `text`, and how many in all.

        A negative `limit` is no limit.
        """
        with files.snapshot_of_tables(self._db, self.path):
            found, total = rows.matching(self._db, text, limit=limit, offset=offset)
            newest = self._newest()
        return tuple(rows.clock_at_least(row, newest) for row in found), total

    def instrument_row(self, instrument: str) -> InstrumentRow | None:
        """One instrument's row."""
        with files.snapshot_of_tables(self._db, self.path):
            found = rows.instruments(self._db, only=instrument, past=("", ""))
            newest = self._newest()
        return rows.clock_at_least(found[0], newest) if found else None

    def calibrations_due(self, before: date, *, limit: int = 200) -> tuple[tuple[str, str | None], ...]:
        """Label and due date of instruments in service whose calibration ends by `before`, or that have none."""
        with files.snapshot_of_tables(self._db, self.path):
            return rows.calibrations_due(self._db, before.isoformat(), limit=limit)

    def sources(self, *, limit: int = 200) -> tuple[SourceRow, ...]:
        """Sources in use, by label."""
        with files.snapshot_of_tables(self._db, self.path):
            return rows.sources(self._db, out=False, limit=limit)

    def sources_out(self, *, limit: int = 200) -> tuple[SourceRow, ...]:
        """Every source that is out of its store."""
        with files.snapshot_of_tables(self._db, self.path):
            return rows.sources(self._db, out=True, limit=limit)

    def people(self, *, limit: int = 200) -> tuple[PersonRow, ...]:
        """People, by label."""
        with files.snapshot_of_tables(self._db, self.path):
            return rows.people(self._db, limit=limit)

    def profiles(self, *, limit: int = 200) -> tuple[ProfileRow, ...]:
        """Every profile that was ever adopted, by id."""
        with files.snapshot_of_tables(self._db, self.path):
            return rows.profiles(self._db, limit=limit)

    def open_checkouts(self, *, limit: int = 200) -> tuple[CheckoutState, ...]:
        """Checkouts without an ending, the one touched last first."""
        with files.snapshot_of_tables(self._db, self.path):
            return rows.open_checkouts(self._db, limit=limit)

    def labelled(self, label: str) -> tuple[Labelled, ...]:
        """Everything that carries or carried this label (upper and lower case alike), living things first."""
        with files.snapshot_of_tables(self._db, self.path):
            return rows.labelled(self._db, label)

    def things(self, what: str) -> tuple[Labelled, ...]:
        """Everything of this sort that is not retired, by label."""
        with files.snapshot_of_tables(self._db, self.path):
            return rows.things(self._db, what)

    def held(self) -> tuple[Held, ...]:
        """Events that arrived and wait for others."""
        with files.snapshot(self._db, self.path):
            return arrivals.held(self._db)

    def forks(self) -> tuple[Fork, ...]:
        """Where a station's chain divides because a copied file was used beside its original."""
        with files.snapshot(self._db, self.path):
            return arrivals.forks(self._db)

    def stations(self) -> Mapping[str, str]:
        """The name that each station gave itself when it began, by station."""
        with files.snapshot(self._db, self.path):
            first = "SELECT e.hash FROM chains c JOIN events e ON e.chain = c.id AND e.seq = 1"
            hashes = [row[0] for row in self._db.execute(first)]
            begun = [log.by_hash(self._db, hashed.hex()) for hashed in hashes]
        return {one.station: str(one.body.get("name", "")) for one in begun if one is not None}

    def site_id(self) -> str:
        """The event that began the site: by it the records of one site are told from those of others; "" for none."""
        with files.snapshot(self._db, self.path):
            begun = log.about(self._db, "site", kinds=("site-begun",), limit=1)
        return begun[0].hash if begun else ""

    def shared_labels(self) -> Mapping[str, tuple[str, ...]]:
        """Labels that several living things carry, with what these are: none of them may be used by its label."""
        with files.snapshot_of_tables(self._db, self.path):
            found = self._db.execute(
                "SELECT label, group_concat(what, ' ') FROM things WHERE living GROUP BY label HAVING count(*) > 1"
                " ORDER BY label"
            )
            return {label: tuple(what.split()) for label, what in found}

    def remembered(self, name: str) -> str:
        """What `remember` kept under this name; "" for nothing."""
        with files.snapshot(self._db, self.path):
            return log.setting(self._db, f"note {name}")

    def milestones(self) -> Milestones:
        """What this file has, in few words: each chain's head and some events before it."""
        with files.snapshot(self._db, self.path):
            return outgoing.milestones(self._db)

    def missing_there(self, there: Milestones) -> int:
        """How many events here whoever gave these milestones has not."""
        with files.snapshot(self._db, self.path):
            return len(outgoing.missing_there(self._db, there))

    @contextmanager
    def outgoing(self, there: Milestones | None) -> Iterator[tuple[Milestones, Iterator[bytes]]]:
        """The bytes of all events that another file with these milestones has not, and the milestones here."""
        with files.snapshot(self._db, self.path):
            numbers = outgoing.missing_there(self._db, there)
            yield outgoing.milestones(self._db), outgoing.raws(self._db, numbers)

    def _newest(self) -> datetime:
        ms = max(head.hlc[0] for head in log.heads(self._db))
        try:
            return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=ms)
        except OverflowError:
            # A damaged number: with it no present is believed.
            return datetime.max.replace(tzinfo=UTC)
