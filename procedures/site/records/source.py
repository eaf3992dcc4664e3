"""Sheets and listings of check sources: what each is worth today, what speaks against it, and what relied on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from procedures.journal.states import InstrumentState
    from procedures.sheets import Section
    from procedures.site.opening import Site


def sections(site: Site, state: InstrumentState) -> tuple[Section, ...]:
    """What the sheet of an instrument says of its check sources."""
    del site, state
    return ()
