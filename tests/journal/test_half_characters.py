"""Half a character (a lone surrogate), as a damaged scan or another program may hand over: nothing is called so."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from procedures.journal.store import Journal
from procedures.trouble import Trouble

HALF = "C-1\ud800"

ASKED: dict[str, Callable[[Journal], object]] = {
    "about": lambda journal: journal.about(HALF),
    "about, of a kind": lambda journal: journal.about("C-1", kinds=(HALF,)),
    "checkout_events": lambda journal: journal.checkout_events(HALF),
    "last_about": lambda journal: journal.last_about(HALF),
    "instrument_now": lambda journal: journal.instrument_now(HALF),
    "source_now": lambda journal: journal.source_now(HALF),
    "thing_now": lambda journal: journal.thing_now(HALF),
    "profile_now": lambda journal: journal.profile_now(HALF),
    "checkout_now": lambda journal: journal.checkout_now(HALF),
    "uses_in_doubt": lambda journal: journal.uses_in_doubt(HALF),
    "instruments_found": lambda journal: journal.instruments_found(HALF, limit=5),
    "instrument_row": lambda journal: journal.instrument_row(HALF),
    "labelled": lambda journal: journal.labelled(HALF),
    "things": lambda journal: journal.things(HALF),
    "sources_found": lambda journal: journal.sources_found(HALF, limit=5),
    "people_found": lambda journal: journal.people_found(HALF, limit=5),
    "things_found": lambda journal: journal.things_found("jig", HALF, limit=5),
    "checkouts_found": lambda journal: journal.checkouts_found(search=HALF, limit=5),
    "doubts_open": lambda journal: journal.doubts_open(instrument=HALF, limit=5),
    "locked": lambda journal: journal.locked(search=HALF, limit=5),
    "happened": lambda journal: journal.happened((HALF,), limit=5),
}


@pytest.mark.parametrize("name", ASKED)
def test_no_question_about_half_a_character_crashes_or_speaks_of_damage(journal: Journal, name: str) -> None:
    """The text is at fault, and not the file that it was looked for in; the next question is answered as ever."""
    with pytest.raises(Trouble, match="half a character"):
        ASKED[name](journal)
    assert journal.last_about("nothing") == ""
