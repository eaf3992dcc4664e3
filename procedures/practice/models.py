"""From a model's file and its profile to a model, or to every mistake in the file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from procedures.nuclides import HalfLife, half_life
from procedures.practice.cells import CellsModel
from procedures.practice.chamber import ChamberModel
from procedures.practice.counter import CounterModel
from procedures.practice.display import DisplayModel
from procedures.practice.electrometer import DesiccantModel, ZeroModel
from procedures.practice.model import BatteryModel, Model, Parts, Reads
from procedures.practice.model_schema import ModelFile
from procedures.practice.needle import NeedleModel
from procedures.practice.pages import Mistakes, read_page, text_of
from procedures.practice.sources import SourceModel
from procedures.practice.surroundings import Room
from procedures.profile.load import Loaded
from procedures.profile.schema import ION_CHAMBERS
from procedures.profile.spots import Part
from procedures.steps._response_profile import ResponseParameters
from procedures.units import Quantity, kind_of, number_in


def load_model(path: Path, profile: Loaded) -> Model:
    """The model in a file, for a profile. Raises PracticeErrors with all mistakes."""
    return read_model(text_of(path), path.name, profile)


def read_model(text: str, file: str, profile: Loaded) -> Model:
    """The model in a text; `file` is named in its mistakes. Raises PracticeErrors with all of them."""
    page, read = read_page(text, file, ModelFile)
    mistakes = Mistakes(page)
    made = _Reader(read, profile, mistakes).model()
    mistakes.raise_any()
    return made


def _step(profile: Loaded, kind: str) -> Any:
    return next((step for step in profile.profile.step if step.kind == kind), None)


class _Reader:
    """Turns quantities into figures in the units of the physics, and notes where file and profile are at odds."""

    def __init__(self, file: ModelFile, profile: Loaded, mistakes: Mistakes) -> None:
        self.file, self.profile, self.mistakes = file, profile, mistakes
        self.scales = profile.procedure.scales
        self.unit = self.scales[0].selector.unit

    def model(self) -> Model:
        self._at_odds()
        file, instrument = self.file, self.profile.profile.instrument
        return Model(
            profile=self.profile.procedure.id,
            title=self.profile.procedure.title,
            detector=instrument.detector,
            scales=self.scales,
            unit=self.unit,
            cells=self._cells(),
            battery=self._battery(),
            parts=self._parts(),
            room=Room(
                _in("°C", file.room.temperature),
                _in("kPa", file.room.pressure),
                _in("%", file.room.humidity),
                self._level(("room", "background"), file.room.background),
            ),
            sources=tuple(self._source(place) for place in range(len(file.source))),
            chamber=self._chamber(),
            zero=self._zero(),
            desiccant=self._desiccant(),
            counter=self._counter(),
            needle=None
            if file.needle is None
            else NeedleModel(_in("s", file.needle.period), _in("%", file.needle.damping) / 100),
            display=None if file.display is None else DisplayModel(_in("s", file.display.update)),
        )

    # --- where file and profile are at odds ------------------------------------------------------------------------

    def _at_odds(self) -> None:
        file, instrument = self.file, self.profile.profile.instrument
        if file.profile != self.profile.procedure.id:
            allowed = self.profile.procedure.id
            self.mistakes.add(("profile",), "this model is of another profile", found=file.profile, allowed=allowed)
        chamber = instrument.detector in ION_CHAMBERS
        needle = instrument.display == "needle"
        wanted = {"chamber": chamber, "zero": chamber, "counter": not chamber, "needle": needle, "display": not needle}
        for name, there in wanted.items():
            if (getattr(file, name) is not None) != there:
                what = "is missing" if there else "does not belong"
                shown = f"a {instrument.detector} with a {instrument.display} display"
                self.mistakes.add((name,), f"the table [{name}] {what} here", allowed=f"what fits {shown}")
        if file.desiccant is not None and _step(self.profile, "desiccant") is None:
            self.mistakes.add(("desiccant",), "the profile has no step of kind desiccant", allowed="left out")
        for table in ("chamber", "counter"):
            known = tuple(scale.selector.name for scale in self.scales)
            for name in getattr(getattr(file, table), "time_constants", {}):
                self.mistakes.among((table, "time_constants", name), name, known, "there is no such scale")
        self._battery_at_odds()

    def _battery_at_odds(self) -> None:
        battery, step = self.file.battery, _step(self.profile, "battery")
        if step is None:
            self.mistakes.add(("battery",), "the profile has no step of kind battery", allowed="a profile with one")
            return
        edges = [_in("V", edge) for edge in battery.edges]
        if step.reads == "places" and (len(edges) != len(step.places) - 1 or edges != sorted(set(edges))):
            allowed = f"{len(step.places) - 1} voltages, ascending, between: {', '.join(step.places)}"
            self.mistakes.add(("battery", "edges"), "these edges do not fit the profile's places", allowed=allowed)
        for key, reads in (("division", "volts"), ("empty", "percent")):
            if step.reads == reads and getattr(battery, key) is None:
                self.mistakes.add(("battery",), f"{key} is missing: the profile reads {reads}", allowed=f"{key} = …")

    # --- figures ---------------------------------------------------------------------------------------------------

    def _level(self, path: tuple[Part, ...], level: Quantity | None) -> float:
        if level is None:
            return 0.0
        return self.mistakes.tried(path, lambda: float(number_in(level, self.unit)), 0.0)

    def _cells(self) -> CellsModel:
        cells = self.file.cells
        if _in("V", cells.flat) >= _in("V", cells.fresh):
            self.mistakes.add(("cells", "flat"), "flat cells give less than fresh ones", allowed="below `fresh`")
        return CellsModel(
            fresh=_in("V", cells.fresh),
            flat=_in("V", cells.flat),
            drop=_in("V", cells.drop),
            drop_flat=_in("V", cells.drop_flat),
            slow=_in("%", cells.slow) / 100,
            recovers=_in("s", cells.recovers),
            life=_in("s", cells.life),
            regulates_above=_in("V", cells.regulates_above),
            stops_below=_in("V", cells.stops_below),
            light=_share(cells.light),
            speaker=_share(cells.speaker),
            test=_share(cells.test),
        )

    def _battery(self) -> BatteryModel:
        battery, step = self.file.battery, _step(self.profile, "battery")
        reads: Reads = "places" if step is None else step.reads
        return BatteryModel(
            reads=reads,
            on_selector=battery.by == "selector",
            full=_in("V", battery.full),
            empty=0.0 if battery.empty is None else _in("V", battery.empty),
            division=1.0 if battery.division is None else _in("V", battery.division),
            places=() if step is None else step.places,
            edges=tuple(_in("V", edge) for edge in battery.edges),
        )

    def _parts(self) -> Parts:
        parts, alarm = self.file.parts, _step(self.profile, "alarm")
        point = None if alarm is None or alarm.set_point is None else float(number_in(alarm.set_point, self.unit))
        return Parts(
            slide=parts.slide,
            window=self.profile.profile.instrument.has_window,
            cable=parts.cable,
            light=parts.light,
            speaker=parts.speaker,
            alarm=point,
            scaler=self.file.counter is not None and self.file.counter.scaler,
        )

    def _chamber(self) -> ChamberModel | None:
        chamber = self.file.chamber
        if chamber is None:
            return None
        if (chamber.slow_below is None) != (chamber.slow_time_constant is None):
            self.mistakes.add(("chamber",), "slow_below and slow_time_constant go together", allowed="both, or neither")
        # Charge comes in grains: the variance beside the first source fixes what each unit of reading adds.
        beside = self._level(("source", 0, "reading"), self.file.source[0].reading)
        return ChamberModel(
            vented=self.profile.profile.instrument.detector == "vented ion chamber",
            temperature_c=_in("°C", chamber.temperature),
            pressure_kpa=_in("kPa", chamber.pressure),
            time_constant=_in("s", chamber.time_constant),
            noise=self._level(("chamber", "noise"), chamber.noise),
            shot=(_in("%", chamber.scatter) / 100) ** 2 * beside,
            time_constants=tuple((name, _in("s", each)) for name, each in chamber.time_constants.items()),
            slow_below=self._level(("chamber", "slow_below"), chamber.slow_below),
            slow_time_constant=0.0 if chamber.slow_time_constant is None else _in("s", chamber.slow_time_constant),
        )

    def _zero(self) -> ZeroModel | None:
        zero, chamber = self.file.zero, self.file.chamber
        if zero is None or chamber is None:
            return None
        step = _step(self.profile, "zero")
        return ZeroModel(
            offset=self._level(("zero", "offset"), zero.offset),
            warm_up=self._level(("zero", "warm_up"), zero.warm_up),
            warms=_in("s", zero.warms),
            per_degree=self._level(("zero", "per_degree"), zero.per_degree),
            at_degrees=_in("°C", chamber.temperature),
            kick=self._level(("zero", "kick"), zero.kick),
            kick_fades=1.0 if zero.kick_fades is None else _in("s", zero.kick_fades),
            knob=self._level(("zero", "knob"), zero.knob),
            button=step is not None and step.hold is not None,
            auto_after=0.0 if zero.auto_after is None else _in("s", zero.auto_after),
        )

    def _desiccant(self) -> DesiccantModel | None:
        desiccant, step = self.file.desiccant, _step(self.profile, "desiccant")
        if desiccant is None or step is None:
            return None
        return DesiccantModel(
            leakage=self._level(("desiccant", "leakage"), desiccant.leakage),
            turning_at=_in("%", desiccant.turning_at) / 100,
            spent_at=_in("%", desiccant.spent_at) / 100,
            dries=_in("s", desiccant.dries),
            fresh=step.fresh[0],
            turning=(step.turning or step.fresh)[0],
            spent=step.spent[0],
        )

    def _counter(self) -> CounterModel | None:
        counter = self.file.counter
        if counter is None:
            return None
        counts = kind_of(self.unit) == "count rate"
        if counts == (counter.per_unit is not None):
            what = "is known: the scales show a count rate" if counts else "is missing: the scales show no count rate"
            self.mistakes.add(("counter",), f"per_unit {what}", allowed="left out" if counts else 'such as "0.15 cps"')
        if counts:
            per_unit = float(number_in(Quantity(self.scales[0].full_scale, self.unit), "cps")) / float(
                self.scales[0].full_scale
            )
        else:
            per_unit = 1.0 if counter.per_unit is None else _in("cps", counter.per_unit)
        return CounterModel(
            per_unit=per_unit,
            dead_time=_in("s", counter.dead_time),
            time_constant=_in("s", counter.time_constant),
            silent_above=_in("cps", counter.silent_above),
            time_constants=tuple((name, _in("s", each)) for name, each in counter.time_constants.items()),
        )

    def _source(self, place: int) -> SourceModel:
        row = self.file.source[place]
        path = ("source", place)
        known = tuple(scale.selector.name for scale in self.scales)
        self.mistakes.among((*path, "scale"), row.scale, known, "there is no such scale")
        roles = tuple(s.source for s in self.profile.profile.step if isinstance(s, ResponseParameters))
        self.mistakes.among((*path, "role"), row.role, roles, "no response step asks for this source")
        nowhere = HalfLife(row.nuclide, number_in(row.age, "d"), "d", 1.0, None, "")
        decays = self.mistakes.tried((*path, "nuclide"), lambda: half_life(row.nuclide), nowhere)
        return SourceModel(
            role=row.role,
            nuclide=decays.nuclide,
            half_life_days=decays.days,
            reading=self._level((*path, "reading"), row.reading),
            unit=self.unit,
            scale=row.scale,
            geometry=row.geometry,
            age_days=_in("d", row.age),
            temperature_c=_in("°C", row.temperature),
            pressure_kpa=_in("kPa", row.pressure),
            relative_u=_in("%", row.uncertainty) / 100,
            distance_mm=_in("mm", row.distance),
            placing_mm=_in("mm", row.placing),
            beta=_share(row.beta),
        )


def _in(unit: str, quantity: Quantity) -> float:
    return float(number_in(quantity, unit))


def _share(quantity: Quantity | None) -> float:
    return 0.0 if quantity is None else _in("%", quantity) / 100
