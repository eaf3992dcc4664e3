"""What a person does in a practice checkout: deeds on the instrument, entries in the checkout, each at its moment."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Work:
    """A control is worked."""

    control: str
    value: str | float


@dataclass(frozen=True, slots=True)
class Turn:
    """The zero knob is turned by so many turns from where it stands."""

    turns: float


@dataclass(frozen=True, slots=True)
class Mend:
    """A remedy is carried out on the instrument, one of `procedures.routing.ACTIONS`."""

    action: str


@dataclass(frozen=True, slots=True)
class Give:
    """An answer is entered to the ask with this key; `value` as `procedures.answers.understand` gives it."""

    ask: str
    value: Any


@dataclass(frozen=True, slots=True)
class Press:
    """The screen is told that the button of a hold is down now."""

    ask: str


@dataclass(frozen=True, slots=True)
class LetGo:
    """The screen is told that the button came up too early."""


@dataclass(frozen=True, slots=True)
class Remedied:
    """The screen is told that the remedy on offer was carried out, or cannot be."""

    done: bool


@dataclass(frozen=True, slots=True)
class Judge:
    """The person fails the step being done by judgement."""

    say: str


@dataclass(frozen=True, slots=True)
class Abandon:
    """The checkout is given up."""

    why: str = ""


@dataclass(frozen=True, slots=True)
class Pause:
    """The checkout is set aside."""


@dataclass(frozen=True, slots=True)
class Resume:
    """Somebody goes on."""

    switched_off: bool = False


Deed = Work | Turn | Mend
Entry = Give | Press | LetGo | Remedied | Judge | Abandon | Pause | Resume


@dataclass(frozen=True, slots=True)
class Moment:
    """One of them, `at` microseconds after the session began."""

    at: int
    what: Deed | Entry
