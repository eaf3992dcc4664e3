"""Forms for a calibration, from its certificate, and for a repair."""
# ruff: noqa: ARG002  what a form is asked is the same for all of them: forms.Task

from __future__ import annotations

from contextlib import suppress
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Final

from procedures.asks import Option
from procedures.calibration import Point, as_found_of, is_within, percent_off, percent_shown
from procedures.sheets import Deed, Done, Form, FormField, Look, Tone
from procedures.site import attachments, calibrations
from procedures.site.calibrations import CALIBRATED_AS_ONE, Given, set_changed_on
from procedures.site.entries import words
from procedures.site.forms.certificate_points import COLUMNS, read_points, scales_said
from procedures.site.forms.common import Taken, day, may_open, one_of, pin_field, yes
from procedures.trouble import Trouble
from procedures.units import read_number

if TYPE_CHECKING:
    from procedures.journal.states import InstrumentState
    from procedures.site.forms import Entered
    from procedures.site.opening import Site

BY_FIGURES: Final = "figures"
AS_FOUND: Final = (
    Option(BY_FIGURES, "by the figures I enter"),
    Option("within", "the certificate says within tolerance, without figures"),
    Option("outside", "the certificate says out of tolerance, without figures"),
    Option("not recorded", "it was not recorded before it was adjusted"),
)


class RecordCalibration:
    """Records a calibration from its certificate."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        may_open(site, person, "calibrate")
        state = calibrations.instrument_of(site, about)
        label = str(state.fields.get("label", ""))
        if page == 1:
            return Form(
                "calibration",
                f"Calibration of {label}",
                "Enter what the certificate says.",
                self._papers(site),
                about=about,
                says=_in_force(state),
                page=1,
                pages=2,
                keep="Go on",
            )
        return Form(
            "calibration",
            f"Calibration of {label}",
            "Enter each point: what the standard gave, and what the instrument read.",
            (
                FormField(
                    "points",
                    "points",
                    "rows",
                    needed=False,
                    columns=COLUMNS,
                    more=f"Leave a cell empty where the certificate gives none. {scales_said(site, state)}",
                    example="x1 | 2.00 | 2.30 | 2.05 | mR/h",
                ),
                *pin_field(site),
            ),
            about=about,
            says=(
                "Empty as left: it was not adjusted.",
                "After this it needs a reference reading and a check. Changing batteries voids no calibration.",
            ),
            page=2,
            pages=2,
            keep="Record the calibration",
        )

    def _papers(self, site: Site) -> tuple[FormField, ...]:
        settings = site.settings()
        months = settings.get("calibration_interval_months", "12")
        return (
            FormField("on", "calibrated on", "date", example="2026-11-25"),
            FormField(
                "due",
                "due on",
                "date",
                needed=False,
                more=f"Empty: {months} months later, as the site's rule is. Enter what the certificate says otherwise.",
            ),
            FormField("by", "calibrated by", more="Laboratory or bench."),
            FormField("certificate", "certificate number"),
            FormField(
                "tolerance",
                "tolerance",
                "figure",
                calibrations.usual_tolerance(settings),
                unit="%",
                more="Of the standard's value, by your site's rule. On the limit is within.",
            ),
            FormField("stated", "as found", "choice", BY_FIGURES, options=AS_FOUND),
            FormField(
                "file",
                "file of the certificate",
                needed=False,
                more="Its path on this laptop. It is copied, and kept with the records.",
            ),
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        try:
            state = calibrations.instrument_of(site, about)
        except Trouble as trouble:
            return Look(trouble.lines(), tone="bad")
        taken = Taken(entered)
        given = _given(site, state, taken)
        if given is None:
            return taken.look()
        lines, tone = _said(site, given)
        of, older = _set_of(site, state, given.on)
        return Look((*lines, *of), dict(taken.troubles), "warn" if older and tone == "good" else tone)

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        state = calibrations.instrument_of(site, about)
        taken = Taken(entered)
        given = _given(site, state, taken)
        taken.whole()
        assert given is not None
        made = calibrations.record(site, about, person, given, pin=entered.get("pin"))
        label = str(state.fields.get("label", ""))
        doubt = " Uses since the last calibration are in doubt." if calibrations.as_found(given) == "outside" else ""
        return Done(
            f"The calibration of {label} is recorded.{doubt}",
            "Take its reference reading now, then check it.",
            Deed("look at it", "sheet", "calibration", made),
        )


def _set_of(site: Site, state: InstrumentState, on: date) -> tuple[tuple[str, ...], bool]:
    """Of which detector and cable the certificate has to be, and whether they were recorded after its day."""
    parts = [f"{part} {said}" for part in sorted(CALIBRATED_AS_ONE, reverse=True) if (said := state.fields.get(part))]
    changed = set_changed_on(site, state)
    if not parts and changed is None:
        return (), False
    said = (f"The certificate has to be of {' and '.join(parts) or 'this meter by itself'}.",)
    if changed is None or changed <= on:
        return said, False
    return (
        *said,
        f"That was recorded on {changed}, after the certificate: look whether it is of the parts before.",
    ), True


def _in_force(state: InstrumentState) -> tuple[str, ...]:
    known = state.calibration
    if known is None:
        return ("No calibration is in force.",)
    return (f"In force: calibrated on {known.on}, due {known.due or 'not said'}.",)


def _given(site: Site, state: InstrumentState, taken: Taken) -> Given | None:
    """What was typed, read; None while there is too little to say anything by. Troubles are in `taken`."""
    on = taken.read("on", day)
    due = taken.optional("due", day)
    taken.read("by", lambda text: words("laboratory", text))
    taken.read("certificate", lambda text: words("certificate number", text))
    tolerance = taken.read("tolerance", _percent)
    stated = taken.read("stated", one_of(AS_FOUND))
    file = taken.entered.get("file", "").strip()
    if file:
        taken.check("file", lambda: attachments.look_at(file))
    points = read_points(site, state, taken)
    if on is None:
        return None
    taken.check("on", lambda: calibrations.date_fits(site, state, on))
    taken.check("certificate", lambda: calibrations.not_twice(site, state, on, taken.text("certificate")))
    taken.check("due", lambda: calibrations.due_fits(on, due or calibrations.due_after(on, site.settings())))
    if tolerance is None or stated is None or points is None:
        return None
    given = Given(
        on=on,
        due=due,
        by=taken.text("by"),
        certificate=taken.text("certificate"),
        points=points,
        tolerance=tolerance,
        stated="" if stated == BY_FIGURES else stated,
        file=file,
    )
    taken.check("stated", lambda: calibrations.as_found(given))
    taken.check("points", lambda: calibrations.passed(given))
    return given


def _percent(text: str) -> Decimal:
    tolerance = read_number(text.removesuffix("%").strip())
    calibrations.tolerance_fits(tolerance)
    return tolerance


def _said(site: Site, given: Given) -> tuple[list[str], Tone]:
    """What comes of a calibration as it was entered, in lines."""
    lines = [_point_line(point, given.tolerance) for point in given.points]
    tone: Tone = "good"
    with suppress(Trouble):
        by_rule = calibrations.due_after(given.on, site.settings())
        due = given.due or by_rule
        lines.append(f"Due on {due}, good on that day still.")
        if due > by_rule:
            lines.append(f"That is later than the site's interval allows by itself ({by_rule}).")
            tone = "warn"
        if due < calibrations.today(site):
            lines.append("It is over already: the instrument stays out of use.")
            tone = "bad"
    try:
        found = calibrations.as_found(given)
        calibrations.passed(given)
    except Trouble as trouble:
        return [*lines, *trouble.lines()], "bad"
    if found == "outside":
        lines.append("As found it was out of tolerance: uses since the last calibration are in doubt.")
        lines.append("They will stand in the list of uses in doubt until each was looked at again.")
        tone = "bad"
    elif found == "within":
        lines.append("As found it was within tolerance.")
    else:
        some = as_found_of(given.points, given.tolerance) == "not recorded" and any(
            each.as_found is not None for each in given.points
        )
        lines.append(
            "As found is not recorded on every point: nothing shows that earlier uses were right."
            if some
            else "As found is not recorded: nothing shows that earlier uses were right."
        )
        tone = "warn" if tone == "good" else tone
    if not given.points:
        lines.append("No point is entered: the certificate alone says how it was left.")
    return lines, tone


def _point_line(point: Point, tolerance: Decimal) -> str:
    parts = [f"{point.scale}: standard {point.standard:f} {point.unit}"]
    for say, figure in (("as found", point.as_found), ("as left", point.as_left)):
        if figure is not None:
            verdict = "within" if is_within(figure, point.standard, tolerance) else "OUTSIDE"
            parts.append(f"{say} {figure:f}, {percent_shown(percent_off(figure, point.standard))}, {verdict}")
    return "; ".join(parts)


class RecordRepair:
    """Records a repair, and whether it voids the calibration."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        may_open(site, person, "calibrate")
        state = calibrations.instrument_of(site, about)
        return Form(
            "repair",
            f"Repair of {state.fields.get('label', '')}",
            "Say what was repaired.",
            (
                FormField("what", "what was repaired", more="Parts and work, in a few words."),
                FormField("by", "repaired by", more="A person or a workshop."),
                FormField("on", "repaired on", "date", calibrations.today(site).isoformat()),
                FormField(
                    "voids", "does it void the calibration?", "yes-no", "yes", more="Any repair does. In doubt: yes."
                ),
                *pin_field(site),
            ),
            about=about,
            says=(calibrations.REPAIR_RULE, "Its readiness ends, and its reference readings count no more."),
            keep="Record the repair",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        try:
            state = calibrations.instrument_of(site, about)
        except Trouble as trouble:
            return Look(trouble.lines(), tone="bad")
        taken = Taken(entered)
        _, voids = _repair(site, state, taken)
        if voids is None:
            return taken.look()
        say = (
            "There is no calibration in force then: it is calibrated again before it is used."
            if voids
            else "The calibration stands. It needs a new reference reading and a check before its next use."
        )
        return Look((say,), dict(taken.troubles), "warn")

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        state = calibrations.instrument_of(site, about)
        taken = Taken(entered)
        on, voids = _repair(site, state, taken)
        taken.whole()
        assert on is not None
        assert voids is not None
        calibrations.repaired(
            site,
            about,
            person,
            on=on,
            by=taken.text("by"),
            what=taken.text("what"),
            voids_calibration=voids,
            pin=entered.get("pin"),
        )
        return Done(
            f"The repair of {state.fields.get('label', '')} is recorded.",
            "Have it calibrated now." if voids else "Take a new reference reading, then check it.",
            Deed("look at it", "sheet", "instrument", about),
        )


def _repair(site: Site, state: InstrumentState, taken: Taken) -> tuple[date | None, bool | None]:
    on = taken.read("on", day)
    taken.read("what", lambda text: words("repair", text))
    taken.read("by", lambda text: words("name of who repaired it", text))
    voids = taken.read("voids", yes)
    if on is not None and voids is not None:
        taken.check("on", lambda: calibrations.repair_date_fits(site, state, on, voids))
    return on, voids
