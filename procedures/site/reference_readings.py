"""Taking a reference reading: who may and when, from what is read to what is kept, and how it stands to the former one.

Everything is said before anything is kept. A series that scatters too much is refused whole, and a note keeps what was
read: nothing is dropped until the rest agrees.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from procedures.answers import clean_line
from procedures.journal.envelope import Draft
from procedures.series import Series, changed_by
from procedures.site import calibrations, people
from procedures.site.entries import words
from procedures.site.reference_allowed import jig_fits, label_of, may_be_taken, soon_enough, source_fits
from procedures.site.reference_figures import Air, air_of, procedure_of, selector_of, series_of, setting
from procedures.site.reference_former import Former, compared, former_of
from procedures.site.references import Key, once_for_each_calibration, reference_body, text_of
from procedures.site.usable_references import since_calibration
from procedures.trouble import Trouble
from procedures.uncertainty import Budget
from procedures.units import Quantity

if TYPE_CHECKING:
    from procedures.asks import Selector
    from procedures.clock import Instant
    from procedures.journal.states import InstrumentState
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

    `cv_limit` and `change_limit` are the site's, in percent. A `steady` series keeps the first; where it has `changed`
    against the former reference by more than the second, a reason and a second person are needed.
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
        """Too far from the former reference, or not to be compared with the one there is: in doubt it has changed."""
        if self.former.ratio is None:
            return self.former.event is not None
        return changed_by(self.former.ratio, self.change_limit)


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
    given = replace(given, geometry=words("geometry", given.geometry, needed=False))
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
        geometry=given.geometry,
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
    once_for_each_calibration(since_calibration(state), given.key)
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
        f"{100 * found.series.cv:.2f} %, allowed {found.cv_limit:f} %. Source {label_of(site, given.source)}, scale "
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
