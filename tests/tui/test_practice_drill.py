"""A whole drill by keys: every step worked on the instrument and answered in the checkout, to the debrief."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from demo_hands import Hands
from fake_asks import START
from screen_text import screen_text

from checklist_tui.practice_app import PracticeApp
from checklist_tui.practice_cases import open_practice
from checklist_tui.screens.practice_checkout import PracticeCheckoutScreen
from checklist_tui.screens.sheet import SheetScreen
from checklist_tui.widgets.bench_panel import HELD, KEYS, BenchPanel
from procedures.asks import Reading, Wait
from procedures.clock import ManualClock
from procedures.practice.bench import Bench
from procedures.practice.drills import Drill, sound
from procedures.practice.kit import kits
from procedures.practice.moments import Give, Moment, Press, Work
from procedures.practice.observer import observe


def typed(value: Any) -> str:
    """What somebody types or chooses for this value."""
    if isinstance(value, bool):
        return "yes"
    if isinstance(value, Reading):
        shown = f"{value.figure:f}" if value.state == "on scale" else value.state.replace(" ", "-")
        return f"{value.selector} {shown}"
    return value.isoformat() if hasattr(value, "isoformat") else str(value)


async def test_a_sound_instrument_is_shown_to_be_so_by_keys(tmp_path: Path) -> None:
    """What a practised person does, done by keys: fit for use, right, and passed."""
    profile = "neutron-moderated"
    clock = ManualClock(START)
    cases = open_practice(tmp_path / "practice", clock, "p")
    person = cases.enrol("Tila Novice")
    wanted = Drill(sound(kits()[profile]), "5", START)
    bench = Bench(kits()[profile], wanted.case, wanted.seed, wanted.start)
    observe(bench)
    session = cases.desk.begin(person.id, wanted).checkout
    begun = clock.now().ticks
    app = PracticeApp(cases)
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = person
        app.show_checkout(session)
        hands = Hands(app, pilot, cases.site, clock)
        await hands.settle()
        for moment in bench.moments:
            await done(hands, session, moment, begun)
        for _ in range(60):
            if isinstance(app.screen, SheetScreen):
                break
            await hands.later(2)
        assert isinstance(app.screen, SheetScreen), screen_text(app)
        assert "RIGHT" in screen_text(app)
        assert "Passed" in screen_text(app)
    cases.site.close()


async def done(hands: Hands, session: str, moment: Moment, begun: float) -> None:
    """One thing of a practised person, by keys, not before its moment."""
    desk = hands.app.use_cases.desk
    wait = begun + moment.at / 1e6 - hands.clock.now().ticks
    if wait > 0:
        await hands.later(wait)
    screen = hands.app.screen
    if not isinstance(screen, PracticeCheckoutScreen):
        return
    panel = screen.query_one(BenchPanel)
    if isinstance(moment.what, Work):
        if not panel.has_focus:
            await hands.press("f7")
        control, value = moment.what.control, str(moment.what.value)
        for _ in range(6):
            if panel._stands(control) == value:
                break
            await hands.press(KEYS[control][0])
            if control not in HELD and len(desk.controls(session)[control]) == 1:  # type: ignore[attr-defined]
                break
        return
    if panel.has_focus:
        await hands.press("f7")
    while (view := desk.view(session)).wait is not None and isinstance(view.ask, Wait):
        await hands.later(view.wait.remaining + 0.5)
    ask = view.ask
    if isinstance(moment.what, Give) and ask is not None:
        hands.clock.advance(max(0.5, ask.look))
        await hands.answer(ask, typed(moment.what.value))
    elif isinstance(moment.what, Press):
        await hands.press("enter")
