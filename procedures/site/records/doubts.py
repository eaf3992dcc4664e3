"""Uses in doubt: every use since the last good check of the kind that has now failed, and who looked into it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from procedures.asks import Option
from procedures.journal.states import InstrumentState
from procedures.sheets import Column, Deed, Filter, Grid, Lines, Listing, Pairs, Query, Row, Section, Sheet
from procedures.site import doubtful, local_time, naming
from procedures.site.doubt_counts import InDoubt, not_reviewed
from procedures.site.doubtful import Doubted, DoubtedUse
from procedures.site.entries import thing

if TYPE_CHECKING:
    from procedures.journal.rows import DoubtRow
    from procedures.site.opening import Site

WHAT_TO_DO = (
    "A site lead looks at each use: what was measured, does it stand, is it surveyed again, who is told.",
    "The radiation safety officer decides about what was released, posted or entered on its word.",
)
_USES = (
    Column("used", least=16),
    Column("by", gives_way=2, least=11),
    Column("job", gives_way=1, least=16),
    Column("place", gives_way=3, least=8),
    Column("looked into", least=20),
)


def doubt(site: Site, about: str, person: str) -> Sheet:
    """The uses in doubt of an instrument, cause by cause, the newest first."""
    known = thing(site, about, "instrument")
    label = str(known.fields.get("label", ""))
    found = doubtful.doubted(site, about)
    may_not = doubtful.may_review(site, person) if person else ""
    sections: list[Section] = []
    for each in found:
        sections.append(_cause(site, each))
        rows = tuple(_use(site, about, each, use, may_not) for use in each.uses)
        sections.append(Grid(_USES, rows, title="Uses in doubt by this"))
        sections += [_notes(site, use) for use in each.uses if use.reviews]
    sections.append(Lines(WHAT_TO_DO, tone="quiet") if found else Lines(("No use of it is in doubt.",), tone="good"))
    open_now = [use.event for each in found for use in each.uses if not use.reviews]
    waiting = InDoubt(len(set(open_now)), len(open_now)).words
    return Sheet(
        "doubt",
        f"Uses in doubt of {label}",
        tuple(sections),
        about=about,
        line=f"{waiting} not looked into yet" if found else "",
        deeds=(*_first_waiting(about, found, may_not), Deed("Lockouts", "sheet", "lockout", about)),
    )


def _first_waiting(instrument: str, found: tuple[Doubted, ...], may_not: str) -> tuple[Deed, ...]:
    for each in found:
        for use in each.uses:
            if not use.reviews:
                about = f"{instrument},{each.cause},{use.event}"
                return (Deed("Look into the next use", "form", "review-use", about, may_not=may_not),)
    return ()


def _cause(site: Site, each: Doubted) -> Pairs:
    since = local_time.said(site, each.since) if each.since else "none is known: every use before is in doubt"
    if each.kind == "by hand":
        since = (
            local_time.said(site, each.since) if each.since else "no whole check is known: every use before is in doubt"
        )
    if each.kind == "unchecked":
        since = "none: it went out unchecked, and no complete check after it has passed without a failure"
    return Pairs(
        (
            ("what failed", each.what),
            ("found", f"{local_time.said(site, each.found_at)} by {naming.name(site, each.found_by)}"),
            ("last whole check" if each.kind == "by hand" else "last good check of that kind", since),
        ),
        title="Why uses are in doubt",
    )


def _use(site: Site, instrument: str, each: Doubted, use: DoubtedUse, may_not: str) -> Row:
    last = use.reviews[-1] if use.reviews else None
    # The day stands first: where the cell is cut, it is the name's end that goes. The time stands with the note.
    looked = f"{local_time.said(site, last.when)[:10]}, {naming.name(site, last.person)}" if last else "NOT YET"
    job = f"EMERGENCY USE: {use.job}" if use.emergency else use.job
    return Row(
        (local_time.said(site, use.when), naming.name(site, use.to), job, use.place, looked),
        Deed("Look into this use", "form", "review-use", f"{instrument},{each.cause},{use.event}", may_not=may_not),
        tone="quiet" if last else "warn",
        key=f"{each.cause},{use.event}",
    )


def _notes(site: Site, use: DoubtedUse) -> Pairs:
    rows = tuple(
        (f"{local_time.said(site, each.when)}, {naming.name(site, each.person)}", each.note) for each in use.reviews
    )
    return Pairs(rows, title=f"Looked into: {use.job}, {local_time.said(site, use.when)}")


def sections(site: Site, state: InstrumentState) -> tuple[Section, ...]:
    """What an instrument's sheet shows of uses in doubt: how many nobody has looked into yet."""
    found = not_reviewed(site, state.id)
    if not found.entries:
        return ()
    said = f"In doubt and not looked into yet: {found.words}."
    return (Lines((said,), title="Uses in doubt", tone="warn"),)


def doubts(site: Site, _about: str, person: str, query: Query) -> Listing:
    """Uses in doubt of the whole site: those that nobody has looked into, or all there ever were."""
    wanted = query.filters.get("which", "") or "open"
    waiting = not_reviewed(site)
    _, every = site.journal.doubts_all(limit=1)
    find = site.journal.doubts_all if wanted == "all" else site.journal.doubts_open
    found, total = find(instrument=_instrument(site, query.search), limit=query.limit, offset=query.offset)
    may_not = doubtful.may_review(site, person) if person else ""
    return Listing(
        name="doubts",
        title="Uses in doubt",
        columns=(
            Column("instrument", least=10),
            Column("used", least=16),
            Column("by", gives_way=2, least=11),
            Column("job", gives_way=1, least=16),
            Column("place", gives_way=4, least=8),
            Column("failed", gives_way=3, least=24),
            Column("looked into", least=11),
        ),
        rows=tuple(_row(site, each, may_not) for each in found),
        total=total,
        offset=query.offset,
        line=_line(waiting, every),
        filters=(Filter("which", "which", (Option("", "Not looked into yet"), Option("all", "All"))),),
        empty="No use is in doubt.",
    )


def _line(waiting: InDoubt, every: int) -> str:
    """How much waits; and that one use may stand in several rows, where one does."""
    several = "" if waiting.uses in (None, waiting.entries) else " A use stands once for each failure."
    looked = every - waiting.entries
    return (
        f"Not looked into yet: {waiting.words}. Looked into: {looked} {'entry' if looked == 1 else 'entries'}.{several}"
    )


def _instrument(site: Site, search: str) -> str:
    """The id of the instrument with this label; "" for no search, and an id of nothing where none fits."""
    line = search.strip()
    if not line:
        return ""
    return next((each.id for each in site.journal.labelled(line) if each.what == "instrument"), "none")


def _row(site: Site, row: DoubtRow, may_not: str) -> Row:
    named = {"unchecked": "went out unchecked", "by hand": "locked out by hand", "": "judged unfit"}
    failed = named.get(row.kind) or row.kind.replace("-", " ")
    about = f"{row.instrument},{row.cause},{row.use}"
    return Row(
        (
            row.label,
            local_time.said(site, row.used_at),
            row.to_name or "somebody unknown",
            row.job,
            row.place,
            f"{failed}, {local_time.said(site, row.found_at)}",
            "yes" if row.reviewed else "NOT YET",
        ),
        Deed(f"Uses in doubt of {row.label}", "sheet", "doubt", row.instrument)
        if row.reviewed
        else Deed("Look into this use", "form", "review-use", about, may_not=may_not),
        tone="quiet" if row.reviewed else "warn",
        key=f"{row.cause},{row.use}",
    )
