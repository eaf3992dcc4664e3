"""What is due of the check sources: leak tests and counts, by the site's warning time. Light: the first screen asks it.

An exemption that a lead claimed, and a source that is not the site's any more, leave nothing due.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import TYPE_CHECKING, Final

from procedures.readiness import zone_of
from procedures.site.source_facts import exempt
from procedures.site.source_trouble import GONE, count_due, leak_test_due, leaks, whole, withdrawn_why

if TYPE_CHECKING:
    from procedures.journal.rows import SourceRow
    from procedures.journal.states import SourceState
    from procedures.site.opening import Site

_TESTS: Final = 5
"""Leak tests of a source that are looked at: one that was made before another may have been typed in after it."""
_MOST: Final = 200
"""Sources that are named one by one."""


def state_of(site: Site, source: str) -> SourceState:
    """All of a source but the checkout it is out with: its scans, which come by the thousand, are not read."""
    return site.journal.source_unscanned(source)


def due_soon(site: Site, state: SourceState) -> tuple[str, ...]:
    """What is due of a source by the site's warning time, or was never done, in words."""
    if state.whereabouts in GONE:
        return ()
    settings, day = site.settings(), today(site)
    ahead = _ahead(settings, day)
    said = []
    for what, due, never in (
        ("leak test", leak_test_due(state), not state.leak_tested and not exempt(state.fields)),
        ("count", count_due(state, settings), state.counted_on is None),
    ):
        if never:
            said.append(f"no {what} is recorded")
        elif due is not None and due <= ahead:
            said.append(f"{what} {'was' if due < day else 'is'} due on {due.isoformat()}")
    return tuple(said)


def sources_due(site: Site) -> tuple[str, ...]:
    """What is due of all sources of the site, those that were withdrawn first, a line each."""
    settings = site.settings()
    ahead = _ahead(settings, today(site))
    rows = site.journal.sources(limit=-1)
    lines = [why for row in rows if (why := _withdrawn(site, row))]
    for row in rows:
        if _may_be_due(row, settings, ahead):
            lines += [f"source {row.label}: {line}" for line in due_soon(site, state_of(site, row.id))]
    more = len(lines) - _MOST
    return tuple(lines) if more <= 0 else (*lines[:_MOST], f"and {more} more: look at the list of check sources")


def withdrawn(site: Site) -> dict[str, str]:
    """Every source that was found missing, leaking, damaged or slipped: its id, and what was found in words."""
    return {row.id: why for row in site.journal.sources(limit=-1) if (why := _withdrawn(site, row))}


def _withdrawn(site: Site, row: SourceRow) -> str:
    if row.whereabouts == "missing" or row.condition in ("damaged", "slipped") or _may_leak(site, row):
        return withdrawn_why(state_of(site, row.id))
    return ""


def _may_leak(site: Site, row: SourceRow) -> bool:
    """Whether one of its newest leak tests found a leak: only then the source is read from its own records."""
    if row.leak_tested is None:
        return False
    tests = site.journal.about(row.id, kinds=("leak-tested",), limit=_TESTS)
    return any(leaks(each.body.get("result_bq")) for each in tests)


def _may_be_due(row: SourceRow, settings: Mapping[str, str], ahead: date) -> bool:
    """Whether the table leaves it open: only then the source is read from its own records, exemptions among them."""
    counted = count_due(row, settings)
    never = row.leak_tested is None or row.counted_on is None
    return never or (counted is not None and counted <= ahead) or (row.leak_due or "9999") <= ahead.isoformat()


def today(site: Site) -> date:
    """The day it is now in the site's zone."""
    return site.clock.now().utc.astimezone(zone_of(site.settings()["zone"])).date()


def _ahead(settings: Mapping[str, str], day: date) -> date:
    return day + timedelta(days=whole(settings, "leak_test_warning_days", "30"))
