"""What steps mean for the proof, taken from their kinds: what a pass shows, what it comes after, how long it takes.

Here too stand the rules about one step's parameters, and about what the profile claims of its scales.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from procedures.profile.compile import kind_of_step, spec_of
from procedures.profile.edges import ProofProblem
from procedures.profile.schema import Profile
from procedures.steps.base import LONGEST_WAIT, InstrumentSpec, Need, StepKind, StepParameters, seconds
from procedures.steps.common import IDENTIFIED
from procedures.trouble import Trouble

RESPONSE: Final = "response"
"""Steps of this kind, and steps whose pass provides this tag or "response:<scale>", try a check source."""

LONGEST_VISIT: Final = 2 * LONGEST_WAIT
"""Seconds. A step that may take longer than this, people included, is no part of a daily checkout."""


@dataclass(frozen=True, slots=True)
class Meaning:
    """What the proof must know of a step beside its edges.

    `provides` are the tags its pass stands for, `needs` those it must come after. `tries_source` says that it exposes
    the instrument to a check source, and so may be repeated only after something was done that disturbs it.
    """

    provides: frozenset[str] = frozenset()
    needs: tuple[Need, ...] = ()
    tries_source: bool = False


NOTHING: Final = Meaning()


def meanings_of(profile: Profile) -> Mapping[str, Meaning]:
    """What each step means, by its id."""
    spec = spec_of(profile)
    return {parameters.id: _meaning(parameters, spec) for parameters in profile.step}


def _meaning(parameters: StepParameters, spec: InstrumentSpec) -> Meaning:
    kind = kind_of_step(parameters)
    provides = kind.provides(parameters)
    needs = () if kind.check(parameters, spec) else kind.needs(parameters, spec)
    tries = _tries_source(kind, provides)
    return Meaning(provides, (IDENTIFIED, *needs) if tries else needs, tries)


def _tries_source(kind: StepKind[Any], provides: frozenset[str]) -> bool:
    return kind.name == RESPONSE or any(tag.partition(":")[0] == RESPONSE for tag in provides)


def wrong_parameters(profile: Profile) -> Iterator[ProofProblem]:
    """What is wrong with single steps in the light of the whole profile, and with what it claims of its scales."""
    spec = spec_of(profile)
    for parameters in profile.step:
        yield from _checked(parameters, spec)
    yield from _exposure(profile)
    yield from _scales(profile)
    yield from _time(profile)


def _checked(parameters: StepParameters, spec: InstrumentSpec) -> Iterator[ProofProblem]:
    kind = kind_of_step(parameters)
    try:
        problems = kind.check(parameters, spec)
    except Trouble as trouble:
        yield ProofProblem(parameters.id, "id", trouble.what, allowed=trouble.allowed)
        return
    for problem in problems:
        yield ProofProblem(parameters.id, problem.key, problem.message, allowed=problem.allowed)
    if problems:
        return
    shortest, longest = kind.duration(parameters)
    if not 0 <= shortest <= longest <= LONGEST_VISIT or not math.isfinite(longest):
        yield ProofProblem(
            parameters.id,
            "id",
            f"{parameters.id} may take {longest:g} s",
            allowed=f"waits that end within {LONGEST_VISIT} s together",
        )


def _exposure(profile: Profile) -> Iterator[ProofProblem]:
    """A test button, a zero, a sound show no detector: fit for use needs a step that tries a check source."""
    required = [each for each in profile.step if not each.only_when_sent]
    if not any(_tries_source(kind, kind.provides(each)) for each in required for kind in [kind_of_step(each)]):
        yield ProofProblem(
            "",
            "step",
            "no required step tries a check source, so nothing shows that the detector responds",
            allowed=f'a required step of kind "{RESPONSE}"',
        )


def _scales(profile: Profile) -> Iterator[ProofProblem]:
    """A scale said to be shown must have a step that shows it: the verdict repeats the claim to the user."""
    shown: dict[str, set[str]] = {"source": set(), "zero": set()}
    for parameters in profile.step:
        kind = kind_of_step(parameters)
        tags = kind.provides(parameters)
        if parameters.only_when_sent:
            continue
        shown["zero"] |= {tag.removeprefix("zero:") for tag in tags if tag.startswith("zero:")}
        if _tries_source(kind, tags):
            shown["source"] |= {tag.partition(":")[2] for tag in tags} | {str(getattr(parameters, "scale", ""))}
    for place, scale in enumerate(profile.instrument.scale):
        if scale.shown_by != "nothing" and scale.name not in shown[scale.shown_by]:
            step = "tries a check source on" if scale.shown_by == "source" else "zeroes"
            yield ProofProblem(
                "",
                f"instrument.scale.{place}.shown_by",
                f"no required step {step} {scale.name}, so nothing shows that it works",
                allowed=f'such a step, or shown_by = "{"zero" if scale.name in shown["zero"] else "nothing"}"',
            )


def _time(profile: Profile) -> Iterator[ProofProblem]:
    """A pass must still hold when the checkout ends."""
    shortest = sum(kind_of_step(each).duration(each)[0] for each in profile.step if not each.only_when_sent)
    if seconds(profile.ready.lasts) <= shortest:
        yield ProofProblem(
            "",
            "ready.lasts",
            f"the checkout takes {shortest:g} s at least, and its first pass would be too old at its end",
            allowed=f"more than {shortest:g} s",
        )
