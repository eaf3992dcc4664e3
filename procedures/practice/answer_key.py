"""The right answer to a practice case, computed: what is true of the instrument, and what its profile finds of it.

Nobody writes a key by hand. The truth is that of the physics, before the remedies of the profile and after them; what
the profile finds is what the perfect observer finds, with the seed of the session and with a few others, because a
radio or a loose plug may stay silent in the seconds of one checkout.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from procedures.findings import Ending
from procedures.practice.bench import Bench
from procedures.practice.cases import Case
from procedures.practice.catalogue import remaining
from procedures.practice.kit import Kit
from procedures.practice.moments import Mend, Moment
from procedures.practice.observer import observe
from procedures.practice.truth import Truth, truth_of

FIT: Final = "fit for use"
SEEDS: Final = 3
"""Observations that a key rests on: the session's own seed and two others."""

STEP_S: Final = 0.2
"""Seconds of one step of an observer's instrument: a needle's swing is still followed, at a fourth of the cost."""


@dataclass(frozen=True, slots=True)
class Observed:
    """What the perfect observer found with one seed.

    `first` is the step of the first finding that failed or could not be made, "" when none; `codes` are the reason
    codes, `missing` what could not be checked, `remedies` the actions that were carried out, `seconds` how long it
    took.
    """

    seed: str
    ending: Ending
    codes: tuple[str, ...]
    missing: tuple[str, ...]
    first: str
    say: str
    remedies: tuple[str, ...]
    seconds: float


@dataclass(frozen=True, slots=True)
class Key:
    """The right answer.

    `before` is the truth of the instrument as it came, `after` what is true once the profile's remedies were carried
    out. `observed` begins with the session's own seed.
    """

    before: Truth
    after: Truth
    observed: tuple[Observed, ...]

    @property
    def own(self) -> Observed:
        """What is found with the session's own seed."""
        return self.observed[0]

    @property
    def chance(self) -> bool:
        """Whether chance decides what is found."""
        return len({each.ending == FIT for each in self.observed}) > 1

    @property
    def hole(self) -> bool:
        """Faulty after all remedies, and the profile calls it fit for use: its checkout does not look there."""
        return self.after.verdict == "faulty" and all(each.ending == FIT for each in self.observed)

    @property
    def scored(self) -> bool:
        """Whether the decision is scored: not when a reading error alone decides it."""
        return not self.after.near_limit

    @property
    def passing_is_right(self) -> bool:
        """Whether "fit for use" is what the physics and the profile call for, or all that the profile can find."""
        return any(each.ending == FIT for each in self.observed)

    @property
    def failing_is_right(self) -> bool:
        """Whether locking it out is right: by what the profile finds, or by judgement of what is truly faulty."""
        return self.after.verdict == "faulty" or any(each.ending == "locked out" for each in self.observed)

    @property
    def not_checked_is_right(self) -> bool:
        """Whether something that was missing ends it as not checked."""
        return any(each.ending == "not checked" for each in self.observed)

    @property
    def first(self) -> str:
        """The first step that shows what is wrong, "" when none does."""
        return next((each.first for each in self.observed if each.first), "")


def observed(bench: Bench) -> Observed:
    """What was found at a bench whose checkout is over."""
    state = bench.run.state
    body = state.ending or {}
    shows = next((m.finding for m in state.made if m.finding.outcome in ("fail", "could not check")), None)
    return Observed(
        seed=bench.seed,
        ending=body["ending"],
        codes=tuple(dict.fromkeys(reason["code"] for reason in body["reasons"])),
        missing=tuple(body["missing"]),
        first=shows.step if shows is not None else "",
        say=shows.say if shows is not None else "",
        remedies=mended(bench.moments),
        seconds=bench.seconds,
    )


def mended(moments: tuple[Moment, ...] | list[Moment]) -> tuple[str, ...]:
    """The remedies that were carried out on the instrument, in order."""
    return tuple(each.what.action for each in moments if isinstance(each.what, Mend))


def observation(kit: Kit, case: Case, seed: str, start: datetime, step: float = STEP_S) -> Observed:
    """What the perfect observer finds of a case with one seed."""
    bench = Bench(kit, case, seed, start, step=step)
    observe(bench)
    return observed(bench)


def key_of(kit: Kit, case: Case, seed: int | str, start: datetime, *, seeds: int = SEEDS) -> Key:
    """The key of a case. `seeds` observations are made, the first with the session's own seed."""
    names = (str(seed), *(f"{seed}/{n}" for n in range(1, seeds)))
    found = tuple(observation(kit, case, name, start) for name in names)
    left = remaining(case.faults, *found[0].remedies)
    return Key(
        before=truth_of(kit.model, kit.profile, case.faults, case.room),
        after=truth_of(kit.model, kit.profile, left, case.room),
        observed=found,
    )


def truth_after(kit: Kit, case: Case, remedies: tuple[str, ...]) -> Truth:
    """What is true of an instrument on which these remedies were carried out."""
    return truth_of(kit.model, kit.profile, remaining(case.faults, *remedies), case.room)
