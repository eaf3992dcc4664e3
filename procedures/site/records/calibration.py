"""The calibration of an instrument as a sheet, and as sections of the instrument's own."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Any, Final

from procedures.calibration import Point, is_within, percent_off, percent_shown
from procedures.readiness import end_of_day, zone_of
from procedures.sheets import Column, Deed, Grid, Lines, Pairs, Row, Section, Sheet, Tone
from procedures.site import attachments, people
from procedures.site.calibrations import points_of
from procedures.site.lookups import person as person_of
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.envelope import Event
    from procedures.journal.states import InstrumentState
    from procedures.site.opening import Site

AS_FOUND: Final[Mapping[str, str]] = {
    "within": "within tolerance",
    "outside": "OUT OF TOLERANCE: earlier uses are in doubt",
    "not recorded": "not recorded",
}
_COLUMNS: Final = (
    Column("scale", gives_way=0),
    Column("standard", figures=True),
    Column("as found", figures=True),
    Column("off", figures=True),
    Column("as left", figures=True),
    Column("off", figures=True),
    Column("unit", gives_way=1, least=4),
)
LONGEST_WARNING: Final = 36500
"""Days. A setting beyond sense must not reach past the calendar."""


def calibration(site: Site, about: str, person: str) -> Sheet:
    """One calibration, by its event: what its certificate says, every point, and the file that goes with it."""
    event = event_of(site, about, "calibrated", "calibration")
    body = event.body
    instrument = event.about[0]
    state = site.journal.instrument_now(instrument)
    stands = state.calibration is not None and state.calibration.event == event.hash
    tolerance = _percent(body.get("tolerance"))
    rows = [
        ("calibrated on", str(body["on"])),
        ("due on", str(body["due"] or "not said")),
        ("calibrated by", str(body["by"]) or "not said"),
        ("certificate", str(body["certificate"]) or "not said"),
        ("as found", AS_FOUND.get(str(body["as_found"]), str(body["as_found"]))),
        ("tolerance", f"{body['tolerance']} of the standard's value" if body.get("tolerance") else "not said"),
        *recorded_rows(site, event),
    ]
    sections: list[Section] = [
        *_warnings(site, state, stands),
        Pairs(tuple(rows)),
        Grid(_COLUMNS, tuple(_row(point, tolerance) for point in points_of(body)), "Points", "no figures were entered"),
        *_file(site, body),
    ]
    label = str(state.fields.get("label", ""))
    return Sheet(
        "calibration",
        f"Calibration of {label}, {body['on']}",
        tuple(sections),
        about=about,
        line="In force." if stands else "Not in force any more.",
        deeds=(
            Deed("The instrument", "sheet", "instrument", instrument),
            Deed(
                "take a reference reading",
                "form",
                "reference",
                instrument,
                may_not(site, person, "reference") or ("" if stands else "this calibration is not in force any more"),
            ),
        ),
    )


def sections(site: Site, state: InstrumentState) -> tuple[Section, ...]:
    """What the instrument's sheet says of its calibration: the one in force, until when, and what is wrong with it."""
    known = state.calibration
    if known is None:
        return (
            Lines(("There is no calibration in force: it cannot become fit for use.",), "Calibration", "bad"),
            *_repairs(site, state),
        )
    rows = (
        ("calibrated on", known.on),
        ("due on", known.due or "not said"),
        ("by", known.by or "not said"),
        ("certificate", known.certificate or "not said"),
        ("as found", AS_FOUND.get(known.as_found, known.as_found)),
    )
    return (Pairs(rows, "Calibration"), *_warnings(site, state, True), *_repairs(site, state))


def event_of(site: Site, about: str, kind: str, what: str) -> Event:
    """The event of this kind and id. Raises Trouble for none, or one that cannot be read."""
    from procedures.journal.events import body_of
    from procedures.journal.fields import is_hash

    event = site.journal.by_hash(about) if is_hash(about) else None
    if event is None or event.kind != kind or not event.about:
        raise Trouble(f"there is no such {what}", do="Open it from the instrument.")
    if body_of(event) is None:
        raise Trouble(
            f"a newer program wrote this {what}, and this one cannot read it", do="Use the newer program for it."
        )
    return event


def recorded_rows(site: Site, event: Event) -> tuple[tuple[str, str], ...]:
    """When and by whom something was recorded."""
    when = event.utc.astimezone(zone_of(site.settings()["zone"]))
    by = person_of(site, event.person).name if event.person else ""
    return (("recorded", f"{when:%Y-%m-%d %H:%M}"), ("recorded by", by or "the program, when the site was set up"))


def may_not(site: Site, person: str, action: people.Action) -> str:
    """Why this person may not do this; nobody yet may look at everything."""
    return people.may(site, person, action) if person else ""


def _warnings(site: Site, state: InstrumentState, stands: bool) -> tuple[Section, ...]:
    known = state.calibration
    if not stands or known is None or known.due is None:
        return ()
    settings, now = site.settings(), site.clock.now().utc
    zone, due = zone_of(settings["zone"]), date.fromisoformat(known.due)
    said = settings.get("calibration_warning_days", "")
    days = min(int(said), LONGEST_WARNING) if said.isdecimal() else 30
    if now >= end_of_day(due, zone):
        return (Lines((f"The calibration ended on {due}: it cannot become fit for use.",), tone="bad"),)
    if due - now.astimezone(zone).date() <= timedelta(days=days):
        return (Lines((f"The calibration ends on {due}. Plan the next one.",), tone="warn"),)
    return ()


def _repairs(site: Site, state: InstrumentState) -> tuple[Section, ...]:
    found = [each for each in site.journal.about(state.id, kinds=("repaired",), limit=5) if each.body.get("on")]
    rows = tuple(
        Row(
            (
                str(each.body["on"]),
                str(each.body.get("what", "")),
                str(each.body.get("by", "")),
                "yes" if each.body.get("voids_calibration") else "no",
            )
        )
        for each in found
    )
    columns = (Column("repaired"), Column("what"), Column("by", gives_way=1), Column("voided the calibration"))
    return (Grid(columns, rows, "Repairs"),) if rows else ()


def _row(point: Point, tolerance: Decimal | None) -> Row:
    found, left = (_off(each, point.standard, tolerance) for each in (point.as_found, point.as_left))
    cells = (
        point.scale,
        f"{point.standard:f}",
        "" if point.as_found is None else f"{point.as_found:f}",
        found,
        "not adjusted" if point.as_left is None else f"{point.as_left:f}",
        left,
        point.unit,
    )
    tone: Tone = "bad" if "OUT" in found + left else ""
    return Row(cells, tone=tone)


def _off(reading: Decimal | None, standard: Decimal, tolerance: Decimal | None) -> str:
    if reading is None:
        return ""
    out = tolerance is not None and not is_within(reading, standard, tolerance)
    return f"{percent_shown(percent_off(reading, standard))}{' OUT' if out else ''}"


def _percent(text: object) -> Decimal | None:
    try:
        found = Decimal(str(text or "").removesuffix("%").strip())
    except InvalidOperation:
        return None
    return found if found.is_finite() else None


def _file(site: Site, body: Mapping[str, Any]) -> tuple[Section, ...]:
    attached = attachments.from_json(body.get("attached"))
    if attached is None:
        return ()
    wrong = attachments.why_not_sound(site.folder, attached)
    rows = (
        ("name", attached.name),
        ("size", f"{attached.bytes:,} bytes"),
        ("SHA-256", attached.sha256),
        ("kept at", str(site.folder / attachments.FOLDER / attached.sha256)),
    )
    said = f"The file: {wrong}." if wrong else "The file is here, and is the one that was attached."
    return (Pairs(rows, "Attached file"), Lines((said,), tone="bad" if wrong else "good"))
