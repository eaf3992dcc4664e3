"""What can be asked of a journal: its events, and the state of things folded afresh."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime

from procedures.journal import arrivals, files, index, log, outgoing, queries, rows, tables, tables_doubts
from procedures.journal.arrivals import Fork, Held
from procedures.journal.doubts import Doubt
from procedures.journal.envelope import Event
from procedures.journal.exchange import Milestones
from procedures.journal.fold_things import fold_checkout, fold_profile, fold_site, fold_source, fold_thing
from procedures.journal.listings import Listings
from procedures.journal.states import (
    CheckoutState,
    InstrumentState,
    ProfileState,
    SiteState,
    SourceState,
    ThingState,
)


class Reading(Listings):
    """Everything that only reads. Each method answers from one state of the file."""

    def about(
        self,
        entity: str,
        *,
        kinds: Iterable[str] | None = None,
        limit: int = 50,
        before: Event | None = None,
        after: Event | None = None,
        oldest_first: bool = False,
    ) -> tuple[Event, ...]:
        """Events about one thing, newest first, at most `limit`; the next page is `before` the last of this one.

        With `oldest_first` it is `after` it.
        """
        with files.snapshot(self._db, self.path):
            return log.about(
                self._db,
                entity,
                kinds=kinds,
                newest_first=not oldest_first,
                before=before,
                after=after,
                limit=limit,
            )

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
        living = queries.labelled(self._db, label) if isinstance(label, str) else ()
        problems = state.standing.problems
        if any(one.living and one.id != instrument for one in living):
            problems += (rows.LABEL_SHARED,)
        return replace(state, standing=replace(state.standing, problems=problems, newest=self._newest()))

    def source_now(self, source: str) -> SourceState:
        """The source's state from its events."""
        with files.snapshot(self._db, self.path):
            events = index.of_source(self._db, source)
            return fold_source(source, events, lineage=log.lineage_of(self._db, events))

    def source_unscanned(self, source: str, *, until: datetime | None = None) -> SourceState:
        """All of a source but the checkout it is out with: its scans, which come by the thousand, are not read.

        With `until` as it was then, by the wall clocks of those who wrote.
        """
        kinds = [kind for kind in index.OF_A_SOURCE if kind != "scanned"]
        with files.snapshot(self._db, self.path):
            found = log.about(self._db, source, kinds=kinds)
            events = [event for event in found if until is None or event.utc <= until]
            return fold_source(source, events, lineage=log.lineage_of(self._db, events))

    def thing_now(self, thing: str) -> ThingState:
        """A person's or a jig's state from its events."""
        with files.snapshot(self._db, self.path):
            return fold_thing(thing, index.of_thing(self._db, thing))

    def profile_now(self, profile: str) -> ProfileState:
        """A profile's adoptions from its events."""
        with files.snapshot(self._db, self.path):
            return fold_profile(profile, log.about(self._db, f"profile:{profile}", lasting=True))

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
        with files.snapshot_of_tables(self._db, self.path):
            return tables_doubts.listed(self._db, instrument)

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
            # One look for each chain: a join would go through every event there is.
            first = "SELECT (SELECT hash FROM events WHERE chain = c.id AND seq = 1) FROM chains c"
            hashes = [row[0] for row in self._db.execute(first) if row[0] is not None]
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
