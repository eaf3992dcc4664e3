"""Verifying a site's records: are they as they were written, do the tables say the same, does each checkout hold.

Three things are told apart: an event that was altered; a checkout whose own version of the rules does not find what
was recorded; a checkout that would come out otherwise by today's rules. Nothing is written, nobody has to stop working.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Final

from procedures.checkout import RULES, Happened
from procedures.journal import arrivals, files, log, verify, verify_chains, verify_tables
from procedures.journal.envelope import Altered, Event
from procedures.journal.events import body_of
from procedures.journal.fields import is_hash, is_station
from procedures.journal.moments import utc_text
from procedures.journal.queries_records import happened
from procedures.journal.store import MARKED
from procedures.journal.verify import Kept
from procedures.journal.verify_chains import Changed
from procedures.site.judging import Difference, judge
from procedures.site.judging_paper import judge_paper
from procedures.site.opening import JOURNAL
from procedures.site.views import Mark
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.procedure import Procedure

PAPER: Final = "paper-entered"

Judge = Callable[[str, Sequence[Happened]], tuple[Difference, ...]]
"""The text of an adopted profile and the events of a checkout, or of a check on paper, to what judging finds otherwise.

Of a check on paper the first event is its entry, and the second the lockout that was recorded with it, if there is one.
"""

_PAGE: Final = 500
"""Checks on paper that are read at once."""


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
    folder: Path, marking: Mark = "real", *, kept: Iterable[Kept] = (), judges: Mapping[str, Judge] | None = None
) -> Verification:
    """Verify the records in this folder, against heads that were `kept` elsewhere if there are any.

    Raises Trouble when there are no records of this marking. `judges` are the versions of the rules by their name.
    """
    path = folder / JOURNAL[marking]
    if not path.exists():
        raise Trouble("there is no site here", where=str(folder), do="Name the folder of the site with --data.")
    kept = tuple(kept)
    with verify.reading(path) as db:
        _has_marking(db, path, marking)
        made = _Made(db, Verification(marking, against=len(kept)), judges or every_version())
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
    judges: Mapping[str, Judge]
    texts: dict[tuple[str, str], str | None] = field(default_factory=dict)
    made_anew: bool = False
    judged: dict[bool, int] = field(default_factory=lambda: {False: 0, True: 0})
    own: list[Judged] = field(default_factory=list)
    today: list[Judged] = field(default_factory=list)
    unjudged: list[Judged] = field(default_factory=list)

    def file(self) -> None:
        self.told = replace(self.told, file=verify.faults_of_file(self.db))

    def chains(self, kept: Sequence[Kept]) -> None:
        looked = verify_chains.look_through(self.db)
        heads = log.heads(self.db)
        names = log.names(heads)
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
        if self.told.not_compared:
            return
        verify_tables.make_anew(self.db)
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
        for checkout in verify_tables.openings(self.db):
            self._judge_again(log.about(self.db, checkout))
        for entered in _on_paper(self.db):
            self._judge_again((entered, *_lockout_with(self.db, entered)), on_paper=True)
        self.told = replace(
            self.told,
            judged=self.judged[False],
            judged_on_paper=self.judged[True],
            own=tuple(self.own),
            today=tuple(self.today),
            unjudged=tuple(self.unjudged),
        )

    def _judge_again(self, events: Sequence[Event], *, on_paper: bool = False) -> None:
        try:
            found = self._judge(events)
        except Trouble as trouble:
            self.unjudged.append(self._row(events[0], [trouble.what]))
            return
        except (LookupError, TypeError, ValueError, ArithmeticError, AttributeError):
            self.unjudged.append(self._row(events[0], ["a record of it is not as this program writes them"]))
            return
        self.judged[on_paper] += 1
        for rows, sort in ((self.own, "own version"), (self.today, "today")):
            what = [_where(each) for each in found if each.sort == sort]
            if what:
                rows.append(self._row(events[0], what))

    def _judge(self, events: Sequence[Event]) -> tuple[Difference, ...]:
        if any(body_of(event) is None for event in events):
            raise Trouble("a newer program wrote records of it that this one cannot read")
        opening = events[0].body
        version = str(opening["rules"])
        by_its_own = self.judges.get(version)
        if by_its_own is None:
            raise Trouble(f"it was judged by version {version} of the rules, which this program does not know")
        text = self._text(opening["profile"]["id"], opening["profile"]["sha256"])
        found = by_its_own(text, events)
        if version != RULES and RULES in self.judges and not found:
            return tuple(replace(each, sort="today") for each in self.judges[RULES](text, events))
        return found

    def _text(self, profile: str, sha256: str) -> str:
        key = (profile, sha256)
        if key not in self.texts:
            self.texts[key] = verify_tables.profile_text(self.db, profile, sha256)
        text = self.texts[key]
        if text is None:
            raise Trouble(f"the revision of the profile {profile} that it ran was not adopted here")
        return text

    def _row(self, first: Event, what: Iterable[str]) -> Judged:
        on_paper = first.kind == PAPER
        instrument = next(iter(first.about), "") if on_paper else str(first.body.get("instrument", ""))
        label = verify_tables.instrument_label(self.db, instrument)
        when = str(first.body.get("observed", "")) if on_paper else utc_text(first.utc)
        return Judged(first.hash, label, first.station, first.seq, when, tuple(what), on_paper)


def _on_paper(db: sqlite3.Connection) -> Iterator[Event]:
    """Every form that was typed in, by the index made anew, the newest first."""
    for page in count(0, _PAGE):
        events, total = happened(db, (PAPER,), since=None, until=None, limit=_PAGE, offset=page)
        yield from events
        if page + _PAGE >= total:
            return


def _lockout_with(db: sqlite3.Connection, entered: Event) -> tuple[Event, ...]:
    """The lockout that was recorded in one transaction with a form."""
    locked = log.about(db, next(iter(entered.about), ""), kinds=("locked-out",))
    form = entered.body.get("form")
    return tuple(each for each in locked if each.prev == entered.hash and each.body.get("form") == form)


def _where(difference: Difference) -> str:
    return f"event {difference.seq}: {difference.what}" if difference.seq else difference.what


class ByThisProgram:
    """Judging by the rules of this program; procedures are compiled once for each text."""

    def __init__(self) -> None:
        self.compiled: dict[str, Procedure | Trouble] = {}

    def __call__(self, text: str, events: Sequence[Happened]) -> tuple[Difference, ...]:
        named = events[0].body["profile"]
        made = self.compiled.get(named["sha256"])
        if made is None:
            made = self.compiled[named["sha256"]] = _compiled(text, named["sha256"])
        if isinstance(made, Trouble):
            raise made
        return judge_paper(made, events) if events[0].kind == PAPER else judge(made, events)


def _compiled(text: str, sha256: str) -> Procedure | Trouble:
    from procedures.profile.load import read_adopted

    try:
        procedure = read_adopted(text).procedure
    except Trouble as refused:
        return Trouble(f"the profile that it ran is not accepted by this program: {refused.what}")
    if procedure.sha256 != sha256:
        return Trouble("the text of the profile that it ran does not fit its hash")
    return procedure


def every_version() -> dict[str, Judge]:
    """Every version of the rules that was ever in use, beside each other. A changed rule is a new one here."""
    return {"1": ByThisProgram()}
