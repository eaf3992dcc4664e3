"""The pages of the form for a reference reading: what is read, how it stands, the readings."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING, Final

from procedures.answers import clean_line
from procedures.asks import Option
from procedures.sheets import FormField
from procedures.site.reference_figures import figure_of, procedure_of, selector_of
from procedures.site.reference_places import wanted
from procedures.site.reference_readings import WANTED_READINGS
from procedures.site.usable_references import since_calibration
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.asks import Selector
    from procedures.facts import ScaleFacts
    from procedures.journal.states import InstrumentState
    from procedures.site.forms import Entered
    from procedures.site.opening import Site

NO_GEOMETRY: Final = "-"
"""Stands for the geometry without a name in a choice."""


Page = tuple[str, tuple[FormField, ...], tuple[str, ...]]
"""The instruction, the fields, and what is to be known before."""


def roles_of(state: InstrumentState) -> tuple[Option, ...]:
    """The roles to which a check source is bound."""
    return tuple(Option(role, role) for role in state.bindings)


def what_page(site: Site, state: InstrumentState, _entered: Entered) -> Page:
    """Role, source and jig. Raises Trouble where no source is bound."""
    roles = roles_of(state)
    if not roles:
        raise Trouble(
            "no check source is bound to this instrument",
            allowed="an instrument with its check source",
            do="Bind its check source first.",
        )
    jigs = any(binding.jig for binding in state.bindings.values())
    fields = [
        FormField("role", "role", "choice", roles[0].value if len(roles) == 1 else "", options=roles),
        FormField(
            "source", "check source", "scan", more="Scan its label. It stays away until background has been read."
        ),
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


def how_page(site: Site, state: InstrumentState, entered: Entered) -> Page:
    """Scale, orientation, background before any source is near, geometry; what is still missing stands in them."""
    scales = tuple(Option(each.selector.name, _scale_said(each)) for each in procedure_of(site, state).scales)
    role = clean_line(entered.get("role", ""))
    asked = [each for each in wanted(site, state) if each.role == role]
    taken = {(str(e.body["scale"]), str(e.body["geometry"])) for e in since_calibration(state)}
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
        "Leave every source away. Set the selector, lay the instrument as it will be read, and read background.",
        (
            FormField("scale", "selector position", "choice", due.scale if due else "", options=scales),
            FormField(
                "orientation",
                "how the instrument lies",
                needed=False,
                more="Which side faces the source, upright or flat.",
                example="upright, handle to the left",
            ),
            FormField(
                "background",
                "background, with all sources away",
                "figure",
                needed=False,
                more="On this scale, in its unit, before the source is put in place. Empty: it does not move.",
            ),
            geometry,
        ),
        (),
    )


def _scale_said(each: ScaleFacts) -> str:
    return f"{each.selector.name} (to {each.full_scale:f} {each.selector.unit})"


def _comes_to(selector: Selector, text: str) -> str:
    """A reading on this scale as it is understood. Raises Trouble for one that the scale cannot show."""
    return f"{figure_of(selector, text):f} {selector.unit}"


def readings_page(site: Site, state: InstrumentState, entered: Entered) -> Page:
    """The readings with the source in place, and the air where the chamber is corrected for it."""
    unit, times = "", ""
    reads: Callable[[str], str] | None = None
    procedure = procedure_of(site, state)
    with suppress(Trouble):
        selector = selector_of(procedure, clean_line(entered.get("scale", "")))
        unit, reads = selector.unit, partial(_comes_to, selector)
        times = f" The program multiplies by {selector.times:f}." if selector.times != 1 else ""
    fields = [
        FormField(
            "readings",
            "readings",
            "readings",
            wanted=WANTED_READINGS,
            unit=unit,
            more=f"As the scale prints it.{times} Take the source away and put it back between readings.",
            reads=reads,
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
        f"Put the source in place as the procedure says. Read {WANTED_READINGS} times. Enter every reading, and reject "
        "none because it does not suit.",
        tuple(fields),
        ("A reading that something disturbed is rejected with its reason. It stays in the record.",),
    )
