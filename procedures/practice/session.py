"""A practice session: case, model, profile, seed, start, and what was done at which moment. Replaying it does it again.

A session holds nothing that follows from the rest: no readings, no findings, no score. It is kept and sent as plain
values, and read back strictly. The speed at which it ran is a mark only: seconds in it are those of the instrument.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from procedures.answers import value_from_json, value_to_json
from procedures.headless import MICROSECOND
from procedures.practice.bench import Bench
from procedures.practice.case_values import case_from_json, case_to_json
from procedures.practice.cases import Case
from procedures.practice.controls import understood
from procedures.practice.instrument import STEP_S
from procedures.practice.kit import Kit, Papers, SourceLabels
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
from procedures.practice.plain import Plain
from procedures.routing import ACTIONS
from procedures.trouble import Trouble

FORMAT: Final = 1
SPEEDS: Final = (1, 4, 10)
MOST_MOMENTS: Final = 100_000
LONGEST_S: Final = 7 * 86_400.0


@dataclass(frozen=True, slots=True)
class Session:
    """A session as far as it went.

    `profile` and `model_sha256` name what it ran with; `step` is the length of the instrument's steps in seconds;
    `hints` is how many of the case's hints were asked for; `ended` are microseconds since `start` at its end.
    """

    profile: str
    profile_sha256: str
    model_sha256: str
    case: Case
    papers: Papers
    seed: str
    start: datetime
    moments: tuple[Moment, ...]
    ended: int
    step: float = STEP_S
    speed: int = 1
    hints: int = 0


def session_of(bench: Bench, *, speed: int = 1, hints: int = 0) -> Session:
    """What was done at a bench so far, as a session."""
    return Session(
        profile=bench.kit.id,
        profile_sha256=bench.kit.profile.sha256,
        model_sha256=bench.kit.model_sha256,
        case=bench.case,
        papers=bench.papers,
        seed=bench.seed,
        start=bench.start,
        moments=tuple(bench.moments),
        ended=bench.passed,
        step=bench.step,
        speed=speed,
        hints=hints,
    )


Watch = Callable[[Bench, Moment], None]
"""Told of each moment just before it happens, with the bench as it then stands."""


def replay(
    session: Session, kit: Kit, watch: Watch | None = None, *, stops: Callable[[Moment], Iterable[int]] | None = None
) -> Bench:
    """The bench at the end of a session that is done again.

    `stops` may name moments (in microseconds) before a moment, at which `watch` is told of it as well. Raises Trouble
    when the kit is another than the session's, or a moment of it cannot be.
    """
    if kit.profile.sha256 != session.profile_sha256 or kit.model_sha256 != session.model_sha256:
        raise Trouble(
            "this session ran with another revision of the profile or of the model",
            where=session.profile,
            do="Replay it with what it ran with.",
        )
    bench = Bench(kit, session.case, session.seed, session.start, step=session.step, papers=session.papers)
    for moment in session.moments:
        if watch is not None and stops is not None:
            for stop in stops(moment):
                if bench.passed <= stop < moment.at:
                    bench.advance_to(stop)
                    watch(bench, moment)
        bench.advance_to(moment.at)
        if watch is not None:
            watch(bench, moment)
        bench.do(moment.what)
    bench.advance_to(session.ended)
    return bench


# --- plain values --------------------------------------------------------------------------------------------------

_KEYS: Final = (
    *("format", "profile", "profile_sha256", "model_sha256", "case", "papers", "seed", "start", "ended", "step"),
    *("speed", "hints", "moments"),
)


def session_to_json(session: Session) -> dict[str, Any]:
    """The session as plain JSON values; moments in seconds since its start."""
    papers = session.papers
    return {
        "format": FORMAT,
        "profile": session.profile,
        "profile_sha256": session.profile_sha256,
        "model_sha256": session.model_sha256,
        "case": case_to_json(session.case),
        "papers": {
            "label": papers.label,
            "serial": papers.serial,
            "sources": [{"role": s.role, "label": s.label, "jig": s.jig} for s in papers.sources],
        },
        "seed": session.seed,
        "start": session.start.isoformat(),
        "ended": session.ended / MICROSECOND,
        "step": session.step,
        "speed": session.speed,
        "hints": session.hints,
        "moments": [moment_to_json(each) for each in session.moments],
    }


def session_from_json(body: Any, kits: Mapping[str, Kit]) -> Session:
    """The session again. Raises Trouble for anything that is none, or is of a kit that is not among `kits`."""
    plain = Plain(body, "session", _KEYS)
    plain.whole("format", FORMAT, FORMAT)
    kit = kits[plain.text("profile", among=kits)]
    rows = plain.rows("moments", MOST_MOMENTS)
    moments = tuple(moment_from_json(row, kit, f"moment {n}") for n, row in enumerate(rows, start=1))
    ended = round(plain.figure("ended", 0, LONGEST_S) * MICROSECOND)
    _want_in_order(moments, ended)
    speed = plain.whole("speed", 1, max(SPEEDS))
    if speed not in SPEEDS:
        raise Trouble(f"{speed} is no speed", where="session, speed", allowed=", ".join(map(str, SPEEDS)))
    return Session(
        profile=kit.id,
        profile_sha256=plain.text("profile_sha256", longest=64),
        model_sha256=plain.text("model_sha256", longest=64),
        case=case_from_json(body["case"], kit.model),
        papers=_papers(body["papers"], kit),
        seed=plain.text("seed", longest=200),
        start=plain.moment("start"),
        moments=moments,
        ended=ended,
        step=plain.figure("step", 0.01, 1.0),
        speed=speed,
        hints=plain.whole("hints", 0, 1_000),
    )


def _want_in_order(moments: tuple[Moment, ...], ended: int) -> None:
    latest = 0
    for n, at in enumerate((*(each.at for each in moments), ended), start=1):
        where = f"moment {n}" if n <= len(moments) else "session, ended"
        if at < latest:
            raise Trouble("it comes before what stands above it", where=where, allowed="times that go forward")
        latest = at


def _papers(body: Any, kit: Kit) -> Papers:
    plain = Plain(body, "papers", ("label", "serial", "sources"))
    roles = [each.role for each in kit.model.sources]
    sources = []
    for row in plain.rows("sources", len(roles)):
        each = Plain(row, "papers, source", ("role", "label", "jig"))
        sources.append(SourceLabels(each.text("role", among=roles), each.text("label"), each.text("jig")))
    return Papers(plain.text("label", longest=120), plain.text("serial", longest=120), tuple(sources))


def moment_to_json(moment: Moment) -> dict[str, Any]:
    """{"at": seconds, "does": …} and what belongs to it."""
    return {"at": moment.at / MICROSECOND, **_what_to_json(moment.what)}


def _what_to_json(what: Deed | Entry) -> dict[str, Any]:
    match what:
        case Work(control, value):
            return {"does": "work", "control": control, "value": value}
        case Turn(turns):
            return {"does": "turn", "turns": turns}
        case Mend(action):
            return {"does": "mend", "action": action}
        case Give(ask, value):
            return {"does": "give", "ask": ask, "value": value_to_json(value)}
        case Press(ask):
            return {"does": "press", "ask": ask}
        case LetGo():
            return {"does": "let go"}
        case Remedied(done):
            return {"does": "remedied", "done": done}
        case Judge(say):
            return {"does": "judge", "say": say}
        case Abandon(why):
            return {"does": "abandon", "why": why}
        case Pause():
            return {"does": "pause"}
        case Resume(switched_off):
            return {"does": "resume", "switched_off": switched_off}


_REST: Final[Mapping[str, tuple[str, ...]]] = {
    "work": ("control", "value"),
    "turn": ("turns",),
    "mend": ("action",),
    "give": ("ask", "value"),
    "press": ("ask",),
    "let go": (),
    "remedied": ("done",),
    "judge": ("say",),
    "abandon": ("why",),
    "pause": (),
    "resume": ("switched_off",),
}


def moment_from_json(body: Any, kit: Kit, where: str) -> Moment:
    """The moment again. Raises Trouble for anything that is none on this kit's instrument."""
    does = body.get("does") if isinstance(body, Mapping) else None
    if not isinstance(does, str) or does not in _REST:
        raise Trouble(f"{str(does)[:60]!r} is nothing that can be done", where=where, allowed=", ".join(_REST))
    plain = Plain(body, where, ("at", "does", *_REST[does]))
    return Moment(round(plain.figure("at", 0, LONGEST_S) * MICROSECOND), _what(plain, does, kit))


def _what(plain: Plain, does: str, kit: Kit) -> Deed | Entry:
    match does:
        case "work":
            value = plain.body["value"]
            if isinstance(value, bool) or not isinstance(value, str | int | float):
                raise Trouble(f"{str(value)[:60]!r} is no value of a control", where=plain.where)
            control = plain.text("control", longest=60)
            return Work(control, understood(kit.model, control, value))
        case "turn":
            return Turn(plain.figure("turns", -1_000, 1_000))
        case "mend":
            return Mend(plain.text("action", among=ACTIONS))
        case "give":
            return Give(plain.text("ask", longest=200), _value(plain))
        case "press":
            return Press(plain.text("ask", longest=200))
        case "let go":
            return LetGo()
        case "remedied":
            return Remedied(plain.truth("done"))
        case "judge":
            return Judge(plain.text("say"))
        case "abandon":
            return Abandon(plain.text("why"))
        case "pause":
            return Pause()
        case _:
            return Resume(plain.truth("switched_off"))


def _value(plain: Plain) -> Any:
    value = plain.body["value"]
    try:
        if not isinstance(value, str | bool | Mapping):
            raise ValueError(value)
        return value_from_json(value)
    except (ArithmeticError, KeyError, TypeError, ValueError):
        raise Trouble(f"{str(value)[:60]!r} is no answer", where=plain.where) from None
