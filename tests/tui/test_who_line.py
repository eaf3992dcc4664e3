"""Whoever works here stands beside every title, whatever its length and however narrow the terminal is."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from screen_text import screen_text
from textual.content import Content

from checklist_tui.app import ChecklistApp
from checklist_tui.widgets.who import NOBODY, titled
from procedures.sheets import Deed
from procedures.site.views import PersonView

SOMEBODY = PersonView("p1", "N-001", "Runa Feldmire", "RF", ("lead",))


@given(st.text("abc xyz", min_size=1, max_size=80), st.integers(20, 120))
def test_the_person_is_in_sight_and_the_title_whole(title: str, width: int) -> None:
    """A long title must not push the person off the screen, and the person must not cut the title."""
    lines = titled(Content(title), SOMEBODY, width).plain.split("\n")
    assert lines[0].endswith(("Runa Feldmire", "RF"))
    assert len(lines[0]) <= width
    assert title in "\n".join(lines)


@pytest.mark.parametrize("size", [(60, 20), (80, 24)], ids=str)
async def test_every_page_names_the_person(fake_site: Any, size: tuple[int, int]) -> None:
    """What is done on a page is recorded under this name, so it is seen there; nobody is said to be nobody."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=size) as pilot:
        for person, words in ((None, NOBODY), (fake_site.people["p1"], fake_site.people["p1"].initials)):
            app.person = person
            for goes, name in (("sheet", "instrument"), ("listing", "instruments")):
                app.go(Deed("a page", goes, name))  # type: ignore[arg-type]
                for _ in range(4):
                    await pilot.pause(0)
                head = "\n".join(screen_text(app).splitlines()[:4])
                assert words in head or (person is not None and person.name in head), head
