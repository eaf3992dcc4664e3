"""The list of check sources: what each holds, where it is, whether it may be used, and what is due."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from procedures.asks import Option
from procedures.sheets import Column, Deed, Filter, Listing, Query, Row, Tone
from procedures.site import people
from procedures.site.source_due import due_soon, state_of
from procedures.site.source_facts import composition_words, exempt
from procedures.site.source_trouble import count_due, leak_test_due, source_trouble

if TYPE_CHECKING:
    from procedures.journal.states import SourceState
    from procedures.site.opening import Site

_USABLE: Final = Filter(
    "usable",
    "which",
    (Option("yes", "may be used"), Option("no", "may not be used"), Option("due", "something is due")),
)


def sources(site: Site, _about: str, person: str, query: Query) -> Listing:
    """Sources in use by label: what each holds, where it is, whether it may be used, and what is due."""
    wanted = query.filters.get("usable", "")
    rows, total = _page(site, query) if wanted not in ("yes", "no", "due") else _narrowed(site, query, wanted)
    may_not = people.may(site, person, "register") if person else ""
    return Listing(
        "sources",
        "Check sources",
        (
            Column("source", least=8),
            Column("holds", least=8),
            Column("where", gives_way=2),
            Column("leak test by", gives_way=3, least=10),
            Column("count by", gives_way=4, least=10),
            Column("state", gives_way=1, least=16),
        ),
        rows,
        total,
        query.offset,
        deeds=(
            Deed("Count the sources", "form", "source-count"),
            Deed("Take a source in", "form", "source-add", may_not=may_not),
        ),
        filters=(_USABLE,),
        empty="No source fits this." if query.search or wanted else "No source is in the inventory.",
    )


def _page(site: Site, query: Query) -> tuple[tuple[Row, ...], int]:
    found, total = site.journal.sources_found(query.search.strip(), limit=query.limit, offset=query.offset)
    return tuple(_row(site, state_of(site, each.id))[0] for each in found), total


def _narrowed(site: Site, query: Query, wanted: str) -> tuple[tuple[Row, ...], int]:
    """One page of the sources that are usable, not usable, or due: that is known of each only after looking at it."""
    rows: list[Row] = []
    total = offset = 0
    while True:
        found, _ = site.journal.sources_found(query.search.strip(), limit=200, offset=offset)
        for each in found:
            row, states = _row(site, state_of(site, each.id))
            if wanted in states:
                if query.offset <= total < query.offset + query.limit:
                    rows.append(row)
                total += 1
        offset += 200
        if len(found) < 200:
            return tuple(rows), total


def _row(site: Site, state: SourceState) -> tuple[Row, frozenset[str]]:
    settings = site.settings()
    trouble = source_trouble(state, site.clock.now().utc, settings)
    due = due_soon(site, state)
    said = trouble or "; ".join(due) or "may be used"
    tested, counted = leak_test_due(state), count_due(state, settings)
    cells = (
        str(state.fields.get("label", "")),
        composition_words(state.fields),
        f"{state.whereabouts}{f', {state.where}' if state.where else ''}",
        tested.isoformat() if tested else "not tested" if not exempt(state.fields) else "not needed",
        counted.isoformat() if counted else "never counted",
        said,
    )
    tone: Tone = "bad" if trouble else "warn" if due else ""
    states = {"no" if trouble else "yes", *(("due",) if due else ())}
    return Row(cells, Deed("Open the source", "sheet", "source", state.id), tone, state.id), frozenset(states)
