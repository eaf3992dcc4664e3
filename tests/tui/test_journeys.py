"""A few journeys with real keys: a whole checkout, waits side by side, the ways out that must ask first."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from screen_text import screen_text

from checklist_tui.app import ChecklistApp


async def test_scan_to_fit_for_use(fake_site: Any, press: Any) -> None:
    """Scanner, Enter and a few keys lead from home to the ending; nothing needs a mouse or Ctrl."""
    app = ChecklistApp(fake_site)
    desk = fake_site.desk
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "'AL'", "enter")
        assert app.person == fake_site.people["p1"]
        await press(pilot, "'C-101'", "enter", "enter")
        assert "Scan the label on C-101" in screen_text(app)
        await press(pilot, "'C-101'", "tab")
        await press(pilot, "1", "enter")
        await press(pilot, "right", "right", "enter")
        await press(pilot, "enter")
        fake_site.clock.advance(119)
        app.look_at_waits()
        assert desk.runs["checkout-i1"].at == 4, "a wait is never over early"
        fake_site.clock.advance(1)
        app.look_at_waits()
        await pilot.pause()
        await press(pilot, "enter")
        fake_site.clock.advance(8)
        app.look_at_waits()
        await pilot.pause()
        assert desk.runs["checkout-i1"].at == 6
        await press(pilot, "down", "'1.6'", "enter", "enter")
        assert desk.runs["checkout-i1"].readings == ("1.6 on x1 = 1.6 mR/h",)
        await press(pilot, "down", "'1.7'", "enter", "enter")
        assert "expected" not in screen_text(app).split("Read the thermometer")[0]
        await press(pilot, "'21'", "enter", "enter", "'2026-09-01'", "enter", "enter", "'hall'", "enter", "enter")
        await press(pilot, "'ST-7'", "enter")
        assert "FIT FOR USE" in screen_text(app)
        await press(pilot, "enter")
        assert app.screen.place == "ending", "the first Enter leaves nothing"


async def test_waits_run_side_by_side(fake_site: Any, press: Any) -> None:
    """A wait that ends while another checkout is worked on calls for its instrument by name, with a bell."""
    fake_site.rows[1] = replace(fake_site.rows[1], fitness="needs check", until=None)
    app = ChecklistApp(fake_site)
    rung = []
    async with app.run_test(size=(80, 24)) as pilot:
        app.bell = lambda: rung.append(1)  # type: ignore[method-assign]
        app.person = fake_site.people["p1"]
        for instrument in ("i1", "i2"):
            app.begin_checkout(instrument)
            await pilot.pause()
        fake_site.desk.runs["checkout-i1"].at = 4
        app.lookout.take(fake_site.desk.view("checkout-i1"))
        app.look_at_waits()
        await pilot.pause()
        assert "beside: C-101 … waiting 2:00" in screen_text(app)
        typed = "C-1"
        await press(pilot, f"'{typed}'")
        fake_site.clock.advance(120)
        app.look_at_waits()
        await pilot.pause()
        assert "C-101: the wait is over" in screen_text(app)
        assert rung == [1]
        assert app.focused is not None
        assert app.focused.value == typed  # type: ignore[attr-defined]
        await press(pilot, "f5", "enter")
        assert app.front == "checkout-i1"
        assert "C-101: the wait is over" not in screen_text(app)


async def test_failing_by_judgement_asks_for_a_reason_and_one_confirmation(fake_site: Any, press: Any) -> None:
    """One key away, never done by that key alone."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        await pilot.pause()
        await press(pilot, "f6", "enter")
        assert "A reason is needed" in screen_text(app)
        await press(pilot, "'rattles'", "enter")
        assert fake_site.desk.runs["checkout-i1"].ending is None
        await press(pilot, "enter")
        await pilot.pause()
        assert "LOCKED OUT" in screen_text(app)
        assert "Rattles" in screen_text(app)
        await press(pilot, "enter")
        assert app.screen.place == "ending", "no key pressed in haste leaves it"
        fake_site.clock.advance(1)
        await press(pilot, "f3")
        assert app.screen.place == "ending", "a failed verdict is left by its button alone"
        await press(pilot, "enter")
        assert app.screen.place == "home"


async def test_end_readiness_names_a_cause_and_confirms(fake_site: Any, press: Any) -> None:
    """Anyone can end a readiness at any time: the instrument in front, a cause, one confirmation."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        app.person = fake_site.people["p1"]
        await press(pilot, "down", "f7", "2", "enter")
        assert fake_site.done == []
        await press(pilot, "enter")
        assert fake_site.done == [("end-readiness", "i2", "p1", "cells", "cells changed")]


async def test_home_is_read_anew_though_a_search_was_left_in_the_field(fake_site: Any, press: Any) -> None:
    """Readiness ends with the clock: a list that stands for hours under three letters may call nothing ready."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "'C-1'")
        fake_site.rows = [replace(each, fitness="needs check", why="time is over") for each in fake_site.rows]
        assert "READY" in screen_text(app)
        fake_site.clock.advance(3600)
        app.look_at_waits()
        await pilot.pause()
        assert "READY" not in screen_text(app)


async def test_an_instrument_in_front_is_shown_as_it_stands_now(fake_site: Any, press: Any) -> None:
    """After its readiness was ended from its own screen, or has run out meanwhile, that screen says so."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = fake_site.people["p1"]
        await press(pilot, "down", "enter")
        assert app.screen.place == "instrument"
        assert "READY" in screen_text(app)
        fake_site.rows = [replace(each, fitness="needs check", why="it was dropped") for each in fake_site.rows]
        await press(pilot, "f7", "1", "enter", "enter")
        assert app.screen.place == "instrument"
        assert "READY" not in screen_text(app)
        assert "It was dropped" in screen_text(app)
        fake_site.rows = [replace(each, why="time is over") for each in fake_site.rows]
        fake_site.clock.advance(60)
        app.look_at_waits()
        await pilot.pause()
        assert "Time is over" in screen_text(app)


async def test_pause_and_going_on(fake_site: Any, press: Any) -> None:
    """Pausing is confirmed and keeps everything; going on asks whether it was switched off meanwhile."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        await pilot.pause()
        await press(pilot, "'C-101'", "enter", "f4", "enter")
        assert fake_site.desk.runs["checkout-i1"].paused
        assert app.screen.place == "home"
        await press(pilot, "f5", "enter", "1", "enter")
        assert "switched off meanwhile" in screen_text(app)
        await press(pilot, "3", "enter")
        assert fake_site.desk.runs["checkout-i1"].at == 0, "whoever cannot say is taken to have switched it off"


async def test_leaving_asks_and_pauses(fake_site: Any, press: Any) -> None:
    """Ctrl-Q leaves nothing by itself: it asks, and pauses what is open."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        await pilot.pause()
        await press(pilot, "ctrl+q")
        assert app.is_running
        assert not fake_site.desk.runs["checkout-i1"].paused
        await press(pilot, "enter")
    assert fake_site.desk.runs["checkout-i1"].paused == "the program was left"
    assert app.return_code == 0


async def test_scan_at_the_wrong_moment_answers_nothing(fake_site: Any, press: Any) -> None:
    """Digits and Enter of a scanned label come faster than fingers: they choose nothing and keep nothing."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        await pilot.pause()
        await press(pilot, "'C-101'", "enter")
        for key in (*"X-12", "enter"):
            fake_site.clock.advance(0.002)
            await pilot.press(key)
        await pilot.pause()
        assert fake_site.desk.runs["checkout-i1"].at == 1
        assert "X-12" in screen_text(app)


@pytest.mark.parametrize("ask", [1, 2], ids=["choice", "place"])
@pytest.mark.parametrize("suffix", ["enter", "tab", ""], ids=["Enter", "Tab", "no suffix"])
async def test_no_figure_of_a_scanned_label_stays_chosen(fake_site: Any, press: Any, ask: int, suffix: str) -> None:
    """The 1 of QO-01 chooses answer 1. Whoever then presses Enter in haste must not keep what nobody has looked for."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        await pilot.pause()
        run = fake_site.desk.runs["checkout-i1"]
        run.at = ask
        app.lookout.take(fake_site.desk.view("checkout-i1"))
        app.look_at_waits()
        await pilot.pause()
        await press(pilot, "2")
        for key in (*"QO-01", suffix) if suffix else "QO-01":
            fake_site.clock.advance(0.002)
            await pilot.press(key)
        assert "▸" not in screen_text(app), "neither what was scanned nor what was chosen before it"
        await press(pilot, "enter", "enter")
        assert run.at == ask
        await press(pilot, "1", "enter")
        assert run.at == ask + 1 or run.remedy, "fingers still choose"


async def test_enter_held_down_goes_on_once(fake_site: Any) -> None:
    """A key held down repeats; only its first press counts, so nobody runs through a procedure on one key."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        await pilot.pause()
        fake_site.desk.runs["checkout-i1"].at = 3
        app.lookout.take(fake_site.desk.view("checkout-i1"))
        app.look_at_waits()
        await pilot.pause()
        fake_site.desk.runs["checkout-i1"].at = 3
        fake_site.clock.advance(1)
        for _ in range(4):
            fake_site.clock.advance(0.03)
            await pilot.press("enter")
        await pilot.pause()
        assert fake_site.desk.runs["checkout-i1"].at == 4


async def test_hold_let_go_is_broken(fake_site: Any, press: Any) -> None:
    """Backspace says that the button came up; the hold begins anew and says why."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        fake_site.desk.runs["checkout-i1"].at = 5
        app.lookout.take(fake_site.desk.view("checkout-i1"))
        app.look_at_waits()
        await pilot.pause()
        await press(pilot, "enter", "backspace")
        assert "Let go too early" in screen_text(app)
        assert fake_site.desk.runs["checkout-i1"].begun is None


async def test_source_is_scanned_back(fake_site: Any, press: Any) -> None:
    """A source's label on the first screen brings it back, and says so."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = fake_site.people["p1"]
        await press(pilot, "'S-7'", "enter")
        assert fake_site.done == [("source-back", "S-7", "p1")]
        assert "S-7 is back in its store" in screen_text(app)


async def test_mouse_alone(fake_site: Any) -> None:
    """A tap opens, begins, chooses and keeps; a first tap on an answer keeps nothing."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = fake_site.people["p1"]
        await pilot.pause()
        await pilot.click("InstrumentList", offset=(4, 0))
        await pilot.pause()
        await pilot.click(".wide")
        await pilot.pause()
        fake_site.desk.runs["checkout-i1"].at = 1
        app.lookout.take(fake_site.desk.view("checkout-i1"))
        app.look_at_waits()
        await pilot.pause()
        await pilot.click(".possible")
        await pilot.pause()
        assert fake_site.desk.runs["checkout-i1"].at == 1
        await pilot.click(".possible")
        await pilot.pause()
        assert fake_site.desk.runs["checkout-i1"].at == 2


async def test_keypad_types_without_a_keyboard(fake_site: Any) -> None:
    """Somebody with a finger or a mouse alone can say who they are."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        await pilot.pause()
        app.screen.action_keypad()  # type: ignore[attr-defined]
        await pilot.pause()
        for value in ("A", "L", "send"):
            press = next(each for each in app.screen.query("Press") if getattr(each, "value", "") == value)
            await pilot.click(press)
        await pilot.pause()
        assert app.person == fake_site.people["p1"]


async def test_nobody_answers_under_another_name(fake_site: Any, press: Any) -> None:
    """Whoever opens somebody else's checkout takes it over openly, or shows that badge."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        await pilot.pause()
        app.to_home()
        app.person = fake_site.people["p2"]
        app.show_checkout("checkout-i1")
        await pilot.pause()
        assert "Who goes on with it?" in screen_text(app)
        await press(pilot, "1", "enter")
        assert fake_site.desk.runs["checkout-i1"].paused == "handed over to Ben Moor"
        await press(pilot, "1", "enter")
        assert fake_site.desk.runs["checkout-i1"].person == fake_site.people["p2"]


async def test_palette_offers_the_same_actions(fake_site: Any) -> None:
    """The palette is made from the registry, like keys, footer, menu and help."""
    from checklist_tui.actions import actions_for

    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        offered = [each.title for each in app.get_system_commands(app.screen)]
        assert offered == [each.title for each in actions_for("home")]


async def test_bell_can_be_turned_off(fake_site: Any) -> None:
    """In a quiet room the wait ends without a sound; it calls all the same."""
    app = ChecklistApp(fake_site)
    rung = []
    async with app.run_test(size=(80, 24)) as pilot:
        app.bell = lambda: rung.append(1)  # type: ignore[method-assign]
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        await pilot.pause()
        app.screen.action_bell()  # type: ignore[attr-defined]
        fake_site.desk.runs["checkout-i1"].at = 4
        app.lookout.take(fake_site.desk.view("checkout-i1"))
        app.to_home()
        fake_site.clock.advance(120)
        app.look_at_waits()
        await pilot.pause()
        assert "C-101: the wait is over" in screen_text(app)
        assert rung == []


async def test_resizing_keeps_what_is_typed(fake_site: Any, press: Any) -> None:
    """A window drawn smaller in the middle of an answer loses neither the text nor the instruction."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(120, 40)) as pilot:
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        await pilot.pause()
        await press(pilot, "'C-10'")
        await pilot.resize_terminal(60, 20)
        await press(pilot, "1")
        assert "Scan the label on C-101" in screen_text(app)
        await press(pilot, "enter")
        assert fake_site.desk.runs["checkout-i1"].at == 1


async def test_somebody_elses_checkout_needs_that_badge(fake_site: Any, press: Any) -> None:
    """Esc leaves it alone; a wrong badge leads away from it; the right one goes on at once."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        await pilot.pause()
        app.person = fake_site.people["p2"]
        for keys, place in (
            (("escape",), "home"),
            (("2", "enter", "'BM'", "enter"), "home"),
            (("2", "enter", "'AL'", "enter"), "checkout"),
        ):
            app.show_checkout("checkout-i1")
            await pilot.pause()
            await press(pilot, *keys)
            assert app.screen.place == place  # type: ignore[attr-defined]
        assert app.person == fake_site.people["p1"]
        assert not fake_site.desk.runs["checkout-i1"].paused


async def test_a_pin_is_asked_for_where_a_badge_is_not_enough(fake_site: Any, press: Any) -> None:
    """Hidden while it is typed; a wrong one begins nothing; whoever takes over gives theirs."""
    fake_site.pin = "2468"
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        app.person = fake_site.people["p1"]
        for typed in ("1357", "2468"):
            app.begin_checkout("i1")
            await pilot.pause()
            assert "Ada Lane: type your PIN." in screen_text(app)
            await press(pilot, f"'{typed}'")
            assert typed not in screen_text(app)
            await press(pilot, "enter")
            for _ in range(4):  # the PIN's screen goes, then the words below it are laid out
                await pilot.pause(0)
            assert app.front == ("checkout-i1" if typed == fake_site.pin else "")
            assert ("that is not the PIN" in screen_text(app)) is (typed != fake_site.pin)
        fake_site.desk.pause("checkout-i1")
        app.to_home()
        app.person = fake_site.people["p2"]
        app.lookout.take(fake_site.desk.view("checkout-i1"))
        app.show_checkout("checkout-i1")
        await pilot.pause()
        await press(pilot, "f4", "1", "enter")
        assert "Ben Moor: type your PIN." in screen_text(app)
        await press(pilot, "'2468'", "enter")
        await pilot.pause()
        assert fake_site.desk.runs["checkout-i1"].person.id == "p2"


async def test_a_pin_does_not_show_on_the_keypad(fake_site: Any, press: Any) -> None:
    """Somebody may look over a shoulder at a touch screen too."""
    fake_site.pin = "2468"
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 40)) as pilot:
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        await pilot.pause()
        await press(pilot, "'24'")
        app.screen.action_keypad()  # type: ignore[attr-defined]
        await pilot.pause()
        assert "••_" in screen_text(app)
        assert "24_" not in screen_text(app)
