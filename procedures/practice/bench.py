"""The bench of practice: a simulated instrument and its checkout side by side, in one virtual time.

Whoever sits at it (a trainee at a screen, an observer, a replay) lets time pass, works the instrument and enters
answers; the bench writes down what was done and when, and that is all it needs to do it again. Waits end by themselves
when their time is over, whatever pieces time passes in.
"""

from __future__ import annotations

from datetime import datetime
from typing import Final

from procedures.asks import Ask, Hold
from procedures.headless import MICROSECOND, Run, VirtualClock
from procedures.practice.cases import Case
from procedures.practice.controls import controls_of
from procedures.practice.face import Face
from procedures.practice.instrument import STEP_S, SimInstrument
from procedures.practice.kit import Kit, Papers, facts_of, papers_of
from procedures.practice.moments import (
    Abandon,
    Deed,
    Entry,
    Give,
    Judge,
    LetGo,
    Mend,
    Moment,
    Pause,
    Press,
    Remedied,
    Resume,
    Turn,
    Work,
)
from procedures.routing import Remedy
from procedures.trouble import Trouble

JUDGED: Final = "judged-unfit"
"""Reason code of a person's own judgement, as in a real checkout."""

_PIECE: Final = 5 * MICROSECOND
"""Time passes in pieces too short for the long steps of an instrument that is off: those are as exact, but their last
digits would depend on how time was cut, and a session done again has to be the same to the last digit."""

_TRAINEE: Final = "trainee"
_SESSION: Final = "practice"


class Bench:
    """One practice checkout going on. `moments` is what was done so far.

    `step` is the length of the instrument's steps in seconds: longer ones cost less, and the laws of its noise are the
    same, but not its figures. Raises Trouble for a fault that the model cannot have.
    """

    def __init__(
        self,
        kit: Kit,
        case: Case,
        seed: int | str,
        start: datetime,
        *,
        step: float = STEP_S,
        papers: Papers | None = None,
    ) -> None:
        self.kit, self.case, self.seed, self.start, self.step = kit, case, str(seed), start, step
        self.sim = SimInstrument(kit.model, case.faults, seed, start, room=case.room, step=step)
        self.run = Run(kit.profile.procedure, VirtualClock(start, _SESSION), _SESSION)
        self.papers = papers_of(kit) if papers is None else papers
        self.run.open(facts_of(kit, self.papers, start), _TRAINEE)
        self.controls = frozenset(controls_of(kit.model))
        self.moments: list[Moment] = []
        self.due_since = self.waits_kept = 0
        self._ask: Ask | None = None
        self._look()

    # --- what is seen ----------------------------------------------------------------------------------------------

    @property
    def passed(self) -> int:
        """Microseconds since the session began."""
        return self.run.clock.passed

    @property
    def seconds(self) -> float:
        return self.run.clock.passed / MICROSECOND

    @property
    def over(self) -> bool:
        return self.run.state.over

    def face(self) -> Face:
        return self.sim.face()

    def ask(self) -> Ask | None:
        """The ask that is due, or None."""
        return self._ask

    def offer(self) -> Remedy | None:
        """The remedy on offer, or None."""
        return self.run.offer()

    # --- time ------------------------------------------------------------------------------------------------------

    def advance(self, seconds: float) -> None:
        """Let time pass, to the nearest microsecond."""
        self.advance_to(self.passed + round(seconds * MICROSECOND))

    def advance_to(self, moment: int) -> None:
        """Let time pass until so many microseconds after the beginning; waits that are over by then are kept."""
        if moment < self.passed:
            raise Trouble("time only goes forward")
        while (ends := self._wait_ends()) is not None and ends <= moment:
            self._pass(ends)
            self.run.keep_wait()
            self.waits_kept += 1
            self._look()
        self._pass(moment)

    def end_wait(self) -> None:
        """Let time pass until the wait or hold in progress is over. Raises Trouble without one."""
        ends = self._wait_ends()
        if ends is None:
            raise Trouble("no wait is in progress")
        self.advance_to(max(ends, self.passed))

    def _wait_ends(self) -> int | None:
        return None if self.run.state.waiting is None else self.run.wait_ends()

    def _pass(self, moment: int) -> None:
        while (left := moment - self.passed) > 0:
            seconds = min(left, _PIECE) / MICROSECOND
            self.sim.advance(seconds)
            self.run.clock.advance(seconds)

    # --- what a person does ----------------------------------------------------------------------------------------

    def do(self, what: Deed | Entry) -> None:
        """A deed or an entry, now. Raises Trouble for one that cannot be, and then nothing has happened."""
        if isinstance(what, Work):
            self.sim.set(what.control, what.value)
        elif isinstance(what, Turn):
            self.sim.turn(what.turns)
        elif isinstance(what, Mend):
            self.sim.remedy(what.action)
        else:
            self._enter(what)
        self.moments.append(Moment(self.passed, what))

    def _enter(self, what: Entry) -> None:
        run = self.run
        if run.state.over:
            raise Trouble("the checkout is over")
        if isinstance(what, Resume):
            run.resume("", switched_off=what.switched_off)
        elif run.state.paused:
            raise Trouble("the checkout is set aside", do="Go on with it first.")
        elif isinstance(what, Pause):
            run.pause()
        elif isinstance(what, Judge):
            run.judge(JUDGED, what.say)
        elif isinstance(what, Abandon):
            run.abandon(what.why)
        elif isinstance(what, Remedied):
            if run.offer() is None:
                raise Trouble("no remedy is on offer")
            run.remedy(done=what.done)
        else:
            self._answer(what)
        self._look()

    def _answer(self, what: Give | Press | LetGo) -> None:
        run, ask = self.run, self._ask
        if isinstance(what, LetGo):
            if run.state.waiting is None or not isinstance(ask, Hold):
                raise Trouble("no button is being held")
            run.let_go()
            return
        if ask is None or ask.key != what.ask:
            raise Trouble(f"“{what.ask}” is not asked now", allowed="nothing" if ask is None else ask.key)
        if isinstance(what, Press):
            if not isinstance(ask, Hold) or run.state.waiting is not None:
                raise Trouble(f"“{what.ask}” is no button to be held, or it is held already")
            run.press(ask)
        else:
            run.answer(ask, what.value, took=(self.passed - self.due_since) / MICROSECOND)

    def _look(self) -> None:
        """Take in what is due now, and since when."""
        self._ask, self.due_since = self.run.ask(), self.passed
