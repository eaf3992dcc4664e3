"""The form that replaces a check source: old and new source read by turns, and the reference carried over."""
# ruff: noqa: ARG002  what a form is asked is the same for all of them: forms.Task

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from procedures.answers import clean_line
from procedures.asks import Option
from procedures.sheets import Deed, Done, Form, FormField, Look, Tone
from procedures.site import calibrations, replacing
from procedures.site.entries import words
from procedures.site.forms.common import Taken, may_open, meant, one_of, pin_field
from procedures.site.forms.readings_typed import read_air, said_of_uncertainty
from procedures.site.forms.reference import CAUTION
from procedures.site.reference_allowed import may_be_taken
from procedures.site.reference_figures import MOST_READINGS, figure_of, procedure_of, said, selector_of
from procedures.site.reference_readings import WANTED_READINGS, Rejected
from procedures.site.references import in_force, key_of, once_for_each_calibration
from procedures.site.replacing import Given, Worked
from procedures.site.usable_references import since_calibration
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from collections.abc import Iterator

    from procedures.journal.states import InstrumentState
    from procedures.site.forms import Entered
    from procedures.site.opening import Site

PAGES: Final = 3
COLUMNS: Final = ("old source", "new source", "rejected because")


class ReplaceSource:
    """Carries the reference of one source over to another."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        may_open(site, person, "reference")
        state = calibrations.instrument_of(site, about)
        may_be_taken(site, state, site.clock.now())
        label = str(state.fields.get("label", ""))
        instruction, fields, says = {1: _which, 2: _pairs}.get(page, _end)(site, state, entered)
        return Form(
            "source-replace",
            f"Replace a check source of {label}",
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
        except Trouble as trouble:
            return Look(trouble.lines(), tone="bad")
        entry = Taken(entered)
        given = _given(site, state, entry)
        found = _worked(site, state, given, entry) if given is not None else None
        if given is None or found is None:
            return entry.look()
        lines, tone = _said(site, given, found)
        return Look(tuple(lines), dict(entry.troubles), tone)

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        state = calibrations.instrument_of(site, about)
        entry = Taken(entered)
        given = _given(site, state, entry)
        if given is not None:
            _worked(site, state, given, entry)
        entry.whole()
        assert given is not None
        made = replacing.replace(site, about, person, given, pin=entered.get("pin"))
        new = str(site.journal.thing_now(given.new).fields.get("label", ""))
        return Done(
            f"Source {new} has the role {given.role} now, with the reference carried over.",
            "Put both sources back into their stores. Mark or put away the old one, so that nobody takes it.",
            Deed("look at it", "sheet", "reference", made),
        )


# --- pages ---------------------------------------------------------------------------------------------------------

Page = tuple[str, tuple[FormField, ...], tuple[str, ...]]


def _roles(state: InstrumentState) -> tuple[Option, ...]:
    return tuple(Option(role, role) for role in state.bindings)


def _places(site: Site, state: InstrumentState) -> dict[str, tuple[str, str]]:
    """Scale and geometry of each reference that counts, by the words that name them in the choice."""
    now = site.clock.now().utc
    found = dict.fromkeys(key_of(event)[1:] for event in in_force(state, now, site.settings()))
    return {clean_line(f"{scale}, {geometry}" if geometry else scale): (scale, geometry) for scale, geometry in found}


def _options(places: dict[str, tuple[str, str]]) -> tuple[Option, ...]:
    return tuple(Option(each, each) for each in places)


def _which(site: Site, state: InstrumentState, _entered: Entered) -> Page:
    roles, places = _roles(state), _places(site, state)
    if not roles or not places:
        raise Trouble(
            "this instrument has no reference reading that could be carried over",
            allowed="an instrument with a reference reading since its calibration",
            do="Take a reference reading first.",
        )
    return (
        "Scan the old source, and the new one.",
        (
            FormField("role", "role", "choice", roles[0].value if len(roles) == 1 else "", options=roles),
            FormField("old", "old source", "scan"),
            FormField("new", "new source", "scan"),
            FormField("jig", "jig of the new source", "scan", needed=False, more="Where it has one."),
            FormField(
                "place",
                "scale and geometry",
                "choice",
                next(iter(places)) if len(places) == 1 else "",
                options=_options(places),
                more="Both sources are read on this scale, in this geometry.",
            ),
        ),
        ("Both are read on one day, by turns: old, new, old, new.",),
    )


def _pairs(site: Site, state: InstrumentState, entered: Entered) -> Page:
    unit, times = "", ""
    procedure = procedure_of(site, state)
    scale = _places(site, state).get(clean_line(entered.get("place", "")), ("", ""))[0]
    try:
        selector = selector_of(procedure, scale)
        unit = selector.unit
        times = f" The program multiplies by {selector.times:f}." if selector.times != 1 else ""
    except Trouble:
        pass
    fields = [
        FormField(
            "background",
            "background, before a source was put in place",
            "figure",
            needed=False,
            unit=unit,
            more="All sources away, same scale. Empty: it does not move.",
        ),
        FormField(
            "pairs",
            f"pairs, {WANTED_READINGS} of them",
            "rows",
            columns=COLUMNS,
            unit=unit,
            more=f"As the scale prints it.{times} Say in the last cell why a pair does not count; it stays.",
            example="1.62 | 1.98",
        ),
    ]
    if procedure.air_density == "correct":
        fields += [
            FormField("temperature", "temperature at the instrument", "figure", unit="°C"),
            FormField("pressure", "air pressure at the instrument", "figure", unit="kPa", more="Of a barometer here."),
        ]
    return f"Read old, then new, {WANTED_READINGS} times by turns.", tuple(fields), ()


def _end(site: Site, _state: InstrumentState, _entered: Entered) -> Page:
    return "Look at what it comes to.", pin_field(site), ()


def _button(site: Site, state: InstrumentState, entered: Entered) -> str:
    entry = Taken(entered)
    given = _given(site, state, entry)
    found = _worked(site, state, given, entry) if given is not None else None
    return "Replace the source" if found is None or found.steady else "Note that it is refused"


# --- what was typed ------------------------------------------------------------------------------------------------


def _given(site: Site, state: InstrumentState, entry: Taken) -> Given | None:
    now = site.clock.now()
    role = entry.read("role", one_of(_roles(state)))
    old = entry.read("old", lambda text: meant(site, text, "source"))
    new = entry.read("new", lambda text: meant(site, text, "source"))
    jig = entry.optional("jig", lambda text: meant(site, text, "jig"))
    places = _places(site, state)
    place = entry.read("place", one_of(_options(places)))
    if role is not None and old is not None and new is not None:
        entry.check("new", lambda: replacing.may_be_replaced(site, state, role, old, new, now))
    scale, geometry = places.get(place or "", ("", ""))
    pairs, rejected = _read_pairs(site, state, scale, entry) if place is not None else (None, ())
    if scale and entry.text("background"):
        selector = selector_of(procedure_of(site, state), scale)
        entry.check("background", lambda: figure_of(selector, entry.text("background"), below_zero=True))
    read_air(site, state, entry)
    if role is None or old is None or new is None or pairs is None:
        return None
    key = (new, scale, geometry)
    entry.check("new", lambda: once_for_each_calibration(since_calibration(state), key))
    return Given(
        role=role,
        old=old,
        new=new,
        jig=jig,
        scale=scale,
        pairs=pairs,
        geometry=geometry,
        background=entry.text("background"),
        temperature_c=entry.text("temperature"),
        pressure_kpa=entry.text("pressure"),
        rejected=rejected,
    )


def _read_pairs(
    site: Site, state: InstrumentState, scale: str, entry: Taken
) -> tuple[tuple[tuple[str, str], ...] | None, tuple[Rejected, ...]]:
    """The pairs that count, as typed, and the rejected ones. Troubles go under "pairs"."""
    good: list[tuple[str, str]] = []
    bad: list[Rejected] = []
    try:
        selector = selector_of(procedure_of(site, state), scale)
        for number, (old, new, why) in enumerate(_rows(entry.entered.get("pairs", "")), 1):
            if why:
                bad.append(Rejected(words("rejected pair", f"{old} and {new}"), words("reason", why)))
                continue
            try:
                figure_of(selector, old)
                figure_of(selector, new)
            except Trouble as trouble:
                raise Trouble(
                    f"pair {number}: {trouble.what}", allowed=trouble.allowed, do=trouble.do or "Enter it again."
                ) from None
            good.append((old, new))
        if not good:
            raise Trouble("no pair was entered", allowed="old and new, one pair a line", do="Read both by turns.")
    except Trouble as trouble:
        entry.troubles["pairs"] = trouble
        return None, ()
    return tuple(good), tuple(bad)


def _rows(text: str) -> Iterator[tuple[str, str, str]]:
    rows = [row for row in text.split("\n") if clean_line(row.replace("|", " "))]
    if len(rows) > MOST_READINGS:
        raise Trouble(f"{len(rows)} pairs are too many", allowed=f"at most {MOST_READINGS}")
    for row in rows:
        cells = [clean_line(cell) for cell in row.split("|", 2)]
        old, new, why = [*cells, "", "", ""][:3]
        yield old, new, why


def _worked(site: Site, state: InstrumentState, given: Given, entry: Taken) -> Worked | None:
    if entry.troubles:
        return None
    try:
        found = replacing.worked(site, state, given, site.clock.now())
        replacing.reads_right(found)
    except Trouble as trouble:
        entry.troubles["pairs"] = trouble
        return None
    return found


def _said(site: Site, given: Given, found: Worked) -> tuple[list[str], Tone]:
    """What the pairs come to, in lines."""
    labels = {each: str(site.journal.thing_now(each).fields.get("label", "")) for each in (given.old, given.new)}
    made, unit = found.carried, found.unit
    lines = [
        f"Old source {labels[given.old]}: read {said(found.old.net_exact)} {unit}, "
        f"{100 * (found.verdict.ratio or 0):.1f} % of what was expected. Within its limits.",
        f"New source {labels[given.new]}: read {said(found.new.net_exact)} {unit}. "
        f"Ratio new to old {made.ratio:.4f}, from {len(given.pairs)} pairs.",
        f"Coefficient of variation of the ratios {100 * made.pair_cv:.2f} %, allowed {found.cv_limit:f} %.",
        f"The old one is expected to give {said(found.today.value)} {unit} today. Its new reference: "
        f"{said(made.value)} {unit}.",
        said_of_uncertainty(
            made.relative_u * float(made.value),
            made.relative_u,
            {name: u * float(made.value) for name, u in made.parts.items()},
            unit,
        ),
    ]
    lines += [f"Rejected, and kept: {each.figure} ({each.why})." for each in given.rejected]
    tone: Tone = "good"
    if found.still_wanted:
        lines.append(f"Still without a reference then: {'; '.join(map(str, found.still_wanted))}. Do those next.")
        tone = "warn"
    if len(given.pairs) < WANTED_READINGS:
        lines.append(f"{len(given.pairs)} pairs are fewer than the {WANTED_READINGS} that are wanted.")
        tone = "warn"
    if not found.steady:
        lines.append("The ratios scatter too much: this is refused, and a note keeps what was read.")
        return lines, "bad"
    return lines, tone
