"""What a check source is worth today: its value decayed, what each instrument should read, and until when it will do.

A figure here is what to expect, from the reference reading and the half-life; it replaces neither a measurement nor a
calibration of the source.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from procedures.mixtures import factor_between, shares_after, single, time_to
from procedures.nuclides import elapsed_days
from procedures.readiness import zone_of
from procedures.site.source_facts import certified_on, composition
from procedures.site.usable_references import reference_good_until, usable_references
from procedures.trouble import Trouble
from procedures.units import Quantity, kind_of, number_in, read_quantity

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from procedures.facts import ReferenceFacts, ScaleFacts
    from procedures.journal.states import InstrumentState
    from procedures.mixtures import Component
    from procedures.site.opening import Site

SMALL_PART: Final = 0.1
SMALL_DIVISIONS: Final = 5
"""Below a tenth of full scale, or five divisions, a needle says little. Common practice, no source: a warning only."""

_FURTHEST_DAYS: Final = 36_500


@dataclass(frozen=True, slots=True)
class Worth:
    """The certified figure of a source and what has become of it. `parts` are shares of the reading today."""

    certified: str
    on: date
    today: str
    left: float
    parts: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Outlook:
    """What one instrument should read with one source on one scale today, in `unit`.

    `weak_on` is the day from which that is too little for the check, None for never within a lifetime; `why` says what
    it is held against. `practice` says that the profile asks for nothing, so that it only warns. `old_on` is the last
    day on which the reference counts, None where any age does. `trouble` says why nothing can be worked out.
    """

    role: str
    source: str
    scale: str
    geometry: str
    taken: date
    reference: str
    unit: str
    expected: float = 0.0
    weak_on: date | None = None
    weak: bool = False
    why: str = ""
    practice: bool = False
    old_on: date | None = None
    old: bool = False
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class _Need:
    """The smallest reading, in the unit of the scale, that serves; why; and whether it is the program's own warning."""

    least: float
    why: str
    practice: bool = False


def figure(value: float, figures: int = 3) -> str:
    """A computed value for people: so many significant figures, without a power of ten where that reads easily."""
    if value == 0 or not 1e-4 <= abs(value) < 1e7:
        return f"{value:.{figures}g}"
    return f"{Decimal(f'{value:.{figures}g}'):f}"


def worth(fields: Mapping[str, Any], now: datetime) -> Worth:
    """What the certified value has come down to at `now`.

    An activity falls as that of its main nuclide, an emission rate as all its parts together. Raises Trouble for a
    certificate that cannot be read, or that is dated after now.
    """
    since = certified_on(fields)
    days = elapsed_days(since, now)
    if days < 0:
        raise Trouble(
            f"its certificate is dated {since.date().isoformat()}, after now",
            allowed="a date that has passed",
            do="Look at the certificate, and at the laptop's clock.",
        )
    text = str(fields.get("activity", ""))
    parts = composition(fields)
    emitted = fields.get("certified_as") == "emission rate"
    left = factor_between(parts if emitted or len(parts) == 1 else single(str(fields["nuclide"])), 0.0, days)
    value, _, unit = text.rpartition(" ")
    try:
        today = f"{figure(float(Decimal(value)) * left)} {unit}"
    except ArithmeticError:
        raise Trouble(
            f"{text or 'nothing'} is no certified value",
            allowed="an activity or an emission rate",
            do="Enter the value again.",
        ) from None
    shares = shares_after(parts, days) if len(parts) > 1 else ()
    named = tuple((each.nuclide, share) for each, share in zip(parts, shares, strict=False))
    return Worth(text, since.date(), today, left, named)


def outlooks(site: Site, state: InstrumentState, source: str = "") -> tuple[Outlook, ...]:
    """What an instrument should read today with each source bound to it, or with the one named; by role and scale."""
    settings, now = site.settings(), site.clock.now().utc
    references = usable_references(state, now, settings)
    zone, months = zone_of(settings["zone"]), references.months
    newest = {(each.source, each.scale, each.geometry): each for each in sorted(references.all, key=lambda one: one.at)}
    profile = _profile(site, state)
    rows = []
    for role, binding in sorted(state.bindings.items()):
        fields = site.journal.source_now(binding.source).fields
        for _, each in sorted(newest.items()):
            if each.source != binding.source or source not in ("", binding.source):
                continue
            scale = profile.scale(each.scale)
            made = Outlook(
                role=role,
                source=each.source,
                scale=each.scale,
                geometry=each.geometry,
                taken=each.at.astimezone(zone).date(),
                reference=f"{figure(float(each.value), 4)} {each.unit}",
                unit=each.unit if scale is None else scale.selector.unit,
                old_on=reference_good_until(each.at, zone, months) if months else None,
                old=each in references.too_old,
            )
            try:
                need = None if scale is None else profile.need(role, each, scale, _background(state, each))
                rows.append(_reckoned(made, fields, each, need, now, zone))
            except Trouble as trouble:
                rows.append(replace(made, trouble=trouble.what))
    return tuple(rows)


def _reckoned(
    made: Outlook,
    fields: Mapping[str, Any],
    reference: ReferenceFacts,
    need: _Need | None,
    now: datetime,
    zone: ZoneInfo,
) -> Outlook:
    parts, since = composition(fields), certified_on(fields)
    first, then = elapsed_days(since, reference.at), elapsed_days(since, now)
    at_first = float(number_in(Quantity(reference.value, reference.unit), made.unit))
    expected = at_first * factor_between(parts, first, then)
    if need is None:
        return replace(made, expected=expected)
    return replace(
        made,
        expected=expected,
        weak_on=_weak_on(parts, expected, need.least, then, now, zone),
        weak=expected < need.least,
        why=need.why,
        practice=need.practice,
    )


def _weak_on(
    parts: Sequence[Component], expected: float, least: float, then: float, now: datetime, zone: ZoneInfo
) -> date | None:
    """The day on which the expected reading comes down to the least that serves; today when it is below already."""
    if expected <= least:
        return now.astimezone(zone).date()
    if least <= 0:
        return None
    days = time_to(parts, least / expected, then)
    return None if days > _FURTHEST_DAYS else (now + timedelta(days=days)).astimezone(zone).date()


# --- what the checks want ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Profile:
    """What matters here of a profile in force: its response steps as written, its scales, and which have a needle."""

    steps: tuple[Mapping[str, Any], ...] = ()
    scales: tuple[ScaleFacts, ...] = ()
    needles: frozenset[str] = frozenset()

    def scale(self, name: str) -> ScaleFacts | None:
        return next((each for each in self.scales if each.selector.name == name), None)

    def need(self, role: str, reference: ReferenceFacts, scale: ScaleFacts, background: Quantity | None) -> _Need:
        """What asks for the largest reading: a response step with this source, else what the trade holds readable."""
        wanted = (role, reference.scale, reference.geometry)
        steps = [each for each in self.steps if (each["source"], each["scale"], each.get("geometry", "")) == wanted]
        needs = [need for step in steps for need in _needs(step, scale, background)]
        if needs:
            return max(needs, key=lambda need: need.least)
        selector = scale.selector
        fifth = 0.0 if selector.division is None else SMALL_DIVISIONS * float(selector.division * selector.times)
        tenth = SMALL_PART * float(scale.full_scale) if selector.name in self.needles else 0.0
        said = "10 % of full scale" if tenth >= fifth else "5 divisions"
        return _Need(max(tenth, fifth), f"below {said} it says little (common practice)", practice=True)


def _profile(site: Site, state: InstrumentState) -> _Profile:
    """The instrument's profile in force; an empty one where there is none."""
    from procedures.site.profiles import procedure_for

    profile = str(state.fields.get("profile", ""))
    adopted = site.journal.profile_now(profile).in_force
    if adopted is None:
        return _Profile()
    try:
        scales = procedure_for(site, profile).scales
    except Trouble:
        return _Profile()
    written = tomllib.loads(adopted.text)
    needles = {str(scale["name"]) for scale in written["instrument"]["scale"] if "multiplier" in scale}
    steps = tuple(step for step in written["step"] if step["kind"] == "response")
    return _Profile(steps, scales, frozenset(needles))


def _background(state: InstrumentState, reference: ReferenceFacts) -> Quantity | None:
    """The background that was taken off when this reference was taken: the best guess of what it is today."""
    for event in state.references:
        body = event.body
        if event.utc == reference.at and body["source"] == reference.source and body["scale"] == reference.scale:
            text = body.get("background")
            return None if text is None else Quantity(Decimal(str(text)), reference.unit)
    return None


def _needs(step: Mapping[str, Any], scale: ScaleFacts, background: Quantity | None) -> Iterator[_Need]:
    """What one response step of a profile needs the source to give, in the unit of its scale."""
    unit = scale.selector.unit
    ratio = step.get("smallest_over_background")
    if ratio is not None and background is not None:
        least = float(ratio) * float(number_in(background, unit))
        yield _Need(least, f"the check needs {ratio:g} times background")
    if step.get("count_time") is not None and step.get("minimum_net") is not None:
        seconds = float(number_in(read_quantity(str(step["count_time"])), "s")) * int(step.get("readings", 3))
        rate = Quantity(Decimal(repr(int(step["minimum_net"]) / seconds)), "cps")
        yield _Need(float(number_in(rate, unit)), f"the check needs {step['minimum_net']} net counts")
    low = read_quantity(str(step["limits"]["low"]))
    if low.unit != "%" and kind_of(low.unit) == kind_of(unit):
        yield _Need(float(number_in(low, unit)), f"the check allows nothing below {low}")
