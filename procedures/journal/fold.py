"""The folds: pure functions from events to state, in one place to import from."""

from procedures.journal.doubts import Doubt, uses_in_doubt
from procedures.journal.fold_instrument import fold_instrument
from procedures.journal.fold_things import (
    fold_checkout,
    fold_person,
    fold_profile,
    fold_profiles,
    fold_site,
    fold_source,
    fold_thing,
)
from procedures.journal.states import Fitness, InstrumentState, fitness

__all__ = [
    "Doubt",
    "Fitness",
    "InstrumentState",
    "fitness",
    "fold_checkout",
    "fold_instrument",
    "fold_person",
    "fold_profile",
    "fold_profiles",
    "fold_site",
    "fold_source",
    "fold_thing",
    "uses_in_doubt",
]
