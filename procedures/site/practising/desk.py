"""The desk of practice: checkouts of simulated instruments, answered as real ones are, the instrument worked beside.

Time at the bench goes by the site's clock, so many times as fast as the session says; it stands still while a session
is set aside, and while nobody has it open. Everything that is done is in the journal of practice when a call returns.
"""
# ruff: noqa: ARG002  some of what a desk is asked has no meaning in practice

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Final

from procedures import conduct, settling
from procedures.answers import understand
from procedures.asks import Hold
from procedures.practice.bench import Bench
from procedures.practice.controls import controls_of
from procedures.practice.drills import Drill
from procedures.practice.kit import papers_of
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
from procedures.practice.session import replay
from procedures.routing import ACTIONS
from procedures.site import lookups, picture
from procedures.site.clearing import reason_text
from procedures.site.practising import exams, keeping, scored
from procedures.site.practising.keeping import Kept
from procedures.site.practising.room import kit_of, practice_only
from procedures.site.views import CheckoutView, OpenCheckout, Typed, Understood
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.asks import Ask
    from procedures.clock import Instant
    from procedures.practice.face import Face
    from procedures.sheets import Sheet
    from procedures.site.opening import Site

OVERTIME: Final = "the time allowed for the exam is over"


@dataclass(slots=True)
class _Sitting:
    """A session that somebody has open: its bench, and since when its time goes on."""

    kept: Kept
    bench: Bench
    since: Instant
    passed: int
    """Microseconds at the bench at `since`."""
    hints: int = 0
    until: datetime | None = None
    """When the exam it belongs to is over."""


class PracticeDesk:
    """The sessions of practice on this station. One desk for each running program."""

    def __init__(self, site: Site) -> None:
        practice_only(site)
        self.site = site
        self._sitting: dict[str, _Sitting] = {}

    # --- beginning and looking -------------------------------------------------------------------------------------

    def begin(
        self, trainee: str, drill: Drill, *, exam: str = "", place: int = 0, until: datetime | None = None
    ) -> CheckoutView:
        """A new session. Raises Trouble for somebody who is not on the list of practice."""
        self._listed(trainee)
        kit = kit_of(drill.profile)
        papers = papers_of(kit)
        session = keeping.begin(self.site, trainee, drill, papers, exam=exam, place=place)
        kept = keeping.read(self.site, session)
        bench = Bench(kit, drill.case, drill.seed, drill.start, papers=papers)
        self._sitting[session] = _Sitting(kept, bench, self.site.clock.now(), 0, until=until)
        return self.view(session)

    def view(self, checkout: str) -> CheckoutView:
        """The checkout of a session as a front end shows it."""
        sitting = self._get(checkout)
        bench = sitting.bench
        now = bench.run.clock.now()
        made = picture.view(self.site, bench.kit.profile.procedure, bench.run.state, self._hold(bench, now), now)
        name = lookups.person(self.site, sitting.kept.trainee).name
        return replace(made, checkout=checkout, person=sitting.kept.trainee, person_name=name)

    def open_checkouts(self) -> tuple[OpenCheckout, ...]:
        """The sessions that somebody has open here."""
        rows = []
        for session, sitting in self._sitting.items():
            bench = self._get(session).bench
            if not bench.over:
                now = bench.run.clock.now()
                row = picture.open_row(self.site, bench.kit.profile.procedure, bench.run.state, None, now)
                name = lookups.person(self.site, sitting.kept.trainee).name
                rows.append(replace(row, checkout=session, person=name))
        return tuple(rows)

    def understand(self, checkout: str, ask: str, typed: Typed) -> Understood:
        """What the program makes of a typed answer. Nothing is kept. Raises Trouble when it is not understood."""
        asked = conduct.check_due_is_ask(self._get(checkout).bench.ask(), ask)
        _, echo = understand(asked, typed.text, selector=typed.selector, unit=typed.unit, state=typed.state)
        return Understood(echo)

    # --- the checkout ----------------------------------------------------------------------------------------------

    def answer(self, checkout: str, ask: str, typed: Typed, *, took: float) -> CheckoutView:
        """Keep an answer; it is final when this returns. The bench itself knows how long it took."""
        asked: Ask = conduct.check_due_is_ask(self._get(checkout).bench.ask(), ask)
        value, _ = understand(asked, typed.text, selector=typed.selector, unit=typed.unit, state=typed.state)
        return self._do(checkout, Give(asked.key, value))

    def tick(self, checkout: str) -> CheckoutView:
        """Let time at the bench go on to this moment; waits that are over end."""
        return self.view(checkout)

    def hold(self, checkout: str) -> CheckoutView:
        """The trainee says that the button is down now."""
        bench = self._get(checkout).bench
        asked = bench.ask()
        if not isinstance(asked, Hold) or bench.run.state.waiting is not None:
            return self.view(checkout)
        return self._do(checkout, Press(asked.key))

    def let_go(self, checkout: str) -> CheckoutView:
        """The trainee says that the button came up."""
        bench = self._get(checkout).bench
        if not isinstance(bench.ask(), Hold) or bench.run.state.waiting is None:
            return self.view(checkout)
        return self._do(checkout, LetGo())

    def remedy(self, checkout: str, *, done: bool) -> CheckoutView:
        """The trainee says that the remedy on offer was carried out, or cannot be."""
        return self._do(checkout, Remedied(done))

    def pause(self, checkout: str, why: str = "") -> CheckoutView:
        """Set the session aside: its time stands still. In an exam it does not: that is refused.

        Whoever leaves the program (and so says `why`) leaves an exam as it is: the time allowed runs on.
        """
        if self._get(checkout).kept.exam:
            if why:
                return self.view(checkout)
            raise Trouble("an exam is not set aside", do="Go on, or give this instrument up.")
        return self._do(checkout, Pause())

    def resume(self, checkout: str, person: str, *, switched_off: bool, pin: str | None = None) -> CheckoutView:
        """Go on with one's own session. Raises Trouble for another person's."""
        sitting = self._get(checkout)
        if person != sitting.kept.trainee:
            whose = lookups.person(self.site, sitting.kept.trainee).name
            raise Trouble(f"this session is {whose}'s", do="Begin one of your own.")
        if not sitting.bench.run.state.paused:
            return self.view(checkout)
        # Time has stood still: from here on it goes again.
        sitting.since, sitting.passed = self.site.clock.now(), sitting.bench.passed
        return self._do(checkout, Resume(switched_off))

    def fail_by_judgement(self, checkout: str, say: str) -> CheckoutView:
        """The trainee fails the step being done, with a reason."""
        return self._do(checkout, Judge(reason_text(say)))

    def abandon(self, checkout: str, why: str = "") -> CheckoutView:
        """Give it up."""
        return self._do(checkout, Abandon(why))

    def start(self, instrument: str, person: str, pin: str | None = None) -> CheckoutView:
        """There is nothing here that is begun by its label."""
        raise Trouble(
            "in practice an instrument is not begun by its label",
            do="Go to the beginning and choose what to practise.",
        )

    def withdraw(self, checkout: str, why: str) -> CheckoutView:
        """There is no wrong instrument in practice."""
        raise Trouble("in practice nothing has to be withdrawn", do="Give it up, and begin another.")

    def note(self, checkout: str, text: str) -> None:
        """Write a note beside the session."""
        kept = self._get(checkout).kept
        self.site.record("note", {"text": reason_text(text), "session": kept.id}, about=(kept.id,))

    # --- the instrument --------------------------------------------------------------------------------------------

    def face(self, checkout: str) -> Face:
        """The instrument as it can be seen and heard at this moment."""
        return self._get(checkout).bench.face()

    def controls(self, checkout: str) -> Mapping[str, tuple[str, ...]]:
        """What can be worked on it, each with the words it takes; no words: a number."""
        return controls_of(self._get(checkout).bench.kit.model)

    def remedies(self, checkout: str) -> Mapping[str, str]:
        """What hands can do besides, by its name, in words."""
        self._get(checkout)
        return ACTIONS

    def labels(self, checkout: str) -> tuple[str, ...]:
        """What is marked on the instrument, and on the sources and jigs in the drawer, a line each."""
        papers = self._get(checkout).kept.papers
        marked = [f"label on it: {papers.label}, serial {papers.serial}"]
        for each in papers.sources:
            jig = f", its jig {each.jig}" if each.jig else ""
            marked.append(f"in the drawer, for {each.role}: source {each.label}{jig}")
        return tuple(marked)

    def work(self, checkout: str, control: str, value: str | float) -> Face:
        """Work a control. Raises Trouble for one that is not there, or does not take this."""
        self._do(checkout, Work(control, value))
        return self.face(checkout)

    def turn(self, checkout: str, turns: float) -> Face:
        """Turn the zero knob."""
        self._do(checkout, Turn(turns))
        return self.face(checkout)

    def mend(self, checkout: str, action: str) -> Face:
        """Carry out a remedy with one's hands."""
        self._do(checkout, Mend(action))
        return self.face(checkout)

    def hint(self, checkout: str) -> str:
        """The next hint. Raises Trouble when there is none, or none may be given."""
        sitting = self._get(checkout)
        hints = sitting.kept.drill.hints
        if sitting.kept.drill.sort == "exam":
            raise Trouble("an exam has no hints")
        if sitting.hints >= len(hints):
            raise Trouble("there is no further hint", do="Go on step by step: what is seen, heard, read?")
        sitting.hints += 1
        keeping.hinted(self.site, checkout, sitting.kept.trainee, sitting.hints)
        return hints[sitting.hints - 1]

    def speed(self, checkout: str) -> int:
        """How many times as fast as a clock its time goes."""
        return self._get(checkout).kept.drill.speed

    def left(self, checkout: str) -> float | None:
        """Seconds that are left of the exam it belongs to; None for no exam."""
        until = self._get(checkout).until
        return None if until is None else max(0.0, (until - self.site.clock.now().utc).total_seconds())

    def debrief(self, checkout: str) -> Sheet:
        """What it came to, once it is over; Trouble before."""
        return scored.debrief_sheet(self.site, checkout)

    # --- within ----------------------------------------------------------------------------------------------------

    def _listed(self, trainee: str) -> None:
        why = lookups.person(self.site, trainee).may_check if trainee else "nobody has said who practises"
        if why:
            raise Trouble(why, allowed="somebody on the list of practice", do="Enter your name first.")

    def _get(self, session: str) -> _Sitting:
        sitting = self._sitting.get(session)
        if sitting is None:
            kept = keeping.read(self.site, session)
            bench = replay(kept.session, kit_of(kept.drill.profile))
            if not bench.over and not bench.run.state.paused and not kept.exam:
                # Nobody had it open: it was set aside, whoever ended the program.
                self._keep(kept, bench, Pause())
            until = exams.until_of(self.site, kept)
            sitting = _Sitting(kept, bench, self.site.clock.now(), bench.passed, kept.session.hints, until)
            self._sitting[session] = sitting
        self._go_on(sitting)
        return sitting

    def _go_on(self, sitting: _Sitting) -> None:
        """Time at the bench goes on to now."""
        bench, now = sitting.bench, self.site.clock.now()
        if bench.over or bench.run.state.paused:
            return
        gone = now.ticks - sitting.since.ticks if now.session == sitting.since.session else 0.0
        target = sitting.passed + round(max(0.0, gone) * sitting.kept.drill.speed * 1e6)
        bench.advance_to(max(target, bench.passed))
        if bench.over:
            # The last wait is over, and with it the checkout.
            self._finished(sitting)
        elif sitting.until is not None and now.utc >= sitting.until:
            self._enter(sitting, Abandon(OVERTIME))

    def _do(self, session: str, what: Deed | Entry) -> CheckoutView:
        sitting = self._get(session)
        if isinstance(what, Work | Turn | Mend) and sitting.bench.over:
            raise Trouble("this session is over", do="Look at the debrief, or begin another.")
        self._enter(sitting, what)
        return self.view(session)

    def _enter(self, sitting: _Sitting, what: Deed | Entry) -> None:
        self._keep(sitting.kept, sitting.bench, what)
        if sitting.bench.over:
            self._finished(sitting)

    def _finished(self, sitting: _Sitting) -> None:
        """It is over: what it came to is written down, once."""
        if not keeping.is_ended(self.site, sitting.kept.id):
            scored.finish(self.site, keeping.as_far_as(sitting.kept, sitting.bench, sitting.hints))

    def _keep(self, kept: Kept, bench: Bench, what: Deed | Entry) -> None:
        """It happens at the bench, which refuses what cannot be, and is written down."""
        bench.do(what)
        keeping.add(self.site, kept.id, kept.trainee, Moment(bench.passed, what))

    def _hold(self, bench: Bench, now: Instant) -> settling.Hold | None:
        waiting, asked = bench.run.state.waiting, bench.ask()
        if waiting is None or not isinstance(asked, Hold):
            return None
        return settling.Hold(waiting.seconds, waiting.begun, now)
