"""The registry of actions: one source of keys, footer, menu and help, and nothing that only a Ctrl key can do."""

from __future__ import annotations

from itertools import combinations
from typing import Any, get_args

import pytest

from checklist_tui.actions import ACTIONS, Place, actions_for, bindings_for, footer_for
from checklist_tui.app import ChecklistApp
from checklist_tui.screens.checkout import CheckoutScreen
from checklist_tui.screens.confirm import ConfirmScreen
from checklist_tui.screens.ending import EndingScreen
from checklist_tui.screens.form import FormScreen
from checklist_tui.screens.home import HomeScreen
from checklist_tui.screens.instrument import InstrumentScreen
from checklist_tui.screens.listing import ListingScreen
from checklist_tui.screens.practice_checkout import PracticeCheckoutScreen
from checklist_tui.screens.practice_home import PracticeHomeScreen
from checklist_tui.screens.sheet import SheetScreen

PLACES = get_args(Place)
SCREENS = {
    "home": HomeScreen,
    "instrument": InstrumentScreen,
    "checkout": CheckoutScreen,
    "ending": EndingScreen,
    "dialog": ConfirmScreen,
    "form": FormScreen,
    "sheet": SheetScreen,
    "listing": ListingScreen,
    "practice": PracticeHomeScreen,
    "bench": PracticeCheckoutScreen,
}
DOUBTFUL = ("f1", "f10", "f11")


@pytest.mark.parametrize("place", PLACES)
def test_no_action_needs_ctrl(place: Place) -> None:
    """Every action has a key without Ctrl that no terminal keeps, is a button, or stands in the menu that Esc opens."""
    has_menu = any(each.id == "menu" for each in actions_for(place))
    for action in actions_for(place):
        sure = [key for key in action.keys if not key.startswith("ctrl+") and key not in DOUBTFUL]
        assert sure or has_menu or action.footer, action.id


@pytest.mark.parametrize("place", PLACES)
def test_no_key_twice(place: Place) -> None:
    """A key that means two things on one screen would silently take one of them away."""
    for one, other in combinations(actions_for(place), 2):
        assert not set(one.keys) & set(other.keys), (one.id, other.id)


@pytest.mark.parametrize("place", PLACES)
def test_letters_are_nobodys_key(place: Place) -> None:
    """Letters belong to fields and to scanners: none is an action."""
    keys = [key for action in actions_for(place) for key in action.keys]
    assert all(key == "escape" or key.startswith(("f", "ctrl+")) for key in keys)


@pytest.mark.parametrize("place", PLACES)
def test_every_action_has_its_method_and_binding(place: Place) -> None:
    """What the footer offers does something, on every screen that offers it."""
    screen = SCREENS[place]
    bound = {each.action for each in bindings_for(place)}  # type: ignore[union-attr]
    for action in actions_for(place):
        assert hasattr(screen, f"action_{action.id}"), action.id
        assert not action.keys or action.id in bound


def test_dangerous_actions_are_one_key_away() -> None:
    """Failing by judgement, ending a readiness and pausing each have a key and a button wherever they make sense."""
    for place, wanted in (("checkout", {"fail", "end_readiness", "pause"}), ("home", {"end_readiness", "lock_out"})):
        shown = {each.id for each in footer_for(place) if each.keys}  # type: ignore[arg-type]
        assert wanted <= shown


def test_footer_fits() -> None:
    """Eight buttons a screen, short enough for sixty columns in rows of four."""
    from checklist_tui.actions import caption

    for place in PLACES:
        captions = [caption(each) for each in footer_for(place)]
        assert len(captions) <= 8
        assert max(map(len, captions)) <= 14


def test_every_action_has_help() -> None:
    """Help is made from the registry, so an action without words would be one without help."""
    assert all(each.help.endswith(".") and each.title for each in ACTIONS)


async def test_menu_reaches_every_action(fake_site: Any, press: Any) -> None:
    """Esc, arrows and Enter alone do what the F keys do: here pausing a checkout."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        await pilot.pause()
        at = [each.id for each in actions_for("checkout") if each.id != "menu"].index("pause")
        await press(pilot, "escape", *["down"] * (at + 1), "enter", "enter")
        assert fake_site.desk.runs["checkout-i1"].paused
