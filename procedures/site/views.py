"""What the use cases hand to a front end: frozen values with everything decided, and nothing left to work out.

Words are the trade's; symbols and colours are the front end's own affair.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from procedures.asks import Ask, State
from procedures.findings import Ending, Finding

FitnessWord = Literal["ready", "needs check", "locked out"]
Phase = Literal["asking", "waiting", "wait over", "remedy", "paused", "left open", "ended"]
Mark = Literal["real", "demo", "practice"]


@dataclass(frozen=True, slots=True)
class PersonView:
    """Somebody on the site's list. `may_check` is "" or says why this person may not run a checkout."""

    id: str
    label: str
    name: str
    initials: str
    roles: tuple[str, ...]
    may_check: str = ""


@dataclass(frozen=True, slots=True)
class InstrumentRow:
    """An instrument as home shows it. Fitness, whereabouts and contamination are three separate things.

    `why` says in a few words why it is not ready ("" when it is); `until` is when readiness ends, in the site's zone;
    `due` lists what runs out or has run out; `checkout` is the open checkout, or "". `awaiting` says that every lockout
    was cleared and waits for its check. `may_begin` is "" or says why no checkout of it may be begun.
    """

    id: str
    label: str
    serial: str
    type: str
    fitness: FitnessWord
    why: str
    reasons: tuple[str, ...]
    until: datetime | None
    whereabouts: str
    holder: str
    contaminated: bool
    calibration_due: date | None
    due: tuple[str, ...]
    checkout: str
    awaiting: bool = False
    may_begin: str = ""


@dataclass(frozen=True, slots=True)
class OpenCheckout:
    """A checkout that has not ended. `remaining` are seconds of the wait in progress, 0 when it is over, None: none."""

    checkout: str
    instrument: str
    label: str
    person: str
    step: str
    phase: Phase
    remaining: float | None
    failed: bool


@dataclass(frozen=True, slots=True)
class SourceOut:
    """A check source that is not in its store, the checkout it was taken for, and since when, in the site's zone."""

    id: str
    label: str
    checkout: str
    instrument: str
    since: datetime


@dataclass(frozen=True, slots=True)
class Home:
    """Everything the first screen shows. `now` is in the site's zone, by which readiness ends.

    `waiting` says what waits for somebody: overdue instruments, uses in doubt, a line each. `exchanged` says how old
    what is known here of other laptops is, "" where there are none.
    """

    site: str
    marking: Mark
    station: str
    now: datetime
    instruments: tuple[InstrumentRow, ...]
    total: int
    checkouts: tuple[OpenCheckout, ...]
    sources_out: tuple[SourceOut, ...]
    due: tuple[str, ...]
    notices: tuple[str, ...]
    waiting: tuple[str, ...] = ()
    exchanged: str = ""


@dataclass(frozen=True, slots=True)
class Found:
    """What a scanned or typed text turned out to be. `kind` is "nothing" with words in `say` when nothing fits."""

    kind: Literal["instrument", "source", "person", "jig", "several", "nothing"]
    id: str = ""
    label: str = ""
    say: str = ""
    rows: tuple[InstrumentRow, ...] = ()


@dataclass(frozen=True, slots=True)
class TrailStep:
    """One step of the procedure as the head of the screen shows it."""

    id: str
    title: str
    state: Literal["passed", "warned", "failed", "now", "to come", "again"]


@dataclass(frozen=True, slots=True)
class WaitView:
    """A wait or hold in progress: seconds in all, seconds left, what goes on meanwhile."""

    kind: Literal["wait", "hold"]
    seconds: float
    remaining: float
    meanwhile: str


@dataclass(frozen=True, slots=True)
class RemedyView:
    """A remedy on offer after a failed step."""

    failed: Finding
    say: str
    caution: str
    action: str
    attempt: int
    attempts: int
    back_to: str


@dataclass(frozen=True, slots=True)
class ReasonView:
    """A reason code in plain words, with what to do with the instrument now."""

    code: str
    say: str
    do: str
    step: str = ""


@dataclass(frozen=True, slots=True)
class FindingView:
    """A finding with its step's title and when it was made."""

    title: str
    at: datetime
    finding: Finding
    counts: bool


@dataclass(frozen=True, slots=True)
class EndingView:
    """How a checkout ended, ready to fill a screen.

    `fit_for` and `not_for` are radiations; `scales` says for each scale how it was shown ("source", "zero", "not
    shown"). `do` is what to do with the instrument now. `doubt` counts uses since the last good check that are now in
    doubt. `sources_out` are labels of sources not scanned back yet. `withdrawn` says why it was withdrawn, if it was:
    one that had passed then counts as abandoned. `suspects` says what points at a source and not at this instrument,
    where it is locked out. `exchanged` says how old what is known here of other laptops is, "" where there are none.
    """

    ending: Ending
    reasons: tuple[ReasonView, ...]
    missing: tuple[str, ...]
    fit_for: tuple[str, ...]
    not_for: tuple[str, ...]
    scales: tuple[tuple[str, str], ...]
    until: datetime | None
    until_local: str
    factor: str
    warnings: tuple[str, ...]
    tell: tuple[str, ...]
    do: tuple[str, ...]
    tag: str
    doubt: int
    sources_out: tuple[str, ...]
    findings: tuple[FindingView, ...]
    withdrawn: str = ""
    suspects: tuple[str, ...] = ()
    exchanged: str = ""


@dataclass(frozen=True, slots=True)
class CheckoutView:
    """A checkout as a front end shows it. One of `ask`, `remedy`, `ending` is due, or `paused` says why none is.

    `wait` is set while the ask is a Wait, and while a Hold is held down. `notice` is something that has just happened
    and must be seen (a broken hold, a gap that sends one back to the start). `result` is the finding of the step just
    done. `step` and `steps` are "6 of 7". `seconds` is the time since the opening.
    """

    checkout: str
    marking: Mark
    instrument: str
    label: str
    serial: str
    type: str
    person: str
    person_name: str
    title: str
    trail: tuple[TrailStep, ...]
    step: int
    steps: int
    step_title: str
    seconds: float
    ask: Ask | None = None
    remedy: RemedyView | None = None
    wait: WaitView | None = None
    ending: EndingView | None = None
    paused: str = ""
    notice: str = ""
    result: FindingView | None = None
    failed: bool = False
    readings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Typed:
    """An answer as a person gave it, before it is understood.

    `text` is what was typed, scanned or chosen (an option's value, a place, "yes" for an acknowledgement). For a
    reading `selector`, `unit` and `state` may be given apart; what is not given is read from `text`
    ("x10 4.2 mR/h", "4,2", "no response").
    """

    text: str
    selector: str = ""
    unit: str = ""
    state: State | Literal[""] = ""


@dataclass(frozen=True, slots=True)
class Understood:
    """What the program makes of a typed answer: `echo` in words, before anything is kept."""

    echo: str
