"""An empty person is nobody: recorded as such, never refused as a fault of the program."""

from __future__ import annotations

from pathlib import Path

from desk_walk import START, id_of, small_site

from procedures.clock import ManualClock
from procedures.site import inventory


def test_an_empty_person_is_nobody(tmp_path: Path) -> None:
    """A front end with nobody signed in hands over an empty text."""
    with small_site(tmp_path, ManualClock(START)) as site:
        instrument = id_of(site, "C-1")
        inventory.contamination(site, instrument, found=True, say="smear above the limit", person="")
        (event,) = site.journal.about(instrument, kinds=("contamination",))
        assert event.person is None
