"""The screens as text, at the sizes of a rugged laptop's corner, a plain terminal and a large window."""

from __future__ import annotations

from typing import Any

import pytest
from screen_text import assert_kept, screen_text

from checklist_tui.app import ChecklistApp

SIZES = ((60, 20), (80, 24), (120, 40))
ASKS = {0: "scan", 1: "choice", 2: "place", 3: "acknowledge", 4: "wait", 5: "hold", 6: "reading", 9: "date"}


async def at_ask(app: ChecklistApp, pilot: Any, at: int) -> None:
    """Moves the fake checkout to one of its asks and shows it."""
    site: Any = app.use_cases
    run = site.desk.runs["checkout-i1"]
    run.at, run.begun, run.remedy, run.result = at, None, False, None
    app.lookout.take(site.desk.view("checkout-i1"))
    app.look_at_waits()
    await pilot.pause()
    await pilot.pause()


async def kept(app: ChecklistApp, pilot: Any, name: str) -> None:
    """Compares once whatever the clock moves has been drawn: the app's own timer comes when it likes."""
    app.look_at_waits()
    await pilot.pause()
    assert_kept(app, name)


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_checkout_screens(fake_site: Any, press: Any, size: tuple[int, int]) -> None:
    """Every kind of ask, an echo, trouble and a remedy look as they were approved to look."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        await kept(app, pilot, "home")
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        await pilot.pause()
        for at, name in ASKS.items():
            await at_ask(app, pilot, at)
            await kept(app, pilot, name)
        await at_ask(app, pilot, 6)
        await press(pilot, "down", "down", "1", "enter")
        await kept(app, pilot, "reading-echo")
        await press(pilot, "x", "enter")
        await kept(app, pilot, "reading-trouble")
        run = fake_site.desk.runs["checkout-i1"]
        run.remedy = run.failed = True
        app.lookout.take(fake_site.desk.view("checkout-i1"))
        app.look_at_waits()
        await pilot.pause()
        await kept(app, pilot, "remedy")


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_ending_screens(fake_site: Any, press: Any, size: tuple[int, int]) -> None:
    """Each ending has its own word and symbol, its reasons and what to do now; numbers and menu are one key on."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=size) as pilot:
        app.person = fake_site.people["p1"]
        for how in ("fit for use", "locked out", "not checked", "abandoned"):
            app.begin_checkout("i1")
            fake_site.desk._end(fake_site.desk.runs["checkout-i1"], how)
            app.lookout.take(fake_site.desk.view("checkout-i1"))
            app.look_at_waits()
            await pilot.pause()
            await pilot.pause()
            await kept(app, pilot, f"ending-{how.replace(' ', '-')}")
        await press(pilot, "f2")
        await kept(app, pilot, "numbers")
        await press(pilot, "escape", "escape")
        await kept(app, pilot, "menu")


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_instruction_never_folds_away(fake_site: Any, size: tuple[int, int]) -> None:
    """Whatever else gives way, all of the instruction stands on the screen, trouble and calls included."""
    from procedures.trouble import Trouble

    app = ChecklistApp(fake_site)
    async with app.run_test(size=size) as pilot:
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        await pilot.pause()
        for at in range(12):
            await at_ask(app, pilot, at)
            app.show_trouble(Trouble("w " * 40, allowed="a " * 40, do="d " * 40))
            await pilot.pause()
            said = fake_site.asks(fake_site.row("i1").label)[at][1].say
            seen = " ".join(screen_text(app).split())
            assert said in seen
