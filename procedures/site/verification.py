"""Verifying a site's records: are they as they were written, do the tables say the same, does each checkout hold.

Three things are told apart: an event that was altered; a checkout whose own version of the rules does not find what
was recorded; a checkout that would come out otherwise by today's rules. Nothing is written, nobody has to stop working.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from procedures.journal import arrivals, files, log, verify, verify_chains, verify_tables
from procedures.journal.envelope import Altered
from procedures.journal.fields import is_hash, is_station
from procedures.journal.store import MARKED
from procedures.journal.verify import Kept
from procedures.journal.verify_chains import Changed
from procedures.site.judged_again import Again, ByThisProgram, Judge, Outcome, Said, every_version, occasions
from procedures.site.judging_beside import Beside, beside, to_spare
from procedures.site.opening import JOURNAL
from procedures.site.views import Mark
from procedures.trouble import Trouble

__all__ = ("ByThisProgram", "Judge", "Judged", "Verification", "damaged_lists", "read_head", "to_spare", "verify_site")


@dataclass(frozen=True, slots=True)
class Judged:
    """A checkout, or a check `on_paper`, of which judging again has something to say.

    `when` it was opened, or observed, is UTC as the journal writes it. `checkout` is the id of the checkout or entry.
    """

    checkout: str
    instrument: str
    station: str
    seq: int
    when: str
    what: tuple[str, ...]
    on_paper: bool = False


@dataclass(frozen=True, slots=True)
class Verification:
    """What verifying came to.

    `file` is what is wrong with the file as a database, `changed` every event that is altered or missing, `tables`
    where index or tables differ from the events. `judged` checkouts and `judged_on_paper` checks on paper were judged
    again: `own` are those that are not what their own version of the rules finds, `today` those that would come out
    otherwise today, `unjudged` those that this program cannot judge. `heads` gives for each chain the sequence and hash
    of its last event.
    """

    marking: Mark
    events: int = 0
    heads: Mapping[str, tuple[int, str]] = field(default_factory=dict)
    file: tuple[str, ...] = ()
    changed: tuple[Changed, ...] = ()
    compared: bool = False
    tables: tuple[str, ...] = ()
    not_compared: str = ""
    judged: int = 0
    judged_on_paper: int = 0
    own: tuple[Judged, ...] = ()
    today: tuple[Judged, ...] = ()
    unjudged: tuple[Judged, ...] = ()
    waiting: int = 0
    forks: tuple[str, ...] = ()
    against: int = 0
    """How many heads kept elsewhere it was held against."""

    @property
    def sound(self) -> bool:
        """Nothing at all was found."""
        found = (self.file, self.changed, self.tables, self.own, self.today, self.unjudged)
        return not any(found)

    @property
    def only_lists(self) -> bool:
        """The records are whole, and lists that are drawn from them are damaged."""
        return bool(self.tables) and not (self.file or self.changed)


def damaged_lists(path: Path) -> tuple[str, ...]:
    """Where the lists in this file differ from its events, in words, as verifying says it; nothing where they cannot
    be compared. Raises Trouble for a file that cannot be read."""
    with verify.reading(path) as db, files.in_words(path, unproved=True):
        if verify_tables.why_not_compared(db):
            return ()
        anew = verify_tables.Anew(db)
        looked = verify_chains.look_through(db, anew.enter)
        if not looked.readable:
            return ()
        anew.finish()
        return verify_tables.differences(db)


def read_head(text: str) -> Kept:
    """A head as it is printed: STATION:SEQUENCE:HASH. Raises Trouble for anything else."""
    station, _, rest = text.strip().partition(":")
    seq, _, hashed = rest.partition(":")
    hashed = hashed.strip().casefold()
    station = station.partition("#")[0]
    if not (is_station(station) and seq.isascii() and seq.isdigit() and 0 < int(seq) < 1 << 53 and is_hash(hashed)):
        raise Trouble(
            f"{text[:100]!r} is no head of a journal",
            where="--head",
            allowed="station, sequence and hash (64 hexadecimal digits) with colons between, as verify prints them",
            do="Copy the whole head from where it was kept.",
        )
    return Kept(station, int(seq), hashed)


def verify_site(
    folder: Path,
    marking: Mark = "real",
    *,
    kept: Iterable[Kept] = (),
    judges: Mapping[str, Judge] | None = None,
    processes: int = 0,
) -> Verification:
    """Verify the records in this folder, against heads that were `kept` elsewhere if there are any.

    Raises Trouble when there are no records of this marking. `judges` are the versions of the rules by their name.
    `processes` may judge the checkouts of a big journal beside this one, which changes nothing in what is found; a
    script that asks for them must be one that can be imported (`if __name__ == "__main__"`).
    """
    path = folder / JOURNAL[marking]
    if not path.exists():
        raise Trouble("there is no site here", where=str(folder), do="Name the folder of the site with --data.")
    kept = tuple(kept)
    with verify.reading(path) as db:
        _has_marking(db, path, marking)
        comparable = not verify_tables.why_not_compared(db)
        with beside(db, path, processes if comparable and judges is None else 0) as others:
            again = Again(db, judges or every_version())
            made = _Made(db, Verification(marking, against=len(kept)), again, others)
            for look in (made.file, lambda: made.chains(kept), made.tables, made.checkouts):
                try:
                    with files.in_words(path, unproved=True):
                        look()
                except (files.Damaged, Altered) as damage:
                    made.told = replace(made.told, file=(*made.told.file, damage.what))
                    break
    return made.told


def _has_marking(db: sqlite3.Connection, path: Path, marking: Mark) -> None:
    found = verify.marking_of(db)
    if found != marking:
        raise Trouble(
            f"this journal holds {MARKED.get(found, found or 'records without a marking')}, not {MARKED[marking]}",
            where=str(path),
            do="Keep practice, demonstration and real records in folders of their own.",
        )


@dataclass(slots=True)
class _Made:
    """A verification while it is made; each part is told as soon as it is known."""

    db: sqlite3.Connection
    told: Verification
    again: Again
    others: Beside | None
    anew: verify_tables.Anew | None = None
    made_anew: bool = False

    def file(self) -> None:
        self.told = replace(self.told, file=verify.faults_of_file(self.db))

    def chains(self, kept: Sequence[Kept]) -> None:
        anew = verify_tables.Anew(self.db)
        looked = verify_chains.look_through(self.db, anew.enter)
        heads = log.heads(self.db)
        names = log.names(heads)
        self.anew = anew
        self.told = replace(
            self.told,
            events=looked.events,
            changed=(*looked.changed, *verify.compare_heads(self.db, kept)),
            heads={names[head.chain]: (head.seq, head.hash) for head in heads},
            waiting=len(arrivals.held(self.db)),
            forks=tuple(f"{fork.station} at event {fork.seq}" for fork in arrivals.forks(self.db)),
            not_compared="" if looked.readable else "the events that they come from cannot all be read",
        )

    def tables(self) -> None:
        if self.told.not_compared or self.anew is None:
            return
        self.anew.finish()
        self.made_anew = True
        why_not = verify_tables.why_not_compared(self.db)
        self.told = replace(
            self.told,
            compared=not why_not,
            not_compared=why_not,
            tables=() if why_not else verify_tables.differences(self.db),
        )

    def checkouts(self) -> None:
        if not self.made_anew:
            return
        outcome = self._outcome()
        self.told = replace(
            self.told,
            judged=outcome.judged,
            judged_on_paper=outcome.judged_on_paper,
            own=self._rows((each, each.own) for each in outcome.said),
            today=self._rows((each, each.today) for each in outcome.said),
            unjudged=self._rows((each, (each.unjudged,) if each.unjudged else ()) for each in outcome.said),
        )

    def _outcome(self) -> Outcome:
        if self.others is not None and self.told.compared and not self.told.tables:
            # The index that the others judge by says what the one made anew says.
            return self.others.outcome(self.again.outcome)
        return self.again.outcome(occasions(self.db))

    def _rows(self, said: Iterable[tuple[Said, tuple[str, ...]]]) -> tuple[Judged, ...]:
        return tuple(self._row(each, what) for each, what in said if what)

    def _row(self, said: Said, what: tuple[str, ...]) -> Judged:
        label = verify_tables.instrument_label(self.db, said.instrument)
        one = said.occasion
        return Judged(one.hash, label, said.station, said.seq, said.when, what, one.on_paper)
