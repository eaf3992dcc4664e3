"""All checkouts and checks on paper of a journal judged again, and what there is to say of each.

Works on a connection that `verify.reading` made, by whatever index it shows. What comes of a list of checkouts depends
on nothing but their events and the profiles they ran, so the list may be cut anywhere and its parts judged apart.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

from procedures.checkout import RULES, Happened
from procedures.journal import log, verify_tables
from procedures.journal.envelope import Event
from procedures.journal.events import body_of
from procedures.journal.moments import utc_text
from procedures.site.judging import Difference, judge
from procedures.site.judging_paper import judge_paper
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.procedure import Procedure

PAPER: Final = "paper-entered"

Judge = Callable[[str, Sequence[Happened]], tuple[Difference, ...]]
"""The text of an adopted profile and the events of a checkout, or of a check on paper, to what judging finds otherwise.

Of a check on paper the first event is its entry, and the second the lockout that was recorded with it, if there is one.
"""


@dataclass(frozen=True, slots=True)
class Occasion:
    """A checkout, by the hash of its opening, or a check `on_paper`, by that of its entry."""

    hash: str
    on_paper: bool = False


@dataclass(frozen=True, slots=True)
class Said:
    """What judging one again says: `own` and `today` as `Difference` sorts them, or why it is `unjudged`.

    `when` it was opened, or observed, is UTC as the journal writes it; `instrument` is an id.
    """

    occasion: Occasion
    instrument: str
    station: str
    seq: int
    when: str
    own: tuple[str, ...] = ()
    today: tuple[str, ...] = ()
    unjudged: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a list of checkouts: how many could be judged, and those of which there is something to say."""

    judged: int = 0
    judged_on_paper: int = 0
    said: tuple[Said, ...] = ()

    def __add__(self, other: Outcome) -> Outcome:
        """The outcome of this list and, after it, the other."""
        return Outcome(
            self.judged + other.judged, self.judged_on_paper + other.judged_on_paper, (*self.said, *other.said)
        )


def occasions(db: sqlite3.Connection) -> Iterator[Occasion]:
    """Every checkout in the order of the logical clock, then every check on paper, the newest first."""
    yield from (Occasion(each) for each in verify_tables.openings(db))
    yield from (Occasion(each, on_paper=True) for each in verify_tables.entered(db, PAPER))


@dataclass(slots=True)
class Again:
    """Judging by the rules that each record names; `judges` are their versions by name."""

    db: sqlite3.Connection
    judges: Mapping[str, Judge]
    texts: dict[tuple[str, str], str | None] = field(default_factory=dict)

    def outcome(self, wanted: Iterable[Occasion]) -> Outcome:
        """Judge these again, in this order."""
        judged = {False: 0, True: 0}
        said = []
        for occasion in wanted:
            row = self._look_at(occasion)
            if not row.unjudged:
                judged[occasion.on_paper] += 1
            if row.own or row.today or row.unjudged:
                said.append(row)
        return Outcome(judged[False], judged[True], tuple(said))

    def _look_at(self, occasion: Occasion) -> Said:
        events = self._on_paper(occasion) if occasion.on_paper else log.about(self.db, occasion.hash)
        row = _row(occasion, events[0])
        try:
            found = self._judge(events)
        except Trouble as trouble:
            return replace(row, unjudged=trouble.what)
        except (LookupError, TypeError, ValueError, ArithmeticError, AttributeError):
            return replace(row, unjudged="a record of it is not as this program writes them")
        own = tuple(_where(each) for each in found if each.sort == "own version")
        return replace(row, own=own, today=tuple(_where(each) for each in found if each.sort == "today"))

    def _on_paper(self, occasion: Occasion) -> tuple[Event, ...]:
        """A form, and the lockout that was recorded in one transaction with it."""
        entry = log.by_hash(self.db, occasion.hash)
        if entry is None:
            raise LookupError(occasion.hash)
        locked = verify_tables.about(self.db, next(iter(entry.about), ""), "locked-out")
        form = entry.body.get("form")
        return (entry, *(each for each in locked if each.prev == entry.hash and each.body.get("form") == form))

    def _judge(self, events: Sequence[Event]) -> tuple[Difference, ...]:
        for event in events:
            if body_of(event) is None:
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


def _row(occasion: Occasion, first: Event) -> Said:
    instrument = next(iter(first.about), "") if occasion.on_paper else str(first.body.get("instrument", ""))
    when = str(first.body.get("observed", "")) if occasion.on_paper else utc_text(first.utc)
    return Said(occasion, instrument, first.station, first.seq, when)


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
