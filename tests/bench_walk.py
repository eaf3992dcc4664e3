"""A walk over the bench for tests: an instrument is worked as in a checkout, and what was seen is kept by name."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal

from procedures.practice.catalogue import Fault
from procedures.practice.face import Face
from procedures.practice.instrument import SimInstrument
from procedures.practice.model import Model
from procedures.practice.surroundings import Room

START = datetime(2031, 5, 6, 6, 12, tzinfo=UTC)

Seen = dict[str, float | str | None]
"""Figures in divisions, and everything else as text."""


def indicated(face: Face) -> float | str:
    """The needle in divisions, or a display in last digits; text where there is no figure."""
    if face.needle is not None:
        return face.needle.position * max(face.needle.divisions, 100 if not face.needle.divisions else 0)
    assert face.digits is not None
    try:
        figure = Decimal(face.digits.text)
    except ArithmeticError:
        return face.digits.text or "dark"
    selector = face.selector
    assert selector is not None
    return float(figure / (selector.division or 1))


def visible(face: Face) -> str:
    """All that is seen or heard beside the figure."""
    look = face.look
    battery = face.battery.text if face.battery is not None else ""
    clicks = face.clicks > 1
    return repr((face.on, face.lamps, face.sounds, face.slide, look, battery, clicks, face.alarm_at))


class Walk:
    """One instrument, and what was seen of it so far."""

    def __init__(
        self, model: Model, faults: tuple[Fault, ...], *, quiet: bool = True, room: Room | None = None
    ) -> None:
        self.model = model
        self.sim = SimInstrument(model, faults, 7, START, room=room, quiet=quiet)
        self.seen: Seen = {}

    def note(self, name: str) -> None:
        face = self.sim.face()
        self.seen[f"{name}: figure"] = indicated(face)
        self.seen[f"{name}: rest"] = visible(face)

    def wait(self, seconds: float, name: str) -> None:
        self.sim.advance(seconds)
        self.note(name)

    def all_of_it(self) -> Seen:
        """What a checkout does, and a little more: off, battery, warm-up, zero, window, source on each scale, away."""
        self.note("off")
        self.sim.set("power", "on")
        self.wait(60, "warm")
        self._battery()
        self._look()
        self._zero()
        self._source()
        return self.seen

    def _battery(self) -> None:
        on, off = ("selector", "BATT"), ("selector", self.model.scales[0].selector.name)
        if not self.model.battery.on_selector:
            on, off = ("battery", "down"), ("battery", "up")
        self.sim.set(*on)
        self.wait(0.2, "battery moving")
        self.wait(1, "battery begun")
        self.wait(20, "battery held")
        self.sim.set(*off)
        self.sim.advance(20)

    def _look(self) -> None:
        if self.model.parts.slide:
            self.sim.set("slide", "open")
            self.wait(1, "slide open")
            self.sim.set("slide", "closed")
        self.sim.set("cover", "bright")
        self.wait(40, "bright")
        self.sim.set("cover", "room")
        if self.model.parts.alarm is not None:
            self.sim.set("test", "down")
            self.wait(1, "test")
            self.sim.set("test", "up")
        self.sim.advance(40)

    def _zero(self) -> None:
        if "zero button" in self.model.labels:
            self.sim.set("source", self.model.sources[0].role)
            self.sim.advance(10)
            self.sim.set("zero", "down")
            self.wait(8, "zero pressed beside a source")
            self.sim.turn(0.5)
            self.wait(8, "knob turned")
            self.sim.set("source", "away")
            self.sim.advance(10)
            self.set_zero()
            self.note("zero set")
            self.sim.set("zero", "up")
            self.wait(8, "zero let go")
        self.wait(10, "away")

    def set_zero(self) -> None:
        """Turn the knob as somebody does who watches the needle."""
        assert self.model.zero is not None
        for _ in range(4):
            needle = self.sim.face().needle
            assert needle is not None
            self.sim.turn(-needle.position * float(self.model.scales[0].full_scale) / self.model.zero.knob)
            self.sim.advance(6)

    def _source(self) -> None:
        source = self.model.sources[0]
        for scale in self.model.scales:
            self.sim.set("selector", scale.selector.name)
            self.sim.set("source", source.role)
            self.wait(0.3, f"{scale.selector.name} moving")
            self.wait(15, f"{scale.selector.name} early")
            self.wait(90, f"{scale.selector.name} source")
            self.sim.set("source", "away")
            self.sim.advance(50)
        self.sim.set("selector", self.model.scales[0].selector.name)
        self.wait(150, "away at the end")


def beside_the_source(model: Model, faults: tuple[Fault, ...], seed: int, *, every: float, count: int) -> list[float]:
    """Readings beside the source, one after another, with all noise."""
    sim = SimInstrument(model, faults, seed, START)
    source = model.sources[0]
    sim.set("power", "on")
    sim.set("selector", source.scale)
    sim.set("source", source.role)
    sim.advance(120)
    readings = []
    for _ in range(count):
        sim.advance(every)
        figure = indicated(sim.face())
        assert isinstance(figure, float)
        readings.append(figure)
    return readings


def differences(one: Seen, other: Seen, more_than: float = 0.5) -> list[str]:
    """Where two walks saw something else: figures further apart than this many divisions, or other text."""
    found = []
    for name, first in one.items():
        second = other[name]
        if isinstance(first, float) and isinstance(second, float):
            if abs(first - second) > more_than:
                found.append(name)
        elif first != second:
            found.append(name)
    return found
