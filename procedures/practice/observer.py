"""The perfect observer: does what each ask calls for, waits what it says, reads to half a division, and answers.

It knows the type of instrument as a practised person does (which controls it has, what a turn of its knob moves) and
nothing of the one on the bench but its face. It passes and fails nothing by judgement: what it finds is what the
profile finds with the best hands. `Skill` takes some of that away; the perfect one has all of it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from random import Random
from typing import Any, Final

from procedures.asks import Ask, Hold, Reading, ReadingAsk, Wait
from procedures.headless import MICROSECOND, MOST_ASKS
from procedures.practice import best_answers, seeing
from procedures.practice.bench import Bench
from procedures.practice.controls import AWAY
from procedures.practice.face import BATTERY
from procedures.practice.moments import Abandon, Give, Mend, Press, Remedied, Turn, Work
from procedures.practice.seeing import Sight, steps_by_id
from procedures.routing import POWER_OFF, Remedy
from procedures.trouble import Trouble

_LOOK_S: Final = 2.0
_REST_S: Final = 6.0
_MOST_REST_S: Final = 24.0
_BATTERY_S: Final = 20.0
"""Seconds for which a battery test is held: cells that are nearly spent begin well."""
_KNOB_TRIES: Final = 6
_KNOB_S: Final = 5.0
_COUNT_TRIES: Final = 8
_REMEDY_S: Final = 20.0


@dataclass(frozen=True, slots=True)
class Skill:
    """How well an observer works.

    `misreads` is the standard deviation of its readings in divisions. `patience` multiplies every time that it takes:
    the look before an answer, the rest of a needle, the hold of a button. `skips` is the chance that it answers an ask
    with what should be seen and neither works nor looks, `wishes` the chance that it enters what it wants to see, and
    `gives_up` the chance at each ask that it abandons the checkout.
    """

    misreads: float = 0.0
    patience: float = 1.0
    skips: float = 0.0
    wishes: float = 0.0
    gives_up: float = 0.0

    @property
    def perfect(self) -> bool:
        return self == Skill()


PERFECT: Final = Skill()


def observe(bench: Bench, skill: Skill = PERFECT, seed: int | str = 0) -> None:
    """Bring the checkout at the bench to its end. `seed` draws the slips of one with less skill.

    Raises Trouble when the checkout comes to no end.
    """
    observer = Observer(bench, skill, seed)
    for _ in range(MOST_ASKS):
        if bench.over:
            return
        observer.go_on()
    raise Trouble(f"after {MOST_ASKS:,} asks the checkout had not ended")


class Observer:
    """One observer at one bench. It remembers what a person would: when it last moved anything, and what it read."""

    def __init__(self, bench: Bench, skill: Skill = PERFECT, seed: int | str = 0) -> None:
        self.bench, self.skill = bench, skill
        self.chance = Random(f"{seed}/observer")
        self.moved = 0
        self.was_off = False
        self.steps = steps_by_id(bench.kit.profile)
        self.kept: dict[str, float] = {}

    def go_on(self) -> None:
        """Do what is due."""
        bench = self.bench
        remedy = bench.offer()
        if remedy is not None:
            self._remedy(remedy)
            return
        ask = bench.ask()
        if ask is None:
            raise Trouble("the step asks nothing and comes to no finding")
        if self._slips(self.skill.gives_up):
            bench.do(Abandon("No time."))
        elif isinstance(ask, Wait) or bench.run.state.waiting is not None:
            bench.end_wait()
            self.moved = min(self.moved, bench.passed - round(_MOST_REST_S * MICROSECOND))
        elif isinstance(ask, Hold):
            self._hold(ask)
        else:
            self._answer(ask)

    # --- time and slips --------------------------------------------------------------------------------------------

    def _slips(self, chance: float) -> bool:
        return chance > 0 and self.chance.random() < chance

    def pass_time(self, seconds: float) -> None:
        self.bench.advance(seconds * self.skill.patience)

    def work(self, control: str, value: str | float) -> None:
        self.bench.do(Work(control, value))
        self.moved = self.bench.passed

    def _rest(self) -> None:
        """Wait until the indicator rests: a while at least since anything was moved, and longer while it creeps."""
        need = _REST_S - (self.bench.passed - self.moved) / MICROSECOND
        if need > 0:
            self.pass_time(need)
        last = seeing.figure(self.bench.face())
        while (self.bench.passed - self.moved) / MICROSECOND < _MOST_REST_S * self.skill.patience:
            self.pass_time(2.0)
            now = seeing.figure(self.bench.face())
            if now is None or last is None or abs(now - last) < 0.25:
                return
            last = now

    # --- what is done ----------------------------------------------------------------------------------------------

    def _remedy(self, remedy: Remedy) -> None:
        self.pass_time(_REMEDY_S)
        self.bench.do(Mend(remedy.action))
        self.moved = self.bench.passed
        self.was_off = self.was_off or remedy.action in POWER_OFF
        self.bench.do(Remedied(True))

    def _hold(self, ask: Hold) -> None:
        bench = self.bench
        if "zero" in bench.controls and "zero" not in bench.face().held:
            self.work("zero", "down")
        bench.do(Press(ask.key))
        if self.skill.patience < 1 and self._slips(1 - self.skill.patience) and bench.run.state.waiting is not None:
            # The button comes up early in the hand, and the screen is told that it was held.
            self.pass_time(ask.seconds)
            self.work("zero", "up")
        if bench.run.state.waiting is not None:
            bench.end_wait()

    def _answer(self, ask: Ask) -> None:
        if self._slips(self.skill.skips):
            self.pass_time(_LOOK_S)
            self.bench.do(Give(ask.key, best_answers.of(self.bench, ask)))
            return
        before, after = self._deeds(ask)
        before()
        self.pass_time(max(_LOOK_S, ask.look))
        self.bench.do(Give(ask.key, self._value(ask)))
        after()

    def _value(self, ask: Ask) -> Any:
        bench = self.bench
        face = bench.face()
        if not face.source:
            self.kept["clicks"] = face.clicks
        misread = self.chance.gauss(0.0, self.skill.misreads) if self.skill.misreads else 0.0
        sight = Sight(face, bench.kit, self.steps[bench.run.step], self.kept, misread, self.was_off)
        value = seeing.answer(ask, sight)
        if isinstance(value, Reading):
            self.kept[ask.key.split("-")[0]] = float(value.value)
        if self._slips(self.skill.wishes):
            return best_answers.of(bench, ask)
        return value

    def _deeds(self, ask: Ask) -> tuple[Callable[[], None], Callable[[], None]]:
        """What to do before an ask is answered, and what right after."""
        key = seeing.plain_key(ask.key)
        pairs: dict[str, tuple[Callable[[], None], Callable[[], None]]] = {
            "battery": (self._battery_on, self._battery_off),
            "switched-on": (self._switch_on, _nothing),
            "window": (lambda: self._slide("open"), lambda: self._slide("closed")),
            "cover": (lambda: self._turn_window("covered"), _nothing),
            "bright": (lambda: self._turn_window("bright"), _nothing),
            "stowed": (lambda: self._source(AWAY), _nothing),
            "adjust": (self._zero_set, _nothing),
            "release": (lambda: self._let_up("zero"), _nothing),
            "move": (self._elsewhere, _nothing),
            "seated": (self._seat, _nothing),
            "near": (self._seat, _nothing),
            "back": (lambda: self._source(AWAY), _nothing),
            "test-button": (self._test, lambda: self._let_up("test")),
        }
        if key in pairs:
            return pairs[key]
        if key.endswith("-start"):
            return self._count, _nothing
        if key in ("open", "closed"):
            return lambda: self._seat(slide=key), _nothing
        if isinstance(ask, ReadingAsk):
            return lambda: self._ready_to_read(ask), self._after_reading(ask)
        return _nothing, _nothing

    def _switch_on(self) -> None:
        if not self.bench.face().on:
            self.work("power", "on")
        self.was_off = False

    def _battery_on(self) -> None:
        self._switch_on()
        controls, step = self.bench.controls, self.steps[self.bench.run.step]
        if getattr(step, "load", "") and "light" in controls:
            self.work("light", "on")
        if "battery" in controls:
            self.work("battery", "down")
        else:
            self.work("selector", BATTERY)
        self.pass_time(_BATTERY_S)

    def _battery_off(self) -> None:
        if "battery" in self.bench.controls:
            self.work("battery", "up")
        else:
            self.work("selector", self.bench.kit.model.scales[0].selector.name)
        if "light" in self.bench.face().lamps:
            self.work("light", "off")

    def _slide(self, to: str) -> None:
        if "slide" in self.bench.controls and self.bench.face().slide != to:
            self.work("slide", to)

    def _turn_window(self, to: str) -> None:
        self._switch_on()
        self._select(str(getattr(self.steps[self.bench.run.step], "light_scale", "")))
        self.work("cover", to)

    def _source(self, role: str) -> None:
        if self.bench.face().source != ("" if role == AWAY else role):
            self.work("source", role)

    def _seat(self, slide: str = "closed") -> None:
        step = self.steps[self.bench.run.step]
        table = getattr(step, "ratio", None)
        role = getattr(step, "source", None) or getattr(step, "clicks", None) or getattr(table, "source", "")
        self._slide(slide)
        self._select(str(getattr(step, "scale", "") or getattr(table, "scale", "")))
        self._source(str(role))

    def _select(self, scale: str) -> None:
        selector = self.bench.face().selector
        names = {each.selector.name for each in self.bench.kit.model.scales}
        if scale in names and (selector is None or selector.name != scale):
            self.work("selector", scale)

    def _elsewhere(self) -> None:
        self.work("place", "elsewhere")

    def _let_up(self, button: str) -> None:
        if button in self.bench.face().held:
            self.work(button, "up")

    def _test(self) -> None:
        self._switch_on()
        self.work("test", "down")

    def _count(self) -> None:
        step = self.steps[self.bench.run.step]
        seconds = seeing.seconds_of(step, "count_time")
        self.work("count", seconds)

    def _ready_to_read(self, ask: ReadingAsk) -> None:
        if ask.whole:
            # The count ends on a step of the instrument, a moment after the wait; one that is off never ends it.
            for _ in range(_COUNT_TRIES):
                if self.bench.face().counting > 0:
                    self.bench.advance(0.5)
            return
        self._select(ask.wanted)
        if ask.more and getattr(self.steps[self.bench.run.step], "between", "") == ask.more:
            self.work("seat", "again")
        self._rest()

    def _after_reading(self, ask: ReadingAsk) -> Callable[[], None]:
        if ask.whole:
            return lambda: self.work("reset", "press")
        if ask.key.startswith("bright-reading"):
            return lambda: self.work("cover", "room")
        return _nothing

    def _zero_set(self) -> None:
        """Turn the knob until the needle rests on zero, as far as it goes."""
        model = self.bench.kit.model
        if "zero-knob" not in self.bench.controls or model.zero is None:
            return
        for _ in range(_KNOB_TRIES):
            off = seeing.figure(self.bench.face())
            if off is None or abs(off) < 0.2:
                return
            scale = next((s for s in model.scales if s.selector == self.bench.face().selector), model.scales[0])
            level = off * float((scale.selector.division or 1) * scale.selector.times)
            self.bench.do(Turn(round(-level / model.zero.knob, 3)))
            self.moved = self.bench.passed
            self.pass_time(_KNOB_S)


def _nothing() -> None:
    """Nothing is to be done."""
