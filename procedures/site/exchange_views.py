"""What comes of an exchange of records, as values: what was written, what a file holds, what taking it in came to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from procedures.journal.arrivals import Fork, Held


@dataclass(frozen=True, slots=True)
class Given:
    """An exchange file that was written: how many records are in it, and whether nothing was left out."""

    path: Path
    events: int
    whole: bool


@dataclass(frozen=True, slots=True)
class SharedLabel:
    """A label that several living things carry: none of them may be used until somebody decides."""

    label: str
    what: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AdoptedApart:
    """A profile of which several revisions were adopted apart: none is in force until a lead chooses one.

    `revisions` are in words: number, title, when, by whom.
    """

    profile: str
    revisions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NewDoubt:
    """An instrument of which a file has put uses in doubt, and how many."""

    instrument: str
    label: str
    uses: int


@dataclass(frozen=True, slots=True)
class CallBack:
    """An instrument that is locked out and not here: who has it, for what, and where."""

    label: str
    holder: str
    job: str
    place: str

    @property
    def words(self) -> str:
        """Whom to call, and where."""
        said = ", ".join(each for each in (self.holder or "somebody unknown", self.job, self.place) if each)
        return f"CALL BACK {self.label}, which is out: {said}."


@dataclass(frozen=True, slots=True)
class Received:
    """What came of taking a file in. `kinds` counts the new records by kind; `locked` are labels locked out by it.

    `call_back` are those of them that are out; `withdrawn` says in words which sources were found missing, leaking,
    damaged or slipped that were not before. `doubts` are the instruments of which uses are in doubt now that were not
    before. `lacking` is how many records here the writer of the file had not when it was written.
    """

    station: str
    station_name: str
    written: datetime
    added: int
    known: int
    kinds: Mapping[str, int]
    waiting: tuple[Held, ...]
    forks: tuple[Fork, ...]
    shared: tuple[SharedLabel, ...]
    apart: tuple[AdoptedApart, ...]
    locked: tuple[str, ...]
    lacking: int
    doubts: tuple[NewDoubt, ...] = ()
    call_back: tuple[CallBack, ...] = ()
    withdrawn: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Coming:
    """What an exchange file says of itself, before anything of it is taken."""

    site: str
    station: str
    station_name: str
    written: datetime
    events: int
    whole: bool
