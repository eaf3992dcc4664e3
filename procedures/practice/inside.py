"""The inside of a simulated instrument: its state, the faults that have begun, and one step of time.

Nothing here is for anybody but `instrument`: what a person may know is the face, what is true is told by `truth`.
"""

from __future__ import annotations

import math

from procedures.practice import steady
from procedures.practice.catalogue import Fault, effects_of, remaining
from procedures.practice.cells import Cells, regulated
from procedures.practice.controls import AWAY, Controls
from procedures.practice.counter import Counter
from procedures.practice.display import OVERLOAD, Display
from procedures.practice.effects import Effects
from procedures.practice.electrometer import Electrometer, ZeroModel, leakage
from procedures.practice.face import BATTERY
from procedures.practice.model import Model, full_scale_of
from procedures.practice.needle import Needle
from procedures.practice.noise import Telegraph, Wander, stream
from procedures.practice.steady import Scene
from procedures.practice.surroundings import BROKEN_FOR_S, LIGHT, RADIO_OFF_S, RADIO_ON_S, Room

_SECONDS_A_DAY = 86_400


class Inside:
    """State and physics. `reading` is what the electronics give, in the unit of the scales, before the range."""

    def __init__(self, model: Model, faults: tuple[Fault, ...], seed: int | str, room: Room, *, quiet: bool) -> None:
        self.model, self.room, self.quiet = model, room, quiet
        self.controls = Controls(selector=model.scales[0].selector.name)
        self.cells = Cells(model.cells)
        self.electrometer = Electrometer(ZeroModel() if model.zero is None else model.zero)
        self.counter = Counter(stream(seed, "pulses"), quiet)
        self.needle = None if model.needle is None else Needle(model.needle)
        self.display = None if model.display is None else Display(model.display)
        self._wander = Wander(stream(seed, "current"))
        self._wire = Telegraph(stream(seed, "wire"))
        self._radio = Telegraph(stream(seed, "radio"))
        self._placing = stream(seed, "placing")
        self.passed = self.seconds_on = self.off_for = 0.0
        self.reading = self._askew = self._drift = self._target = 0.0
        self.gel_damp = self._chamber_damp = 0.0
        self.alarm_at = model.parts.alarm
        self.counting = self._counted = 0.0
        self.shows_count = False
        self.waiting = tuple(faults)
        self.faults: tuple[Fault, ...] = ()
        self.effects = Effects()
        self.look_around()
        self.begin(tuple(fault for fault in faults if not fault.after and not fault.at))

    def begin(self, begun: tuple[Fault, ...]) -> None:
        """These faults are there from now on."""
        if not begun:
            return
        self.waiting = tuple(fault for fault in self.waiting if fault not in begun)
        self.faults = (*self.faults, *begun)
        self.effects = effects_of(self.faults, self.model.labels)
        fresh = effects_of(begun, self.model.labels)
        if fresh.charge is not None:
            self.cells.charge = fresh.charge
        if fresh.damp:
            self.gel_damp = self._chamber_damp = fresh.damp
        if fresh.alarm_at is not None:
            self.alarm_at = fresh.alarm_at
        self.electrometer.knob += fresh.knocked
        self.look_around()

    def look_around(self) -> None:
        """Take in what surrounds the detector anew, after anything was moved."""
        controls = self.controls
        self._scale = None if controls.selector == BATTERY else self.model.scale(controls.selector)
        self._scene = Scene(
            room=self.room,
            source=None if controls.source == AWAY else self.model.source(controls.source),
            further_mm=controls.further + self._askew,
            slide_open=controls.slide_open,
            light=LIGHT[controls.cover],
            at_bench=controls.place == "bench",
            radio=self._radio.on,
            elapsed_days=self.passed / _SECONDS_A_DAY,
        )
        self._detected = steady.detected(self.model, self.effects, self._scene)

    # --- what a person does to it ----------------------------------------------------------------------------------

    def switch(self, *, on: bool) -> None:
        """The power switch. Off and on again, it begins anew."""
        if on == self.controls.power:
            return
        self.controls.power = on
        self.seconds_on = self._drift = 0.0
        self.show_rate()
        self.electrometer.auto = 0.0

    def press_zero(self, *, down: bool) -> None:
        if down == self.controls.zero:
            return
        self.controls.zero = down
        if self.effects.button_works:
            (self.electrometer.press if down else self.electrometer.let_go)()

    def count(self, seconds: float) -> None:
        """Begin a count of so many seconds."""
        self.counting, self._counted, self.shows_count = seconds, 0.0, True

    def show_rate(self) -> None:
        self.counting, self.shows_count = 0.0, False

    def tap(self) -> None:
        """A tap throws a needle free of what holds it."""
        if self.needle is not None and not self.effects.stuck:
            self.needle.speed += 2 * self.effects.sticks / self.needle.model.period

    def place(self) -> None:
        """Somebody puts a source into its jig: never twice quite the same."""
        self._askew = 0.0
        if self.controls.source != AWAY and not self.quiet:
            self._askew = self._placing.gauss(0.0, self.model.source(self.controls.source).placing_mm)

    def mend(self, action: str) -> None:
        """A remedy ends the faults that it mends."""
        self.faults, self.waiting = remaining(self.faults, action), remaining(self.waiting, action)
        self.effects = effects_of(self.faults, self.model.labels)

    # --- one step of time ------------------------------------------------------------------------------------------

    def step(self, seconds: float) -> None:
        """One step: cells, detector and electronics, indicator."""
        self.passed += seconds
        controls = self.controls
        load = self.load()
        self.cells.advance(seconds, load, self.effects.tired)
        volts = self.cells.volts(load, self.effects.tired, self.effects.wrong_cells)
        self._dry(seconds)
        working = self.is_working(volts)
        if working:
            self._work(seconds, volts)
        else:
            self.off_for = 0.0 if controls.power else self.off_for + seconds
            self._rest(seconds)
        self._show(seconds, volts, working=working)

    def _work(self, seconds: float, volts: float) -> None:
        """Detector and electronics of an instrument that is on."""
        self.seconds_on += seconds
        if self.waiting:
            self.begin(tuple(f for f in self.waiting if f.after and f.after <= self.seconds_on + 1e-9))
        effects = self.effects
        self._drift += effects.drift * seconds
        if effects.radio:
            keyed = self._radio.on
            if not self.quiet and self._radio.advance(seconds, RADIO_ON_S, RADIO_OFF_S) != keyed:
                self.look_around()
        signal = self._detected * regulated(self.model.cells, volts)
        if effects.touching and not self.quiet:
            mean_off = BROKEN_FOR_S * (1 - effects.touching) / effects.touching
            if self._wire.advance(seconds, BROKEN_FOR_S, mean_off):
                signal = 0.0
        if self.model.counter is not None:
            self._count(seconds, signal)
        else:
            self._measure(seconds, signal)

    def _count(self, seconds: float, true: float) -> None:
        model, counter = self.model.counter, self.counter
        assert model is not None
        tau = steady.time_constant(self.model, self.effects, self.controls.selector, self.reading)
        alive = steady.answered(self.model, self.effects, true)
        # A tube on its way to silence loses pulses at random; what is left of them has the dead time it always had.
        behind = alive / max(1e-9, 1 - alive * model.dead_time)
        count = counter.advance(seconds, behind, model.dead_time, tau)
        if self.counting:
            self._counted += count
            self.counting = max(0.0, self.counting - seconds)
            if self.counting < 1e-9:
                self.counting = 0.0
        self.reading = counter.rate / model.per_unit

    def _measure(self, seconds: float, current: float) -> None:
        model, effects, electrometer = self.model, self.effects, self.electrometer
        chamber, zero = model.chamber, electrometer.model
        assert chamber is not None
        if zero.auto_after and self.seconds_on >= zero.auto_after and not electrometer.auto:
            electrometer.set_itself(self.seconds_on, self.room.temperature_c)
        tau = chamber.tau(self.controls.selector, electrometer.followed) * effects.slow
        leaks = leakage(model.desiccant, self._chamber_damp)
        electrometer.advance(seconds, current + leaks, tau, effects.kick_slow)
        extra = effects.offset + self._drift + (effects.radio if self._scene.radio else 0.0)
        if not self.quiet:
            sigma = chamber.sigma(electrometer.followed) * effects.noise
            extra += sigma * self._wander.advance(seconds, tau)
        self.reading = electrometer.shown(
            self.seconds_on, self.room.temperature_c, extra, knob_works=effects.knob_works
        )

    def _rest(self, seconds: float) -> None:
        """Nothing is powered: charges leak away, and nothing is shown."""
        self.seconds_on = 0.0
        self.counter.stop()
        self.electrometer.followed *= math.exp(-seconds)
        self.reading = 0.0

    def _dry(self, seconds: float) -> None:
        """Fresh gel dries a chamber slowly; spent gel has let it become damp."""
        if self._chamber_damp != self.gel_damp and self.model.desiccant is not None:
            kept = math.exp(-seconds / self.model.desiccant.dries)
            self._chamber_damp = self.gel_damp + (self._chamber_damp - self.gel_damp) * kept

    def _show(self, seconds: float, volts: float, *, working: bool) -> None:
        effects, scale = self.effects, self._scale
        if self.needle is not None:
            if working and self.controls.testing_battery:
                target = volts / self.model.battery.full + effects.bent
            elif working and scale is not None:
                target = steady.on_scale(effects, scale, self.reading) / full_scale_of(scale)
            else:
                target = effects.bent
            # The mean of both ends of a step: a target on its way would else be followed half a step too far ahead.
            aim, self._target = (self._target + target) / 2, target
            if not effects.stuck:
                self.needle.advance(seconds, aim, slow=effects.needle_slow, sticks=effects.sticks)
        if self.display is not None and not (effects.frozen and self.display.text):
            self._put_up(self.display, seconds, working=working)

    def _put_up(self, display: Display, seconds: float, *, working: bool) -> None:
        scale, effects = self._scale, self.effects
        if not working or scale is None or scale.selector.division is None:
            display.dark()
        elif effects.overload:
            display.text = OVERLOAD
        elif self.shows_count:
            display.text = f"{int(self._counted)}"
        else:
            value = steady.on_scale(effects, scale, self.reading)
            display.advance(seconds, value, scale.selector.division, full_scale_of(scale))

    def load(self) -> float:
        """Multiples of the basic load."""
        controls, cells = self.controls, self.model.cells
        if not controls.power:
            return 0.0
        extra = cells.light * controls.light + cells.speaker * controls.speaker + cells.test * controls.testing_battery
        return 1.0 + extra

    def volts(self) -> float:
        return self.cells.volts(self.load(), self.effects.tired, self.effects.wrong_cells)

    def is_working(self, volts: float) -> bool:
        return self.controls.power and volts >= self.model.cells.stops_below
