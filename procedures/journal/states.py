"""What the folds hand out: the state of each thing as the events justify it, without a clock.

Times are thresholds ("ready until"), never states that go stale; `fitness` compares them with the present.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Final, Literal

from procedures.journal.envelope import Event

BEHIND: Final = timedelta(seconds=120)
"""How far the present may stand behind the newest record before the clock is not believed."""

FitnessWord = Literal["ready", "needs check", "locked out"]
Status = Literal["open", "awaiting check", "closed"]


@dataclass(frozen=True, slots=True)
class Reason:
    """Why an instrument is out of service: a code and words."""

    code: str
    say: str


@dataclass(frozen=True, slots=True)
class Lockout:
    """One lockout. Its id is the hash of its `locked-out`, or of the opening of the checkout that failed."""

    id: str
    reasons: tuple[Reason, ...]
    when: datetime
    by: str | None
    tag: str
    status: Status
    clearings: tuple[str, ...] = ()
    """Clearings that name it and had seen all of it."""
    closed_by: str | None = None
    """The passing checkout that named such a clearing."""


@dataclass(frozen=True, slots=True)
class Pass:
    """A checkout that ended fit for use and was not withdrawn or spoilt. It need not be the one that counts now."""

    checkout: str
    ended: str
    when: datetime
    person: str | None
    fit_for: Mapping[str, Any]
    ready_until: datetime | None
    warnings: tuple[Any, ...]
    factor: str | None


@dataclass(frozen=True, slots=True)
class HandOut:
    """Who has the instrument, for what and where."""

    event: str
    to: str
    job: str
    place: str
    until: str | None
    when: datetime
    back_by: datetime | None = None
    """When it should be back, where that was said."""
    emergency: bool = False
    """It went out without a check that counts, by somebody's authority."""
    person: str | None = None
    """Who recorded it."""


@dataclass(frozen=True, slots=True)
class Calibration:
    """The calibration in force; dates as written, local to the site."""

    event: str
    on: str
    due: str | None
    by: str
    certificate: str
    as_found: str


@dataclass(frozen=True, slots=True)
class Binding:
    """The source and jig that play a role in this instrument's checkout."""

    source: str
    jig: str | None


@dataclass(frozen=True, slots=True)
class Standing:
    """What decides fitness once the time is known. Screens keep this; openings fold it afresh."""

    locked: tuple[Reason, ...] = ()
    awaiting: bool = False
    """Every lockout that stands has a clearing and waits for its check."""
    ready_until: datetime | None = None
    newest: datetime | None = None
    problems: tuple[str, ...] = ()
    why_not: str = "It has not been checked yet."


@dataclass(frozen=True, slots=True)
class InstrumentState:
    """Everything about one instrument that its weighty events say."""

    id: str
    registered: bool
    fields: Mapping[str, Any]
    """label, serial, type, profile, detector, cable, and whatever else was described."""
    standing: Standing
    lockouts: tuple[Lockout, ...] = ()
    passes: tuple[Pass, ...] = ()
    counting: Pass | None = None
    whereabouts: str = "here"
    where: str = ""
    handed: HandOut | None = None
    contaminated: bool = False
    calibration: Calibration | None = None
    last_checked: datetime | None = None
    bindings: Mapping[str, Binding] = field(default_factory=dict)
    references: tuple[Event, ...] = ()
    """`reference-recorded`, newest first."""
    repair: Event | None = None
    """The last `repaired`: what was read before it says nothing about what the instrument reads now."""
    open_checkouts: tuple[str, ...] = ()
    retired: bool = False


@dataclass(frozen=True, slots=True)
class Fitness:
    """The answer that somebody stakes their safety on. `why` says it in one sentence."""

    word: FitnessWord
    reasons: tuple[Reason, ...]
    until: datetime | None
    why: str


def fitness(of: InstrumentState | Standing, now: datetime) -> Fitness:
    """Fitness at `now` (aware). In doubt never "ready"."""
    standing = of.standing if isinstance(of, InstrumentState) else of
    if standing.locked:
        why = "It was cleared and waits for a complete check." if standing.awaiting else "It is out of service."
        return Fitness("locked out", standing.locked, None, why)
    if standing.problems:
        return Fitness("needs check", (), None, standing.problems[0])
    if standing.ready_until is None:
        return Fitness("needs check", (), None, standing.why_not)
    if standing.newest is not None and now < standing.newest - BEHIND:
        return Fitness("needs check", (), None, "The clock stands before the newest record.")
    if now >= standing.ready_until:
        return Fitness("needs check", (), None, "Its last check no longer counts: the time is over.")
    return Fitness("ready", (), standing.ready_until, "It passed its check.")


@dataclass(frozen=True, slots=True)
class SourceState:
    """A check source: what it is, where it is, and the checkout it is out with."""

    id: str
    registered: bool
    fields: Mapping[str, Any]
    whereabouts: str = "here"
    where: str = ""
    out_with: str | None = None
    leak_tested: str | None = None
    leak_due: str | None = None
    leak_result: Any = None
    retired: bool = False
    condition: str = ""
    """good, damaged or slipped; "" while nobody has said."""
    condition_say: str = ""
    counted_on: str | None = None
    """Day of the last physical inventory that looked for it, found or not."""
    counted_found: bool | None = None


@dataclass(frozen=True, slots=True)
class ThingState:
    """A person, a jig, or anything registered, as far as all of them are alike."""

    id: str
    registered: bool
    what: str
    fields: Mapping[str, Any]
    retired: bool = False


@dataclass(frozen=True, slots=True)
class SiteState:
    """The site's settings, each by its last writer."""

    name: str
    zone: str
    day_starts: str
    shifts: tuple[str, ...]
    settings: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Adoption:
    """One adoption of one revision of a profile."""

    event: str
    revision: int
    title: str
    sha256: str
    text: str
    replaces: tuple[str, ...]
    when: datetime
    person: str | None


@dataclass(frozen=True, slots=True)
class ProfileState:
    """A profile's adoptions; `in_force` is None while there is none, or while two made apart wait for a choice."""

    id: str
    adoptions: tuple[Adoption, ...]
    heads: tuple[str, ...]
    in_force: Adoption | None


@dataclass(frozen=True, slots=True)
class Wait:
    """A wait that runs: its ask, its length in seconds, and the ticks and session of its beginning."""

    step: str
    ask: str
    seconds: float
    ticks: float
    session: str


@dataclass(frozen=True, slots=True)
class CheckoutState:
    """One checkout as the list of open checkouts shows it."""

    checkout: str
    instrument: str
    person: str | None
    station: str
    step: str
    phase: Literal["asking", "waiting", "paused", "ended"]
    wait: Wait | None
    failed: bool
    last_event: str
    last_utc: datetime


@dataclass(frozen=True, slots=True)
class CheckoutRecord:
    """One checkout as the records list it, ended or not."""

    checkout: str
    instrument: str
    person: str | None
    station: str
    opened: datetime
    ended: datetime | None
    ending: str
    """"" while it has none."""
    codes: tuple[str, ...]
    withdrawn: bool
