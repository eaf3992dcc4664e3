"""A simulated instrument on the bench: worked by its controls, seen by its face, moved on by `advance`.

Inside, time goes on in steps of a fixed length, so nothing depends on how somebody cuts the time outside; what is left
of a step is kept for the next call. While it is switched off and nothing moves, steps are long: all that goes on then
is exact for steps of any length.
"""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from typing import Final

from procedures.practice import facing
from procedures.practice.catalogue import Fault
from procedures.practice.controls import understood
from procedures.practice.face import BATTERY, DigitsFace, Face, RoomFace
from procedures.practice.inside import Inside
from procedures.practice.model import Model
from procedures.practice.surroundings import Room
from procedures.routing import ACTIONS, POWER_OFF
from procedures.trouble import Trouble

STEP_S: Final = 0.05
"""Seconds of one step: short against a needle's swing, twice as often as a face is drawn."""

_STEP_OFF_S: Final = 10.0
_COMES_TO_REST_S: Final = 10.0
_MICROSECONDS: Final = 1_000_000
LONGEST_ADVANCE_S: Final = 30 * 86_400.0


class SimInstrument:
    """One instrument, with what surrounds it.

    `seed` fixes all noise; `now` is when the session begins and has a time zone (it decides the dates on the label).
    `quiet` takes all noise away, and the error of placing a source with it. `room` replaces the model's own. Raises
    Trouble for a fault that the model cannot have.
    """

    def __init__(
        self,
        model: Model,
        faults: tuple[Fault, ...],
        seed: int | str,
        now: datetime,
        *,
        room: Room | None = None,
        quiet: bool = False,
        step: float = STEP_S,
    ) -> None:
        if now.utcoffset() is None:
            raise Trouble("a session begins at a moment with a time zone")
        self.model = model
        self._now = now
        self._inside = Inside(model, faults, seed, model.room if room is None else room, quiet=quiet)
        self._step_us = round(step * _MICROSECONDS)
        self._owed_us = 0

    # --- what a person does ----------------------------------------------------------------------------------------

    def set(self, control: str, value: str | float) -> None:
        """Work a control. Raises Trouble for one that this instrument does not have, or a value it does not take."""
        value = understood(self.model, control, value)
        inside = self._inside
        inside.off_for = 0.0
        inside.begin(tuple(fault for fault in inside.waiting if fault.at == control))
        if isinstance(value, float):
            self._set_number(control, value)
        else:
            self._set_word(control, value)
        inside.look_around()

    def turn(self, turns: float) -> None:
        """Turn the zero knob by so many turns from where it stands, as far as it goes. Raises Trouble without one."""
        self.set("zero-knob", min(10.0, max(-10.0, self._inside.electrometer.knob + turns)))

    def remedy(self, action: str) -> None:
        """Carry out a remedy of `procedures.routing.ACTIONS`. Raises Trouble for another."""
        if action not in ACTIONS:
            raise Trouble(f"“{action}” is no remedy", allowed=", ".join(ACTIONS))
        inside = self._inside
        inside.mend(action)
        if action in POWER_OFF:
            self.set("power", "off")
        if action == "fresh-cells":
            inside.cells.renew()
        elif action == "desiccant-changed":
            inside.gel_damp = 0.0
        elif action == "moved-away":
            self.set("place", "elsewhere")
        elif action == "source-reseated":
            inside.place()
        elif action == "controls-set":
            inside.alarm_at = self.model.parts.alarm
        elif action == "switched-over":
            self.set("power", "on")
        inside.look_around()

    def advance(self, seconds: float) -> None:
        """Let time pass. Raises Trouble for a time that runs backwards or beyond thirty days."""
        if not 0 <= seconds <= LONGEST_ADVANCE_S:
            raise Trouble(f"{seconds} s cannot pass here", allowed=f"0 s to {LONGEST_ADVANCE_S:g} s")
        self._owed_us += round(seconds * _MICROSECONDS)
        long_us = round(_STEP_OFF_S * _MICROSECONDS)
        while self._owed_us >= self._step_us:
            step_us = long_us if self._owed_us >= long_us and self._is_at_rest() else self._step_us
            self._owed_us -= step_us
            self._inside.step(step_us / _MICROSECONDS)

    def _is_at_rest(self) -> bool:
        return not self._inside.controls.power and self._inside.off_for >= _COMES_TO_REST_S

    def _set_number(self, control: str, value: float) -> None:
        inside = self._inside
        if control == "zero-knob":
            inside.electrometer.knob = value
        elif control == "further":
            inside.controls.further = value
        elif control == "alarm":
            inside.alarm_at = value
        elif control == "count":
            inside.count(value)

    def _set_word(self, control: str, value: str) -> None:
        inside, controls = self._inside, self._inside.controls
        if control == "power":
            inside.switch(on=value == "on")
        elif control == "zero":
            inside.press_zero(down=value == "down")
        elif control == "slide":
            controls.slide_open = controls.slide_open if inside.effects.slide_stuck else value == "open"
        elif control == "source":
            controls.source, controls.further = value, 0.0
            inside.place()
        elif control == "seat":
            inside.place()
        elif control == "tap":
            inside.tap()
        elif control == "reset":
            inside.show_rate()
        elif control == "case":
            controls.case_open = value == "open"
        elif control in ("battery", "test"):
            setattr(controls, control, value == "down")
        elif control in ("light", "speaker"):
            setattr(controls, control, value == "on")
        else:
            setattr(controls, control, value)

    # --- what a person sees --------------------------------------------------------------------------------------

    def face(self) -> Face:
        """What can be seen, heard and read now."""
        model, controls = self.model, self._inside.controls
        volts = self._inside.volts()
        working = self._inside.is_working(volts)
        scale = None if controls.selector == BATTERY else model.scale(controls.selector)
        needle = None
        if self._inside.needle is not None:
            testing = controls.testing_battery
            needle = facing.needle_face(None if testing else scale, self._inside.needle.position)
        heard = self._heard(working)
        return Face(
            seconds=self._inside.passed,
            on=controls.power,
            selector=facing.selector_of(model, controls),
            needle=needle,
            digits=self._digits(),
            battery=facing.battery_face(model, volts) if controls.testing_battery and working else None,
            lamps=heard.lamps,
            sounds=heard.sounds,
            clicks=heard.clicks,
            pulses=heard.pulses,
            held=facing.held_of(controls),
            slide=facing.slide_of(model, controls),
            cover=controls.cover,
            place=controls.place,
            case="open" if controls.case_open else "shut",
            source=facing.source_of(controls),
            counting=self._inside.counting,
            alarm_at=self._inside.alarm_at if working else None,
            look=facing.look_of(model, self._inside.effects, controls, self._inside.gel_damp, self._calibrated()),
            room=RoomFace(self._inside.room.temperature_c, self._inside.room.pressure_kpa, self._inside.room.humidity),
        )

    def _calibrated(self) -> datetime:
        """The label carries the day before the first reference reading, which follows a calibration."""
        oldest = max((source.age_days for source in self.model.sources), default=0.0)
        return self._now - timedelta(days=math.ceil(oldest) + 1)

    def _digits(self) -> DigitsFace | None:
        if self._inside.display is None:
            return None
        unit = "counts" if self._inside.shows_count else self.model.unit
        return DigitsFace(
            self._inside.display.text, unit if self._inside.display.text else "", self._inside.shows_count
        )

    def _heard(self, working: bool) -> facing.Heard:
        controls, effects, parts = self._inside.controls, self._inside.effects, self.model.parts
        beyond = self._inside.alarm_at is not None and self._inside.reading >= self._inside.alarm_at
        alarm = working and parts.alarm is not None and (controls.test or beyond)
        lamps = [name for name, lit in (("light", controls.light and working),) if lit]
        if alarm and effects.alarm_lamp:
            lamps.append("alarm")
        if working and self._inside.display is not None and self._inside.volts() < self.model.cells.regulates_above:
            lamps.append("low battery")
        clicking = working and parts.speaker and controls.speaker and effects.speaker
        return facing.Heard(
            tuple(lamps),
            ("alarm",) if alarm and effects.alarm_sound else (),
            self._inside.counter.heard if clicking else 0.0,
            int(self._inside.counter.pulses) if clicking else 0,
        )
