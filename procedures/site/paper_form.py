"""A blank form made from a procedure: its number, every step with what it asks; and the values that are expected.

Form numbers are drawn at random, and each carries a check character: a slip of typing is never another form's number.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any, Final

from procedures.acceptance import expected_reading
from procedures.air import density_factor, reference_air
from procedures.answers import clean_line
from procedures.asks import Ask
from procedures.clock import Instant
from procedures.facts import Facts, InstrumentFacts, ReferenceFacts, ScaleFacts, SourceFacts
from procedures.procedure import Procedure
from procedures.routing import StepPlan
from procedures.site.paper_path import foresee, parameters_of
from procedures.source_decay import decayed
from procedures.steps._air import SETTING, USUAL
from procedures.trouble import Trouble
from procedures.units import Quantity, number_in

LETTERS: Final = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""31 characters that are not taken for each other; a prime number of them, so that the check finds every slip."""
_PLACES: Final = 8
_GROUP: Final = 3

SHOWN_OF_HASH: Final = 12
"""How much of a revision's SHA-256 the form asks to be typed in: 48 bits, enough among the revisions of one site."""
LEAST_OF_HASH: Final = 8

BLANK: Final = "________"
"""What stands on a form that is for no instrument yet."""

_SOURCE_KEYS: Final = ("source", "clicks")
"""Parameters of steps that name the role of a source."""


def form_number(random: str) -> str:
    """A form's number from random hexadecimal digits, such as "7K3-M92-QXA"."""
    left = int(random, 16) % len(LETTERS) ** _PLACES
    figures = []
    for _ in range(_PLACES):
        left, figure = divmod(left, len(LETTERS))
        figures.append(figure)
    text = "".join(LETTERS[figure] for figure in (*figures, _check(figures)))
    return "-".join(text[place : place + _GROUP] for place in range(0, len(text), _GROUP))


def read_number(text: str) -> str:
    """The number of a form as it was typed, in its one way of writing. Raises Trouble for what is none."""
    plain = clean_line(text).upper().replace("-", "").replace(" ", "")
    figures = [LETTERS.find(letter) for letter in plain]
    if len(figures) != _PLACES + 1 or -1 in figures or figures[-1] != _check(figures[:-1]):
        raise Trouble(
            f"“{clean_line(text)[:40]}” is no number of a form" if plain else "the form's number is missing",
            allowed="nine letters and figures as printed, such as 7K3-M92-QXA; never 0, 1, I, L or O",
            do="Look at the number on the form, and type it again.",
        )
    return "-".join(plain[place : place + _GROUP] for place in range(0, len(plain), _GROUP))


def _check(figures: list[int]) -> int:
    # Weights that differ by one, modulo a prime: any one wrong character, and any two changed over, are seen.
    return sum(weight * figure for weight, figure in enumerate(figures, 1)) % len(LETTERS)


@dataclass(frozen=True, slots=True)
class BlankStep:
    """One step on the form: what it asks on the way that passes, and what its failure leads to."""

    title: str
    plan: StepPlan
    asks: tuple[Ask, ...]


def blank_steps(procedure: Procedure, facts: Facts | None, at: datetime) -> tuple[BlankStep, ...]:
    """Every step in order, those that only a failure leads to last.

    `facts` are those of the instrument the form is for, None for a form for any.
    """
    known = _imagined(procedure, facts, at)
    rows: list[BlankStep] = []
    aside: list[BlankStep] = []
    for plan in procedure.plan.steps:
        way = foresee(procedure.steps[plan.id], known)
        (rows if plan.required else aside).append(BlankStep(procedure.titles[plan.id], plan, way.asks))
        begun = Instant(at, 0, 0.0, "blank")
        marks = {**known.marks, **{ask.mark: begun for ask in way.asks if ask.mark}}
        found = known.findings if way.finding is None else {**known.findings, plan.id: way.finding}
        known = replace(known, marks=marks, findings=found)
    return (*rows, *aside)


def with_scales(procedure: Procedure, facts: Facts) -> Facts:
    """Facts with what the procedure says of the type of instrument, as an opening has them."""
    return replace(
        facts,
        scales=procedure.scales,
        air_density=procedure.air_density,
        operating=procedure.operating,
        soak_seconds=procedure.soak_seconds,
    )


def _imagined(procedure: Procedure, facts: Facts | None, at: datetime) -> Facts:
    """Facts by which every step asks all it has to ask: a source in each role, and references, are made up."""
    nobody = InstrumentFacts("blank", BLANK, "", "", calibrated_on=at.date(), calibration_due=at.date())
    base = with_scales(procedure, facts or Facts(nobody, (), at))
    base = replace(base, opened=at, references=())
    if base.instrument.calibration_due is None or base.instrument.calibration_due < at.date():
        base = replace(base, instrument=replace(base.instrument, calibration_due=at.date()))
    sources, references = [], []
    for role, geometries in _roles(procedure):
        known = base.source(role)
        source = SourceFacts(role, role, BLANK, "", 1e4, 0.0, "") if known is None else replace(known, trouble="")
        sources.append(source)
        references += [
            ReferenceFacts(
                role=role,
                source=source.id,
                scale=scale.selector.name,
                geometry=geometry,
                value=scale.full_scale / 2,
                unit=scale.selector.unit,
                relative_u=0.0,
                at=at,
                temperature_c=Decimal(20),
                pressure_kpa=Decimal("101.3"),
            )
            for scale in procedure.scales
            for geometry in geometries
        ]
    return replace(base, sources=tuple({each.role: each for each in sources}.values()), references=tuple(references))


def _roles(procedure: Procedure) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Each role of a source that a step names, with the geometries its reference readings may have."""
    for step in procedure.steps.values():
        for parameters in _tables(parameters_of(step)):
            for key in _SOURCE_KEYS:
                role = getattr(parameters, key, None)
                if isinstance(role, str) and role:
                    yield role, tuple(dict.fromkeys((str(getattr(parameters, "geometry", "")), "open", "closed")))


def _tables(parameters: Any) -> Iterator[Any]:
    """Parameters, and the tables within them."""
    if hasattr(type(parameters), "model_fields"):
        yield parameters
        for _name, each in parameters:
            yield from _tables(each)


# --- what is expected ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Due:
    """What a good instrument shows on one day, net of background, and between which limits it passes."""

    at: datetime
    expected: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Expectation:
    """What one step expects over the days. `why_not` says in words why there is nothing to expect ("" when there is).

    `air` says that readings have to be brought to stated air before they are compared, `guarded` that the limits are
    drawn in by the uncertainty when the form is judged.
    """

    step: str
    title: str
    source: str
    scale: str
    geometry: str
    unit: str
    days: tuple[Due, ...]
    why_not: str = ""
    air: bool = False
    guarded: bool = False


def expectations(procedure: Procedure, facts: Facts, days: tuple[datetime, ...]) -> tuple[Expectation, ...]:
    """What each response step expects at these moments: R₀·2^(−Δt/T½), and its limits about that."""
    known = with_scales(procedure, facts)
    return tuple(
        _expectation(procedure, known, step.id, days) for step in procedure.plan.steps if step.kind == "response"
    )


def _expectation(procedure: Procedure, facts: Facts, step: str, days: tuple[datetime, ...]) -> Expectation:
    parameters = parameters_of(procedure.steps[step])
    scale, source = facts.scale(parameters.scale), facts.source(parameters.source)
    title = procedure.titles[step]
    reference = facts.reference(source.id, parameters.scale, parameters.geometry) if source else None
    bare = Expectation(step, title, source.label if source else "", parameters.scale, parameters.geometry, "", ())
    if scale is None or source is None:
        return replace(bare, why_not=f"no source is bound to the role “{parameters.source}”")
    if source.trouble:
        return replace(bare, why_not=source.trouble)
    if reference is None:
        return replace(bare, why_not="there is no reference reading since its calibration")
    try:
        air = facts.air_density == "correct"
        rows = tuple(_due(scale, source, reference, parameters.limits, at, _then(facts, reference, air)) for at in days)
    except Trouble as trouble:
        return replace(bare, why_not=trouble.what)
    guarded = parameters.decision.false_accept is not None
    return replace(bare, unit=scale.selector.unit, days=rows, air=air, guarded=guarded)


def _then(facts: Facts, reference: ReferenceFacts, air: bool) -> float:
    """What brings a reference reading to stated air."""
    if not air:
        return 1.0
    if reference.temperature_c is None or reference.pressure_kpa is None:
        raise Trouble("the reference reading has no temperature and pressure")
    to = reference_air(facts.settings.get(SETTING, USUAL))
    return density_factor(reference.temperature_c, reference.pressure_kpa, to)


def _due(
    scale: ScaleFacts, source: SourceFacts, reference: ReferenceFacts, limits: Any, at: datetime, then: float
) -> Due:
    unit = scale.selector.unit
    decay = decayed(source, reference.at, at).left
    value = expected_reading(number_in(Quantity(reference.value, reference.unit), unit), decay, then)
    return Due(at, value, _limit(limits.low, value, unit), _limit(limits.high, value, unit))


def _limit(limit: Quantity, expected: float, unit: str) -> float:
    if limit.unit == "%":
        return expected * (1 + float(limit.value) / 100)
    return float(number_in(limit, unit))


def air_factors(
    facts: Facts, temperatures: tuple[int, ...], pressures: tuple[int, ...]
) -> tuple[tuple[float, ...], ...]:
    """What brings a reading to stated air, as a factor: a row for each temperature in °C, by pressure in kPa."""
    to = reference_air(facts.settings.get(SETTING, USUAL))
    return tuple(tuple(density_factor(float(t), float(p), to) for p in pressures) for t in temperatures)


def following_days(first: datetime, count: int) -> tuple[datetime, ...]:
    """So many moments, a day apart by the local clock."""
    return tuple(first + timedelta(days=n) for n in range(count))


_STATED: Final = (
    ("good", "good"),
    ("marginal", "passes, tell the lead"),
    ("minimum", "at least"),
    ("maximum", "at most"),
    ("within", "at most, either way from zero"),
    ("as_found_within", "as found at most, either way"),
    ("drift_within", "drift at most"),
    ("highest", "at most"),
    ("set_point", "has to stand at"),
    ("light_within", "change with light at most"),
    ("spread", "readings agree within"),
    ("fresh", "fresh"),
    ("spent", "spent"),
)


def stated_limits(procedure: Procedure) -> tuple[tuple[str, str], ...]:
    """The limits that the procedure states for its steps, each step's title with them in words."""
    rows = []
    for step in procedure.plan.steps:
        parameters = parameters_of(procedure.steps[step.id])
        found = [(words, getattr(parameters, key, None)) for key, words in _STATED]
        said = [f"{words}: {_words(value)}" for words, value in found if value not in (None, "", ())]
        if said:
            rows.append((procedure.titles[step.id], "; ".join(said)))
    return tuple(rows)


def _words(value: Any) -> str:
    return ", ".join(str(each) for each in value) if isinstance(value, tuple) else str(value)
