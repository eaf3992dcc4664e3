"""What the parts of the inspection binder share: reading a list page by page, and records as a table."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from typing import TYPE_CHECKING, Final, TypeVar

from procedures.sheets import Column, Grid, Lines, Row, Section
from procedures.site.records.day import happened
from procedures.site.records.telling import subject, told, who
from procedures.site.site_days import SiteDays

if TYPE_CHECKING:
    from procedures.site.opening import Site

T = TypeVar("T")

PAGE: Final = 500
MOST: Final = 20_000
"""Rows of one table. What is more is counted and said: such a range is better printed in parts."""

_RECORDS: Final = (
    Column("when", least=16),
    Column("about", least=8),
    Column("what", least=12),
    Column("said", least=16),
    Column("by", gives_way=1),
)


def every(page: Callable[[int, int], tuple[tuple[T, ...], int]]) -> Iterator[T]:
    """Everything of a list that is read page by page."""
    offset = 0
    while True:
        found, total = page(PAGE, offset)
        yield from found
        offset += len(found)
        if not found or offset >= total:
            return


def recorded(
    site: Site, days: SiteDays, first: date, last: date, kinds: tuple[str, ...], title: str = ""
) -> Iterator[Section]:
    """Records of these kinds of these days, newest first."""
    found, total = happened(site, kinds, days, first, last, MOST)
    rows = []
    for event in found:
        said, (_, label) = told(site, event), subject(site, event)
        cells = (days.written(event.utc), label, said.what, said.say, who(site, event.person))
        rows.append(Row(cells, said.opens, said.tone, event.hash))
    if total > len(rows):
        yield Lines((f"The last {len(rows)} of {total} stand here.",), tone="warn")
    yield Grid(_RECORDS, tuple(rows), title=f"{title}: {total}" if title else f"Records: {total}")
