"""What a session shows of the way somebody works: each answer, deed and wait, held against the instrument as it stood.

Nothing is weighed here. A `Shown` says of one thing whether it was done well and what the instrument really showed; the
score adds them up, and the debrief tells them one after another.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, Final, Literal

from procedures.asks import Acknowledge, Ask, Choice, DateAsk, Hold, Place, QuantityAsk, Reading, ReadingAsk, Scan, Wait
from procedures.headless import MICROSECOND
from procedures.practice import seeing
from procedures.practice.bench import Bench
from procedures.practice.face import Face
from procedures.practice.kit import Kit
from procedures.practice.moments import Deed, Entry, Give, Judge, LetGo, Mend, Moment, Press, Remedied, Turn, Work
from procedures.practice.seeing import Sight
from procedures.practice.session import Session, replay

Sort = Literal["seen", "readings", "waits", "order", "care"]

_LOOKS: Final = frozenset({"case", "cable", "outside", "window", "colour", "test-button"})
_SAID_DONE: Final = frozenset({"stowed", "seated", "near", "open", "closed", "adjust", "look-back"})
_DISTURBING: Final = frozenset(
    {"power", "source", "seat", "selector", "zero", "slide", "cover", "place", "further", "zero-knob", "count", "reset"}
)
_SLACK: Final = {
    "temperature": Decimal("0.5"),
    "pressure": Decimal("0.3"),
    "humidity": Decimal(2),
    "altitude": Decimal(60),
}
"""How far what is read off the bench's thermometer, barometer and hygrometer may be off: a judgement, no source."""
_BACK: Final = (1.0, 0.75, 0.5, 0.25)


@dataclass(frozen=True, slots=True)
class Shown:
    """One thing. `at` are microseconds since the start, `entered` what was said or done, `really` what there was."""

    at: int
    step: str
    sort: Sort
    good: bool
    ask: str
    entered: str
    really: str


@dataclass(frozen=True, slots=True)
class Evidence:
    """A session replayed. `judged` is the step that was failed by judgement, "" when none was."""

    bench: Bench
    shown: tuple[Shown, ...]
    judged: str


def evidence_of(session: Session, kit: Kit, *, within: float, display: float) -> Evidence:
    """Replay a session and hold it against the instrument.

    A reading may be off by `within` divisions; a display's figure may have been shown up to `display` seconds before.
    Raises Trouble when the session cannot be replayed.
    """
    gathered = _Gathering(kit, Decimal(repr(within)))
    has_display = kit.model.display is not None

    def stops(moment: Moment) -> Iterable[int]:
        if has_display and isinstance(moment.what, Give) and isinstance(moment.what.value, Reading):
            return tuple(moment.at - round(part * display * MICROSECOND) for part in _BACK)
        return ()

    bench = replay(session, kit, gathered.watch, stops=stops)
    return Evidence(bench, tuple(gathered.shown), gathered.judged)


@dataclass(slots=True)
class _Gathering:
    """What was seen so far. `faces` are those since the ask came up, as they stood before each moment."""

    kit: Kit
    within: Decimal
    shown: list[Shown] = field(default_factory=list)
    judged: str = ""
    faces: list[Face] = field(default_factory=list)
    due_since: int = -1
    waited: tuple[str, int] | None = None
    kept: dict[str, float] = field(default_factory=dict)
    mended: list[Mend] = field(default_factory=list)
    steps: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.steps = seeing.steps_by_id(self.kit.profile)

    def watch(self, bench: Bench, moment: Moment) -> None:
        if bench.due_since != self.due_since:
            self.due_since, self.faces, self.mended = bench.due_since, [], []
        face = bench.face()
        self.faces.append(face)
        if bench.passed < moment.at:
            return
        if isinstance(moment.what, Work | Turn | Mend):
            self._deed(bench, moment.what)
        else:
            self._entry(bench, moment.what, face)

    def _note(self, bench: Bench, sort: Sort, good: bool, ask: str, entered: str, really: str) -> None:
        self.shown.append(Shown(bench.passed, bench.run.step, sort, good, ask, entered, really))

    # --- deeds -----------------------------------------------------------------------------------------------------

    def _deed(self, bench: Bench, what: Deed) -> None:
        if isinstance(what, Mend):
            self.mended.append(what)
        waiting, ask = bench.run.state.waiting, bench.ask()
        turned = what.control in _DISTURBING if isinstance(what, Work) else True
        if isinstance(ask, Wait) and ask.since:
            # Warming up goes on whatever is turned, as long as it stays on.
            turned = isinstance(what, Work) and what.control == "power"
        if waiting is not None and turned and not self._is_noted(bench, waiting.ask):
            said = f"{what.control} {what.value}" if isinstance(what, Work) else "the instrument was worked"
            self._note(bench, "waits", False, waiting.ask, said, "it had to be left alone")

    def _is_noted(self, bench: Bench, ask: str) -> bool:
        """Whether this wait is known to be disturbed."""
        same = (ask, bench.due_since)
        noted, self.waited = self.waited == same, same
        return noted

    # --- entries ---------------------------------------------------------------------------------------------------

    def _entry(self, bench: Bench, what: Entry, face: Face) -> None:
        ask = bench.ask()
        if isinstance(what, Judge):
            self.judged = bench.run.step
        elif isinstance(what, LetGo) and ask is not None:
            self._note(bench, "waits", False, ask.key, "let go", "it had to be kept down")
        elif isinstance(what, Press) and isinstance(ask, Hold):
            down = "zero" not in bench.controls or "zero" in face.held
            self._note(bench, "waits", down, ask.key, "button down", "down" if down else "the button was not down")
        elif isinstance(what, Remedied) and what.done:
            remedy = bench.offer()
            action = "" if remedy is None else remedy.action
            done = any(each.action == action for each in self.mended)
            self._note(bench, "order", done, action, "done", "done" if done else "nothing was done to the instrument")
        elif isinstance(what, Give) and ask is not None:
            self._answer(bench, ask, what.value, face)

    def _answer(self, bench: Bench, ask: Ask, value: Any, face: Face) -> None:
        took = (bench.passed - bench.due_since) / MICROSECOND
        if ask.look:
            self._note(bench, "care", took >= ask.look, ask.key, f"after {took:.1f} s", f"a look takes {ask.look:g} s")
        key = seeing.plain_key(ask.key)
        if isinstance(ask, ReadingAsk):
            self._reading(bench, ask, value, face)
        elif isinstance(ask, Acknowledge | Scan) or key in _SAID_DONE:
            self._said_done(bench, ask, key, value, face)
        elif isinstance(ask, Place | QuantityAsk | DateAsk) or key in _LOOKS or key.endswith("-below"):
            self._look(bench, ask, key, value)

    def _sight(self, bench: Bench, face: Face) -> Sight:
        return Sight(face, self.kit, self.steps[bench.run.step], self.kept)

    def _look(self, bench: Bench, ask: Ask, key: str, value: Any) -> None:
        answers = [seeing.answer(ask, self._sight(bench, face)) for face in reversed(self.faces)]
        good = any(value == each or self._near(key, ask, value, each) for each in answers)
        self._note(bench, "seen", good, ask.key, _words(value), _words(answers[0]))

    def _near(self, key: str, ask: Ask, value: Any, really: Any) -> bool:
        if not isinstance(ask, QuantityAsk) or value[1] != really[1]:
            return False
        slack = _SLACK.get(key, Decimal(0))
        if key == "battery":
            divisions = [Decimal(repr(face.battery.division)) for face in self.faces if face.battery is not None]
            slack = self.within * max(divisions, default=Decimal(0))
        return bool(abs(value[0] - really[0]) <= slack)

    def _said_done(self, bench: Bench, ask: Ask, key: str, value: Any, face: Face) -> None:
        """Something said to be done, or in its place: is it?"""
        if isinstance(ask, Choice):
            really = seeing.answer(ask, self._sight(bench, face))
            self._note(bench, "order", value == really, ask.key, _words(value), _words(really))
            return
        wanted = {
            "switched-on": face.on,
            "back": not face.source,
            "release": "zero" not in face.held,
            "cover": face.cover == "covered",
            "bright": face.cover == "bright",
            "move": face.place == "elsewhere",
        }
        good = wanted.get(key, face.counting > 0 if key.endswith("-start") else None)
        if good is not None:
            self._note(bench, "order", good, ask.key, "done", "done" if good else "not done on the instrument")

    def _reading(self, bench: Bench, ask: ReadingAsk, value: Reading, face: Face) -> None:
        if ask.wanted and not ask.whole:
            on = "" if face.selector is None else face.selector.name
            self._note(bench, "order", on == ask.wanted, ask.key, f"on {ask.wanted}", f"on {on or 'the battery test'}")
        faces = self.faces if face.digits is not None else [face]
        good = any(self._reads(ask, each, value) for each in reversed(faces))
        self._note(bench, "readings", good, ask.key, _words(value), _words(seeing.reading(ask, face)))

    def _reads(self, ask: ReadingAsk, face: Face, value: Reading) -> bool:
        """Whether this is a reading of the face, to within what is allowed."""
        if value == seeing.reading(ask, face):
            return True
        at, needle = seeing.figure(face), face.needle
        if at is None or face.selector is None or face.selector.name != value.selector:
            return False
        within = float(self.within)
        if value.state == "below zero" or value.state == "no response":
            return at <= within
        if value.state == "pegged":
            return needle is not None and at >= needle.divisions - within
        return abs(at - float(value.figure / (face.selector.division or 1))) <= within + 1e-9


def _words(value: Any) -> str:
    """An answer in words."""
    if isinstance(value, Reading):
        return value.state if value.state != "on scale" else f"{value.figure:f} on {value.selector}"
    if isinstance(value, tuple):
        return f"{value[0]:f} {value[1]}"
    return "none" if value is None else str(value)
