"""The lists that can be asked of a journal: pages of the tables for screens, each from one state of the file."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from procedures.journal import files, log, queries, queries_records, rows
from procedures.journal.envelope import Event
from procedures.journal.rows import CheckoutRow, DoubtRow, InstrumentRow, Labelled, PersonRow, ProfileRow, SourceRow
from procedures.journal.states import CheckoutState


class Listings:
    """Pages of rows with how many there are in all. A negative `limit` is no limit."""

    def __init__(self, db: sqlite3.Connection, path: Path) -> None:
        self._db = db
        self.path = path

    # Instruments

    def home_rows(
        self, *, limit: int = 200, past: tuple[str, str] = ("", ""), retired: bool = False
    ) -> tuple[InstrumentRow, ...]:
        """Instruments by label; the next page is `past` the label and id of the last row."""
        with files.snapshot_of_tables(self._db, self.path):
            found = queries.instruments(self._db, past=past, retired=retired, limit=limit)
            newest = self._newest()
        return tuple(rows.clock_at_least(row, newest) for row in found)

    def instruments_found(self, text: str, *, limit: int, offset: int = 0) -> tuple[tuple[InstrumentRow, ...], int]:
        """One page of the instruments in service whose label, type or serial holds `text`, and how many in all.

        A negative `limit` is no limit.
        """
        with files.snapshot_of_tables(self._db, self.path):
            found, total = queries.matching(self._db, text, limit=limit, offset=offset)
            newest = self._newest()
        return tuple(rows.clock_at_least(row, newest) for row in found), total

    def instrument_row(self, instrument: str) -> InstrumentRow | None:
        """One instrument's row."""
        with files.snapshot_of_tables(self._db, self.path):
            found = queries.instruments(self._db, only=instrument, past=("", ""))
            newest = self._newest()
        return rows.clock_at_least(found[0], newest) if found else None

    def out_now(self, *, limit: int, offset: int = 0) -> tuple[tuple[InstrumentRow, ...], int]:
        """One page of the instruments that are handed out, whoever is due back first first, and how many in all."""
        with files.snapshot_of_tables(self._db, self.path):
            found, total = queries.out_now(self._db, limit=limit, offset=offset)
            newest = self._newest()
        return tuple(rows.clock_at_least(row, newest) for row in found), total

    def locked(self, *, search: str = "", limit: int, offset: int = 0) -> tuple[tuple[InstrumentRow, ...], int]:
        """One page of the instruments in service that are locked out, cleared or not, and how many in all.

        `search` is looked for in label, type and serial.
        """
        with files.snapshot_of_tables(self._db, self.path):
            found, total = queries.locked(self._db, search, limit=limit, offset=offset)
            newest = self._newest()
        return tuple(rows.clock_at_least(row, newest) for row in found), total

    def calibrations_due(self, before: date, *, limit: int = 200) -> tuple[tuple[str, str | None], ...]:
        """Label and due date of instruments in service whose calibration ends by `before`, or that have none."""
        with files.snapshot_of_tables(self._db, self.path):
            return queries.calibrations_due(self._db, before.isoformat(), limit=limit)

    # Other things

    def sources_found(
        self, search: str = "", *, limit: int, offset: int = 0, retired: bool = False
    ) -> tuple[tuple[SourceRow, ...], int]:
        """One page of the sources whose label, serial, nuclide or place holds `search`, by label; `retired` too."""
        with files.snapshot_of_tables(self._db, self.path):
            return queries.sources_matching(self._db, search, retired=retired, limit=limit, offset=offset)

    def people_found(
        self, search: str = "", *, limit: int, offset: int = 0, retired: bool = False
    ) -> tuple[tuple[PersonRow, ...], int]:
        """One page of the people whose label, name or initials hold `search`, by label; `retired` too."""
        with files.snapshot_of_tables(self._db, self.path):
            return queries.people_matching(self._db, search, retired=retired, limit=limit, offset=offset)

    def things_found(
        self, what: str, search: str = "", *, limit: int, offset: int = 0, retired: bool = False
    ) -> tuple[tuple[Labelled, ...], int]:
        """One page of the things of one sort whose label holds `search`, by label; `retired` too."""
        with files.snapshot_of_tables(self._db, self.path):
            return queries.things_matching(self._db, what, search, retired=retired, limit=limit, offset=offset)

    def sources(self, *, limit: int = 200) -> tuple[SourceRow, ...]:
        """Sources in use, by label."""
        with files.snapshot_of_tables(self._db, self.path):
            return queries.sources(self._db, out=False, limit=limit)

    def sources_out(self, *, limit: int = 200) -> tuple[SourceRow, ...]:
        """Every source that is out of its store."""
        with files.snapshot_of_tables(self._db, self.path):
            return queries.sources(self._db, out=True, limit=limit)

    def people(self, *, limit: int = 200) -> tuple[PersonRow, ...]:
        """People, by label."""
        with files.snapshot_of_tables(self._db, self.path):
            return queries.people(self._db, limit=limit)

    def profiles(self, *, limit: int = 200) -> tuple[ProfileRow, ...]:
        """Every profile that was ever adopted, by id."""
        with files.snapshot_of_tables(self._db, self.path):
            return queries.profiles(self._db, limit=limit)

    def open_checkouts(self, *, limit: int = 200) -> tuple[CheckoutState, ...]:
        """Checkouts without an ending, the one touched last first."""
        with files.snapshot_of_tables(self._db, self.path):
            return queries.open_checkouts(self._db, limit=limit)

    def labelled(self, label: str) -> tuple[Labelled, ...]:
        """Everything that carries or carried this label (upper and lower case alike), living things first."""
        with files.snapshot_of_tables(self._db, self.path):
            return queries.labelled(self._db, label)

    def things(self, what: str) -> tuple[Labelled, ...]:
        """Everything of this sort that is not retired, by label."""
        with files.snapshot_of_tables(self._db, self.path):
            return queries.things(self._db, what)

    # Records

    def checkouts_found(
        self,
        *,
        search: str = "",
        instrument: str = "",
        person: str = "",
        since: datetime | None = None,
        until: datetime | None = None,
        ending: str = "",
        code: str = "",
        limit: int,
        offset: int = 0,
    ) -> tuple[tuple[CheckoutRow, ...], int]:
        """One page of the checkouts that meet every condition given, the one opened last first, and how many in all.

        Opened from `since` on and before `until` (aware). `search` is looked for in the instrument's label, type and
        serial and in the person's label, name and initials; `ending` and `code` are meant to the letter.
        """
        with files.snapshot_of_tables(self._db, self.path):
            return queries_records.checkouts_found(
                self._db,
                search=search,
                instrument=instrument,
                person=person,
                since=since,
                until=until,
                ending=ending,
                code=code,
                limit=limit,
                offset=offset,
            )

    def locked_between(self, since: datetime, until: datetime) -> tuple[str, ...]:
        """Instruments of which a lockout stood at some time from `since` on and before `until` (aware)."""
        with files.snapshot_of_tables(self._db, self.path):
            return queries_records.locked_between(self._db, since, until)

    def happened(
        self,
        kinds: Iterable[str],
        *,
        since: datetime | None = None,
        until: datetime | None = None,
        limit: int,
        offset: int = 0,
    ) -> tuple[tuple[Event, ...], int]:
        """One page of the events of these kinds, newest first by the time that stands in them, and how many in all.

        From `since` on and before `until` (aware). ValueError for kinds that come by the dozen in each checkout
        (`events.OFTEN`): these are read checkout by checkout.
        """
        with files.snapshot(self._db, self.path):
            return queries_records.happened(self._db, kinds, since=since, until=until, limit=limit, offset=offset)

    def doubts_open(self, *, instrument: str = "", limit: int, offset: int = 0) -> tuple[tuple[DoubtRow, ...], int]:
        """One page of the uses in doubt that nobody has looked into yet, newest failure first, and how many in all."""
        with files.snapshot_of_tables(self._db, self.path):
            return queries_records.doubts(self._db, instrument=instrument, reviewed=False, limit=limit, offset=offset)

    def doubts_all(self, *, instrument: str = "", limit: int, offset: int = 0) -> tuple[tuple[DoubtRow, ...], int]:
        """The same with the uses that somebody has looked into: a review takes no doubt away."""
        with files.snapshot_of_tables(self._db, self.path):
            return queries_records.doubts(self._db, instrument=instrument, reviewed=True, limit=limit, offset=offset)

    def _newest(self) -> datetime:
        ms = max(head.hlc[0] for head in log.heads(self._db))
        try:
            return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=ms)
        except OverflowError:
            # A damaged number: with it no present is believed.
            return datetime.max.replace(tzinfo=UTC)
