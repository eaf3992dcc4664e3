"""Home and the instrument screen: which line is marked, when pages are turned, and what cannot be begun."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from fake_site import FakeSite
from screen_text import screen_text
from textual.app import App
from textual.events import Key

from checklist_tui.app import ChecklistApp
from checklist_tui.screens.home import HomeScreen
from checklist_tui.widgets.instrument_list import InstrumentList


def marked(app: ChecklistApp) -> str:
    """The label of the marked instrument, "" for none. What the screen shows and what F6, F7 are about are one."""
    front = app.screen.instrument_in_front()  # type: ignore[attr-defined]
    lines = [line for line in screen_text(app).splitlines() if line.startswith("▸")]
    assert len(lines) == (0 if front is None else 1)
    assert front is None or f" {front[1]} " in lines[0]
    return front[1] if front else ""


async def settle(pilot: Any) -> None:
    """A list that has less room asks for another page, and that may take room again."""
    for _ in range(6):
        await pilot.pause()


async def reread(app: ChecklistApp, pilot: Any) -> None:
    """The site read anew, as after a quarter of a minute."""
    app.screen.reload()  # type: ignore[attr-defined]
    await settle(pilot)


def room(app: ChecklistApp) -> int:
    """Lines of the list."""
    return app.screen.query_one(InstrumentList).size.height


@pytest.mark.parametrize("more", [-1, 0, 1], ids=["one less than fits", "as many as fit", "one more"])
async def test_pages_are_turned_only_where_it_does_not_fit(tmp_path: Path, more: int) -> None:
    """Home showed 11 of 12 with a row for turning pages, or 12 without it: whichever it had shown before."""
    site = FakeSite(tmp_path)
    app = ChecklistApp(site)
    async with app.run_test(size=(60, 20)) as pilot:
        await settle(pilot)
        fits = room(app)
        site.rows += [replace(site.rows[0], id=f"m{n}", label=f"M-{n}") for n in range(fits + more - len(site.rows))]
        for many_between in (False, True):
            if many_between:  # the row was there a moment ago
                few = site.rows
                site.rows = [*few, *(replace(few[0], id=f"k{n}", label=f"K-{n}") for n in range(30))]
                await reread(app, pilot)
                assert "Page Down" in screen_text(app)
                site.rows = few
            await reread(app, pilot)
            assert ("Page Down" in screen_text(app)) == (more > 0)
            assert room(app) == (fits - 1 if more > 0 else fits)
            seen = screen_text(app)
            assert len([each for each in site.rows if f" {each.label} " in seen]) == (
                fits - 1 if more > 0 else fits + more
            )


async def test_the_mark_goes_to_the_page_of_its_instrument(tmp_path: Path, press: Any) -> None:
    """The last line's instrument is checked; the open checkout takes a line, and its instrument stands on page 2."""
    site = FakeSite(tmp_path, many=20)
    app = ChecklistApp(site)
    async with app.run_test(size=(60, 20)) as pilot:
        app.person = site.people["p1"]
        await settle(pilot)
        last = app.screen.query_one(InstrumentList).rows[-1]
        await press(pilot, *["down"] * (room(app) - 1))
        assert marked(app) == last.label
        await press(pilot, "enter", "enter")
        assert app.front, screen_text(app)
        await press(pilot, "f3")
        await settle(pilot)
        assert marked(app) == last.label
        assert f"▸ ○ NEEDS CHECK {last.label}" in screen_text(app)


async def test_a_scanned_instrument_leaves_no_other_one_marked(tmp_path: Path, press: Any) -> None:
    """F6 and F7 are about what was scanned, where that is on the page, and otherwise about nothing."""
    site = FakeSite(tmp_path, many=20)
    app = ChecklistApp(site)
    async with app.run_test(size=(60, 20)) as pilot:
        await settle(pilot)
        assert marked(app) == "C-101"
        await press(pilot, "'M-019'", "enter")
        assert "M-019" in screen_text(app)
        await press(pilot, "f3")
        await settle(pilot)
        assert marked(app) == ""
        await press(pilot, "enter")
        assert isinstance(app.screen, HomeScreen), "Enter opens nothing that nobody chose"
        assert "No instrument is marked." in screen_text(app)
        await press(pilot, "f7")
        assert "Whose readiness ends? Scan the instrument." in screen_text(app)
        await press(pilot, "escape", "down")
        assert marked(app) == "C-101"


async def test_the_mark_comes_back_after_a_badge(tmp_path: Path, press: Any) -> None:
    """A badge typed into the field is a search for a moment, which no instrument fits."""
    app = ChecklistApp(FakeSite(tmp_path))
    async with app.run_test(size=(60, 20)) as pilot:
        await press(pilot, "down", "'BM'")
        app.screen._search_now()  # type: ignore[attr-defined]
        await settle(pilot)
        assert marked(app) == ""
        await press(pilot, "enter")
        await settle(pilot)
        assert marked(app) == "C-102"


async def test_one_of_several_is_chosen_with_the_arrows(tmp_path: Path, press: Any) -> None:
    """The words say: choose with Up, Down and Enter. Enter used to send what was typed once more."""
    site = FakeSite(tmp_path)
    app = ChecklistApp(site)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await press(pilot, "'C-10'", "enter")
        assert "2 instruments fit" in screen_text(app)
        await press(pilot, "down", "enter")
        assert app.screen.instrument_in_front() == ("i2", "C-102")  # type: ignore[attr-defined]


@pytest.mark.parametrize("size", [(60, 20), (80, 24)], ids=str)
async def test_cleared_is_not_locked_out(fake_site: Any, press: Any, size: tuple[int, int]) -> None:
    """Repaired, cleared, to be checked: its own word and symbol, since it can be begun and the others cannot."""
    fake_site.rows[2] = replace(fake_site.rows[2], awaiting=True, why="Cleared, has to be checked: the window is torn.")
    app = ChecklistApp(fake_site)
    async with app.run_test(size=size) as pilot:
        await settle(pilot)
        assert "□ CLEARED: CHECK" in screen_text(app)
        assert "■ LOCKED OUT" not in screen_text(app)
        await press(pilot, "'G-201'", "enter")
        assert "□ CLEARED: CHECK" in screen_text(app)
        assert "▸Begin its checkout" in screen_text(app)


async def test_what_would_be_refused_is_not_offered(fake_site: Any, press: Any) -> None:
    """A locked out one: the reason stands there, and Enter leads to nothing that is then refused."""
    why = "It is locked out: the site lead has to clear it first."
    fake_site.rows[2] = replace(fake_site.rows[2], may_begin=why)
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        app.person = fake_site.people["p1"]
        await press(pilot, "'G-201'", "enter")
        assert f"Not now: {why}" in " ".join(screen_text(app).split())
        assert "▸" not in screen_text(app)
        for key in ("enter", "tab", "enter", "down", "enter"):
            await press(pilot, key)
        assert fake_site.desk.runs == {}


async def test_obstacles_are_said_before_it_is_begun(fake_site: Any, press: Any) -> None:
    """Not after two minutes' work. It can be begun all the same: what is found wrong counts."""
    fake_site.in_the_way = ("the calibration ended on 2026-03-01", "no check source is bound to it")
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        app.person = fake_site.people["p1"]
        await press(pilot, "'C-101'", "enter")
        seen = " ".join(screen_text(app).split())
        said, button, _ = seen.partition("▸Begin its checkout")
        assert button
        assert (
            "It cannot become fit for use now: the calibration ended on 2026-03-01; no check source is bound to it."
            in said
        )


async def test_the_instrument_screen_speaks_in_sentences(fake_site: Any, press: Any) -> None:
    """Codes are called codes, and a reason that somebody typed begins with a capital."""
    fake_site.rows[2] = replace(fake_site.rows[2], why="handle is off", reasons=("by-judgement", "zero-off"))
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "'G-201'", "enter")
        seen = screen_text(app)
        assert "Handle is off" in seen
        assert "reason codes: by-judgement, zero-off" in seen
        assert "It is here." in seen


async def test_a_last_look_at_the_waits_while_the_screens_close_is_no_fault(fake_site: Any) -> None:
    """The timer may come between the closing of a screen's parts and that of the screen."""

    class Late(ChecklistApp):
        async def _close_all(self) -> None:
            await App.screen.fget(self).remove_children()  # type: ignore[attr-defined]
            self.look_at_waits()
            await super()._close_all()

    app = Late(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
    assert not list(fake_site.folder.glob("crash/*"))


async def test_locking_out_asks_first_which_of_many(fake_site: Any, press: Any) -> None:
    """The marked line may be anyone's; on an instrument's own screen nothing is asked twice."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = fake_site.people["p1"]
        await press(pilot, "f6")
        assert "Which instrument is to be locked out?" in screen_text(app)
        assert "C-101" in screen_text(app)
        await press(pilot, "tab", "'C-102'", "enter")
        assert (app.screen.place, app.screen.key[:2]) == ("form", ("lock-out", "i2"))  # type: ignore[attr-defined]
        await press(pilot, "escape", "'C-101'", "enter", "f6")
        assert (app.screen.place, app.screen.key[:2]) == ("form", ("lock-out", "i1"))  # type: ignore[attr-defined]


async def test_what_waits_is_one_line_each_and_whole_on_f4(fake_site: Any, press: Any) -> None:
    """Doubts, overdue instruments, suspicions, and how old other laptops' records are."""
    home = fake_site.home
    suspicion = "C-2, C-3 read low with source S-1 within 7 days, and with no other source. Look at S-1 first."

    def more(**asked: Any) -> Any:
        waiting = ("2 uses in doubt wait to be reviewed",)
        return replace(home(**asked), waiting=waiting, notices=(suspicion,), exchanged="Records: 2 h old.")

    fake_site.home = more
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert "! 2 uses in doubt wait to be reviewed (F3)" in screen_text(app)
        assert "Records: 2 h old." not in screen_text(app)
        await press(pilot, "f4")
        told = " ".join(screen_text(app).split())
        assert suspicion.rpartition(".")[0][-20:] in told
        assert "Records: 2 h old." in told


@pytest.mark.parametrize("first", ["X-999", "C-10"], ids=["nothing", "several"])
async def test_a_whole_label_takes_the_place_of_one_that_was_refused(fake_site: Any, press: Any, first: str) -> None:
    """Scanned behind what fitted nothing, or several, it used to be taken for the end of a longer label."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await press(pilot, f"'{first}'", "enter")
        await settle(pilot)
        fake_site.clock.advance(5)
        for key in [*"G-201", "enter"]:  # as a scanner types: with no time between
            app.post_message(Key(key, key if len(key) == 1 else "\r"))
        await settle(pilot)
        assert app.screen.instrument_in_front() == ("i3", "G-201")  # type: ignore[attr-defined]


async def test_typing_on_by_hand_goes_on_with_the_word(fake_site: Any, press: Any) -> None:
    """Where several fit, what is typed slowly belongs to the same label."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await press(pilot, "'C-'", "enter")
        await settle(pilot)
        for key in "101":
            fake_site.clock.advance(1)
            await press(pilot, key)
            await settle(pilot)
        await press(pilot, "enter")
        await settle(pilot)
        assert app.screen.instrument_in_front() == ("i1", "C-101")  # type: ignore[attr-defined]
