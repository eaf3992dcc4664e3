"""How many uses are in doubt: one use may stand there for several failures, and is one use. Light: home asks it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from procedures.journal.rows import DoubtRow
    from procedures.site.opening import Site

MOST: Final = 2_000
"""Entries that are looked through for the uses behind them. Of more only the entries are said: they are counted."""


@dataclass(frozen=True, slots=True)
class InDoubt:
    """`uses` in doubt, and `entries`: one for each failure that puts a use in doubt. None: too many to tell apart."""

    uses: int | None
    entries: int

    @property
    def number(self) -> int:
        """What there is to look into: uses, or entries where those are too many to tell apart."""
        return self.entries if self.uses is None else self.uses

    @property
    def words(self) -> str:
        """Such as "1 use", or "2 uses, 5 entries" where a use is in doubt for several reasons."""
        entries = f"{self.entries:,} {'entry' if self.entries == 1 else 'entries'}"
        if self.uses is None:
            return entries
        uses = f"{self.uses:,} {'use' if self.uses == 1 else 'uses'}"
        return uses if self.uses == self.entries else f"{uses}, {entries}"


def counted(rows: Iterable[DoubtRow]) -> InDoubt:
    """How many uses these entries are about."""
    found = [row.use for row in rows]
    return InDoubt(len(set(found)), len(found))


def not_reviewed(site: Site, instrument: str = "") -> InDoubt:
    """What nobody has looked into yet, of the whole site or of one instrument."""
    rows, total = site.journal.doubts_open(instrument=instrument, limit=MOST)
    return counted(rows) if total <= len(rows) else InDoubt(None, total)
