"""A checkout that was done on paper, run through its procedure with what stands on the form.

The same conduct and the same rules judge it as a checkout at the desk; the clock is moved by hand from the time at
which it was observed. Waits and holds are taken as kept, and nobody timed them here. Nothing is recorded here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from hashlib import sha256
from typing import Any, Final, Literal

from procedures import conduct, settling
from procedures.answers import understand
from procedures.asks import Ask, Choice, Hold, Option, ReadingAsk, Wait
from procedures.checkout import RULES, State, apply, opened
from procedures.clock import Instant, ManualClock
from procedures.conduct import Said, Sketch
from procedures.due import due_ask, facts_now
from procedures.facts import Facts, facts_to_json
from procedures.procedure import Procedure
from procedures.reasons import reason
from procedures.routing import ACTIONS
from procedures.site.paper_path import foresee
from procedures.trouble import Trouble

SESSION: Final = "paper"
USUAL_SECONDS: Final = 4.0
"""How long an answer is taken to have needed: nobody measured it, so none counts as hasty."""

REMEDY: Final = "remedy"
"""In place of an ask's key: whether the remedy on offer was carried out."""

JUDGED: Final = "judged-unfit"

Stop = Literal["", "judged", "ended"]


@dataclass(frozen=True, slots=True)
class Asked:
    """One thing that the form has a place for. `id` names it among all that this run may ask."""

    id: str
    step: str
    visit: int
    ask: Ask


@dataclass(frozen=True, slots=True)
class Page:
    """What is typed in together: what a step asks, as far as it can be foreseen."""

    title: str
    asked: tuple[Asked, ...]


@dataclass(frozen=True, slots=True)
class Taken:
    """An answer that the run took from the form: as typed, as understood, and its echo in words."""

    asked: Asked
    text: str
    value: Any
    echo: str


@dataclass(frozen=True, slots=True)
class Given:
    """What stands on the form: text by the id of what was asked, and how the form ends before its last step.

    `values` are what texts of a form that was typed in before were understood as then: those are taken as they are.
    """

    answers: Mapping[str, str] = field(default_factory=dict)
    stop: Stop = ""
    why: str = ""
    values: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Ran:
    """How far what was given leads. It is over, or something is `due` that was not given or not understood."""

    state: State
    pages: tuple[Page, ...]
    taken: tuple[Taken, ...]
    due: Asked | None
    trouble: Trouble | None
    unused: tuple[str, ...]
    """Ids that were given and never asked."""


def asked_id(visit: int, step: str, ask: str) -> str:
    """The id of what an ask of that key asks, on that visit to the step."""
    return f"{visit}.{step}.{ask}"


def begun_at(observed: datetime, zone: tzinfo) -> Instant:
    """The moment at which a form begins, by the clock that is moved by hand."""
    offset = observed.astimezone(zone).utcoffset()
    return Instant(observed, 0 if offset is None else round(offset.total_seconds() / 60), 0.0, SESSION)


def understood(ask: Ask, text: str) -> tuple[Any, str]:
    """What an answer on a form is understood as, and its echo in words. Raises Trouble when it is not."""
    return understand(ask, text, selector=_selector(ask, text))


def reasons_of(procedure: Procedure, made: Ran) -> list[dict[str, str]]:
    """Why a form that is over locks its instrument out; none where it does not.

    A failure is not undone because the check went no further.
    """
    ending = made.state.ending or {}
    if ending["ending"] == "fit for use":
        return []
    rows = [{key: str(row[key]) for key in ("code", "say", "step")} for row in ending["reasons"]]
    if rows:
        return rows
    failed = (each.finding for each in made.state.made if each.finding.outcome == "fail")
    return [
        {
            "code": finding.code or procedure.plan.step(finding.step).lockout,
            "say": finding.say or reason(finding.code, procedure.reasons).say,
            "step": finding.step,
        }
        for finding in failed
    ]


def run(procedure: Procedure, facts: Facts, person: str, at: Instant, given: Given) -> Ran:
    """Run the checkout through with what was given, as far as it goes. Raises nothing for what was typed."""
    sitting = _Sitting(procedure, given, ManualClock(at.utc, offset=at.offset, session=SESSION))
    sitting.open(facts, person)
    while sitting.go_on():
        pass
    used = {each.asked.id for each in sitting.taken}
    unused = tuple(key for key, text in given.answers.items() if key not in used and text.strip())
    if sitting.due is not None:
        unused = tuple(key for key in unused if key != sitting.due.id)
    return Ran(sitting.state, tuple(sitting.pages), tuple(sitting.taken), sitting.due, sitting.trouble, unused)


@dataclass(slots=True)
class _Sitting:
    """A form being typed in: the state so far, and the pages of what was asked."""

    procedure: Procedure
    given: Given
    clock: ManualClock
    state: State = field(init=False)
    pages: list[Page] = field(default_factory=list)
    taken: list[Taken] = field(default_factory=list)
    due: Asked | None = None
    trouble: Trouble | None = None
    events: int = 0

    def open(self, facts: Facts, person: str) -> None:
        plan, now = self.procedure, self.clock.now()
        body = {
            "instrument": facts.instrument.id,
            "profile": {"id": plan.id, "revision": plan.revision, "sha256": plan.sha256},
            "rules": RULES,
            "clearings": [],
            "facts": facts_to_json(facts),
            "ticks": now.ticks,
            "session": now.session,
        }
        self.state = opened(self.procedure, self._sketch(Said("opened", body), person))
        self._record(conduct.begin(self.procedure, self.state, now))

    def go_on(self) -> bool:
        """Take the next thing from the form; False where that is not possible, or all is over."""
        state = self.state
        if state.over:
            return False
        offer = state.track.offer
        ask = _remedy_ask(self.procedure, state, offer) if offer is not None else due_ask(self.procedure, state)
        if ask is None:
            self.trouble = Trouble(f"step {state.track.step} asks nothing and comes to no finding")
            return False
        if isinstance(ask, Wait | Hold):
            self._wait(ask)
            return True
        asked = Asked(asked_id(state.visit, state.track.step, ask.key), state.track.step, state.visit, ask)
        self._put_on_a_page(asked)
        text = self.given.answers.get(asked.id, "")
        if not text.strip() and asked.id not in self.given.values:
            return self._nothing_given(asked)
        return self._take(asked, text)

    def _take(self, asked: Asked, text: str) -> bool:
        ask, values = asked.ask, self.given.values
        try:
            value, echo = (values[asked.id], "") if asked.id in values else understood(ask, text)
        except Trouble as trouble:
            self.due, self.trouble = asked, trouble
            return False
        self.taken.append(Taken(asked, text, value, echo))
        took = max(USUAL_SECONDS, ask.look)
        now = self.clock.advance(took)
        if asked.ask.key == REMEDY:
            self._record(conduct.answer_remedy(self.procedure, self.state, now, done=value == "done"))
        else:
            self._record(conduct.answer(self.procedure, self.state, ask, value, now, took=took))
        return True

    def _nothing_given(self, asked: Asked) -> bool:
        now, why = self.clock.now(), self.given.why.strip()
        if self.given.stop == "judged":
            said = conduct.fail_by_judgement(self.procedure, self.state, JUDGED, why, now)
        elif self.given.stop == "ended":
            said = conduct.abandon(self.procedure, self.state, why, now)
        else:
            self.due = asked
            self.trouble = Trouble(
                f"nothing is entered for: {asked.ask.say}",
                allowed="what stands on the paper",
                do="Type it in. Where the paper ends here, say so below.",
            )
            return False
        self._record(said)
        return True

    def _wait(self, ask: Wait | Hold) -> None:
        """Time passes as the procedure wants it: whoever filled the form in says so by going on."""
        if isinstance(ask, Hold):
            self._record(conduct.begin_hold(self.procedure, self.state, ask, self.clock.now()))
        waiting = self.state.waiting
        if waiting is None:
            return
        wait = settling.Wait(waiting.seconds, waiting.begun, waiting.credit)
        while (left := settling.remaining(wait, self.clock.now())) > 0:
            self.clock.advance(max(left, 0.001))
        now = self.clock.now()
        self._record(conduct.keep_wait(self.procedure, self.state, settling.elapsed(wait, now), now))

    def _put_on_a_page(self, asked: Asked) -> None:
        """On the page that has a place for it already, else on a new one with whatever the step asks after it."""
        if any(each.id == asked.id for page in self.pages for each in page.asked):
            return
        title = self.procedure.titles[asked.step]
        following: tuple[Asked, ...] = ()
        if asked.ask.key != REMEDY:
            state = self.state
            way = foresee(self.procedure.steps[asked.step], facts_now(state), state.answers)
            following = tuple(
                Asked(asked_id(asked.visit, asked.step, ask.key), asked.step, asked.visit, ask)
                for ask in way.asks[1:]
                if not isinstance(ask, Wait | Hold)
            )
        self.pages.append(Page(title, (asked, *following)))

    def _record(self, said: Sequence[Said]) -> None:
        for each in said:
            self.state = apply(self.procedure, self.state, self._sketch(each, self.state.person))

    def _sketch(self, said: Said, person: str) -> Sketch:
        now = self.clock.now()
        self.events += 1
        made_up = sha256(f"{SESSION} {self.events}".encode()).hexdigest()
        return Sketch(said.kind, said.body, now.utc, now.offset, person, made_up)


def _remedy_ask(procedure: Procedure, state: State, offer: int) -> Choice:
    """A remedy on offer, as something that the form says."""
    remedy = procedure.plan.step(state.track.step).remedies[offer]
    back = procedure.titles[procedure.plan.first if state.track.from_start else remedy.repeat_from]
    return Choice(
        key=REMEDY,
        say=f"This step failed. Does the paper say that this was done: {remedy.say}",
        more=f"If it was done, everything was done again from “{back}”.",
        caution=remedy.caution,
        options=(
            Option("done", f"Yes: {ACTIONS[remedy.action]}"),
            Option("not done", "No, it was not done"),
        ),
    )


def _selector(ask: Ask, text: str) -> str:
    """The selector position that the form prints, unless the text begins with a position itself."""
    if not isinstance(ask, ReadingAsk) or not ask.wanted:
        return ""
    typed = text.strip().casefold()
    named = any(typed == each.name.casefold() or typed.startswith(f"{each.name.casefold()} ") for each in ask.selectors)
    return "" if named else ask.wanted
