"""The truth about a simulated instrument: sound or faulty by its physics, against the tolerances of its profile.

Nothing is simulated here: what it shows in the end is computed from the faults it has when all have begun, with the
check source as its papers say and exactly in place, and without noise. What a case does to the source, the place or the
papers is not the instrument's fault and stands apart.

Near a limit a person who reads as well as anybody may come to either side. There nothing is scored: within half a
division, but for what is inside no further than a quarter of the tolerance, so that a tolerance of half a division
still has an inside.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from procedures.practice.catalogue import Fault, effects_of
from procedures.practice.effects import Effects
from procedures.practice.model import Model
from procedures.practice.surroundings import Room
from procedures.practice.truth_figures import figures_of
from procedures.practice.truth_measure import Measure
from procedures.practice.truth_seen import seen_of
from procedures.profile.load import Loaded

Verdict = Literal["sound", "faulty", "near the limit"]

OF_THE_INSTRUMENT: Final = "instrument"


@dataclass(frozen=True, slots=True)
class Truth:
    """What is true. `measures` are all that was compared; `outside` says what is wrong with source, place or papers."""

    verdict: Verdict
    measures: tuple[Measure, ...]
    outside: tuple[str, ...]

    @property
    def deviations(self) -> tuple[Measure, ...]:
        """What is beyond its limit, be it by less than can be read."""
        return tuple(each for each in self.measures if each.beyond)

    @property
    def near_limit(self) -> bool:
        """Whether this instrument is not to be scored: nothing is clearly beyond, and something is near its limit."""
        return self.verdict == "near the limit"


def truth_of(model: Model, profile: Loaded, faults: tuple[Fault, ...], room: Room | None = None) -> Truth:
    """The truth about an instrument of this model with these faults, all of which have begun."""
    effects = _of_instrument(model, faults)
    where = model.room if room is None else room
    measures = (*figures_of(model, profile, effects, where), *seen_of(model, profile, effects))
    clearly = any(each.beyond and not each.near for each in measures)
    near = any(each.near for each in measures)
    verdict: Verdict = "faulty" if clearly else "near the limit" if near else "sound"
    outside = tuple(each.what.say for each in faults if each.what.of in ("source", "place", "papers"))
    return Truth(verdict, measures, outside)


def _of_instrument(model: Model, faults: tuple[Fault, ...]) -> Effects:
    own = tuple(each for each in faults if each.what.of in (OF_THE_INSTRUMENT, "nothing"))
    return effects_of(own, model.labels)
