"""Replacing a check source: its reference is carried over to a new one by reading both by turns.

A new source has no reference of its own until the next calibration. Read in turn with the old one on one day, with the
same instrument, scale and geometry, it gets one that hangs on the same calibration: what the old source is expected to
give today, times new over old. So what the instrument has drifted since is not taken over into the new reference.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from procedures.acceptance import Simple, Verdict, judge
from procedures.answers import clean_line
from procedures.journal.envelope import Draft
from procedures.series import Carried, Series, carried
from procedures.site import calibrations, people
from procedures.site.entries import thing, words
from procedures.site.reference_allowed import bound_to, label_of, may_be_taken, source_may_be_used
from procedures.site.reference_figures import air_of, procedure_of, said, selector_of, series_of, setting
from procedures.site.reference_former import Today, brought_to
from procedures.site.reference_places import Wanted, wanted
from procedures.site.reference_readings import Rejected, note_once, too_much_scatter
from procedures.site.references import in_force, key_of, once_for_each_calibration, text_of
from procedures.site.usable_references import since_calibration
from procedures.trouble import Trouble
from procedures.units import Quantity, read_quantity

if TYPE_CHECKING:
    from procedures.asks import Selector
    from procedures.clock import Instant
    from procedures.journal.envelope import Event
    from procedures.journal.states import InstrumentState
    from procedures.site.opening import Site


@dataclass(frozen=True, slots=True)
class Given:
    """What was read. `old`, `new` and `jig` (of the new source) are ids; pairs are figures as the scale prints them.

    `temperature_c` and `pressure_kpa` are "" where they are not wanted.
    """

    role: str
    old: str
    new: str
    jig: str | None
    scale: str
    pairs: tuple[tuple[str, str], ...]
    geometry: str = ""
    background: str = ""
    temperature_c: str = ""
    pressure_kpa: str = ""
    rejected: tuple[Rejected, ...] = ()


@dataclass(frozen=True, slots=True)
class Worked:
    """What was entered, worked out. `verdict` is that on the old source: whether the instrument still reads it right.

    `still_wanted` are the other references of the role that checkouts compare with and the new source has not yet.
    """

    selector: Selector
    old: Series
    new: Series
    reference: Event
    today: Today
    carried: Carried
    verdict: Verdict
    cv_limit: Decimal
    still_wanted: tuple[Wanted, ...]

    @property
    def unit(self) -> str:
        return self.selector.unit

    @property
    def steady(self) -> bool:
        """Whether the ratios of the pairs keep the site's limit."""
        return 100 * Decimal(self.carried.pair_cv) <= self.cv_limit


def may_be_replaced(site: Site, state: InstrumentState, role: str, old: str, new: str, now: Instant) -> None:
    """Raises Trouble unless both sources may be used, and the old one has the role, or had it until this replacement.

    The role goes to the new source with the first scale; the old one is still there for the other scales.
    """
    may_be_taken(site, state, now)
    bound = bound_to(state, role)
    if old == new:
        raise Trouble("that is the old source", allowed="another source", do="Scan the label of the new source.")
    for source in (old, new):
        source_may_be_used(site, source, now)
    if bound.source not in (old, new):
        raise Trouble(
            f"neither of these is the source of the role “{role}”",
            allowed=f"source {label_of(site, bound.source)} as the old one",
            do="Scan the label of the source that is to be replaced.",
        )


def reference_of(site: Site, state: InstrumentState, given: Given, now: Instant) -> Event:
    """The old source's reference that is carried over. Raises Trouble when it has none that counts."""
    key = (given.old, given.scale, given.geometry)
    for event in in_force(state, now.utc, site.settings()):
        if key_of(event) == key:
            return event
    raise Trouble(
        "the old source has no reference reading that counts on this scale in this geometry",
        allowed="a source with a reference reading since the calibration",
        do="Take a reference reading of the new source after the next calibration.",
    )


def worked(site: Site, state: InstrumentState, given: Given, now: Instant) -> Worked:
    """What was entered, worked out. Raises Trouble for what cannot be read or compared; refuses nothing else."""
    procedure = procedure_of(site, state)
    selector = selector_of(procedure, given.scale)
    reference = reference_of(site, state, given, now)
    old = _series("old", selector, [first for first, _ in given.pairs], given.background)
    new = _series("new", selector, [second for _, second in given.pairs], given.background)
    corrected = procedure.air_density == "correct"
    air = air_of(procedure, given.temperature_c, given.pressure_kpa)
    division = None if selector.division is None else selector.division * selector.times
    here = brought_to(site, reference, selector.unit, now, air if corrected else None)
    # The new reference stays in the air of the old one: what is common to both readings cancels in their ratio.
    there = brought_to(site, reference, selector.unit, now, None)
    asked = wanted(site, state)
    return Worked(
        selector=selector,
        old=old,
        new=new,
        reference=reference,
        today=there,
        carried=carried(there.value, there.parts, old, new, division),
        verdict=_verdict(old, here, *_limits_of(site, asked, given), selector.unit),
        cv_limit=setting(site.settings(), "reference_cv_percent"),
        still_wanted=_still_wanted(state, asked, given),
    )


def _series(which: str, selector: Selector, figures: list[str], background: str) -> Series:
    try:
        return series_of(selector, figures, background)
    except Trouble as trouble:
        raise Trouble(f"{which} source: {trouble.what}", allowed=trouble.allowed, do=trouble.do) from None


def _limits_of(site: Site, asked: tuple[Wanted, ...], given: Given) -> tuple[str, str]:
    """The limits the old source has to keep: those of the checkout's step, or what the site lets a reference change.

    Raises Trouble where no checkout reads it so.
    """
    for each in asked:
        if (each.role, each.scale, each.geometry) == (given.role, given.scale, given.geometry):
            percent = setting(site.settings(), "reference_change_percent")
            return (each.low, each.high) if each.low else (f"-{percent:f} %", f"{percent:f} %")
    raise Trouble(
        "no checkout of this instrument reads this role on this scale in this geometry, so nothing says whether it "
        "still reads the old source right",
        allowed="; ".join(map(str, asked)) or "what the profile reads",
        do="Choose what the profile in force reads.",
    )


def _verdict(old: Series, here: Today, low: str, high: str, unit: str) -> Verdict:
    from procedures.steps._judging import limits_about

    limits = limits_about(read_quantity(low), read_quantity(high), None, here.value, unit)
    return judge(old.net, here.value, limits, Simple())


def _still_wanted(state: InstrumentState, asked: tuple[Wanted, ...], given: Given) -> tuple[Wanted, ...]:
    has = {key_of(event) for event in since_calibration(state)}
    return tuple(
        each
        for each in asked
        if each.role == given.role
        and (each.scale, each.geometry) != (given.scale, given.geometry)
        and (given.new, each.scale, each.geometry) not in has
    )


def replace(site: Site, instrument: str, person: str, given: Given, *, pin: str | None = None) -> str:
    """Record the reference of the new source and give it the role, together; the reference's id comes back.

    Raises Trouble unless the person may; unless the instrument reads the old source within the limits of its checkout;
    for pairs whose ratios scatter too much, which a note then keeps; and where the new source has a reference already.
    """
    now = site.clock.now()
    last = site.journal.last_about(instrument)
    state = calibrations.instrument_of(site, instrument)
    people.entitled(site, person, "reference")
    may_be_replaced(site, state, given.role, given.old, given.new, now)
    if given.jig is not None and thing(site, given.jig, "jig").retired:
        raise Trouble("that jig is out of use", allowed="a jig that is in use", do="Scan its label.")
    once_for_each_calibration(since_calibration(state), (given.new, given.scale, given.geometry))
    for each in given.rejected:
        words("reason to reject a pair", each.why)
    found = worked(site, state, given, now)
    reads_right(found)
    if not found.steady:
        people.confirm(site, person, pin)
        _keep_refused(site, instrument, person, given, found)
        raise too_much_scatter(found.carried.pair_cv, found.cv_limit, "the ratios of the pairs scatter")
    people.confirm(site, person, pin)
    drafts = [
        Draft("reference-recorded", _body(state, given, found), (instrument, given.new), person=person),
        Draft(
            "source-bound",
            {"role": given.role, "source": given.new, "jig": given.jig},
            (instrument, given.new),
            person=person,
        ),
    ]
    bound = bound_to(state, given.role)
    if (bound.source, bound.jig) == (given.new, given.jig):
        drafts.pop()
    return calibrations.append(site, instrument, last, *drafts)


def reads_right(found: Worked) -> None:
    """Raises Trouble when the old source is not read within its limits: then nothing may be carried over."""
    verdict, unit = found.verdict, found.unit
    if not verdict.passed:
        raise Trouble(
            f"the instrument reads {said(found.old.net_exact)} {unit} from the old source: outside its limits",
            allowed=f"{said(verdict.lower)} to {said(verdict.upper)} {unit}",
            do="Carry nothing over. Do a checkout with the old source: it shows whether the instrument is locked out.",
        )


def _body(state: InstrumentState, given: Given, found: Worked) -> dict[str, Any]:
    old, calibration = found.reference.body, state.calibration
    assert calibration is not None
    value = found.carried
    return {
        "source": given.new,
        "jig": given.jig,
        "role": given.role,
        "scale": given.scale,
        "geometry": given.geometry,
        "value": str(Quantity(value.value, found.unit)),
        "relative_uncertainty": value.relative_u,
        "n": len(found.new.readings),
        "readings": [str(each) for each in found.new.readings],
        "temperature_c": old["temperature_c"],
        "pressure_kpa": old["pressure_kpa"],
        "background": text_of(found.new.background),
        "calibration": calibration.event,
        "printed": [clean_line(second) for _, second in given.pairs],
        "times": str(found.selector.times),
        "rejected": [each.to_json() for each in given.rejected],
        "stdev": found.new.stdev,
        "cv": found.new.cv,
        "orientation": str(old.get("orientation", "")),
        "former": None,
        "relative_parts": dict(value.parts),
        "carried_from": _carried_from(given, found),
    }


def _carried_from(given: Given, found: Worked) -> Mapping[str, Any]:
    return {
        "event": found.reference.hash,
        "source": given.old,
        "expected": str(Quantity(Decimal(repr(found.today.value)), found.unit)),
        "readings": [str(each) for each in found.old.readings],
        "ratio": found.carried.ratio,
        "pair_cv": found.carried.pair_cv,
        "old_over_expected": found.verdict.ratio,
    }


def _keep_refused(site: Site, instrument: str, person: str, given: Given, found: Worked) -> None:
    labels = [label_of(site, each) for each in (given.old, given.new)]
    pairs = ", ".join(f"{a:f} and {b:f}" for a, b in zip(found.old.readings, found.new.readings, strict=True))
    rejected = "; ".join(f"{each.figure} ({each.why})" for each in given.rejected)
    text = (
        f"Carrying a reference from source {labels[0]} to {labels[1]} was refused: the ratios of the pairs scatter too "
        f"much, coefficient of variation {100 * found.carried.pair_cv:.2f} %, allowed {found.cv_limit:f} %. Scale "
        f"{given.scale}{f', {given.geometry}' if given.geometry else ''}. Read, in {found.unit}, old and new: {pairs}. "
        f"Background: {text_of(found.old.background) or 'none taken'}."
        + (f" Rejected: {rejected}." if rejected else "")
    )
    note_once(site, instrument, person, text)
