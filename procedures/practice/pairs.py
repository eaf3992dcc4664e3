"""Pairs of faults: those that cannot be together, and those that look alike."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Clash:
    """Faults that exclude each other: none of `one` goes with any of `other`, because `why`."""

    one: frozenset[str]
    other: frozenset[str]
    why: str

    def is_between(self, a: str, b: str) -> bool:
        return (a in self.one and b in self.other) or (b in self.one and a in self.other)


@dataclass(frozen=True, slots=True)
class Alike:
    """Two kinds that look alike, and what tells them apart."""

    one: str
    other: str
    told_apart: str


def _clash(one: str, other: str, why: str) -> Clash:
    return Clash(frozenset(one.split()), frozenset(other.split()), why)


def _exclusive(names: str, why: str) -> Clash:
    return _clash(names, names, why)


_NO_SIGNAL = "detector-dead cable-broken"

CLASHES: Final = (
    _exclusive(_NO_SIGNAL, "one of them alone already takes the signal away, and nobody could find the other"),
    _clash(
        _NO_SIGNAL,
        "response-low response-high gas-lost falls-silent light-leak false-pulses cable-intermittent source-weak "
        "source-slipped contamination place-hot window-torn window-dirty",
        "where no signal comes through, nothing can change it",
    ),
    _exclusive("response-low response-high", "one detector has not lost and gained at once"),
    _clash(
        "needle-stuck",
        "needle-sticky needle-bent needle-lazy cells-low cells-tired cells-wrong response-low response-high scale-off "
        "slow-response noisy radio-pickup zero-off zero-drift kick-lasts knob-knocked",
        "a needle that does not move shows nothing of it",
    ),
    _clash(
        "display-frozen overload-stays",
        "response-low response-high gas-lost slow-response noisy radio-pickup zero-off zero-drift",
        "a display that does not change shows nothing of it",
    ),
    _exclusive("display-frozen overload-stays", "a display has stopped with a figure, or with the sign for too much"),
    _exclusive("cells-low cells-wrong cells-half", "the cells have one charge, and are of one sort"),
    _clash("cells-tired", "cells-wrong", "cells of another sort are not known to be old"),
    _exclusive("desiccant-spent gel-turning", "the gel has one colour"),
    _exclusive(
        "window-torn window-dimpled window-dirty window-loose",
        "the look-over asks for the one thing that is seen: write two cases",
    ),
    _clash("window-torn", "light-leak", "beside a tear a pinhole cannot be told"),
    _exclusive(
        "case-cracked case-wet case-loose display-faded",
        "the look-over asks for the one thing that is seen: write two cases",
    ),
    _exclusive("cable-cut cable-intermittent", "the look-over asks for the one thing that is seen: write two cases"),
    _clash("slide-stuck", "slide-stiff", "a slide that opens and closes is not stuck"),
    _clash("speaker-dead", "clicks-faint", "a dead speaker gives no faint clicks"),
    _clash("label-missing", "label-worn", "a label that is gone is not worn"),
    _clash("zero-knob-dead", "knob-knocked", "a knob that does nothing cannot have moved the zero"),
    _clash("zero-button-dead", "kick-lasts", "a button that does not close throws nothing in when it is let go"),
)

ALIKE: Final = (
    Alike("response-low", "source-weak", "Another instrument of the type reads the same source as low."),
    Alike("response-low", "source-slipped", "It reads right when the source has been seated again."),
    Alike("response-low", "cells-low", "The battery test is low."),
    Alike("response-low", "window-dirty", "The stain is seen when one looks at the window."),
    Alike("desiccant-spent", "zero-drift", "The gel tells. Drift goes on and on; the damp's false reading stays."),
    Alike("desiccant-spent", "zero-off", "With the button down a damp chamber comes to zero."),
    Alike("kick-lasts", "zero-off", "Waiting longer brings it to zero."),
    Alike("kick-lasts", "desiccant-spent", "The kick fades; what the damp makes stays."),
    Alike("slow-response", "response-low", "Waiting longer brings it to the right reading."),
    Alike("contamination", "place-hot", "It follows the instrument to another place, or it stays behind."),
    Alike("contamination", "false-pulses", "Wiping the outside takes it away, or does not."),
    Alike("cells-low", "cells-tired", "Old cells begin well and sink while the test is held."),
    Alike("cable-broken", "detector-dead", "Only a repair tells: nothing is seen from outside."),
    Alike("cable-intermittent", "radio-pickup", "A loose plug takes the reading away, radio adds to it."),
    Alike("zero-off", "knob-knocked", "Setting zero puts a knocked knob right."),
    Alike("needle-stuck", "detector-dead", "A stuck needle does not move at the battery test either."),
    Alike("needle-sticky", "slow-response", "A tap on the case moves a sticking needle."),
)


def clash(a: str, b: str) -> str:
    """Why two kinds of fault cannot be together; "" when they can."""
    return next((each.why for each in CLASHES if each.is_between(a, b)), "")


def look_alikes(kind: str) -> tuple[Alike, ...]:
    """The pairs that a kind belongs to."""
    return tuple(each for each in ALIKE if kind in (each.one, each.other))
