"""Runs of invented plans by invented people, for the tests of the run: stub steps, scripts of moves, and a bench.

A case is a plan and a script. Plans are `proper` (as a proof would let them through) or `wild` (edges anywhere), since
a run must be safe whatever was proved. The bench plays a script the way a use case would: it commits what `conduct`
says and folds it. Hypothesis shrinks a failing case to few steps and few moves, all of them readable.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any, Final, NamedTuple

from hypothesis import strategies as st
from run_oracle import PlainPlan, PlainRemedy, PlainStep, wrong_ending

from procedures import checkout, conduct, due, settling
from procedures.asks import SOURCE_OUT, SWITCHED_ON, Acknowledge, Answer, Ask, Choice, Hold, Option, Scan, Wait
from procedures.clock import ManualClock
from procedures.facts import Facts, InstrumentFacts, facts_to_json
from procedures.findings import OUTCOMES, Finding, Outcome
from procedures.procedure import Next, Procedure
from procedures.routing import SENDER_STANDS, Plan, Remedy, StepPlan

START: Final = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)
BEFORE_A_SHIFT_ENDS: Final = datetime(2026, 11, 25, 12, 20, tzinfo=UTC)
BEFORE_MIDNIGHT: Final = datetime(2026, 11, 25, 22, 20, tzinfo=UTC)
LASTS: Final = 2 * 3600.0
PAUSE: Final = 20 * 60.0
WARM_UP: Final = 120.0
HOLD: Final = 8.0
SETTLE: Final = 1000.0
"""Seconds. Long, so that a wait and a pause together show whether the wait was rightly left out of the gap."""
LABEL: Final = "S-1"

# --- stub steps ----------------------------------------------------------------------------------------------------

ASKS: Final = ("switch-on", "scan", "warm-up", "hold", "settle")
WAITS: Final = {"warm-up": WARM_UP, "hold": HOLD, "settle": SETTLE}


@dataclass(frozen=True)
class Stub:
    """One step of an invented plan: what it asks before its observation, and its edges."""

    id: str
    asks: tuple[str, ...] = ()
    required: bool = True
    on_fail: str = ""
    on_pass: str = ""
    remedies: tuple[Remedy, ...] = ()
    disturbed_by: frozenset[str] = frozenset()

    @property
    def code(self) -> str:
        return f"{self.id}-out"


def _ask(name: str, key: str) -> Ask:
    if name == "switch-on":
        return Acknowledge(key=key, say="Switch on.", mark=SWITCHED_ON)
    if name == "scan":
        return Scan(key=key, say="Scan the source.", of="source", due=LABEL, subject="a" * 64, mark=SOURCE_OUT)
    if name == "warm-up":
        return Wait(key=key, say="Wait.", seconds=WARM_UP, since=SWITCHED_ON)
    if name == "settle":
        return Wait(key=key, say="Wait.", seconds=SETTLE)
    return Hold(key=key, say="Hold the button.", seconds=HOLD)


def stub_next(stub: Stub) -> Next:
    """The step's one pure function: its asks in order, a wrong scan asked again twice, then what was observed."""

    def asked(name: str, key: str, rest: list[Answer]) -> Ask | Answer:
        if not rest:
            return _ask(name, key)
        answer = rest.pop(0)
        assert answer.ask == key, f"an answer to {answer.ask} came for {key}"
        return answer

    def next_(_facts: Facts, answers: tuple[Answer, ...]) -> Ask | Finding:
        rest = list(answers)
        for number, name in enumerate(stub.asks):
            for again in range(3):
                got = asked(name, f"{number}.{name}.{again}", rest)
                if isinstance(got, Ask):
                    return got
                if name != "scan" or str(got.value).casefold() == LABEL.casefold():
                    break
            else:
                return _finding(stub, "could not check")
        if not rest:
            options = tuple(Option(each, each) for each in OUTCOMES)
            return Choice(key="observed", say="What is seen?", options=options)
        return _finding(stub, rest[0].value)

    return next_


def _finding(stub: Stub, outcome: Outcome) -> Finding:
    code = stub.code if outcome == "fail" else ""
    missing = "nothing to check against" if outcome == "could not check" else ""
    return Finding(
        step=stub.id,
        kind="stub",
        outcome=outcome,
        say=f"{stub.id}: {outcome}",
        rule="stub-1",
        code=code,
        missing=missing,
    )


@dataclass(frozen=True)
class Case:
    """A plan, what the site settled, and a script of moves."""

    stubs: tuple[Stub, ...]
    script: tuple[Move, ...]
    ready_ends: str = "shift"
    calibration_due: date | None = date(2027, 1, 31)
    opened: datetime = START

    @property
    def procedure(self) -> Procedure:
        plan = Plan(
            tuple(
                StepPlan(
                    id=each.id,
                    kind="stub",
                    lockout=each.code,
                    required=each.required,
                    on_fail=each.on_fail,
                    on_pass=each.on_pass,
                    remedies=each.remedies,
                    disturbed_by=each.disturbed_by,
                )
                for each in self.stubs
            )
        )
        return Procedure(
            id="invented",
            title="Invented",
            revision=1,
            sha256="0" * 64,
            plan=plan,
            steps={each.id: stub_next(each) for each in self.stubs},
            titles={each.id: each.id for each in self.stubs},
            scales=(),
            detector="vented ion chamber",
            lasts=LASTS,
            longest_pause=PAUSE,
        )

    @property
    def plain(self) -> PlainPlan:
        """The same plan as the oracle is told of it."""
        return PlainPlan(
            steps=tuple(
                PlainStep(
                    id=each.id,
                    required=each.required,
                    disturbed_by=each.disturbed_by,
                    remedies=tuple(PlainRemedy(r.action, r.repeat_from, r.attempts) for r in each.remedies),
                    waits=tuple(WAITS[ask] for ask in each.asks if ask in WAITS),
                )
                for each in self.stubs
            ),
            lasts=LASTS,
            longest_pause=PAUSE,
            calibration_due=self.calibration_due,
            zone=SETTINGS["zone"],
            boundaries={"shift": ("06:00", "14:00", "22:00"), "day": ("06:00",)}.get(self.ready_ends, ()),
        )


SETTINGS: Final = {"zone": "Europe/Vienna", "day_starts": "06:00", "shifts": "06:00 14:00 22:00"}

# --- moves ---------------------------------------------------------------------------------------------------------


class Move(NamedTuple):
    """One thing that somebody does or that happens. What does not apply at that moment is passed over."""

    do: str
    what: Any = None


# Hypothesis shrinks towards the front. "step" does what is due until a finding, remedies and resuming included.
MOVES: Final[tuple[Move, ...]] = (
    *[Move("step", "pass")] * 10,
    Move("step", "warn"),
    Move("step", "not applicable"),
    *[Move("step", "fail")] * 3,
    Move("step", "could not check"),
    *[Move("remedy", True)] * 2,
    Move("remedy", False),
    *[Move("ask", "pass")] * 3,
    Move("ask", "fail"),
    Move("tick"),
    Move("press"),
    Move("wrong scan"),
    Move("let go"),
    Move("too early", 0.5),
    Move("time", 1.0),
    Move("time", 100.0),
    Move("time", SETTLE),
    Move("time", PAUSE - 1),
    Move("time", PAUSE + 60),
    Move("time", 3 * 3600.0),
    Move("wall", -40.0),
    Move("wall", -100.0),
    Move("wall", -3600.0),
    Move("wall", 600.0),
    Move("wall", 3600.0),
    Move("wall", 70 * 86400.0),
    Move("crash"),
    Move("pause"),
    *[Move("resume", ("A", False))] * 2,
    Move("resume", ("B", False)),
    Move("resume", ("A", True)),
    Move("note"),
    Move("note", True),
    Move("judge"),
    Move("abandon"),
    Move("withdraw"),
)


@dataclass(frozen=True)
class Recorded:
    """An event as the bench keeps it."""

    kind: str
    body: Mapping[str, Any]
    utc: datetime
    offset: int
    person: str | None
    hash: str


@dataclass
class Bench:
    """Plays one checkout. `state` is folded event by event; `wrong` gathers what no run may do."""

    case: Case
    procedure: Procedure = field(init=False)
    clock: ManualClock = field(init=False)
    events: list[Recorded] = field(init=False, default_factory=list)
    state: checkout.State = field(init=False)
    left_open: bool = field(init=False, default=False)
    wrong: list[str] = field(init=False, default_factory=list)

    def __post_init__(self) -> None:
        self.procedure = self.case.procedure
        self.clock = ManualClock(self.case.opened, offset=60, session="s0")
        self._record("opened", self._opening(), "A")
        self.state = checkout.opened(self.procedure, self.events[0])
        self.commit(conduct.begin(self.procedure, self.state, self.clock.now()))

    def _opening(self) -> dict[str, Any]:
        made = InstrumentFacts(
            id="b" * 64, label="I-1", serial="1", type="invented", calibration_due=self.case.calibration_due
        )
        settings = {**SETTINGS, "ready_ends": self.case.ready_ends}
        facts = Facts(instrument=made, scales=(), opened=self.case.opened, settings=settings)
        now = self.clock.now()
        return {
            "instrument": made.id,
            "clearings": [],
            "facts": facts_to_json(facts),
            "ticks": now.ticks,
            "session": now.session,
        }

    def _record(self, kind: str, body: Mapping[str, Any], person: str) -> Recorded:
        now = self.clock.now()
        # Through JSON, as the journal keeps it.
        kept = json.loads(json.dumps(body, allow_nan=False))
        event = Recorded(kind, kept, now.utc, now.offset, person, f"{len(self.events):064x}")
        self.events.append(event)
        return event

    def commit(self, said: tuple[conduct.Said, ...], person: str = "") -> None:
        """Record and fold, then see that what `conduct` foresaw is what came about: nothing more may follow."""
        for each in said:
            by = person or self.state.person
            self.state = checkout.apply(self.procedure, self.state, self._record(each.kind, each.body, by))
        more = conduct.begin(self.procedure, self.state, self.clock.now())
        if said and more:
            self.wrong.append(f"foresight: {[each.kind for each in more]} follow after all")

    # What people do -------------------------------------------------------------------------------------------------

    def play(self) -> Bench:
        for move in self.case.script:
            if self.state.over:
                break
            self.make(move)
        if checkout.fold(self.procedure, self.events) != self.state:
            self.wrong.append("fold: all events at once give another state than one by one")
        return self

    def make(self, move: Move) -> None:
        _MAKE[move.do](self, move.what)

    @property
    def at_work(self) -> bool:
        return not self.state.paused and not self.left_open and not self.state.over

    def ask(self, outcome: str) -> None:
        """Answer the one ask that is due, as it should be; an observation says `outcome`."""
        ask = due.due_ask(self.procedure, self.state)
        if ask is None or not self.at_work:
            return
        self.clock.advance(2)
        self.press(None)
        if isinstance(ask, Wait | Hold):
            self.sit_out()
            return
        value = {Choice: outcome, Scan: LABEL.lower()}.get(type(ask), True)
        self.commit(conduct.answer(self.procedure, self.state, ask, value, self.clock.now(), took=2.0))

    def sit_out(self) -> None:
        """Wait until the wait in progress is over, and not a moment longer."""
        waiting = self.state.waiting
        if waiting is None:
            return
        wait = settling.Wait(waiting.seconds, waiting.begun, waiting.credit)
        left = settling.remaining(wait, self.clock.now())
        if left:
            self.clock.advance(left + 1e-5)
        self.tick(None)

    def step(self, outcome: str) -> None:
        """Go on until a finding is made: resume, carry out a remedy, answer every ask."""
        if not self.at_work:
            self.resume((self.state.person, False))
        if self.state.track.offer is not None:
            self.remedy(True)
        visit = self.state.visit
        for _ in range(12):
            if self.state.visit != visit or not self.at_work:
                return
            self.ask(outcome)

    def tick(self, _: Any) -> None:
        """Look at the clock, as a front end does four times a second: end a wait that is over."""
        waiting, now = self.state.waiting, self.clock.now()
        if waiting is None or not self.at_work:
            return
        wait = settling.Wait(waiting.seconds, waiting.begun, waiting.credit)
        if settling.is_over(wait, now):
            self.commit(conduct.keep_wait(self.procedure, self.state, settling.elapsed(wait, now), now))

    def press(self, _: Any) -> None:
        ask = due.due_ask(self.procedure, self.state)
        if isinstance(ask, Hold) and self.state.waiting is None and self.at_work:
            self.commit(conduct.begin_hold(self.procedure, self.state, ask, self.clock.now()))

    def wrong_scan(self, _: Any) -> None:
        ask = due.due_ask(self.procedure, self.state)
        if isinstance(ask, Scan) and self.at_work:
            self.clock.advance(2)
            self.commit(conduct.answer(self.procedure, self.state, ask, "S-2", self.clock.now(), took=2.0))

    def let_go(self, _: Any) -> None:
        now = self.clock.now()
        if self.state.waiting is not None and self.at_work:
            self.commit(conduct.break_wait(self.procedure, self.state, 1.0, "let go too early", now))

    def too_early(self, part: float) -> None:
        """Somebody says that a wait is over when only `part` of it is."""
        waiting = self.state.waiting
        if waiting is None or not self.at_work:
            return
        try:
            said = conduct.keep_wait(self.procedure, self.state, part * waiting.seconds, self.clock.now())
        except ValueError:
            return
        self.wrong.append(f"wait: {[each.kind for each in said]} after a part of it")

    def time(self, seconds: float) -> None:
        self.clock.advance(seconds)

    def wall(self, seconds: float) -> None:
        self.clock.set_wall(self.clock.now().utc + timedelta(seconds=seconds))

    def crash(self, _: Any) -> None:
        self.clock.restart(f"s{len(self.events)}")
        self.left_open = True

    def pause(self, _: Any) -> None:
        if self.at_work:
            self.commit(conduct.pause(self.procedure, self.state, "", self.clock.now()))

    def resume(self, who: tuple[str, bool]) -> None:
        person, switched_off = who
        if self.at_work and person == self.state.person and not switched_off:
            return
        self.left_open = False
        now = self.clock.now()
        self.commit(conduct.resume(self.procedure, self.state, person, now, switched_off=switched_off), person)

    def remedy(self, done: bool) -> None:
        if self.at_work:
            self.commit(conduct.answer_remedy(self.procedure, self.state, self.clock.now(), done=done))

    def note(self, with_ticks: bool | None) -> None:
        now = self.clock.now()
        moment = {"ticks": now.ticks, "session": now.session} if with_ticks else {}
        event = self._record("note", {"text": "a remark", **moment}, "C")
        self.state = checkout.apply(self.procedure, self.state, event)

    def judge(self, _: Any) -> None:
        now = self.clock.now()
        self.commit(conduct.fail_by_judgement(self.procedure, self.state, "by-judgement", "looks wrong", now))

    def abandon(self, _: Any) -> None:
        self.commit(conduct.abandon(self.procedure, self.state, "called away", self.clock.now()))

    def withdraw(self, _: Any) -> None:
        now = self.clock.now()
        said = conduct.withdraw(self.state, "wrong item", now)
        self.commit((*said, *conduct.abandon(self.procedure, self.state, "wrong item", now)))


def wrong_with(case: Case, *, proper: bool = True) -> list[str]:
    """All that is wrong with a case once it is played: by the oracle where it ended, and by the bench on the way."""
    bench = Bench(case).play()
    said = list(bench.wrong)
    if bench.state.over:
        said += wrong_ending(case.plain, bench.events, proper=proper)
    return said


_MAKE: Final[Mapping[str, Callable[[Bench, Any], None]]] = {
    "step": Bench.step,
    "ask": Bench.ask,
    "remedy": Bench.remedy,
    "tick": Bench.tick,
    "press": Bench.press,
    "wrong scan": Bench.wrong_scan,
    "let go": Bench.let_go,
    "too early": Bench.too_early,
    "time": Bench.time,
    "wall": Bench.wall,
    "crash": Bench.crash,
    "pause": Bench.pause,
    "resume": Bench.resume,
    "note": Bench.note,
    "judge": Bench.judge,
    "abandon": Bench.abandon,
    "withdraw": Bench.withdraw,
}

# --- strategies ----------------------------------------------------------------------------------------------------

_ACTIONS: Final = ("fresh-cells", "moved-away", "case-opened")
_DISTURBED: Final = st.frozensets(st.sampled_from(_ACTIONS), max_size=2)


@st.composite
def scripts(draw: st.DrawFn, longest: int = 30) -> tuple[Move, ...]:
    """Anything in any order, and then mostly an attempt to have it end well."""
    tail = (Move("step", "pass"),) * draw(st.sampled_from([12, 12, 0]))
    return (*draw(st.lists(st.sampled_from(MOVES), max_size=longest)), *tail)


@st.composite
def _asks(draw: st.DrawFn) -> tuple[str, ...]:
    chosen = draw(st.sets(st.sampled_from(ASKS), max_size=2))
    return tuple(each for each in ASKS if each in chosen)


@st.composite
def proper_plans(draw: st.DrawFn) -> tuple[Stub, ...]:
    """Required steps first, then diagnostic ones; branches go forward, remedies back to what they disturb."""
    required, diagnostic = draw(st.integers(1, 4)), draw(st.integers(0, 2))
    ids = "abcdef"[: required + diagnostic]
    disturbed = [draw(_DISTURBED) for _ in ids]
    stubs = []
    for place, step in enumerate(ids):
        needed = place < required
        # A diagnostic step may be reached from the first failing step on.
        reach = place if needed else 0
        later = [each for n, each in enumerate(ids) if n > place and n >= required]
        remedies = []
        for _ in range(draw(st.integers(0, 2))):
            action = draw(st.sampled_from((*_ACTIONS, "repaired")))
            first = next((n for n in range(required) if action in disturbed[n]), reach)
            back = draw(st.integers(0, min(reach, first)))
            remedies.append(Remedy(action, "Do it.", ids[back], draw(st.integers(1, 2))))
        stubs.append(
            Stub(
                id=step,
                asks=draw(_asks()),
                required=needed,
                on_fail=draw(st.sampled_from(["", *later])),
                on_pass="" if needed else draw(st.sampled_from([SENDER_STANDS, "", *later])),
                remedies=tuple(remedies),
                disturbed_by=disturbed[place],
            )
        )
    return tuple(stubs)


@st.composite
def wild_plans(draw: st.DrawFn) -> tuple[Stub, ...]:
    """Edges anywhere: what a proof would refuse, and a run must survive all the same."""
    ids = "abcde"[: draw(st.integers(1, 5))]
    required = [place == 0 or draw(st.booleans()) for place in range(len(ids))]
    anywhere = st.sampled_from(ids)
    remedy = st.builds(
        Remedy, st.sampled_from((*_ACTIONS, "cable-changed")), st.just("Do it."), anywhere, st.integers(1, 3)
    )
    stubs = []
    for place, step in enumerate(ids):
        # A required step that passes mostly goes on: a plan full of jumps and dead ends never comes out fit.
        plain = [""] * (12 if required[place] else 1)
        stubs.append(
            Stub(
                id=step,
                asks=draw(_asks()),
                required=required[place],
                on_fail=draw(st.sampled_from(["", "", *ids])),
                on_pass=draw(st.sampled_from([*plain, *ids, SENDER_STANDS])),
                remedies=tuple(draw(st.lists(remedy, max_size=2))),
                disturbed_by=draw(_DISTURBED),
            )
        )
    return tuple(stubs)


def cases(*, proper: bool, longest: int = 30) -> st.SearchStrategy[Case]:
    """Cases of one sort. Most sites end readiness with the shift, and most calibrations are in order."""
    return st.builds(
        Case,
        stubs=proper_plans() if proper else wild_plans(),
        script=scripts(longest),
        ready_ends=st.sampled_from(["shift", "day", "profile"]),
        calibration_due=st.sampled_from([*[date(2027, 1, 31)] * 3, date(2026, 11, 25), date(2026, 11, 24), None]),
        opened=st.sampled_from([START, START, BEFORE_A_SHIFT_ENDS, BEFORE_MIDNIGHT]),
    )
