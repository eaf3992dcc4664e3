"""Uses in doubt: every use since the last good check of the kind that has now failed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from procedures.sheets import Section

if TYPE_CHECKING:
    from procedures.journal.states import InstrumentState
    from procedures.site.opening import Site


def sections(_site: Site, _state: InstrumentState) -> tuple[Section, ...]:
    """What an instrument's sheet shows of this."""
    return ()
