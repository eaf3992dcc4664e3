"""Readiness is not lost by a key in haste, and the rows of an ending are gone through in their order."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from fake_site import UNTIL
from screen_text import screen_text

from checklist_tui.app import ChecklistApp
from checklist_tui.screens.home import HomeScreen
from checklist_tui.widgets.press import Press


async def settle(pilot: Any) -> None:
    for _ in range(4):
        await pilot.pause(0)


def ready(site: Any) -> None:
    """The first instrument is ready, and here."""
    site.rows[0] = replace(site.rows[0], fitness="ready", until=UNTIL, why="")


@pytest.mark.parametrize("size", [(60, 20), (80, 24)], ids=str)
async def test_a_new_checkout_asks_before_it_ends_readiness(fake_site: Any, press: Any, size: tuple[int, int]) -> None:
    """It used to end at once what the night shift had checked; now Enter, pressed on, keeps it."""
    ready(fake_site)
    app = ChecklistApp(fake_site)
    async with app.run_test(size=size) as pilot:
        app.person = fake_site.people["p1"]
        for answer, begun in (("enter", 0), ("escape", 0), ("up", 1)):
            await press(pilot, "'C-101'", "enter")
            await settle(pilot)
            assert "▸Hand it out" in screen_text(app)
            await press(pilot, "up", "enter")
            await settle(pilot)
            told = " ".join(screen_text(app).split())
            assert "C-101 is ready until" in told
            assert "A new checkout ends that." in told
            await press(pilot, answer, *(["enter"] if answer == "up" else []))
            await settle(pilot)
            assert len(fake_site.desk.runs) == begun
            app.to_home()
            await settle(pilot)


async def test_escape_goes_back_from_an_instrument(fake_site: Any, press: Any) -> None:
    """As from a sheet; the menu has a key of its own, and opens over it."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "'C-101'", "enter", "f12")
        await settle(pilot)
        assert "What do you want to do?" in screen_text(app)
        await press(pilot, "escape", "escape")
        await settle(pilot)
        assert isinstance(app.screen, HomeScreen)


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)], ids=str)
async def test_the_rows_of_an_ending_in_their_order(fake_site: Any, press: Any, size: tuple[int, int]) -> None:
    """The tag of what is locked out must not be jumped over: down reaches it, then the rest, and up comes back."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=size) as pilot:
        app.person = fake_site.people["p1"]
        fake_site.desk.start("i1", "p1")
        fake_site.desk._end(fake_site.desk.runs["checkout-i1"], "locked out")
        app.show_ending(fake_site.desk.view("checkout-i1"))
        await settle(pilot)
        seen = []
        for key in [*["down"] * 30, *["up"] * 3]:
            await press(pilot, key)
            await settle(pilot)
            if isinstance(app.focused, Press) and app.focused.value not in seen[-1:]:
                seen.append(app.focused.value)
        assert seen == ["tag", "doubt", "read", "doubt", "tag"]


async def test_what_was_handed_out_is_not_offered_again(fake_site: Any, press: Any) -> None:
    """Back at the ending after handing it out, the one thing left is to leave."""
    ready(fake_site)
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = fake_site.people["p1"]
        fake_site.desk.start("i1", "p1")
        fake_site.desk._end(fake_site.desk.runs["checkout-i1"], "fit for use")
        app.show_ending(fake_site.desk.view("checkout-i1"))
        await settle(pilot)
        assert "Hand it out" in screen_text(app)
        await press(pilot, "f4")
        await settle(pilot)
        fake_site.rows[0] = replace(fake_site.rows[0], whereabouts="handed out", holder="Ben")
        await press(pilot, "escape")
        await settle(pilot)
        assert "Hand it out" not in screen_text(app)
        assert "▸I have read it" in screen_text(app)


async def test_a_long_button_is_read_whole(fake_site: Any) -> None:
    """What a button does must not end at the edge of a small terminal."""
    from checklist_tui.screens.confirm import ConfirmScreen

    words = "Yes, strike this lockout: it was entered in error, and the instrument needs a new checkout"
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        app.push_screen(ConfirmScreen("Sure?", words))
        await settle(pilot)
        assert words in " ".join(screen_text(app).replace("▸", " ").split())
