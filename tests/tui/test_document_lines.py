"""A sheet as lines: its titles, names and values are read whole at any width a terminal may have."""

from __future__ import annotations

import pytest

from checklist_tui.widgets.document import sheet_page
from procedures.sheets import Column, Grid, Lines, Pairs, Row, Sheet

LONG = "CLEARED, waits for its check: zero-off and desiccant-spent and response-out, all of them"
SHEET = Sheet(
    "any",
    "any",
    (
        Lines(("said",), LONG),
        Pairs(((f"{LONG} as a name", f"{LONG} as a value"), ("short", "")), LONG),
        Grid((Column("a", least=10), Column("b", least=10)), (Row((f"{LONG} left", f"{LONG} right")),), LONG),
    ),
)


@pytest.mark.parametrize("width", [57, 77, 117])
def test_no_word_of_a_sheet_is_lost(width: int) -> None:
    """What was cut at the edge could be read nowhere."""
    lines = [each.text.plain for each in sheet_page(SHEET, width).lines]
    assert all(len(each) <= width for each in lines)
    assert not any("…" in each for each in lines)
    told = " ".join(lines).split()
    wanted = [word for text in (LONG, LONG, LONG, LONG, LONG, LONG, LONG) for word in text.split()]
    assert sorted(wanted) == sorted(word for word in told if word in set(LONG.split()))
