"""Taking a reference reading: who may and when, from what is read to what is kept, and how it stands to the former one.

Everything is said before anything is kept. A series that scatters too much is refused whole, and a note keeps what was
read: nothing is dropped until the rest agrees.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from procedures.answers import clean_line
from procedures.journal.envelope import Draft
from procedures.readiness import end_of_day, zone_of
from procedures.series import Series, changed_by
from procedures.site import calibrations, lookups, people
from procedures.site.entries import thing, words
from procedures.site.opening_facts import clock_is_believed, source_trouble
from procedures.site.reference_figures import Air, air_of, procedure_of, selector_of, series_of, setting
from procedures.site.reference_former import Former, compared, former_of
from procedures.site.references import (
    Key,
    last_repair,
    not_locked_out,
    once_for_each_calibration,
    reference_body,
    since_calibration,
    text_of,
)
from procedures.trouble import Trouble
from procedures.uncertainty import Budget
from procedures.units import Quantity, shown

if TYPE_CHECKING:
    from procedures.asks import Selector
    from procedures.clock import Instant
    from procedures.journal.states import Binding, InstrumentState
    from procedures.site.opening import Site

WANTED_READINGS: Final = 10


@dataclass(frozen=True, slots=True)
class Rejected:
    """A reading that does not count, as it was entered, and why."""

    figure: str
    why: str

    def to_json(self) -> dict[str, str]:
        return {"figure": self.figure, "why": self.why}


@dataclass(frozen=True, slots=True)
class Given:
    """What was read and how. Figures are as the scale prints them, before multiplying; the program multiplies.

    `source` and `jig` are ids. `temperature_c` and `pressure_kpa` are "" where they are not wanted. `orientation` says
    how the instrument lay, in a person's words.
    """

    role: str
    source: str
    jig: str | None
    scale: str
    readings: tuple[str, ...]
    geometry: str = ""
    orientation: str = ""
    background: str = ""
    temperature_c: str = ""
    pressure_kpa: str = ""
    rejected: tuple[Rejected, ...] = ()

    @property
    def key(self) -> Key:
        return (self.source, self.scale, self.geometry)


@dataclass(frozen=True, slots=True)
class Taken:
    """A series as it would be recorded, and what speaks against it.

    `cv_limit` and `change_limit` are the site's, in percent. A `steady` series keeps the first; `changed` says that
    the ratio to the former reference is beyond the second, and that a reason and a second person are needed.
    """

    series: Series
    selector: Selector
    budget: Budget
    air: Air
    former: Former
    cv_limit: Decimal
    change_limit: Decimal

    @property
    def unit(self) -> str:
        return self.selector.unit

    @property
    def relative_u(self) -> float:
        return self.budget.standard / float(self.series.net_exact)

    @property
    def steady(self) -> bool:
        return self.series.varies_at_most(self.cv_limit)

    @property
    def changed(self) -> bool:
        return self.former.ratio is not None and changed_by(self.former.ratio, self.change_limit)


# --- may it be taken -----------------------------------------------------------------------------------------------


def may_be_taken(site: Site, state: InstrumentState, now: Instant) -> None:
    """Raises Trouble unless this instrument may be given a reference reading now.

    It is here, clean and in nobody's checkout, no lockout of it is open, and its calibration has not ended.
    """
    clock_is_believed(site, now)
    not_locked_out(state)
    label = str(state.fields.get("label", "this instrument"))
    if state.whereabouts in lookups.AWAY or state.handed is not None:
        raise Trouble(
            f"{label} is recorded as {state.whereabouts}",
            allowed="an instrument that is here",
            do="Record first that it came back.",
        )
    if state.contaminated:
        raise Trouble(
            f"{label} is contaminated: every reading would hold that",
            allowed="a clean instrument",
            do="Tell the radiation safety officer.",
        )
    if any(row.instrument == state.id for row in lookups.open_checkouts(site)):
        raise Trouble(f"a checkout of {label} is open", do="End or abandon it first, then take the reference reading.")
    if state.calibration is None:
        raise Trouble(
            f"{label} has no calibration in force",
            allowed="a reference reading after a calibration",
            do="Record the calibration first.",
        )
    due, zone = state.calibration.due, zone_of(site.settings()["zone"])
    if due is not None and now.utc >= end_of_day(date.fromisoformat(due), zone):
        raise Trouble(f"the calibration of {label} ended on {due}", do="Have it calibrated again.")


def soon_enough(site: Site, state: InstrumentState) -> None:
    """Raises Trouble when the calibration, and the last repair, are longer ago than the site lets a reference wait.

    Taken late, a reference would take over whatever the instrument has drifted since.
    """
    calibration = state.calibration
    if calibration is None:
        raise Trouble("there is no calibration in force", do="Record the calibration first.")
    days = int(setting(site.settings(), "reference_within_days"))
    repair = last_repair(site, state.id)
    since = max(calibration.on, str(repair.body.get("on", "")) if repair is not None else "")
    last = date.fromisoformat(since) + timedelta(days=days)
    if calibrations.today(site) > last:
        raise Trouble(
            f"it was calibrated or repaired on {since}, more than {days} days ago",
            allowed=f"a reference reading by {last}",
            do="Have it calibrated again, then take the reference reading at once.",
        )


def bound_to(state: InstrumentState, role: str) -> Binding:
    """The source and jig of a role. Raises Trouble where none is bound."""
    binding = state.bindings.get(role)
    if binding is None:
        raise Trouble(
            f"no check source has the role “{shown(role)}” for this instrument",
            allowed=", ".join(state.bindings) or "a role to which a source is bound",
            do="Bind the source first.",
        )
    return binding


def source_may_be_used(site: Site, source: str, now: Instant) -> None:
    """Raises Trouble when a source may not be used, or is out with a checkout."""
    thing(site, source, "source")
    known = site.journal.source_now(source)
    trouble = source_trouble(known, now.utc, site.settings())
    if trouble:
        raise Trouble(trouble, allowed="a source that may be used", do="Take no reading with it.")
    if known.out_with is not None:
        raise Trouble(
            f"source {known.fields['label']} is out with a checkout",
            allowed="a source that is in its store",
            do="Have it scanned back first.",
        )


def source_fits(site: Site, state: InstrumentState, role: str, source: str, now: Instant) -> None:
    """Raises Trouble unless this is the source of that role, and it may be used."""
    bound = bound_to(state, role)
    source_may_be_used(site, source, now)
    if source != bound.source:
        wanted = _label(site, bound.source)
        raise Trouble(
            f"that is not the source of the role “{role}”", allowed=f"source {wanted}", do=f"Scan source {wanted}."
        )


def jig_fits(site: Site, state: InstrumentState, role: str, jig: str | None) -> None:
    """Raises Trouble unless this is the jig of that role (None: the role has none)."""
    bound = bound_to(state, role)
    if jig != bound.jig:
        wanted = f"jig {_label(site, bound.jig)}" if bound.jig else "no jig: none is bound to this role"
        raise Trouble("that is not the jig of this role", allowed=wanted, do="Use the jig that checkouts use.")


def _label(site: Site, thing_id: str) -> str:
    return str(site.journal.thing_now(thing_id).fields.get("label", ""))


# --- looking at it and keeping it ----------------------------------------------------------------------------------


def taken(site: Site, state: InstrumentState, given: Given, now: Instant) -> Taken:
    """What was entered, worked out. Raises Trouble for what cannot be read; refuses nothing else."""
    procedure, settings = procedure_of(site, state), site.settings()
    selector = selector_of(procedure, given.scale)
    series = series_of(selector, given.readings, given.background)
    air = air_of(procedure, given.temperature_c, given.pressure_kpa)
    division = None if selector.division is None else selector.division * selector.times
    former = former_of(state, given.key)
    return Taken(
        series=series,
        selector=selector,
        budget=series.budget(division),
        air=air,
        former=compared(site, former, series, selector.unit, now, air, corrected=procedure.air_density == "correct"),
        cv_limit=setting(settings, "reference_cv_percent"),
        change_limit=setting(settings, "reference_change_percent"),
    )


def take(
    site: Site,
    instrument: str,
    person: str,
    given: Given,
    *,
    reason: str = "",
    second: str = "",
    pin: str | None = None,
    second_pin: str | None = None,
) -> str:
    """Record a reference reading; its event's id comes back.

    Raises Trouble unless the person may; unless instrument, source and jig fit (see `may_be_taken`, `soon_enough`,
    `source_fits`, `jig_fits`); for a second one since the calibration or repair; for readings that scatter too much,
    which a note then keeps; and, where it is too far from the former reference, without a `reason` and a `second`
    person.
    """
    now = site.clock.now()
    last = site.journal.last_about(instrument)
    state = calibrations.instrument_of(site, instrument)
    people.entitled(site, person, "reference")
    calibration = _open_to(site, state, given, now)
    found = taken(site, state, given, now)
    if not found.steady:
        people.confirm(site, person, pin)
        _keep_refused(site, instrument, person, given, found)
        raise too_much_scatter(found.series.cv, found.cv_limit)
    if found.changed:
        reason = words("reason for the change", reason)
        second_fits(site, person, second)
    body = reference_body(
        found.series,
        found.unit,
        source=given.source,
        jig=given.jig,
        role=given.role,
        scale=given.scale,
        geometry=words("geometry", given.geometry, needed=False),
        calibration=calibration,
        air=found.air,
    )
    body |= _more(given, found)
    if found.changed:
        body |= {"reason": reason, "second": second}
    people.confirm(site, person, pin)
    if found.changed:
        people.confirm(site, second, second_pin)
    draft = Draft("reference-recorded", body, (instrument, given.source), person=person)
    return calibrations.append(site, instrument, last, draft)


def _open_to(site: Site, state: InstrumentState, given: Given, now: Instant) -> str:
    """The calibration a reading would belong to. Raises Trouble for everything that stands in the way but readings."""
    may_be_taken(site, state, now)
    soon_enough(site, state)
    source_fits(site, state, given.role, given.source, now)
    jig_fits(site, state, given.role, given.jig)
    once_for_each_calibration(since_calibration(site, state), given.key)
    for each in given.rejected:
        words("reason to reject a reading", each.why)
    assert state.calibration is not None
    return state.calibration.event


def _more(given: Given, found: Taken) -> dict[str, Any]:
    """What a record says beyond what every reference reading does."""
    former = found.former
    return {
        "relative_uncertainty": found.relative_u,
        "uncertainty_parts": dict(found.budget.parts),
        "printed": [clean_line(each) for each in given.readings],
        "times": str(found.selector.times),
        "rejected": [each.to_json() for each in given.rejected],
        "stdev": found.series.stdev,
        "cv": found.series.cv,
        "orientation": words("orientation", given.orientation, needed=False),
        "former": None
        if former.event is None
        else {
            "event": former.event.hash,
            "expected": None if former.expected is None else str(Quantity(Decimal(repr(former.expected)), found.unit)),
            "ratio": former.ratio,
            "why_not": former.why_not,
        },
    }


def too_much_scatter(cv: float, limit: Decimal, of: str = "the readings scatter") -> Trouble:
    """What is said of a series whose coefficient of variation is above the site's limit."""
    return Trouble(
        f"{of} too much: coefficient of variation {100 * cv:.2f} %",
        allowed=f"at most {limit:f} %",
        do="Look at source, jig and instrument. Then take all readings again from the start. A note keeps these.",
    )


def _keep_refused(site: Site, instrument: str, person: str, given: Given, found: Taken) -> None:
    figures = ", ".join(f"{each:f}" for each in found.series.readings)
    rejected = "; ".join(f"{each.figure} ({each.why})" for each in given.rejected)
    text = (
        f"A reference reading was refused: the readings scatter too much, coefficient of variation "
        f"{100 * found.series.cv:.2f} %, allowed {found.cv_limit:f} %. Source {_label(site, given.source)}, scale "
        f"{given.scale}{f', {given.geometry}' if given.geometry else ''}. Read, in {found.unit}: {figures}. "
        f"Background: {text_of(found.series.background) or 'none taken'}."
        + (f" Rejected: {rejected}." if rejected else "")
    )
    note_once(site, instrument, person, text)


def note_once(site: Site, instrument: str, person: str, text: str) -> None:
    """Record a note about an instrument, unless it is what the last one says: the button may be pressed again."""
    last = site.journal.about(instrument, kinds=("note",), limit=1)
    if not last or last[0].body.get("text") != text:
        site.record("note", {"text": text}, about=(instrument,), person=person)


def second_fits(site: Site, person: str, second: str) -> None:
    allowed = "another person on the list, whose training is valid"
    if not second:
        raise Trouble(
            "the reading changed too much for one person to keep it", allowed=allowed, do="Ask a second person."
        )
    if second == person:
        raise Trouble("the second person is the first one", allowed=allowed, do="Ask somebody else.")
    why_not = people.may(site, second, "check")
    if why_not:
        raise Trouble(f"the second person may not stand for this: {why_not}", allowed=allowed, do="Ask another.")
