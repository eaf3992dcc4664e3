"""The one form: every kind of field by keys alone, nothing kept that was not meant, nothing lost that was typed."""

from __future__ import annotations

from typing import Any

import pytest
from fake_pages import PIN
from screen_text import assert_kept, screen_text
from textual.events import Key, Paste

from checklist_tui.app import ChecklistApp
from checklist_tui.screens.form import FormScreen
from checklist_tui.widgets.form_page import FormPage
from procedures.sheets import Deed
from procedures.trouble import Trouble

SIZES = ((60, 20), (80, 24), (120, 40))
SMALL = ((60, 20), (80, 24))
FILLED = {
    "of": "C-101",
    "on": "2026-03-12",
    "by": "lab",
    "found": "outside",
    "stays": "yes",
    "factor": "1.04",
    "detector": "D-7",
    "readings": "1.6\n1.9 ! slipped\n1.7\n1.8",
    "points": "x1 | 22 | 2.1",
}
KEY = ("calibration", "i1", "p1")


async def settle(pilot: Any) -> None:
    """A key leads to a message, that to what comes of it, that to another layout."""
    for _ in range(4):
        await pilot.pause(0)


async def opened(app: ChecklistApp, pilot: Any, name: str = "calibration", about: str = "i1") -> FormScreen:
    """The form of this name, filled in by the first person."""
    app.person = app.use_cases.people["p1"]  # type: ignore[attr-defined]
    app.go(Deed("a form", "form", name, about))
    await settle(pilot)
    assert isinstance(app.screen, FormScreen), screen_text(app)
    return app.screen


def in_sight(app: ChecklistApp) -> str:
    """The screen's words; fails unless the instruction and the focused field are among them."""
    text = screen_text(app)
    assert "Copy what stands on the certificate." in text
    assert "Switch off before opening" in text
    present = app.screen.query_one(FormPage).present
    assert present is None or f"▸ {present.asks.say}" in text, text
    return text


async def fill(app: ChecklistApp, pilot: Any, press: Any) -> None:
    """Everything the form of the fake site asks for, as a technician would type it."""
    keys = ["'2026-03-12'", "enter", "'lab'", "enter", "2", "enter", "y", "enter", "'1.04'", "enter", "'D-7'", "tab"]
    keys += ["'1.6'", "enter", "'1.9'", "enter"]
    for key in keys:
        await press(pilot, key)
        await settle(pilot)
        in_sight(app)
    await press(pilot, "f6", "'slipped'", "enter", "enter")
    await settle(pilot)
    keys = ["'1.7'", "enter", "'1.8'", "enter", "'x1'", "enter", "'2'", "enter", "'2.1'", "enter"]
    keys += ["'x10'", "enter", "f6", "f6", "enter", "'2'", "enter", "enter", "enter"]
    for key in keys:
        await press(pilot, key)
        await settle(pilot)
        in_sight(app)
    await press(pilot, f"'{PIN}'", "enter")
    await settle(pilot)


@pytest.mark.parametrize("size", SMALL, ids=str)
async def test_every_kind_of_field_by_keys(fake_site: Any, press: Any, size: tuple[int, int]) -> None:
    """Text, date, choice, yes or no, figure, scan, readings, rows, PIN; then the button, and what was kept is right."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=size) as pilot:
        await opened(app, pilot)
        await fill(app, pilot, press)
        text = screen_text(app)
        assert "mean of 3: 1.700" in text
        assert "▸Keep this calibration" in text
        assert PIN not in text
        assert not fake_site.pages.kept
        await press(pilot, "enter")
        await settle(pilot)
        assert fake_site.pages.kept == [{**FILLED, "pin": PIN}]
        assert "✓ The calibration is on record." in screen_text(app)
        assert app.screen.place == "sheet", "what comes next was opened"  # type: ignore[attr-defined]


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_form_screens(fake_site: Any, press: Any, size: tuple[int, int]) -> None:
    """The form looks as it was approved to look: at its beginning, with trouble, filled in."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=size) as pilot:
        await opened(app, pilot)
        assert_kept(app, "form")
        await press(pilot, "'2026-03-12'", "f4")
        await settle(pilot)
        assert_kept(app, "form-trouble")
        await press(pilot, "escape")
        await settle(pilot)
        assert_kept(app, "form-throw-away")
        await press(pilot, "up", "enter")
        await settle(pilot)
        app.drafts[KEY] = FILLED
        await opened(app, pilot)
        await press(pilot, *["down"] * 8, "'3456'", "enter")
        await settle(pilot)
        assert_kept(app, "form-filled")


async def test_trouble_when_it_is_kept_loses_nothing(fake_site: Any, press: Any) -> None:
    """A wrong PIN is typed again, and that alone; then it is kept, once."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.drafts[KEY] = FILLED
        await opened(app, pilot)
        await press(pilot, *["down"] * 8, "'1111'", "enter", "enter")
        await settle(pilot)
        assert "! that is not your PIN" in screen_text(app)
        assert "▸ your PIN" in screen_text(app)
        await press(pilot, f"'{PIN}'", "enter", "enter")
        await settle(pilot)
        assert [each["readings"] for each in fake_site.pages.kept] == ["1.6\n1.9 ! slipped\n1.7\n1.8"]


async def test_nothing_is_kept_while_something_is_wrong(fake_site: Any, press: Any) -> None:
    """It goes to the first field that is wrong, and says there what is wrong, what is allowed and what to do."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        await opened(app, pilot)
        await press(pilot, "'2026-03-12'", "f4")
        await settle(pilot)
        text = in_sight(app)
        assert "▸ by" in text
        assert "! by is missing" in text
        assert "Allowed: a few words" in text
        assert "Do: Enter it." in text
        await press(pilot, "'lab'", "down")
        await settle(pilot)
        assert "by is missing" not in screen_text(app)
        assert not fake_site.pages.kept


async def test_what_was_wrong_is_not_said_of_what_is_typed_instead(fake_site: Any, press: Any) -> None:
    """Old trouble under a valid value makes people doubt the value; leaving the field judges it anew."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        await opened(app, pilot)
        await press(pilot, *["down"] * 4, "'x'", "up", "down")
        await settle(pilot)
        assert "that is no figure" in screen_text(app)
        await press(pilot, "'1.0'")
        await settle(pilot)
        assert "that is no figure" not in screen_text(app)
        await press(pilot, "ctrl+u", "'y'", "up")
        await settle(pilot)
        assert "that is no figure" in screen_text(app)
        await press(pilot, "up", "up", "enter")
        await settle(pilot)
        assert "found is missing" in screen_text(app)
        await press(pilot, "2")
        await settle(pilot)
        assert "found is missing" not in screen_text(app)


async def test_the_foot_says_what_the_keys_do_here(fake_site: Any, press: Any) -> None:
    """F4 does not keep while a page is still to come, and F6 stands there only once there is something to remove."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        screen = await opened(app, pilot, "two")
        screen._entered["first"] = "one"
        await screen._load(1)
        await settle(pilot)
        assert "F4 next page" in screen_text(app)
        assert "F6" not in screen_text(app)
        await press(pilot, "f4")
        await settle(pilot)
        assert "F4 keep" in screen_text(app)
        app.to_home()
        await opened(app, pilot)
        await press(pilot, *["down"] * 6)
        await settle(pilot)
        assert "F6" not in screen_text(app)
        await press(pilot, "'1.6'", "enter")
        await settle(pilot)
        assert "F6 remove last" in screen_text(app)


async def test_a_field_says_what_is_wrong_once_it_was_left(fake_site: Any, press: Any) -> None:
    """Nobody is told that a field is empty before having had a chance to fill it in."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot)
        assert "missing" not in screen_text(app)
        await press(pilot, "down")
        await settle(pilot)
        assert screen_text(app).count("is missing") == 1
        await press(pilot, "up", "'2026-03-12'", "down")
        await settle(pilot)
        assert "calibrated on is missing" not in screen_text(app)


async def test_leaving_asks_once_and_only_when_something_was_typed(fake_site: Any, press: Any) -> None:
    """The focus is on the answer that loses nothing."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot)
        await press(pilot, "escape")
        await settle(pilot)
        assert not isinstance(app.screen, FormScreen)
        form = await opened(app, pilot)
        await press(pilot, "'2026-03-12'", "escape")
        await settle(pilot)
        assert "Throw away what was typed?" in screen_text(app)
        await press(pilot, "enter")
        await settle(pilot)
        assert app.screen is form
        assert "2026-03-12" in screen_text(app)
        await press(pilot, "escape", "up", "enter")
        await settle(pilot)
        assert not isinstance(app.screen, FormScreen)
        await opened(app, pilot)
        assert "2026-03-12" not in screen_text(app)


async def test_called_away_and_back(fake_site: Any, press: Any) -> None:
    """A wait that ends calls for its instrument; what was typed meanwhile is there afterwards, a PIN is not."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        await settle(pilot)
        app.to_home()
        await opened(app, pilot, "retire")
        await press(pilot, "'worn'", "enter", f"'{PIN}'", "f5", "enter")
        await settle(pilot)
        assert app.front == "checkout-i1"
        await opened(app, pilot, "retire")
        text = screen_text(app)
        assert "worn" in text
        assert "What you had typed is here again." in text
        assert "•" not in text
        assert PIN not in str(app.drafts)


async def test_dangerous_forms_ask_once_more(fake_site: Any, press: Any) -> None:
    """With the focus on the answer that does nothing."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "retire")
        await press(pilot, "'worn'", "enter", f"'{PIN}'", "enter", "enter")
        await settle(pilot)
        assert "This ends its readiness." in screen_text(app)
        await press(pilot, "enter")
        await settle(pilot)
        assert not fake_site.pages.kept
        await press(pilot, "enter", "up", "enter")
        await settle(pilot)
        assert [each["why"] for each in fake_site.pages.kept] == ["worn"]
        assert "✓ The calibration is on record." in screen_text(app)


async def test_pages(fake_site: Any, press: Any) -> None:
    """What was entered on one decides the next; going back loses nothing; both are kept together."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        await opened(app, pilot, "two")
        await press(pilot, "'one'", "enter", "enter")
        await settle(pilot)
        assert "page 2 of 2" in screen_text(app)
        assert app.focused.value == "one"  # type: ignore[union-attr]
        await press(pilot, "'!'", "escape")
        await settle(pilot)
        assert "page 1 of 2" in screen_text(app)
        await press(pilot, "'s'", "enter", "enter")
        await settle(pilot)
        assert app.focused.value == "one!", "what a person typed is not overwritten"  # type: ignore[union-attr]
        await press(pilot, "enter", "enter")
        await settle(pilot)
        assert fake_site.pages.kept == [{"first": "ones", "second": "one!"}]


async def test_a_form_that_cannot_be_opened_says_why(fake_site: Any, press: Any) -> None:
    """Where it was asked for. And whoever fills one in is asked first who they are."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.go(Deed("a form", "form", "gone"))
        await settle(pilot)
        assert "Scan your badge" in screen_text(app)
        await press(pilot, "'AL'", "enter")
        await settle(pilot)
        assert "this cannot be done now" in screen_text(app)
        assert app.screen.place == "home"  # type: ignore[attr-defined]


async def test_a_scan_while_a_choice_has_the_focus_chooses_nothing(fake_site: Any, press: Any) -> None:
    """A label has digits and letters in it; it goes into the field for a label instead."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot)
        await press(pilot, "down", "down", "1")
        await settle(pilot)
        assert "(x) 1 within" in screen_text(app)
        fake_site.clock.advance(5)
        for key in ("o", "3", "n", "2", "enter"):
            fake_site.clock.advance(0.002)
            app.post_message(Key(key, key if len(key) == 1 else None))
            await pilot.pause()
        await settle(pilot)
        text = screen_text(app)
        assert "found                     within" in text
        assert app.focused.value == "o3n2"  # type: ignore[union-attr]


async def test_a_second_scan_takes_the_place_of_the_first(fake_site: Any, press: Any) -> None:
    """Nobody looks at the screen between two scans, and two labels in one field name nothing."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "hand-out")
        await press(pilot, "'B-1'", "enter", "up", "B", "-", "2", "enter")
        await settle(pilot)
        text = screen_text(app)
        assert "B-2" in text
        assert "B-1" not in text


@pytest.mark.parametrize("way", ["typed", "pasted"])
async def test_ten_thousand_characters_in_a_form(fake_site: Any, press: Any, way: str) -> None:
    """An endless scan or paste is answered in place and nothing of it is kept."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot)
        await press(pilot, "down")
        if way == "typed":
            app.focused.insert_text_at_cursor("x" * 10_000)  # type: ignore[union-attr]
        else:
            app.focused.post_message(Paste("x" * 10_000))  # type: ignore[union-attr]
        await press(pilot, "down")
        await settle(pilot)
        assert "10000 characters; nothing of it was taken" in screen_text(app)
        await press(pilot, "f4")
        await settle(pilot)
        assert not fake_site.pages.kept
        assert isinstance(app.screen, FormScreen)


async def test_readings_do_not_vanish(fake_site: Any, press: Any) -> None:
    """What is no figure is not taken, a rejected one cannot be rejected again, and a half-typed one is not left out."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot)
        await press(pilot, *["down"] * 6, "'abc'", "enter")
        await settle(pilot)
        assert "“abc” is no reading" in screen_text(app)
        await press(pilot, "ctrl+u", "'1.6'", "enter", "f6", "'why'", "enter", "enter")
        await settle(pilot)
        await press(pilot, "f6")
        await settle(pilot)
        assert "there is nothing to undo here" in screen_text(app)
        await press(pilot, "'1.7'", "down")
        await settle(pilot)
        assert "something was typed here and not entered" in screen_text(app)
        assert "0 of 3" in screen_text(app)


async def test_a_reading_is_read_when_it_is_entered(fake_site: Any, press: Any) -> None:
    """Beyond the scale it is refused at once, not after the tenth; what was taken says what it comes to."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        await opened(app, pilot, "read")
        await press(pilot, "'9.9'", "enter")
        await settle(pilot)
        assert "9.9 is beyond the scale" in screen_text(app)
        assert "0 of 3" in screen_text(app)
        await press(pilot, "ctrl+u", "'1.62'", "enter")
        await settle(pilot)
        assert "1.62, that is 16.2 mR/h" in screen_text(app)
        assert "1 of 3" in screen_text(app)


async def test_trouble_without_a_field(fake_site: Any, press: Any) -> None:
    """What keeping it says stands in place, and what was typed still stands in its fields."""
    fake_site.pages.refuse = Trouble("another laptop was faster", do="Look at it again.")
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(app, pilot, "hand-out")
        await press(pilot, "'BM'", "enter", "'survey'", "enter", "enter")
        await settle(pilot)
        text = screen_text(app)
        assert "another laptop was faster" in text
        assert "BM" in text
        assert "survey" in text


@pytest.mark.parametrize("prefix", ["[/]", "[@click=x]", "$a\\[b]"])
async def test_words_of_a_form_are_data(tmp_path: Any, press: Any, prefix: str) -> None:
    """Labels, options, help, cautions, units, troubles: never markup, never a crash."""
    from fake_site import FakeSite

    app = ChecklistApp(FakeSite(tmp_path, prefix=prefix))
    async with app.run_test(size=(120, 40)) as pilot:
        await opened(app, pilot)
        await press(pilot, "f4", "down", f"'{prefix}'", "enter")
        await settle(pilot)
        text = screen_text(app)
        for words in ("Copy what stands", "Switch off", "found", "outside", "readings", "Its calibration so far"):
            assert f"{prefix}{words}" in text
        assert f"! {prefix}calibrated on is missing" in text
        await press(pilot, "f8", "escape")
        assert isinstance(app.screen, FormScreen)
