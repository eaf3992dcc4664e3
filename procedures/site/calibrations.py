"""Recording a calibration from its certificate, and a repair that may end one. Both end readiness.

A calibration is done by a laboratory or by the site's own bench; this only records it, and looks whether what the
certificate says is a calibration that the instrument passed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from procedures.calibration import (
    MOST_PERCENT,
    AsFound,
    Point,
    as_found_of,
    left_outside,
    percent_off,
    percent_shown,
)
from procedures.journal.envelope import Draft
from procedures.journal.fold_instrument import CALIBRATED_AS_ONE
from procedures.journal.store import Overtaken
from procedures.months import months_after
from procedures.readiness import zone_of
from procedures.site import attachments, people
from procedures.site.calibration_dates import date_fits, due_fits, not_twice, repair_date_fits, today
from procedures.site.entries import thing, words
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.states import InstrumentState
    from procedures.site.opening import Site

USUAL_TOLERANCE: Final = "20"
"""Percent, where the site's policy names none: the most that 10 CFR 35.61(b) leaves an instrument in use with."""

REPAIR_RULE: Final = (
    "Any repair voids the calibration: the instrument is calibrated again before it is used. "
    "Changing batteries is no repair, and voids nothing."
)
"""10 CFR 39.33 and the radiography rules of several states: calibrated after servicing other than a change of cells."""


_CHANGES_READ: Final = 200
"""Changes of an instrument that are looked through for the last of its parts."""

__all__ = [
    "CALIBRATED_AS_ONE",
    "REPAIR_RULE",
    "USUAL_TOLERANCE",
    "Given",
    "append",
    "as_found",
    "date_fits",
    "due_after",
    "due_fits",
    "instrument_of",
    "not_twice",
    "passed",
    "points_of",
    "record",
    "repair_date_fits",
    "repaired",
    "set_changed_on",
    "today",
    "tolerance_fits",
    "usual_tolerance",
]


@dataclass(frozen=True, slots=True)
class Given:
    """What a certificate says, read from what was typed.

    `due` is None where the certificate names no date. `tolerance` is in percent of the standard's value. `stated` is
    what the certificate says as found in words where it gives no figures, "" for nothing. `file` is the path of its
    scan, "" for none.
    """

    on: date
    due: date | None
    by: str
    certificate: str
    points: tuple[Point, ...] = ()
    tolerance: Decimal = Decimal(USUAL_TOLERANCE)
    stated: AsFound | str = ""
    file: str = ""


def due_after(on: date, settings: Mapping[str, str]) -> date:
    """When a calibration of this day is due again by the site's interval. Raises Trouble when that is no number."""
    said = settings.get("calibration_interval_months", "12")
    if not re.fullmatch("[1-9][0-9]{0,2}", said):
        raise Trouble(
            f"the site's calibration interval is no number of months: {said[:20]!r}",
            do="Enter the date when it is due, and have the site lead put the setting right.",
        )
    return months_after(on, int(said))


def usual_tolerance(settings: Mapping[str, str]) -> str:
    """The tolerance in percent that the site's policy names, as figures; the widest of rule where it names none."""
    found = re.search(r"([0-9]{1,2}(?:\.[0-9]+)?)\s*%", settings.get("tolerance_policy", ""))
    return found[1] if found else USUAL_TOLERANCE


# --- what is wrong with a calibration ------------------------------------------------------------------------------


def tolerance_fits(tolerance: Decimal) -> None:
    """Raises Trouble for a tolerance that is none."""
    if not 0 < tolerance < MOST_PERCENT:
        raise Trouble(
            f"a tolerance of {tolerance:f} % is none",
            allowed=f"above 0 % and below {MOST_PERCENT} %",
            do="Enter the percentage of the site's rule, such as 10.",
        )


def passed(given: Given) -> None:
    """Raises Trouble unless the instrument was given back within tolerance on every point.

    What is out of tolerance when it comes back is not calibrated, whatever the paper is called.
    """
    out = left_outside(given.points, given.tolerance)
    if out:
        first = out[0]
        raise Trouble(
            f"as left it is out of tolerance: {first.left:f} {first.unit} where the standard gave {first.standard:f} "
            f"({percent_shown(percent_off(first.left, first.standard))}), scale {first.scale}"
            + (f", and on {len(out) - 1} more" if len(out) > 1 else ""),
            where="points",
            allowed=f"within {given.tolerance:f} % on every point, on the limit included",
            do="This is no calibration that it passed. Lock it out and have it repaired and calibrated again.",
        )


def as_found(given: Given) -> AsFound:
    """What the instrument was found to be, from figures and from what the certificate says without them.

    Raises Trouble where the certificate says "within" and its figures say otherwise.
    """
    by_figures = as_found_of(given.points, given.tolerance)
    if given.stated == "within" and by_figures == "outside":
        raise Trouble(
            "the figures as found are out of tolerance, and “within tolerance” was chosen",
            allowed="what the figures say",
            do="Choose “by the figures”, or look at the figures again.",
        )
    if "outside" in (given.stated, by_figures):
        return "outside"
    return "within" if "within" in (given.stated, by_figures) else "not recorded"


# --- recording -----------------------------------------------------------------------------------------------------


def instrument_of(site: Site, instrument: str) -> InstrumentState:
    """The instrument's state. Raises Trouble for no instrument of this site, or one that is out of use."""
    thing(site, instrument, "instrument")
    state = site.journal.instrument_now(instrument)
    if state.retired:
        raise Trouble(
            "this instrument is out of use", allowed="an instrument that is in use", do="Look at the label again."
        )
    return state


def set_changed_on(site: Site, state: InstrumentState) -> date | None:
    """The day on which another detector or cable was recorded last; None while it has those it came with."""
    for event in site.journal.about(state.id, kinds=("described",), limit=_CHANGES_READ):
        if not CALIBRATED_AS_ONE.isdisjoint(event.body.get("set", {})):
            return event.utc.astimezone(zone_of(site.settings()["zone"])).date()
    return None


def record(site: Site, instrument: str, person: str, given: Given, *, pin: str | None = None) -> str:
    """Record a calibration; its event's id comes back. The instrument needs a reference reading and a check now.

    "outside" as found puts the uses since the last calibration in doubt. Raises Trouble unless the person may, the
    dates fit, and the instrument was given back within tolerance.
    """
    last = site.journal.last_about(instrument)
    state = instrument_of(site, instrument)
    people.entitled(site, person, "calibrate")
    date_fits(site, state, given.on)
    not_twice(site, state, given.on, given.certificate)
    due = given.due or due_after(given.on, site.settings())
    due_fits(given.on, due)
    tolerance_fits(given.tolerance)
    passed(given)
    body: dict[str, Any] = {
        "on": given.on.isoformat(),
        "due": due.isoformat(),
        "by": words("laboratory", given.by),
        "certificate": words("certificate number", given.certificate),
        "as_found": as_found(given),
        "points": [_point(point) for point in given.points],
        "tolerance": f"{given.tolerance:f} %",
        "attached": None,
        # What was calibrated: another laptop may know of another detector by now.
        "set": {part: str(state.fields.get(part, "")) for part in sorted(CALIBRATED_AS_ONE)},
    }
    if given.file:
        attachments.look_at(given.file)
    people.confirm(site, person, pin)
    if given.file:
        # Before the record: a file that no record names harms nobody, a record without its file does.
        body["attached"] = attachments.keep(site, given.file).to_json()
    return append(site, instrument, last, Draft("calibrated", body, (instrument,), person=person))


def repaired(
    site: Site,
    instrument: str,
    person: str,
    *,
    on: date,
    by: str,
    what: str,
    voids_calibration: bool,
    pin: str | None = None,
) -> str:
    """Record a repair; its event's id comes back. It ends readiness, and references taken before it count no more.

    With `voids_calibration` there is no calibration in force until a new one. See REPAIR_RULE.
    """
    last = site.journal.last_about(instrument)
    state = instrument_of(site, instrument)
    people.entitled(site, person, "calibrate")
    repair_date_fits(site, state, on, voids_calibration)
    body = {
        "on": on.isoformat(),
        "by": words("name of who repaired it", by),
        "what": words("repair", what),
        "voids_calibration": voids_calibration,
    }
    people.confirm(site, person, pin)
    return append(site, instrument, last, Draft("repaired", body, (instrument,), person=person))


def append(site: Site, instrument: str, last: str, *drafts: Draft) -> str:
    """Record drafts about an instrument in one transaction; the first one's id comes back.

    Raises Trouble when something else about it came in since `last`.
    """
    try:
        return site.journal.append(drafts, site.clock.now(), expect=(instrument, last))[0].hash
    except Overtaken:
        raise Trouble(
            "something about this instrument came in meanwhile; nothing was recorded",
            do="Look at it again, then enter this once more.",
        ) from None


def _point(point: Point) -> dict[str, Any]:
    return {
        "scale": point.scale,
        "standard": str(point.standard),
        "as_found": None if point.as_found is None else str(point.as_found),
        "as_left": None if point.as_left is None else str(point.as_left),
        "unit": point.unit,
    }


def points_of(body: Mapping[str, Any]) -> tuple[Point, ...]:
    """The points that a `calibrated` holds; what cannot be read is left out, as another program may have written it."""
    points = []
    for row in body.get("points") or ():
        try:
            found, left = (None if row[name] is None else Decimal(row[name]) for name in ("as_found", "as_left"))
            points.append(Point(str(row["scale"]), Decimal(row["standard"]), found, left, str(row["unit"])))
        except (Trouble, KeyError, TypeError, ValueError, ArithmeticError):
            continue
    return tuple(points)
