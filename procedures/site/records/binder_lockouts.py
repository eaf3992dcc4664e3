"""What the inspection binder says of lockouts: which stood in a range of days, and for how long."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Final

from procedures.sheets import Column, Deed, Grid, Row, Section
from procedures.site.found_words import ENDING_TONES
from procedures.site.records.binder_common import recorded
from procedures.site.records.lockout import since as since_when
from procedures.site.records.lockout import since_said, struck_why, why
from procedures.site.records.telling import who
from procedures.site.site_days import SiteDays

if TYPE_CHECKING:
    from procedures.journal.states import InstrumentState, Lockout
    from procedures.site.opening import Site

_LOCKOUTS: Final = (
    Column("instrument", least=8),
    Column("locked out", least=16),
    Column("by", gives_way=2),
    Column("why", least=16),
    Column("tag", gives_way=4),
    Column("cleared", least=16, gives_way=1),
    Column("back in service", least=16),
    Column("time out of service", least=10),
)


def lockouts(site: Site, days: SiteDays, first: date, last: date) -> Iterator[Section]:
    """Every lockout that stood at some time in these days, and the clearings and repairs of these days."""
    since, until = days.span(first, last)
    found: list[tuple[Lockout, InstrumentState]] = []
    for instrument in site.journal.locked_between(since, until):
        state = site.journal.instrument_now(instrument)
        for each in state.lockouts:
            ended = _closed_at(state, each)
            if each.when < until and (ended is None or ended >= since):
                found.append((each, state))
    found.sort(key=lambda pair: pair[0].when, reverse=True)
    now = site.clock.now().utc
    rows = tuple(_lockout(site, days, each, state, now) for each, state in found)
    yield Grid(_LOCKOUTS, rows, title=f"Lockouts that stood in these days: {len(rows)}")
    yield from recorded(site, days, first, last, ("cleared", "struck", "repaired"), "Clearings and repairs")


def _closed_at(state: InstrumentState, lockout: Lockout) -> datetime | None:
    """When the check that closed a lockout ended; None while it stands."""
    return next((each.when for each in state.passes if each.checkout == lockout.closed_by), None)


def _lockout(site: Site, days: SiteDays, each: Lockout, state: InstrumentState, now: datetime) -> Row:
    ended = _closed_at(state, each)
    clearing = site.journal.by_hash(each.clearings[-1]) if each.clearings else None
    cleared = f"{days.written(clearing.utc)} {who(site, clearing.person)}" if clearing is not None else ""
    struck = struck_why(site, each.id)
    return Row(
        (
            str(state.fields.get("label", "")),
            since_said(site, each),
            who(site, each.by),
            f"STRUCK ({struck}) {why([each])}" if struck else why([each]),
            each.tag,
            cleared,
            days.written(ended) if ended is not None else "STILL OUT OF SERVICE",
            _length((ended or now) - since_when(site, each)) + ("" if ended is not None else " so far"),
        ),
        Deed("Open the lockouts", "sheet", "lockout", state.id),
        tone="" if ended is not None else ENDING_TONES["locked out"],
        key=each.id,
    )


def _length(time: timedelta) -> str:
    minutes = max(0, int(time.total_seconds() // 60))
    days, rest = divmod(minutes, 24 * 60)
    return f"{days} d {rest // 60} h" if days else f"{rest // 60} h {rest % 60} min"
