"""Sheets and listings of check sources: what each is worth today, what speaks against it, and what relied on it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import TYPE_CHECKING, Any, Final

from procedures.sheets import Column, Deed, Grid, Lines, Pairs, Row, Section, Sheet, Tone
from procedures.site import local_time, people, source_watch
from procedures.site.entries import thing
from procedures.site.records.source_list import sources
from procedures.site.source_due import state_of
from procedures.site.source_facts import composition_words, exempt
from procedures.site.source_outlook import Outlook, figure, outlooks, worth
from procedures.site.source_relied import Relied, Span, spans
from procedures.site.source_relied import relied as relied_on
from procedures.site.source_trouble import count_due, leak_test_due, source_trouble
from procedures.trouble import Trouble

__all__ = ["relied", "sections", "source", "sources"]

if TYPE_CHECKING:
    from procedures.journal.states import InstrumentState, SourceState
    from procedures.site.opening import Site

MOST_BOUND: Final = 25
"""Instruments of a source whose expected readings are worked out on its sheet."""
MOST_RELIED: Final = 200

STRONG: Final = "Strong source: use the tool made for it, keep fingers and face away, never touch its face."
WITHOUT_TOOL: Final = "Never touch the face of the source."
RULE: Final = (
    "10 CFR 35.67: sealed sources are leak-tested every 6 months at most; 185 Bq or more withdraws one. Local rules "
    "and the licence go first."
)
ASK: Final = (
    "Whether it counts as an exempt quantity: ask the radiation safety officer. Whether and how it may be shipped: ask "
    "a qualified shipper. This program says neither."
)

_READINGS: Final = (
    Column("instrument", least=8),
    Column("role", gives_way=3),
    Column("scale", gives_way=1),
    Column("reads today", least=12, figures=True),
    Column("reference", gives_way=4, least=12),
    Column("good for", gives_way=2, least=16),
)
_CHECKS: Final = (
    Column("when", least=16),
    Column("instrument", least=8),
    Column("by", gives_way=1),
    Column("with it", gives_way=2),
    Column("ending", least=10),
)


def source(site: Site, about: str, person: str) -> Sheet:
    """One source: whether it may be used, what it is worth today, what instruments should read, tests and counts."""
    thing(site, about, "source")
    state = state_of(site, about)
    settings = site.settings()
    trouble = source_trouble(state, site.clock.now().utc, settings)
    suspected = source_watch.suspect(site, about)
    sections: list[Section] = []
    if trouble:
        sections.append(Lines((f"It may not be used: {trouble}.",), tone="bad"))
    if suspected:
        sections.append(Lines((suspected,), tone="warn"))
    rows, left_out = _expected(site, about)
    sections += [
        _what_it_is(site, state),
        Grid(
            _READINGS,
            rows,
            title=f"What should be read with it today{', were it in use' if trouble else ''}",
            empty="No instrument has a reference with it.",
        ),
        *([Lines((f"{left_out} more instruments have it: see their own sheets.",), tone="quiet")] if left_out else []),
        _tests(site, state),
        Lines((RULE, ASK), title="Rules", tone="quiet"),
    ]
    label = state.fields.get("label", "")
    line = "may not be used" if trouble else "may be used"
    return Sheet("source", f"Source {label}", tuple(sections), about, line, _deeds(site, state, person))


def relied(site: Site, about: str, person: str) -> Sheet:
    """Every check that relied on a source since it was last said to be good; `about` is "source" or "source,page"."""
    del person
    source_id, _, page = about.partition(",")
    thing(site, source_id, "source")
    offset = int(page) * MOST_RELIED if page.isascii() and page.isdigit() and len(page) < 6 else 0
    label = site.journal.thing_now(source_id).fields.get("label", "")
    sections: list[Section] = []
    more = False
    for span in spans(site, source_id):
        rows, further = relied_on(site, source_id, span, limit=MOST_RELIED, offset=offset)
        more = more or further
        made = tuple(_relied_row(site, each) for each in rows)
        sections.append(Grid(_CHECKS, made, title=_said(site, span), empty="No check relied on it in this time."))
    sections.append(
        Lines(
            (
                "If the source was not as it should be, these checks showed less than they say. The site lead decides "
                "which instruments are checked again.",
                "Checks made on paper are not in this list.",
            ),
            tone="quiet",
        )
    )
    next_page = offset // MOST_RELIED + 1
    deeds = [Deed("The source", "sheet", "source", source_id)]
    if more:
        deeds.append(Deed("Older checks", "sheet", "relied", f"{source_id},{next_page}"))
    return Sheet(
        "relied", f"Checks that relied on source {label}", tuple(sections), about, "newest first", tuple(deeds)
    )


def _said(site: Site, span: Span) -> str:
    if span.after is None and span.until is None:
        return "Since it came (nobody has ever said that it is good)"
    since = "since it came" if span.after is None else f"since it was said to be good, {_when(site, span.after.utc)}"
    if span.until is None:
        return since.capitalize()
    return f"Before it was put right on {_when(site, span.until.utc)}, {since}"


def _when(site: Site, moment: Any) -> str:
    return local_time.said(site, moment)


def _relied_row(site: Site, each: Relied) -> Row:
    tone: Tone = "warn" if each.outcome in ("fail", "warn") else ""
    cells = (_when(site, each.when), each.label, each.person, each.outcome, each.ending or "not ended")
    return Row(cells, Deed("Open the checkout", "sheet", "checkout", each.checkout), tone, each.checkout)


# --- parts of a source's sheet -------------------------------------------------------------------------------------


def _what_it_is(site: Site, state: SourceState) -> Pairs:
    fields = state.fields
    rows = [
        ("label", str(fields.get("label", ""))),
        ("model, serial", ", ".join(str(fields.get(name)) for name in ("model", "serial") if fields.get(name))),
        ("holds", composition_words(fields)),
        ("emits", str(fields.get("emits", ""))),
    ]
    try:
        found = worth(fields, site.clock.now().utc)
        what = str(fields.get("certified_as") or "activity")
        uncertain = f", ± {fields['uncertainty']}" if fields.get("uncertainty") else ""
        rows.append((f"certified {what}", f"{found.certified} on {found.on.isoformat()}{uncertain}"))
        rows.append((f"{what} today", f"{found.today} ({figure(100 * found.left)} % is left)"))
        shares = ", ".join(f"{nuclide} {figure(100 * share)} %" for nuclide, share in found.parts)
        rows.append(("of the reading today", shares))
    except Trouble as trouble:
        rows.append(("worth today", trouble.what))
    rows.append(("handling", STRONG if fields.get("strength") == "strong" else WITHOUT_TOOL))
    rows.append(("where", f"{state.whereabouts}{f', {state.where}' if state.where else ''}"))
    return Pairs(tuple((name, value) for name, value in rows if value), title="What it is")


def _tests(site: Site, state: SourceState) -> Pairs:
    settings = site.settings()
    tested = site.journal.about(state.id, kinds=("leak-tested",), limit=1)
    rows = [("leak test", _last_test(tested[0].body) if tested else "none is recorded")]
    due = leak_test_due(state)
    if due:
        rows.append(("next leak test by", due.isoformat()))
    if claimed := exempt(state.fields):
        rows.append(("leak test not needed", f"{claimed}; claimed by a site lead"))
    counted = state.counted_on
    found = "found" if state.counted_found else "NOT FOUND"
    rows.append(("last counted", f"{counted}, {found}" if counted else "never"))
    if (counted_by := count_due(state, settings)) is not None:
        rows.append(("to be counted by", counted_by.isoformat()))
    said = f"{state.condition}{f': {state.condition_say}' if state.condition_say else ''}"
    rows.append(("condition", said if state.condition else "nobody has said"))
    return Pairs(tuple(rows), title="Tests and counts")


def _last_test(body: Any) -> str:
    result = body.get("result_bq")
    said = "no figure recorded" if result is None else f"{'less than ' if body.get('below') else ''}{result} Bq"
    by = ", ".join(str(body[name]) for name in ("by", "measured_with", "note") if body.get(name))
    return f"{body['on']}: {said}{f' ({by})' if by else ''}"


def _expected(site: Site, source_id: str) -> tuple[tuple[Row, ...], bool]:
    rows: list[Row] = []
    bound = tuple(islice(_bound(site, source_id), MOST_BOUND + 1))
    for state in bound[:MOST_BOUND]:
        label = str(state.fields.get("label", ""))
        rows += [_reading(label, state.id, each) for each in outlooks(site, state, source_id)]
    return tuple(rows), len(bound) > MOST_BOUND


def _bound(site: Site, source_id: str) -> Iterator[InstrumentState]:
    """Instruments in service to which a source is bound now, those bound last first."""
    events = site.journal.about(source_id, kinds=("source-bound",), limit=-1)
    for instrument in dict.fromkeys(event.about[0] for event in events if event.about):
        state = site.journal.instrument_now(instrument)
        if not state.retired and any(each.source == source_id for each in state.bindings.values()):
            yield state


def _reading(first: str, key: str, each: Outlook) -> Row:
    scale = f"{each.scale}, {each.geometry}" if each.geometry else each.scale
    reads = each.trouble or f"{figure(each.expected)} {each.unit}"
    said, tone = _good_for(each)
    cells = (first, each.role, scale, reads, f"{each.reference}, {each.taken.isoformat()}", said)
    return Row(cells, Deed("Open the instrument", "sheet", "instrument", key), tone, f"{key}:{each.role}:{scale}")


def _good_for(each: Outlook) -> tuple[str, Tone]:
    """Until when a source serves on a scale, in words, and how much that matters."""
    if each.trouble:
        return "cannot be worked out", "bad"
    if each.old:
        return "the reference is too old", "bad"
    if each.weak:
        return f"too weak: {each.why}", "warn" if each.practice else "bad"
    then = "little to read" if each.practice else "too weak"
    ends = [f"until {each.weak_on.isoformat()}, then {then}"] if each.weak_on else []
    if each.old_on:
        ends.append(f"reference until {each.old_on.isoformat()}")
    return "; ".join(ends) or "no end in sight", ""


def _deeds(site: Site, state: SourceState, person: str) -> tuple[Deed, ...]:
    gone = "It is off the list." if state.retired else ""
    lead = gone or (people.may(site, person, "register") if person else "")
    return (
        Deed("Record its condition", "form", "source-condition", state.id, gone),
        Deed("Checks that relied on it", "sheet", "relied", state.id),
        Deed("Record a leak test", "form", "leak-test", state.id, gone),
        Deed("Count the sources", "form", "source-count"),
        Deed("Where it is", "form", "place", state.id, gone),
        Deed("Change what is recorded of it", "form", "source-edit", state.id, lead),
        Deed("Its history", "sheet", "source-history", state.id),
        Deed("Take it off the list", "form", "source-retire", state.id, lead),
    )


# --- the instrument's sheet ----------------------------------------------------------------------------------------


def sections(site: Site, state: InstrumentState) -> tuple[Section, ...]:
    """What the sheet of an instrument says of its check sources: what is to be read today, and what is wrong."""
    settings, now = site.settings(), site.clock.now().utc
    held = {each.source: state_of(site, each.source) for each in state.bindings.values()}
    labels = {each: str(found.fields.get("label", "")) for each, found in held.items()}
    found = outlooks(site, state)
    rows = []
    for each in found:
        row = _reading(labels[each.source], state.id, each)
        opens = Deed("Open the source", "sheet", "source", each.source)
        rows.append(Row(row.cells, opens, row.tone, f"{each.source}:{row.key}"))
    known = {(each.role, each.source) for each in found}
    without = [
        f"Source {labels[each.source]} ({role}) has no reference reading since the calibration."
        for role, each in sorted(state.bindings.items())
        if (role, each.source) not in known
    ]
    troubles = [trouble for each in held.values() if (trouble := source_trouble(each, now, settings))]
    columns = (Column("source", least=8), *_READINGS[1:])
    made: list[Section] = [
        Grid(columns, tuple(rows), title="What its check sources should read today", empty="Nothing to compare with.")
    ]
    if troubles or without:
        said = [f"{trouble[0].upper()}{trouble[1:]}." for trouble in troubles]
        made.append(Lines((*said, *without), tone="bad" if troubles else "warn"))
    suspects = source_watch.suspects_of(site, state)
    if suspects:
        made.append(Lines(suspects, tone="warn"))
    return tuple(made)
