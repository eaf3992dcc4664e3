"""A rehearsal: a checkout that is only imagined, played through by what a file of answers says."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Final

from procedures.answers import understand
from procedures.asks import Acknowledge, Ask, Hold, ReadingAsk, Scan, Wait
from procedures.checkout import State
from procedures.headless import MOST_ASKS, Run, VirtualClock, end_wait, play
from procedures.procedure import Procedure
from procedures.routing import Remedy
from procedures.site.checkouts import JUDGED
from procedures.site.rehearsal_facts import facts_of
from procedures.site.rehearsal_file import AnswersFile
from procedures.site.rehearsal_schema import Row
from procedures.site.rehearsal_words import allowed_here, lines_to_add, lines_to_add_for_remedy
from procedures.steps.base import seconds
from procedures.trouble import Trouble

USUAL_SECONDS: Final = 4.0
"""How long an answer takes when the file does not say."""

AT_REMEDY: Final = "remedy"
"""In place of an ask's key: the row happens while a remedy is on offer."""

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
    going = Run(procedure, VirtualClock(file.answers.start, _REHEARSING), _REHEARSING)
    script = _Script(file)
    going.open(facts_of(procedure, file.answers), _REHEARSING)
    try:
        play(going, script, most_asks=most_asks)
    except Trouble as trouble:
        if trouble.where:
            raise
        allowed = f"{trouble.allowed} in a rehearsal" if trouble.allowed else ""
        raise Trouble(trouble.what, where=file.page.file, allowed=allowed, do=trouble.do) from None
    unused = tuple(turn.place for turns in script.turns.values() for turn in turns)
    return Ran(going.state, going.asks, unused)


class _Script:
    """The hand of a rehearsal: it does what the file says, by the turns still to come of each step."""

    def __init__(self, file: AnswersFile) -> None:
        self.file = file
        # By step, apart for asks (False) and for remedies on offer (True).
        self.turns: dict[tuple[str, bool], deque[Turn]] = {}
        for number, row in enumerate(file.answers.answer):
            place = file.place(number)
            turns = [Turn(row, place, text) for text in row.give] if row.give else [Turn(row, place)]
            at_remedy = row.done is not None or row.ask == AT_REMEDY
            self.turns.setdefault((row.step, at_remedy), deque()).extend(turns)

    def asked(self, run: Run, ask: Ask) -> None:
        """Answer what is due."""
        turn = self._next(run, ask)
        if turn is not None:
            self._act(run, turn, ask)
        elif isinstance(ask, Wait):
            end_wait(run)
        elif isinstance(ask, Hold):
            _hold(run, ask, ask.seconds)
        else:
            self._give(run, ask, _by_default(ask), "", None)

    def offered(self, run: Run, remedy: Remedy) -> None:
        """Answer a remedy on offer."""
        turns = self.turns.get((run.step, True))
        if not turns or not (turns[0].row.done is not None or _is_event(turns[0].row)):
            raise self._unscripted(
                f"step {run.step} failed and offers a remedy, {remedy.action}: {remedy.say}",
                "done = true, or done = false when it cannot be carried out",
                lines_to_add_for_remedy(run.step),
                turns,
            )
        turn = turns.popleft()
        if turn.row.done is None:
            self._act(run, turn, None)
            return
        run.clock.advance(_takes(turn.row))
        run.remedy(done=turn.row.done)

    # --- which turn comes next -----------------------------------------------------------------------------------

    def _next(self, run: Run, ask: Ask) -> Turn | None:
        """The next turn of the step if it is for this ask, None to do what goes without saying."""
        turns = self.turns.get((run.step, False))
        if turns and _is_for(turns[0], ask):
            return turns.popleft()
        if isinstance(ask, Wait | Hold) or _by_default(ask):
            return None
        raise self._unscripted(
            f"step {run.step} asks “{ask.key}” on visit {run.state.visit}: {ask.say}",
            allowed_here(ask),
            lines_to_add(run.step, ask),
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

    def _act(self, run: Run, turn: Turn, ask: Ask | None) -> None:
        row = turn.row
        if row.give is not None and ask is not None:
            self._give(run, ask, turn.text, turn.place, row)
        elif row.let_go is not None and isinstance(ask, Hold):
            _hold(run, ask, seconds(row.let_go))
        elif row.pause is not None:
            _pause(run, row)
        elif row.judge is not None:
            run.clock.advance(_takes(row))
            run.judge(JUDGED, row.judge)
        elif row.abandon is not None:
            run.clock.advance(_takes(row))
            run.abandon(row.abandon)

    def _give(self, run: Run, ask: Ask, text: str, place: str, row: Row | None) -> None:
        took = max(USUAL_SECONDS, ask.look) if row is None or row.after is None else seconds(row.after)
        try:
            value, _ = understand(ask, text, selector=_selector(ask, text))
        except Trouble as trouble:
            raise Trouble(
                f"step {run.step}, “{ask.key}”: {trouble.what}",
                where=place or self.file.page.file,
                allowed=trouble.allowed,
                do=trouble.do,
            ) from None
        run.clock.advance(took)
        run.answer(ask, value, took=took)


def _hold(run: Run, ask: Hold, let_go: float) -> None:
    run.press(ask)
    if run.state.waiting is None:
        return
    if let_go >= ask.seconds:
        end_wait(run)
        return
    run.clock.advance(let_go)
    run.let_go()


def _pause(run: Run, row: Row) -> None:
    run.clock.advance(0.0 if row.after is None else seconds(row.after))
    run.pause()
    run.clock.advance(0.0 if row.pause is None else seconds(row.pause))
    run.resume(_OTHER_PERSON if row.another_person else "", switched_off=row.switched_off)


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
