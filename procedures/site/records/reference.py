"""A reference reading as a sheet, and the references of an instrument as sections of the instrument's own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from procedures.sheets import Section

if TYPE_CHECKING:
    from procedures.journal.states import InstrumentState
    from procedures.site.opening import Site


def sections(site: Site, state: InstrumentState) -> tuple[Section, ...]:
    """What the instrument's sheet says of its reference readings."""
    del site, state
    return ()
