"""A checkout without a journal, in virtual time: the same conduct and rules as a real one, played by whoever answers.

A `Run` holds the checkout and its clock and knows what may happen to it: an answer, a wait that ends, a button held or
let go, a remedy, a judgement, a pause. A `Hand` supplies what happens when something is due, and may let time pass. A
rehearsal's hand reads a file; one of practice works a simulated instrument. Pure: nothing is recorded, no clock is
read, and the same hand always comes to the same end.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from typing import Any, Final, Protocol

from procedures import conduct, settling
from procedures.asks import Ask, Hold
from procedures.checkout import RULES, State, apply, opened
from procedures.clock import Instant
from procedures.conduct import Said, Sketch
from procedures.due import due_ask
from procedures.facts import Facts, facts_to_json
from procedures.procedure import Procedure
from procedures.routing import Remedy
from procedures.trouble import Trouble

MICROSECOND: Final = 1_000_000
"""Virtual time is counted in whole microseconds, so that no way of cutting it into pieces changes a moment."""

MOST_ASKS: Final = 2_000
"""Asks and remedies of one run. A checkout of sixty steps with every remedy taken stays far below."""


class VirtualClock:
    """A clock that stands still until time is said to pass. `passed` are the microseconds since `start`."""

    def __init__(self, start: datetime, session: str) -> None:
        self._start, self._session = start.astimezone(UTC), session
        self.passed = 0

    def now(self) -> Instant:
        utc = self._start + timedelta(microseconds=self.passed)
        return Instant(utc, 0, self.passed / MICROSECOND, self._session)

    def advance(self, seconds: float) -> Instant:
        """Let `seconds` ≥ 0 pass, to the nearest microsecond."""
        if not 0 <= seconds < math.inf:
            raise ValueError("time only goes forward")
        self.passed += round(seconds * MICROSECOND)
        return self.now()


class Hand(Protocol):
    """Who does what is due. Each call makes something happen to the run, or the run comes to no end."""

    def asked(self, run: Run, ask: Ask) -> None:
        """An ask is due, be it a wait or a hold."""

    def offered(self, run: Run, remedy: Remedy) -> None:
        """A step failed, and a remedy is on offer."""


@dataclass(slots=True)
class Run:
    """A checkout going on. `session` names its clock, and stands in for the ids that a journal would give.

    `asks` counts what was asked, remedies among it. Only the methods change the state.
    """

    procedure: Procedure
    clock: VirtualClock
    session: str
    state: State = field(init=False)
    asks: int = 0
    events: int = 0

    def open(self, facts: Facts, person: str) -> None:
        """Open the checkout: nothing else may happen before."""
        now, plan = self.clock.now(), self.procedure
        body = {
            "instrument": self.session,
            "profile": {"id": plan.id, "revision": plan.revision, "sha256": plan.sha256},
            "rules": RULES,
            "clearings": [],
            "facts": facts_to_json(facts),
            "ticks": now.ticks,
            "session": now.session,
        }
        self.state = opened(self.procedure, self._sketch(Said("opened", body), person))
        self._record(conduct.begin(self.procedure, self.state, now))

    # --- what is due -----------------------------------------------------------------------------------------------

    @property
    def step(self) -> str:
        """The step being done."""
        return self.state.track.step

    def offer(self) -> Remedy | None:
        """The remedy on offer, or None."""
        offer = self.state.track.offer
        return None if offer is None else self.procedure.plan.step(self.step).remedies[offer]

    def ask(self) -> Ask | None:
        """The ask that is due, or None."""
        return due_ask(self.procedure, self.state)

    def wait_ends(self) -> int | None:
        """Microseconds since the clock's start at which the wait or hold in progress is over; None without one.

        One more than it lasts, because ticks are binary fractions and a wait is never over early.
        """
        waiting = self.state.waiting
        if waiting is None:
            return None
        left = max(0.0, waiting.seconds - waiting.credit)
        return round(waiting.begun.ticks * MICROSECOND) + math.ceil(left * MICROSECOND) + 1

    # --- what happens ----------------------------------------------------------------------------------------------

    def answer(self, ask: Ask, value: Any, *, took: float) -> None:
        """The answer to the ask that is due, as `procedures.answers` understands it, after `took` seconds."""
        self._record(conduct.answer(self.procedure, self.state, ask, value, self.clock.now(), took=took))

    def keep_wait(self) -> None:
        """The wait or hold in progress has lasted as long as it must. ValueError when it has not."""
        now = self.clock.now()
        self._record(conduct.keep_wait(self.procedure, self.state, self._waited(now), now))

    def press(self, ask: Hold) -> None:
        """The button of a hold goes down."""
        self._record(conduct.begin_hold(self.procedure, self.state, ask, self.clock.now()))

    def let_go(self) -> None:
        """The button of a hold comes up too early."""
        now = self.clock.now()
        said = conduct.break_wait(self.procedure, self.state, self._waited(now), "The button came up too early.", now)
        self._record(said)

    def remedy(self, *, done: bool) -> None:
        """The remedy on offer was carried out, or cannot be."""
        self._record(conduct.answer_remedy(self.procedure, self.state, self.clock.now(), done=done))

    def judge(self, code: str, say: str) -> None:
        """The person fails the step by judgement."""
        self._record(conduct.fail_by_judgement(self.procedure, self.state, code, say, self.clock.now()))

    def abandon(self, why: str) -> None:
        self._record(conduct.abandon(self.procedure, self.state, why, self.clock.now()))

    def pause(self, why: str = "") -> None:
        self._record(conduct.pause(self.procedure, self.state, why, self.clock.now()))

    def resume(self, person: str, *, switched_off: bool) -> None:
        """Go on after a pause. `person` "" is the one who was there before."""
        who, now = person or self.state.person, self.clock.now()
        self._record(conduct.resume(self.procedure, self.state, who, now, switched_off=switched_off), who)

    def _waited(self, now: Instant) -> float:
        """Seconds that count of the wait in progress."""
        waiting = self.state.waiting
        if waiting is None:
            return 0.0
        return settling.elapsed(settling.Wait(waiting.seconds, waiting.begun, waiting.credit), now)

    def _record(self, said: Sequence[Said], person: str | None = None) -> None:
        for each in said:
            self.state = apply(self.procedure, self.state, self._sketch(each, person or self.state.person))

    def _sketch(self, said: Said, person: str) -> Sketch:
        now = self.clock.now()
        self.events += 1
        made_up = sha256(f"{self.session} {self.events}".encode()).hexdigest()
        return Sketch(said.kind, said.body, now.utc, now.offset, person, made_up)


def play(run: Run, hand: Hand, *, most_asks: int = MOST_ASKS) -> None:
    """Go on until the checkout has ended. Raises Trouble when it does not, or a step asks nothing."""
    while not run.state.over:
        if run.asks >= most_asks:
            raise Trouble(
                f"after {most_asks:,} asks the checkout had not ended",
                allowed=f"at most {most_asks:,} asks",
                do="Give fewer answers, or look at the paths of the profile.",
            )
        run.asks += 1
        remedy = run.offer()
        if remedy is not None:
            hand.offered(run, remedy)
            continue
        ask = run.ask()
        if ask is None:
            raise Trouble(f"step {run.step} asks nothing and comes to no finding")
        hand.asked(run, ask)


def end_wait(run: Run) -> None:
    """Let time pass until the wait or hold in progress is over, and keep it. Raises Trouble when none was begun."""
    ends = run.wait_ends()
    if ends is None:
        raise Trouble(f"step {run.step} waits, and nothing was begun")
    run.clock.advance(max(0, ends - run.clock.passed) / MICROSECOND)
    run.keep_wait()
