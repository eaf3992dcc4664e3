"""Sheets and listings: everything on them comes into sight, what is dimmed says why, what opens opens."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from screen_text import assert_kept, screen_text
from textual.app import App, ComposeResult
from textual.content import Content

from checklist_tui.app import ChecklistApp
from checklist_tui.screens.home import HomeScreen
from checklist_tui.screens.listing import ListingScreen
from checklist_tui.screens.sheet import SheetScreen
from checklist_tui.widgets.reader import Page, PageMaker, Reader
from procedures.sheets import Deed

SIZES = ((60, 20), (80, 24), (120, 40))
NO = "only the site lead may, and you are a technician"


async def settle(pilot: Any) -> None:
    """A list that has less room asks for another page, and that may take room again."""
    for _ in range(5):
        await pilot.pause(0)


async def opened(app: ChecklistApp, pilot: Any, deed: Deed) -> str:
    """What `deed` opens, seen by the first person."""
    app.person = app.use_cases.people["p1"]  # type: ignore[attr-defined]
    app.go(deed)
    await settle(pilot)
    return screen_text(app)


def sheet(name: str = "instrument") -> Deed:
    return Deed("a sheet", "sheet", name, "i1")


def marked(app: ChecklistApp) -> str:
    """The line that is marked, from its first word on."""
    lines = [line for line in screen_text(app).splitlines() if line.startswith("▸")]
    assert len(lines) == 1, screen_text(app)
    return lines[0].lstrip("▸ ■!✓")


LIST = Deed("a list", "listing", "instruments")


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_page_screens(fake_site: Any, press: Any, size: tuple[int, int]) -> None:
    """Sheet, its plot, what can be done, a listing and how it is narrowed look as they were approved to look."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=size) as pilot:
        await opened(app, pilot, sheet())
        assert_kept(app, "sheet")
        # The plot as a page has it, wherever the page ends on this screen.
        await press(pilot, *["down"] * 3)
        while "2026-03-09" not in screen_text(app):
            await press(pilot, "down")
        assert_kept(app, "sheet-plot")
        await press(pilot, "f4", "3")
        await settle(pilot)
        assert_kept(app, "deeds")
        await press(pilot, "escape")
        await opened(app, pilot, sheet("short"))
        assert_kept(app, "sheet-few-deeds")
        await opened(app, pilot, LIST)
        assert_kept(app, "listing")
        await press(pilot, "f7")
        await settle(pilot)
        assert_kept(app, "narrow")


@pytest.mark.parametrize("key", ["down", "pagedown"])
async def test_going_down_shows_every_line(fake_site: Any, press: Any, key: str) -> None:
    """Nothing scrolls out of reach and nothing is skipped, by arrows as by pages; the way back leads to the top."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        first = await opened(app, pilot, sheet())
        reader = app.screen.query_one(Reader)
        wanted = {each.text.plain.rstrip() for each in reader._page.lines if each.text.plain.strip()}
        seen = set()
        for _ in range(len(reader._page.lines)):
            seen |= {line.rstrip(" ▁▂▃▄▅▆▇").lstrip("▸ ") for line in screen_text(app).splitlines()}
            await press(pilot, key)
        assert {each.strip().lstrip("▸ ").rstrip(" ▁▂▃▄▅▆▇") for each in wanted} <= seen
        await press(pilot, "home")
        await settle(pilot)
        assert screen_text(app) == first


async def test_what_may_not_be_done_says_why(fake_site: Any, press: Any) -> None:
    """It is there, dimmed, can be reached, and Enter does nothing but say the reason."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        assert NO in " ".join((await opened(app, pilot, sheet("short"))).split())
        here = app.screen
        await press(pilot, "3")
        await settle(pilot)
        assert "▸  3  Retire it" in screen_text(app)
        await press(pilot, "enter")
        await settle(pilot)
        assert f"! Not now: {NO}" in screen_text(app)
        assert app.screen is here
        await press(pilot, "f4", "3", "enter")
        await settle(pilot)
        assert f"! Not now: {NO}" in screen_text(app)
        await press(pilot, "escape")
        app.person = fake_site.people["p2"]
        app.screen.reload()  # type: ignore[attr-defined]
        await settle(pilot)
        assert NO not in screen_text(app), "another person may"


async def test_a_number_marks_and_enter_opens(fake_site: Any, press: Any) -> None:
    """Two steps, as everywhere. What cannot be opened says so where one is."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, sheet())
        here = app.screen
        await press(pilot, "7")
        await settle(pilot)
        assert "▸  7  Something that is gone" in screen_text(app)
        assert app.screen is here
        await press(pilot, "enter")
        await settle(pilot)
        assert "there is no such thing any more" in screen_text(app)
        assert app.screen is here
        await press(pilot, "5", "enter")
        await settle(pilot)
        assert isinstance(app.screen, ListingScreen)
        await press(pilot, "escape")
        assert app.screen is here
        await press(pilot, "1", "enter")
        await settle(pilot)
        assert app.front == "checkout-i1"


async def test_a_row_opens_and_a_mark_out_of_sight_does_not(fake_site: Any, press: Any) -> None:
    """Enter opens what is seen to be marked, and nothing else."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        await opened(app, pilot, sheet())
        here = app.screen
        await press(pilot, "down", "down", *["down"] * 20)
        assert "▸" not in screen_text(app)
        await press(pilot, "enter")
        assert app.screen is here
        await press(pilot, *["up"] * 30, "enter")
        await settle(pilot)
        assert isinstance(app.screen, SheetScreen)
        assert (app.screen.deed.name, app.screen.deed.about) == ("source", "s1")


async def test_searching_and_scanning_a_listing(fake_site: Any, press: Any) -> None:
    """Typing searches; a label opens what carries it; of several that fit one is chosen by the arrows."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, LIST)
        await press(pilot, "'N-017'", "enter")
        await settle(pilot)
        assert isinstance(app.screen, SheetScreen)
        await press(pilot, "escape")
        await settle(pilot)
        assert "of 45" in screen_text(app), "the field is empty again"
        await press(pilot, "'N-00'", "enter")
        await settle(pilot)
        assert isinstance(app.screen, ListingScreen)
        assert "N-009" in screen_text(app)
        assert "N-010" not in screen_text(app)
        await press(pilot, "down", "enter")
        await settle(pilot)
        assert app.screen.deed.about == "n1"  # type: ignore[attr-defined]
        await press(pilot, "escape", "ctrl+u", "'zzz'", "enter")
        await settle(pilot)
        assert "! No instrument fits this." in screen_text(app)


async def test_pages_of_a_listing(fake_site: Any, press: Any) -> None:
    """Arrows go over the edge of a page, and every row is on one page."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        text = await opened(app, pilot, LIST)
        seen = []
        for _ in range(8):
            seen += [word for word in text.split() if word.startswith("N-")]
            await press(pilot, "pagedown")
            await settle(pilot)
            if screen_text(app) == text:
                break
            text = screen_text(app)
        assert seen == [f"N-{at:03}" for at in range(45)]
        at_top = next(word for word in text.split() if word.startswith("N-"))
        assert marked(app).startswith(at_top), text
        await press(pilot, "up")
        await settle(pilot)
        assert marked(app).startswith(f"N-{int(at_top[2:]) - 1:03}")


async def test_narrowing_a_listing(fake_site: Any, press: Any) -> None:
    """What it is narrowed by stands above it, and can be opened again."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, LIST)
        await press(pilot, "f7")
        await settle(pilot)
        await press(pilot, "2", "enter", "enter", "enter")
        await settle(pilot)
        text = screen_text(app)
        assert "only month due: March  (F7)" in text
        assert {word for word in text.split() if word.startswith("2027-")} == {"2027-03-01"}
        await press(pilot, "f7")
        await settle(pilot)
        assert "(x) 2 March" in screen_text(app)
        await press(pilot, "1", "enter", "enter", "enter")
        await settle(pilot)
        assert "of 45" in screen_text(app)


async def test_writing_it_to_a_file(fake_site: Any, press: Any) -> None:
    """What is on the screen, search included; the full path is told."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, LIST)
        await press(pilot, "'N-00'", "enter", "f6", "2", "enter")
        await settle(pilot)
        assert fake_site.done == [("report", "csv", "instruments", "", "N-00", "p1")]
        assert str(fake_site.folder / "reports" / "instruments.csv") in "".join(
            line.strip() for line in screen_text(app).splitlines()
        )


async def test_ways_from_home_instrument_and_ending(fake_site: Any, press: Any) -> None:
    """F3 to the records, F4 to everything about an instrument, and what an ending leads to."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        await settle(pilot)
        await press(pilot, "f3")
        await settle(pilot)
        assert "Records" in screen_text(app)
        await press(pilot, "enter")
        await settle(pilot)
        assert isinstance(app.screen, ListingScreen)
        await press(pilot, "f3", "'C-101'", "enter", "f4")
        await settle(pilot)
        assert (app.screen.deed.name, app.screen.deed.about) == ("instrument", "i1")  # type: ignore[attr-defined]
        app.person = fake_site.people["p1"]
        for how, leads in (("fit for use", ["hand-out"]), ("locked out", ["tag", "doubt"]), ("not checked", [])):
            app.begin_checkout("i1")
            fake_site.desk._end(fake_site.desk.runs["checkout-i1"], how)
            app.lookout.take(fake_site.desk.view("checkout-i1"))
            app.look_at_waits()
            await settle(pilot)
            ending = app.screen
            assert [each.name for each in ending._next] == leads  # type: ignore[attr-defined]
            await press(pilot, "f4")
            await settle(pilot)
            if len(leads) == 1:
                assert app.screen.deed.name == leads[0]  # type: ignore[attr-defined]
            elif leads:
                await press(pilot, "2", "enter")
                await settle(pilot)
                assert app.screen.deed.name == leads[1]  # type: ignore[attr-defined]
            else:
                assert app.screen is ending
            app.to_home()
            await settle(pilot)


@pytest.mark.parametrize(
    ("row", "says", "form"),
    [
        ({"fitness": "ready"}, "Hand it out", "hand-out"),
        ({"whereabouts": "handed out", "holder": "Ben"}, "Take it back", "take-back"),
        ({}, "", ""),
    ],
    ids=["ready", "out", "neither"],
)
async def test_handing_out_and_taking_back(
    fake_site: Any, press: Any, row: dict[str, str], says: str, form: str
) -> None:
    """Only what is ready is handed out, only what is out is taken back; the button is there only then."""
    fake_site.rows[0] = replace(fake_site.rows[0], **row)
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        app.person = fake_site.people["p1"]
        await press(pilot, "'C-101'", "enter")
        await settle(pilot)
        text = screen_text(app)
        assert "Everything about it" in text
        assert [each for each in ("Hand it out", "Take it back") if each in text] == ([says] if says else [])
        await press(pilot, *([] if form else ["down"]), "enter")
        await settle(pilot)
        assert app.screen.deed.name == (form or "instrument")  # type: ignore[attr-defined]


async def test_the_last_exchange_stands_with_what_is_due(fake_site: Any, press: Any) -> None:
    """Only where there are other laptops at all."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "f4")
        await settle(pilot)
        assert "Other laptops" not in screen_text(app)
        await press(pilot, "escape")
        fake_site.exchanged = ("laptop 1: its records up to 2026-03-11 18:02 are here",)
        await press(pilot, "f4")
        await settle(pilot)
        assert "laptop 1: its records up to 2026-03-11 18:02 are here" in screen_text(app)


async def test_a_badge_or_a_label_on_a_sheet(fake_site: Any, press: Any) -> None:
    """A label opens what carries it; a badge says who works here, and what was dimmed is looked at again."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, sheet("short"))
        app.screen._scanned("BM")  # type: ignore[attr-defined]
        await settle(pilot)
        assert app.person == fake_site.people["p2"]
        assert NO not in screen_text(app)
        app.screen._scanned("C-102")  # type: ignore[attr-defined]
        await settle(pilot)
        assert (app.screen.deed.name, app.screen.deed.about) == ("instrument", "i2")  # type: ignore[attr-defined]
        app.screen._scanned("nothing-of-ours")  # type: ignore[attr-defined]
        await settle(pilot)
        assert "“nothing-of-ours” was scanned" in screen_text(app)
        await press(pilot, "f3")
        assert isinstance(app.screen, HomeScreen)


@pytest.mark.parametrize("prefix", ["[/]", "[@click=x]", "$a\\[b]"])
async def test_words_of_pages_are_data(tmp_path: Any, press: Any, prefix: str) -> None:
    """Titles, cells, headings, names in a plot, deeds and their reasons: never markup, never a crash."""
    from fake_site import FakeSite

    app = ChecklistApp(FakeSite(tmp_path, prefix=prefix))
    async with app.run_test(size=(120, 40)) as pilot:
        text = await opened(app, pilot, sheet("short"))
        for words in ("C-101", "Needs check", "Calibration is due", "serial", "S-1", "disc source", "It was never"):
            assert f"{prefix}{words}" in text
        assert NO in text
        await press(pilot, "pagedown", "pagedown")
        await settle(pilot)
        assert f"{prefix}calibrated" in screen_text(app)
        await press(pilot, "f4")
        await settle(pilot)
        assert f"{prefix}Retire it" in screen_text(app)
        await press(pilot, "escape")
        text = await opened(app, pilot, LIST)
        assert f"{prefix}N-000" in text
        await press(pilot, "f7")
        await settle(pilot)
        assert f"{prefix}March" in screen_text(app)


async def test_a_thousand_lines_are_held_and_not_drawn() -> None:
    """A long page costs what fits on the screen."""
    drawn = []

    class Counting(Reader):
        def render_line(self, y: int) -> Any:
            drawn.append(y)
            return super().render_line(y)

    def make(width: int) -> Page:
        page = PageMaker(width)
        for at in range(5000):
            page.entry(Deed(str(at), "sheet", "s", str(at)), Content(f"line {at}"))
        return page.page()

    class Alone(App[None]):
        def compose(self) -> ComposeResult:
            yield Counting(make)

    app = Alone()
    async with app.run_test(size=(60, 20)) as pilot:
        reader = app.query_one(Reader)
        await pilot.pause()
        reader.action_end(1)
        await pilot.pause()
        assert reader.marked is not None
        assert reader.marked.about == "4999"
        assert len(drawn) < 200
