"""What waits for somebody at the site: instruments that are overdue, uses in doubt. Light: the first screen asks it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from procedures.site.doubt_counts import not_reviewed

if TYPE_CHECKING:
    from procedures.journal.rows import InstrumentRow
    from procedures.site.opening import Site


def waiting(site: Site) -> tuple[str, ...]:
    """What waits, a line each; nothing where nothing does. Counted in tables: it costs the same at any size."""
    late = count_overdue(site)
    doubted = not_reviewed(site)
    said = []
    if late:
        said.append(f"{late} {'instrument is' if late == 1 else 'instruments are'} overdue: handed out and not back")
    if doubted.entries:
        more = "" if doubted.uses in (None, doubted.entries) else f" ({doubted.entries:,} entries)"
        one = doubted.number == 1
        what = f"{'use' if one else 'uses'} in doubt {'waits' if one else 'wait'}"
        said.append(f"{doubted.number:,} {what} to be reviewed{more}")
    return tuple(said)


def overdue_rows(site: Site, *, page: int = 200) -> tuple[InstrumentRow, ...]:
    """The instruments that should have been back by now, whoever was due first first."""
    now = site.clock.now().utc
    rows: list[InstrumentRow] = []
    while True:
        found, _ = site.journal.out_now(limit=page, offset=len(rows))
        late = [each for each in found if each.back_by is not None and each.back_by < now]
        rows += late
        if len(late) < page:
            return tuple(rows)


def count_overdue(site: Site) -> int:
    """How many instruments should have been back by now."""
    return len(overdue_rows(site))
