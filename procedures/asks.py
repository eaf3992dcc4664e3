"""What a screen may ask of a person, and what the person may answer: value types shared by the core and the front ends.

A step never draws anything. It hands out one ask at a time; a front end draws asks by their kind and knows no kind of
step. An answer is an observation (where the needle rests, which colour), never "checked".
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Final, Literal

SWITCHED_ON: Final = "switched-on"
"""Mark: the moment the instrument was switched on. Warm-up counts from here."""
SOURCE_OUT: Final = "source-out"
"""Mark: a check source was taken from its store; it is nobody else's until it is scanned back."""
SOURCE_BACK: Final = "source-back"
"""Mark: a check source was scanned back into its store."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """One thing the screen asks for inside a step.

    `key` is unique within one visit to the step. `say` is the one instruction, `more` a quieter line under it,
    `caution` the usual caution where a hazard is, `notice` why something is asked again. `part` is (2, 3) for "2 of 3".
    `look` is the time in seconds below which nobody can have looked: a faster answer is recorded as hasty.
    `mark` names a moment that the answer fixes (see SWITCHED_ON).
    """

    key: str
    say: str
    more: str = ""
    caution: str = ""
    notice: str = ""
    part: tuple[int, int] | None = None
    look: float = 0.0
    mark: str = ""


@dataclass(frozen=True, slots=True)
class Option:
    """One possible answer: `value` is recorded, `say` is read by the person."""

    value: str
    say: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice(Ask):
    """One of a few observations. Answer: the option's value."""

    options: tuple[Option, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place(Ask):
    """Where a needle rests on a marked scale, in the order the scale shows. Answer: the place."""

    places: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Selector:
    """A selector position: the figure on the scale times `times` is the reading in `unit`.

    `top` is the largest figure the scale prints (None: a display without a fixed end), `division` the smallest
    division, both as printed, before multiplying.
    """

    name: str
    times: Decimal
    unit: str
    top: Decimal | None = None
    division: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingAsk(Ask):
    """A reading observed in parts: selector position, figure as printed, unit shown. Answer: `Reading`.

    `wanted` is the selector position this reading must be taken on ("" for any). `whole` asks for a whole number of
    counts. Whether a needle below zero, off the end, or no movement at all is an answer here is said by `beyond`.
    """

    selectors: tuple[Selector, ...]
    wanted: str = ""
    whole: bool = False
    beyond: tuple[Literal["below zero", "pegged", "no response"], ...] = ("below zero", "pegged", "no response")


State = Literal["on scale", "below zero", "pegged", "no response"]


@dataclass(frozen=True, slots=True)
class Reading:
    """A reading as observed. `figure` is as printed (0 for no response, the end of the scale for pegged)."""

    selector: str
    figure: Decimal
    times: Decimal
    unit: str
    state: State = "on scale"

    @property
    def value(self) -> Decimal:
        """The reading in `unit`."""
        return self.figure * self.times


@dataclass(frozen=True, slots=True, kw_only=True)
class TextAsk(Ask):
    """Free text, one line. Answer: str of 1 to `longest` characters."""

    longest: int = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class DateAsk(Ask):
    """A date as read from a label. Answer: datetime.date. `absent` offers "there is none"."""

    absent: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityAsk(Ask):
    """A number with a unit, such as volts, percent, temperature, pressure, altitude. Answer: (figure, unit).

    `units` are the units taken, the first one is meant when none is typed; `low` and `high` bound what can be true,
    in the first unit.
    """

    units: tuple[str, ...]
    low: Decimal | None = None
    high: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Scan(Ask):
    """A barcode or label, scanned or typed as marked. Answer: the text. The step compares it with what is due.

    `of` says what is scanned: "instrument", "detector", "source", "jig", "store". `subject` is the id of the thing
    that the answer is about when the label matches `due` ("" when any label is an answer).
    """

    of: str
    due: str = ""
    subject: str = ""

    def is_due(self, text: str) -> bool:
        """Whether a label as scanned or typed is the one that is due. Upper and lower case are the same label."""
        return bool(self.due) and text.casefold() == self.due.casefold()


@dataclass(frozen=True, slots=True, kw_only=True)
class Acknowledge(Ask):
    """Something done or read, in the words of `done`. Answer: True."""

    done: str = "Done"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait(Ask):
    """Time that must pass. It begins by itself, cannot be skipped and ends by itself. Answer: seconds measured.

    `since` names a mark from which the time counts, when that moment was of this start of the program. `meanwhile`
    says what is happening inside the instrument.
    """

    seconds: float
    since: str = ""
    meanwhile: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold(Ask):
    """A button of the instrument kept down. Begun by the person, broken by letting go. Answer: seconds measured."""

    seconds: float
    meanwhile: str = ""


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer as recorded: to which ask of the visit, what, when, after how many seconds, and whether too fast."""

    ask: str
    value: Any
    at: datetime
    took: float = 0.0
    hasty: bool = False
