"""A checkout that is only imagined: the same conduct and rules as a real one, a clock moved by hand, and no journal."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Final

from procedures import conduct, settling
from procedures.answers import understand
from procedures.asks import Acknowledge, Ask, Hold, ReadingAsk, Scan, Wait
from procedures.checkout import RULES, State, apply, opened
from procedures.clock import ManualClock
from procedures.conduct import Said, Sketch
from procedures.due import due_ask
from procedures.facts import facts_to_json
from procedures.procedure import Procedure
from procedures.site.checkouts import JUDGED
from procedures.site.rehearsal_facts import facts_of
from procedures.site.rehearsal_file import AnswersFile
from procedures.site.rehearsal_schema import Row
from procedures.site.rehearsal_words import allowed_here, lines_to_add, lines_to_add_for_remedy
from procedures.steps.base import seconds
from procedures.trouble import Trouble

MOST_ASKS: Final = 2_000
"""Asks and remedies of one rehearsal. A checkout of sixty steps with every remedy taken stays far below."""

USUAL_SECONDS: Final = 4.0
"""How long an answer takes when the file does not say."""

AT_REMEDY: Final = "remedy"
"""In place of an ask's key: the row happens while a remedy is on offer."""

_BEAT: Final = 0.5
_REHEARSING: Final = "rehearsal"
_OTHER_PERSON: Final = "another person"


@dataclass(frozen=True, slots=True)
class Turn:
    """One thing that happens, with where in the file it stands. `text` is one of the answers of a row that gives."""

    row: Row
    place: str
    text: str = ""


@dataclass(frozen=True, slots=True)
class Ran:
    """A rehearsal that came to its end. `asks` counts what was asked; `unused` are places of answers never reached."""

    state: State
    asks: int
    unused: tuple[str, ...]


def run(procedure: Procedure, file: AnswersFile, *, most_asks: int = MOST_ASKS) -> Ran:
    """Run the checkout through. Raises Trouble when an answer is missing, cannot be understood, or it has no end."""
    play = _Play(procedure, file, ManualClock(file.answers.start, session=_REHEARSING))
    play.open()
    while not play.state.over:
        if play.asks >= most_asks:
            raise Trouble(
                f"after {most_asks:,} asks the checkout had not ended",
                where=file.page.file,
                allowed=f"at most {most_asks:,} asks in a rehearsal",
                do="Give fewer answers, or look at the paths of the profile.",
            )
        play.asks += 1
        play.go_on()
    unused = tuple(turn.place for turns in play.turns.values() for turn in turns)
    return Ran(play.state, play.asks, unused)


@dataclass(slots=True)
class _Play:
    """A rehearsal going on: the state so far, the clock, and the turns still to come of each step."""

    procedure: Procedure
    file: AnswersFile
    clock: ManualClock
    state: State = field(init=False)
    turns: dict[tuple[str, bool], deque[Turn]] = field(default_factory=dict)
    """By step, apart for asks (False) and for remedies on offer (True)."""
    asks: int = 0
    events: int = 0

    def open(self) -> None:
        """Open the checkout and lay the turns out."""
        for number, row in enumerate(self.file.answers.answer):
            place = self.file.place(number)
            turns = [Turn(row, place, text) for text in row.give] if row.give else [Turn(row, place)]
            at_remedy = row.done is not None or row.ask == AT_REMEDY
            self.turns.setdefault((row.step, at_remedy), deque()).extend(turns)
        now, plan = self.clock.now(), self.procedure
        body = {
            "instrument": _REHEARSING,
            "profile": {"id": plan.id, "revision": plan.revision, "sha256": plan.sha256},
            "rules": RULES,
            "clearings": [],
            "facts": facts_to_json(facts_of(self.procedure, self.file.answers)),
            "ticks": now.ticks,
            "session": now.session,
        }
        self.state = opened(self.procedure, self._sketch(Said("opened", body), _REHEARSING))
        self._record(conduct.begin(self.procedure, self.state, now))

    def go_on(self) -> None:
        """Answer what is due, be it an ask or a remedy on offer."""
        step = self.state.track.step
        if self.state.track.offer is not None:
            self._answer_remedy(step)
            return
        ask = due_ask(self.procedure, self.state)
        if ask is None:
            raise Trouble(f"step {step} asks nothing and comes to no finding", where=self.file.page.file)
        turn = self._next(step, ask)
        if turn is not None:
            self._act(turn, ask)
        elif isinstance(ask, Wait):
            self._wait()
        elif isinstance(ask, Hold):
            self._hold(ask, ask.seconds)
        else:
            self._give(ask, _by_default(ask), "", None)

    # --- which turn comes next -----------------------------------------------------------------------------------

    def _next(self, step: str, ask: Ask) -> Turn | None:
        """The next turn of the step if it is for this ask, None to do what goes without saying."""
        turns = self.turns.get((step, False))
        if turns and _is_for(turns[0], ask):
            return turns.popleft()
        if isinstance(ask, Wait | Hold) or _by_default(ask):
            return None
        raise self._unscripted(
            f"step {step} asks “{ask.key}” on visit {self.state.visit}: {ask.say}",
            allowed_here(ask),
            lines_to_add(step, ask),
            turns,
        )

    def _unscripted(self, what: str, allowed: str, lines: str, turns: deque[Turn] | None) -> Trouble:
        waiting = f" The step's next answer is in {turns[0].place}, and it is not for this." if turns else ""
        return Trouble(
            f"{what} No answer in the file is for this.{waiting}",
            where=self.file.page.file,
            allowed=allowed,
            do=f"Add to the file, where it comes in the order of this step's answers:\n\n{lines}",
        )

    # --- what happens --------------------------------------------------------------------------------------------

    def _act(self, turn: Turn, ask: Ask | None) -> None:
        row = turn.row
        if row.give is not None and ask is not None:
            self._give(ask, turn.text, turn.place, row)
        elif row.let_go is not None and isinstance(ask, Hold):
            self._hold(ask, seconds(row.let_go))
        elif row.pause is not None:
            self._pause(row)
        elif row.judge is not None:
            self.clock.advance(_takes(row))
            now = self.clock.now()
            self._record(conduct.fail_by_judgement(self.procedure, self.state, JUDGED, row.judge, now))
        elif row.abandon is not None:
            self.clock.advance(_takes(row))
            self._record(conduct.abandon(self.procedure, self.state, row.abandon, self.clock.now()))

    def _give(self, ask: Ask, text: str, place: str, row: Row | None) -> None:
        took = max(USUAL_SECONDS, ask.look) if row is None or row.after is None else seconds(row.after)
        try:
            value, _ = understand(ask, text, selector=_selector(ask, text))
        except Trouble as trouble:
            raise Trouble(
                f"step {self.state.track.step}, “{ask.key}”: {trouble.what}",
                where=place or self.file.page.file,
                allowed=trouble.allowed,
                do=trouble.do,
            ) from None
        self.clock.advance(took)
        self._record(conduct.answer(self.procedure, self.state, ask, value, self.clock.now(), took=took))

    def _wait(self) -> None:
        waiting = self.state.waiting
        if waiting is None:
            raise Trouble(f"step {self.state.track.step} waits, and nothing was begun", where=self.file.page.file)
        wait = settling.Wait(waiting.seconds, waiting.begun, waiting.credit)
        while (left := settling.remaining(wait, self.clock.now())) > 0:
            self.clock.advance(max(left, 0.001))
        now = self.clock.now()
        self._record(conduct.keep_wait(self.procedure, self.state, settling.elapsed(wait, now), now))

    def _hold(self, ask: Hold, let_go: float) -> None:
        self._record(conduct.begin_hold(self.procedure, self.state, ask, self.clock.now()))
        if self.state.waiting is None:
            return
        hold: settling.Hold | settling.Broken = settling.begin_hold(ask.seconds, self.clock.now())
        while isinstance(hold, settling.Hold) and not settling.is_kept(hold) and settling.held(hold) < let_go:
            hold = settling.beat(hold, self.clock.advance(_BEAT))
        now = self.clock.now()
        if isinstance(hold, settling.Hold) and settling.is_kept(hold):
            self._record(conduct.keep_wait(self.procedure, self.state, settling.held(hold), now))
            return
        held = hold.held if isinstance(hold, settling.Broken) else settling.held(hold)
        self._record(conduct.break_wait(self.procedure, self.state, held, "The button came up too early.", now))

    def _pause(self, row: Row) -> None:
        self.clock.advance(0.0 if row.after is None else seconds(row.after))
        self._record(conduct.pause(self.procedure, self.state, "", self.clock.now()))
        self.clock.advance(0.0 if row.pause is None else seconds(row.pause))
        person = _OTHER_PERSON if row.another_person else self.state.person
        now = self.clock.now()
        said = conduct.resume(self.procedure, self.state, person, now, switched_off=row.switched_off)
        self._record(said, person)

    def _answer_remedy(self, step: str) -> None:
        offer = self.state.track.offer or 0
        remedy = self.procedure.plan.step(step).remedies[offer]
        turns = self.turns.get((step, True))
        if not turns or not (turns[0].row.done is not None or _is_event(turns[0].row)):
            raise self._unscripted(
                f"step {step} failed and offers a remedy, {remedy.action}: {remedy.say}",
                "done = true, or done = false when it cannot be carried out",
                lines_to_add_for_remedy(step),
                turns,
            )
        turn = turns.popleft()
        if turn.row.done is None:
            self._act(turn, None)
            return
        self.clock.advance(_takes(turn.row))
        now = self.clock.now()
        self._record(conduct.answer_remedy(self.procedure, self.state, now, done=turn.row.done))

    # --- events --------------------------------------------------------------------------------------------------

    def _record(self, said: Sequence[Said], person: str | None = None) -> None:
        for each in said:
            self.state = apply(self.procedure, self.state, self._sketch(each, person or self.state.person))

    def _sketch(self, said: Said, person: str) -> Sketch:
        now = self.clock.now()
        self.events += 1
        made_up = sha256(f"{_REHEARSING} {self.events}".encode()).hexdigest()
        return Sketch(said.kind, said.body, now.utc, now.offset, person, made_up)


def _is_event(row: Row) -> bool:
    return row.pause is not None or row.judge is not None or row.abandon is not None


def _is_for(turn: Turn, ask: Ask) -> bool:
    row = turn.row
    if row.ask and row.ask != ask.key:
        return False
    if row.let_go is not None:
        return isinstance(ask, Hold)
    if row.give is None or row.ask:
        return True
    # What goes without saying is answered by a row only when the row names the ask.
    return not isinstance(ask, Wait | Hold) and not _by_default(ask)


def _by_default(ask: Ask) -> str:
    """What a person does when nothing special happens: the thing is done, the right label is scanned."""
    if isinstance(ask, Acknowledge):
        return ask.done
    return ask.due if isinstance(ask, Scan) else ""


def _selector(ask: Ask, text: str) -> str:
    """The selector position that is wanted, unless the text begins with a position itself."""
    if not isinstance(ask, ReadingAsk) or not ask.wanted:
        return ""
    typed = text.casefold()
    named = any(typed == each.name.casefold() or typed.startswith(f"{each.name.casefold()} ") for each in ask.selectors)
    return "" if named else ask.wanted


def _takes(row: Row) -> float:
    return USUAL_SECONDS if row.after is None else seconds(row.after)
