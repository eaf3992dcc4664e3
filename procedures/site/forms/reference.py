"""The guided form for a reference reading: what is read, how it stands, the readings, and what they come to."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from procedures.sheets import Deed, Done, Form, FormField, Look, Tone
from procedures.site import calibrations
from procedures.site.entries import words
from procedures.site.forms.common import Taken, may_open, meant, one_of, pin_field, second_fields
from procedures.site.forms.readings_typed import not_one, read_air, read_readings, said_of_uncertainty
from procedures.site.forms.reference_pages import NO_GEOMETRY, Page, how_page, readings_page, roles_of, what_page
from procedures.site.reference_allowed import bound_to, jig_fits, may_be_taken, soon_enough, source_fits
from procedures.site.reference_figures import figure_of, procedure_of, said, selector_of
from procedures.site.reference_places import wanted
from procedures.site.reference_readings import WANTED_READINGS, Given, second_fits
from procedures.site.reference_readings import (
    taken as work_out,
)
from procedures.site.references import once_for_each_calibration
from procedures.site.usable_references import since_calibration
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.states import InstrumentState
    from procedures.site.forms import Entered
    from procedures.site.opening import Site
    from procedures.site.reference_readings import Taken as Worked

PAGES: Final = 4
CAUTION: Final = (
    "Take a source from its store only as your local rules say, with the tool made for it. Never touch its face. "
    "Put it back and lock it away when you are done."
)


class TakeReference:
    """Takes a reference reading."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        may_open(site, person, "reference")
        state = calibrations.instrument_of(site, about)
        may_be_taken(site, state, site.clock.now())
        soon_enough(site, state)
        label = str(state.fields.get("label", ""))
        instruction, fields, says = {1: what_page, 2: how_page, 3: readings_page}.get(page, _end)(site, state, entered)
        return Form(
            "reference",
            f"Reference reading of {label}",
            instruction,
            fields,
            about=about,
            says=says,
            caution=CAUTION if page == 1 else "",
            keep=_button(site, state, entered) if page >= PAGES else "Go on",
            page=min(page, PAGES),
            pages=PAGES,
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        try:
            state = calibrations.instrument_of(site, about)
            may_be_taken(site, state, site.clock.now())
            soon_enough(site, state)
        except Trouble as trouble:
            return Look(trouble.lines(), tone="bad")
        entry = Taken(entered)
        given = _given(site, state, entry)
        if given is None:
            return entry.look()
        worked = _worked(site, state, given, entry)
        if worked is None:
            return entry.look()
        _changed(site, person, worked, entry)
        lines, tone = _said(site, state, given, worked)
        return Look(tuple(lines), dict(entry.troubles), tone)

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        from procedures.site.reference_readings import take

        state = calibrations.instrument_of(site, about)
        entry = Taken(entered)
        given = _given(site, state, entry)
        worked = _worked(site, state, given, entry) if given is not None else None
        second = _changed(site, person, worked, entry) if worked is not None else ""
        entry.whole()
        assert given is not None
        made = take(
            site,
            about,
            person,
            given,
            reason=entry.text("reason"),
            second=second,
            pin=entered.get("pin"),
            second_pin=entered.get("second_pin"),
        )
        return Done(
            f"The reference reading of {state.fields.get('label', '')} is recorded.",
            "Put the source back into its store. Then check the instrument.",
            Deed("look at it", "sheet", "reference", made),
        )


def _end(site: Site, state: InstrumentState, entered: Entered) -> Page:
    entry = Taken(entered)
    given = _given(site, state, entry)
    worked = _worked(site, state, given, entry) if given is not None else None
    fields: tuple[FormField, ...] = ()
    if given is not None and worked is not None and worked.steady and worked.changed:
        fields = (
            FormField("reason", "reason", more="Why it reads otherwise, such as: adjusted at its calibration."),
            *second_fields(site, "Not for one person to keep alone: somebody else looks at it too."),
        )
    return "Look at what it comes to.", (*fields, *pin_field(site)), ()


def _button(site: Site, state: InstrumentState, entered: Entered) -> str:
    entry = Taken(entered)
    given = _given(site, state, entry)
    worked = _worked(site, state, given, entry) if given is not None else None
    return "Record the reference reading" if worked is None or worked.steady else "Note that it is refused"


# --- what was typed ------------------------------------------------------------------------------------------------


def _given(site: Site, state: InstrumentState, entry: Taken) -> Given | None:
    """What was typed, read; None while something is missing. Troubles are in `entry`, by field."""
    now = site.clock.now()
    role = entry.read("role", one_of(roles_of(state)))
    source = entry.read("source", lambda text: meant(site, text, "source"))
    jig = entry.optional("jig", lambda text: meant(site, text, "jig"))
    if role is not None and source is not None:
        entry.check("source", lambda: source_fits(site, state, role, source, now))
    if role is not None:
        where = "jig" if bound_to(state, role).jig or entry.text("jig") else "role"
        entry.check(where, lambda: jig_fits(site, state, role, jig))
    scale = entry.read("scale", lambda text: selector_of(procedure_of(site, state), text).name)
    geometry = entry.text("geometry")
    geometry = "" if geometry == NO_GEOMETRY else geometry
    entry.check("geometry", lambda: words("geometry", geometry, needed=False))
    entry.check("orientation", lambda: words("orientation", entry.text("orientation"), needed=False))
    readings, rejected = read_readings(entry, "readings")
    if scale is not None:
        selector = selector_of(procedure_of(site, state), scale)
        for figure in readings or ():
            entry.check("readings", lambda figure=figure: not_one(readings, figure, selector))  # type: ignore[misc]
        if entry.text("background"):
            entry.check("background", lambda: figure_of(selector, entry.text("background"), below_zero=True))
    read_air(site, state, entry)
    if role is None or source is None or scale is None or readings is None:
        return None
    given = Given(
        role=role,
        source=source,
        jig=jig,
        scale=scale,
        readings=readings,
        geometry=geometry,
        orientation=entry.text("orientation"),
        background=entry.text("background"),
        temperature_c=entry.text("temperature"),
        pressure_kpa=entry.text("pressure"),
        rejected=rejected,
    )
    entry.check("scale", lambda: once_for_each_calibration(since_calibration(state), given.key))
    return given


def _worked(site: Site, state: InstrumentState, given: Given, entry: Taken) -> Worked | None:
    if entry.troubles.keys() & {"readings", "background", "scale", "temperature", "pressure"}:
        return None
    try:
        return work_out(site, state, given, site.clock.now())
    except Trouble as trouble:
        entry.troubles["readings"] = trouble
        return None


def _changed(site: Site, person: str, worked: Worked, entry: Taken) -> str:
    """The id of the second person, where one is needed; "" else."""
    if not worked.steady or not worked.changed:
        return ""
    entry.read("reason", lambda text: words("reason", text))
    second = entry.read("second", lambda text: meant(site, text, "person"))
    if second is not None:
        entry.check("second", lambda: second_fits(site, person, second))
    return second or ""


def _said(site: Site, state: InstrumentState, given: Given, worked: Worked) -> tuple[list[str], Tone]:
    """What a series comes to, in lines."""
    series, unit = worked.series, worked.unit
    off = f", {series.background:f} {unit} of background taken off" if series.background is not None else ""
    lines = [
        f"Mean of {len(series.readings)} readings: {said(series.net_exact)} {unit}{off}.",
        f"Standard deviation {said(series.stdev, 3)} {unit}; coefficient of variation {100 * series.cv:.2f} %, allowed "
        f"{worked.cv_limit:f} %.",
        said_of_uncertainty(worked.budget.standard, worked.relative_u, dict(worked.budget.parts), unit),
    ]
    lines += [f"Rejected, and kept: {each.figure} ({each.why})." for each in given.rejected]
    tone: Tone = "good"
    if len(series.readings) < WANTED_READINGS:
        lines.append(f"{len(series.readings)} readings are fewer than the {WANTED_READINGS} that are wanted.")
        tone = "warn"
    if (given.role, given.scale, given.geometry) not in {
        (each.role, each.scale, each.geometry) for each in wanted(site, state)
    }:
        lines.append("No checkout compares with this scale and geometry.")
        tone = "warn"
    former = worked.former
    if former.ratio is None or former.expected is None:
        lines.append(f"Not compared with the former reference: {former.why_not}.")
    else:
        lines.append(
            f"Former reference, decayed to today: {said(former.expected)} {unit}. Ratio new to former "
            f"{former.ratio:.4f}, allowed 1 ± {worked.change_limit / 100:f}."
        )
    if not worked.steady:
        lines.append("The readings scatter too much: this is refused, and a note keeps what was read.")
        lines.append("Look at source, jig and instrument. Then take all readings again from the start.")
        return lines, "bad"
    if worked.changed:
        why = "That is too far" if former.ratio is not None else "So nothing shows that it reads as before"
        lines.append(f"{why}: a reason and a second person are needed to keep it.")
        tone = "bad"
    return lines, tone
