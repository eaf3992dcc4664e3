"""The sheet of an instrument, put together from what the other modules say of it; and the list of all instruments."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from procedures.asks import Option
from procedures.journal.states import fitness
from procedures.sheets import Column, Deed, Filter, Lines, Listing, Pairs, Query, Row, Section, Sheet, Tone
from procedures.site import foresight, local_time, lookups, naming, people
from procedures.site.entries import thing
from procedures.site.found_words import field_words
from procedures.site.records import calibration, doubts, lockout, reference, source, uses
from procedures.site.records.instrument_deeds import deeds

if TYPE_CHECKING:
    from procedures.journal.rows import InstrumentRow
    from procedures.journal.states import FitnessWord, InstrumentState
    from procedures.site.opening import Site

TONES: dict[FitnessWord, Tone] = {"ready": "good", "needs check": "warn", "locked out": "bad"}
WORDS: dict[FitnessWord, str] = {"ready": "READY", "needs check": "NEEDS CHECK", "locked out": "LOCKED OUT"}
PAGE = 200
"""Instruments looked through at a time where a list is narrowed."""


def instrument(site: Site, about: str, person: str) -> Sheet:
    """How an instrument stands, what its set is, and all that can be done with it now."""
    thing(site, about, "instrument")
    state = site.journal.instrument_now(about)
    fields = state.fields
    serial = f", serial number {fields['serial']}" if fields.get("serial") else ""
    return Sheet(
        "instrument",
        str(fields["label"]),
        (
            *_fitness(site, state),
            *lockout.sections(site, state),
            *doubts.sections(site, state),
            _standing(site, state),
            *_obstacles(site, state),
            _set(site, state),
            *calibration.sections(site, state),
            *reference.sections(site, state),
            *source.sections(site, state),
            *uses.sections(site, state),
        ),
        about=about,
        line=f"{fields['type']}{serial}",
        deeds=deeds(site, state, person),
    )


def _fitness(site: Site, state: InstrumentState) -> Iterator[Lines]:
    """The one thing that has to be read first; after it what goes with the instrument into the field."""
    if state.retired:
        yield Lines(("OFF THE LIST. It is not to be used.",), tone="bad")
        return
    found = fitness(state, site.clock.now().utc)
    word = WORDS[found.word]
    if found.until is not None:
        word += f" until {local_time.said(site, found.until)}"
    reasons = lookups.as_sentences([each.say or each.code for each in found.reasons])
    lines = [f"{word}.", *([reasons] if reasons else []), found.why]
    tone = TONES[found.word]
    if state.contaminated:
        lines.insert(0, "CONTAMINATED. Don't carry it about; tell radiation protection.")
        tone = "bad"
    yield Lines(tuple(lines), tone=tone)
    if found.word == "ready" and state.counting is not None:
        carried = field_words(state.counting.factor or "", [str(each) for each in state.counting.warnings])
        if carried:
            yield Lines(carried, title="Goes with it into the field", tone="warn")


def _standing(site: Site, state: InstrumentState) -> Pairs:
    rows = [("it is", f"{state.whereabouts}, {state.where}" if state.where else state.whereabouts)]
    if state.handed is not None:
        rows.append(("with", naming.name(site, state.handed.to)))
        rows.append(("since", local_time.said(site, state.handed.when)))
        if state.handed.back_by is not None:
            rows.append(("back by", local_time.said(site, state.handed.back_by)))
        if state.handed.emergency:
            rows.append(("note", "EMERGENCY USE: it went out unchecked"))
    rows.append(("contamination", _contamination(site, state)))
    last = state.last_checked
    rows.append(("last checked", local_time.said(site, last) if last else "never"))
    open_here = [each for each in lookups.open_checkouts(site) if each.instrument == state.id]
    rows += [("open checkout", f"by {each.person or 'nobody named'}, at: {each.step}") for each in open_here]
    return Pairs(tuple(rows), title="How it stands")


def _contamination(site: Site, state: InstrumentState) -> str:
    """Whether it is contaminated, and where it was surveyed and is not, by what that was shown."""
    if state.contaminated:
        return "CONTAMINATED"
    newest = site.journal.about(state.id, kinds=("contamination",), limit=1)
    if not newest or newest[0].body.get("found"):
        return "none recorded"
    said = str(newest[0].body.get("say") or "")
    return f"found clean {local_time.said(site, newest[0].utc)}{f': {said}' if said else ''}"


def _obstacles(site: Site, state: InstrumentState) -> tuple[Section, ...]:
    """Why a check begun now could not end well: known before two minutes' work."""
    found = () if state.retired else foresight.obstacles(site, state.id)
    if not found:
        return ()
    lines = tuple(f"{each[:1].upper()}{each[1:]}." for each in found)
    return (Lines(lines, title="What stands in the way of a check that passes", tone="warn"),)


def _set(site: Site, state: InstrumentState) -> Pairs:
    fields = state.fields
    profile = str(fields.get("profile", ""))
    known = site.journal.profile_now(profile)
    if known.in_force is not None:
        checked_by = f"{known.in_force.title}, revision {known.in_force.revision}"
    elif len(known.heads) > 1:
        checked_by = f"{profile}: revisions adopted apart; none counts until a lead chooses"
    else:
        checked_by = f"{profile}: NO REVISION IS IN FORCE"
    return Pairs(
        (
            ("type", str(fields.get("type", ""))),
            ("serial number", str(fields.get("serial", "")) or "none"),
            ("detector", str(fields.get("detector", "")) or "fixed"),
            ("cable", str(fields.get("cable", "")) or "none that comes off"),
            ("checked by", checked_by),
            ("measures", ", ".join(lookups.measures(site, state)) or "not known"),
        ),
        title="Its set",
    )


# --- all of them ---------------------------------------------------------------------------------------------------

_COLUMNS = (
    Column("label", least=8),
    Column("type", gives_way=3, least=8),
    Column("serial", gives_way=4, least=6),
    Column("", least=11),
    Column("why, or until", gives_way=1, least=16),
    Column("is", gives_way=2, least=8),
    Column("calibrated until", gives_way=5, least=10),
)
_FILTERS = (
    Filter("fitness", "fitness", tuple(Option(word, word) for word in ("ready", "needs check", "locked out"))),
    Filter(
        "whereabouts",
        "where it is",
        tuple(
            Option(each, each)
            for each in (
                "here",
                "handed out",
                "in storage",
                "at calibration",
                "lent",
                "borrowed",
                "missing",
                "transferred",
                "disposed",
            )
        ),
    ),
    Filter("retired", "off the list", (Option("no", "no"), Option("yes", "only those"))),
)


def instruments(site: Site, about: str, person: str, query: Query) -> Listing:
    """Instruments by label: how each stands, where it is, until when it is calibrated."""
    del about
    search = query.search.strip()
    wanted = {name: query.filters.get(name, "") for name in ("fitness", "whereabouts")}
    if query.filters.get("retired") == "yes" or any(wanted.values()):
        found, total = _narrowed(site, query, search, wanted)
    else:
        found, total = site.journal.instruments_found(search, limit=query.limit, offset=query.offset)
    may_not = people.may(site, person, "register") if person else ""
    return Listing(
        "instruments",
        "Instruments",
        _COLUMNS,
        tuple(_row(site, each) for each in found),
        total,
        query.offset,
        deeds=(Deed("A new instrument", "form", "instrument-add", may_not=may_not),),
        filters=_FILTERS,
        empty="No instrument fits this.",
    )


def _narrowed(site: Site, query: Query, search: str, wanted: dict[str, str]) -> tuple[tuple[InstrumentRow, ...], int]:
    """One page of what fits. Fitness goes with the clock, so no table holds it: rows are looked through in turn."""
    now = site.clock.now().utc
    rows = _retired(site, search) if query.filters.get("retired") == "yes" else _in_service(site, search)
    found: list[InstrumentRow] = []
    total = 0
    for row in rows:
        if wanted["fitness"] and fitness(row.standing, now).word != wanted["fitness"]:
            continue
        if wanted["whereabouts"] and row.whereabouts != wanted["whereabouts"]:
            continue
        if total >= query.offset and (query.limit < 0 or len(found) < query.limit):
            found.append(row)
        total += 1
    return tuple(found), total


def _in_service(site: Site, search: str) -> Iterator[InstrumentRow]:
    offset = 0
    while rows := site.journal.instruments_found(search, limit=PAGE, offset=offset)[0]:
        yield from rows
        offset += len(rows)


def _retired(site: Site, search: str) -> Iterator[InstrumentRow]:
    past = ("", "")
    line = search.casefold()
    while rows := site.journal.home_rows(limit=PAGE, past=past, retired=True):
        for row in rows:
            held = any(line in text.casefold() for text in (row.label, row.type, row.serial))
            if row.retired and held:
                yield row
        past = (rows[-1].label, rows[-1].id)


def _row(site: Site, row: InstrumentRow) -> Row:
    found = fitness(row.standing, site.clock.now().utc)
    word = "OFF THE LIST" if row.retired else WORDS[found.word]
    why = lookups.as_sentences([each.say or each.code for each in found.reasons]) or found.why
    if found.until is not None:
        why = f"until {local_time.said(site, found.until)}"
    where = f"with {naming.name(site, row.handed_to)}" if row.handed_to else row.whereabouts
    if row.contaminated:
        where = f"CONTAMINATED, {where}"
    tone: Tone = "quiet" if row.retired else "bad" if row.contaminated else TONES[found.word]
    return Row(
        (row.label, row.type, row.serial, word, "" if row.retired else why, where, row.calibration_due or "NONE"),
        Deed(row.label, "sheet", "instrument", row.id),
        tone=tone,
        key=row.id,
    )
