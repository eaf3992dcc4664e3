"""The guided form for a reference reading: what is read, how it stands, the readings, and what they come to."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING, Final

from procedures.answers import clean_line
from procedures.asks import Option
from procedures.sheets import Deed, Done, Form, FormField, Look, Tone
from procedures.site import calibrations
from procedures.site.entries import words
from procedures.site.forms.common import Taken, may_open, meant, one_of, pin_field, second_fields
from procedures.site.forms.readings_typed import not_one, read_air, read_readings, said_of_uncertainty
from procedures.site.reference_figures import figure_of, procedure_of, said, selector_of
from procedures.site.reference_places import wanted
from procedures.site.reference_readings import (
    WANTED_READINGS,
    Given,
    bound_to,
    jig_fits,
    may_be_taken,
    second_fits,
    soon_enough,
    source_fits,
)
from procedures.site.reference_readings import (
    taken as work_out,
)
from procedures.site.references import once_for_each_calibration, since_calibration
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.facts import ScaleFacts
    from procedures.journal.states import InstrumentState
    from procedures.site.forms import Entered
    from procedures.site.opening import Site
    from procedures.site.reference_readings import Taken as Worked

PAGES: Final = 4
NO_GEOMETRY: Final = "-"
"""Stands for the geometry without a name in a choice."""
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
        instruction, fields, says = {1: _what, 2: _how, 3: _read}.get(page, _end)(site, state, entered)
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


# --- pages ---------------------------------------------------------------------------------------------------------

Page = tuple[str, tuple[FormField, ...], tuple[str, ...]]


def _roles(state: InstrumentState) -> tuple[Option, ...]:
    return tuple(Option(role, role) for role in state.bindings)


def _what(site: Site, state: InstrumentState, _entered: Entered) -> Page:
    roles = _roles(state)
    if not roles:
        raise Trouble(
            "no check source is bound to this instrument",
            allowed="an instrument with its check source",
            do="Bind its check source first.",
        )
    jigs = any(binding.jig for binding in state.bindings.values())
    fields = [
        FormField("role", "role", "choice", roles[0].value if len(roles) == 1 else "", options=roles),
        FormField("source", "check source", "scan", more="Scan its label as you take it from its store."),
    ]
    if jigs:
        fields.append(
            FormField("jig", "jig", "scan", needed=all(b.jig for b in state.bindings.values()), more="Scan its label.")
        )
    calibration = state.calibration
    asked = [str(each) for each in wanted(site, state)]
    says = (
        f"Calibrated on {calibration.on}." if calibration else "",
        f"Checkouts compare with: {'; '.join(asked)}." if asked else "No checkout compares with a reference.",
    )
    return "Scan what is read: the check source, and its jig.", tuple(fields), tuple(each for each in says if each)


def _how(site: Site, state: InstrumentState, entered: Entered) -> Page:
    scales = tuple(Option(each.selector.name, _scale_said(each)) for each in procedure_of(site, state).scales)
    role = clean_line(entered.get("role", ""))
    asked = [each for each in wanted(site, state) if each.role == role]
    taken = {(str(e.body["scale"]), str(e.body["geometry"])) for e in since_calibration(site, state)}
    due = next((each for each in asked if (each.scale, each.geometry) not in taken), asked[0] if asked else None)
    names = list(dict.fromkeys(each.geometry for each in asked))
    geometry = FormField("geometry", "geometry", needed=False, more="Slide or window, as the profile names it.")
    if names:
        options = tuple(Option(name or NO_GEOMETRY, name or "as the jig holds it") for name in names)
        geometry = FormField(
            "geometry",
            "geometry: slide or window, and place",
            "choice",
            (due.geometry or NO_GEOMETRY) if due else "",
            options=options,
        )
    return (
        "Put the source in place as the procedure says. Set the selector.",
        (
            geometry,
            FormField("scale", "selector position", "choice", due.scale if due else "", options=scales),
            FormField(
                "orientation",
                "how the instrument lies",
                needed=False,
                more="Which side faces the source, upright or flat.",
                example="upright, handle to the left",
            ),
        ),
        (),
    )


def _scale_said(each: ScaleFacts) -> str:
    return f"{each.selector.name} (to {each.full_scale:f} {each.selector.unit})"


def _read(site: Site, state: InstrumentState, entered: Entered) -> Page:
    unit, times = "", ""
    procedure = procedure_of(site, state)
    with suppress(Trouble):
        selector = selector_of(procedure, clean_line(entered.get("scale", "")))
        unit = selector.unit
        times = f" The program multiplies by {selector.times:f}." if selector.times != 1 else ""
    fields = [
        FormField(
            "background",
            "background, before the source was put in place",
            "figure",
            needed=False,
            unit=unit,
            more="All sources away, same scale. Empty: it does not move.",
        ),
        FormField(
            "readings",
            "readings",
            "readings",
            wanted=WANTED_READINGS,
            unit=unit,
            more=f"As the scale prints it.{times} Take the source away and put it back between readings.",
        ),
    ]
    if procedure.air_density == "correct":
        fields += [
            FormField("temperature", "temperature at the instrument", "figure", unit="°C"),
            FormField(
                "pressure",
                "air pressure at the instrument",
                "figure",
                unit="kPa",
                more="Of a barometer here. A weather service's figure is reduced to sea level and is not it.",
            ),
        ]
    return (
        f"Read {WANTED_READINGS} times. Enter every reading, and reject none because it does not suit.",
        tuple(fields),
        ("A reading that something disturbed is rejected with its reason. It stays in the record.",),
    )


def _end(site: Site, state: InstrumentState, entered: Entered) -> Page:
    entry = Taken(entered)
    given = _given(site, state, entry)
    worked = _worked(site, state, given, entry) if given is not None else None
    fields: tuple[FormField, ...] = ()
    says: tuple[str, ...] = ()
    if given is not None and worked is not None:
        lines, _ = _said(site, state, given, worked)
        says = tuple(lines)
        if worked.steady and worked.changed:
            fields = (
                FormField("reason", "why it reads otherwise", more="Such as: adjusted at its calibration."),
                *second_fields(site, "It changed too much for one person to keep it. Somebody else looks at it too."),
            )
    return "Look at what it comes to.", (*fields, *pin_field(site)), says


def _button(site: Site, state: InstrumentState, entered: Entered) -> str:
    entry = Taken(entered)
    given = _given(site, state, entry)
    worked = _worked(site, state, given, entry) if given is not None else None
    return "Record the reference reading" if worked is None or worked.steady else "Note that it is refused"


# --- what was typed ------------------------------------------------------------------------------------------------


def _given(site: Site, state: InstrumentState, entry: Taken) -> Given | None:
    """What was typed, read; None while something is missing. Troubles are in `entry`, by field."""
    now = site.clock.now()
    role = entry.read("role", one_of(_roles(state)))
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
    entry.check("scale", lambda: once_for_each_calibration(since_calibration(site, state), given.key))
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
        lines.append("That is too far: a reason and a second person are needed to keep it.")
        tone = "bad"
    return lines, tone
