"""Who has which instrument, and who had it: the uses, those overdue first."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from procedures.asks import Option
from procedures.journal.doubts import when_used
from procedures.journal.envelope import Event
from procedures.journal.states import InstrumentState
from procedures.sheets import Column, Deed, Filter, Grid, Listing, Pairs, Query, Row, Section
from procedures.site import local_time, naming
from procedures.site.waiting import count_overdue

if TYPE_CHECKING:
    from procedures.journal.rows import InstrumentRow
    from procedures.site.opening import Site

KINDS = ("handed-out", "emergency-use")
LAST_USES = 5
COLUMNS = (
    Column("instrument", least=8),
    Column("with", least=10),
    Column("job", gives_way=2, least=12),
    Column("place", gives_way=3),
    Column("out since", gives_way=4, least=16),
    Column("back by", least=16),
    Column("", gives_way=1, least=8),
)


def uses(site: Site, _about: str, _person: str, query: Query) -> Listing:
    """Instruments that are out, overdue first; or every use there was, the newest first."""
    wanted = query.filters.get("which", "") or "out"
    late = count_overdue(site)
    if wanted == "all":
        events, total = site.journal.happened(KINDS, limit=query.limit, offset=query.offset)
        rows = tuple(_past(site, each) for each in events)
    else:
        limit = query.limit
        if wanted == "overdue":
            limit = max(0, late - query.offset) if query.limit < 0 else max(0, min(query.limit, late - query.offset))
        found, total = site.journal.out_now(limit=limit, offset=query.offset)
        rows = tuple(out_row(site, each) for each in found)
        total = late if wanted == "overdue" else total
    return Listing(
        name="uses",
        title="Instruments in use",
        columns=COLUMNS,
        rows=rows,
        total=total,
        offset=query.offset,
        line=f"{late} {'is' if late == 1 else 'are'} overdue." if late else "None is overdue.",
        deeds=(Deed("Overdue", "sheet", "overdue"),),
        filters=(
            Filter(
                "which",
                "which",
                (
                    Option("", "Out now, overdue first"),
                    Option("overdue", "Overdue only"),
                    Option("all", "Every use, newest first"),
                ),
            ),
        ),
        empty="Nothing is out." if wanted == "out" else "None.",
    )


def out_row(site: Site, row: InstrumentRow) -> Row:
    """An instrument that is out, as lists show it; Enter takes it back."""
    now = site.clock.now().utc
    state = site.journal.instrument_now(row.id)
    late = row.back_by is not None and row.back_by < now
    said = [f"OVERDUE {local_time.ago(row.back_by, now)}"] if late and row.back_by else []
    if row.emergency:
        said.append("EMERGENCY USE, unchecked")
    if row.standing.locked:
        said.append("LOCKED OUT: call it back")
    return Row(
        (
            row.label,
            naming.name(site, row.handed_to),
            state.handed.job if state.handed else "",
            row.where,
            local_time.said(site, row.handed_at) if row.handed_at else "",
            _or_not_said(site, row.back_by),
            ", ".join(said) or "out",
        ),
        Deed(f"Take {row.label} back", "form", "take-back", row.id),
        tone="bad" if row.standing.locked else "warn" if late or row.emergency else "",
        key=row.id,
    )


def _or_not_said(site: Site, moment: datetime | None) -> str:
    return local_time.said(site, moment) if moment else "not said"


def _past(site: Site, event: Event) -> Row:
    """One use that was recorded, whatever became of it."""
    instrument = next((each for each in event.about if each != event.body["to"]), event.about[0])
    back_by = event.body.get("back_by")
    return Row(
        (
            naming.label(site, instrument),
            naming.name(site, str(event.body["to"])),
            str(event.body["job"]),
            str(event.body["place"]),
            local_time.said(site, when_used(event)),
            _or_not_said(site, datetime.fromisoformat(back_by) if back_by else None),
            "EMERGENCY USE, unchecked" if event.kind == "emergency-use" else "handed out",
        ),
        Deed("History", "sheet", "history", instrument),
        tone="warn" if event.kind == "emergency-use" else "",
        key=event.hash,
    )


def sections(site: Site, state: InstrumentState) -> tuple[Section, ...]:
    """What an instrument's sheet shows of its uses: who has it now, and who had it last."""
    made: list[Section] = []
    out = state.handed
    if out is not None:
        rows = [
            ("with", naming.name(site, out.to)),
            ("for", out.job),
            ("at", out.place),
            ("since", local_time.said(site, out.when)),
            ("back by", _or_not_said(site, out.back_by)),
        ]
        if out.emergency:
            rows.append(("note", "Emergency use: it was not checked. In doubt until a check after the use has passed."))
        made.append(Pairs(tuple(rows), title="It is out"))
    last = site.journal.about(state.id, kinds=KINDS, limit=LAST_USES)
    if last:
        columns = tuple(each for each in COLUMNS if each.heading != "instrument")
        cells = [_past(site, each) for each in last]
        grid = tuple(Row(each.cells[1:], each.opens, each.tone, each.key) for each in cells)
        made.append(Grid(columns, grid, title="Last uses"))
    return tuple(made)
