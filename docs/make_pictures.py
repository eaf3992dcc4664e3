"""Makes the pictures in the README from real screens of the demo: python docs/make_pictures.py

The demo's past ends at a fixed moment, so the same program makes the same pictures. The export names fonts on a server;
that part is cut out, and a picture uses whatever monospaced font its reader has.
"""

from __future__ import annotations

import asyncio
import re
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from textual.pilot import Pilot

from checklist_tui.app import ChecklistApp
from checklist_tui.use_cases import SiteUseCases
from procedures.asks import Acknowledge, Choice, Hold, Place, QuantityAsk, ReadingAsk, Scan, Wait
from procedures.clock import ManualClock
from procedures.site.checkouts import Desk
from procedures.site.demo import make_demo
from procedures.site.views import CheckoutView, Typed

HERE = Path(__file__).parent
NOW = datetime(2026, 6, 1, 6, 30, tzinfo=UTC)
FONTS = re.compile(r"@font-face \{.*?\}", re.DOTALL)


def keep(app: ChecklistApp, name: str) -> None:
    """The screen as it is now, as docs/<name>.svg."""
    svg = FONTS.sub("", app.export_screenshot(title="checklist-tui"))
    (HERE / f"{name}.svg").write_text(re.sub(r"terminal-\d+-", "terminal-", svg).strip() + "\n", encoding="utf-8")


async def typed(pilot: Pilot[None], text: str) -> None:
    """Keys for a line and Enter."""
    await pilot.press(*("minus" if c == "-" else "full_stop" if c == "." else c for c in text), "enter")
    await pilot.pause()


def go_on(desk: Desk, view: CheckoutView, clock: ManualClock) -> CheckoutView:
    """One thing done at the desk, as somebody does whose instrument is in order."""
    ask = view.ask
    if isinstance(ask, Wait):
        clock.advance(view.wait.remaining if view.wait else 0)
        return desk.tick(view.checkout)
    if isinstance(ask, Hold):
        view = desk.hold(view.checkout)
        while isinstance(view.ask, Hold):
            clock.advance(0.5)
            view = desk.tick(view.checkout)
        return view
    clock.advance(4)
    given = "yes"
    if isinstance(ask, Choice):
        given = ask.options[0].value
    elif isinstance(ask, Place):
        given = ask.places[1]
    elif isinstance(ask, Scan):
        given = ask.due
    elif isinstance(ask, QuantityAsk):
        given = {"°C": "21.0", "kPa": "100.8", "%": "45"}.get(ask.units[0], "5")
    elif isinstance(ask, ReadingAsk):
        given = "1.66" if ask.key.startswith("reading") else "0"
    elif ask is not None and not isinstance(ask, Acknowledge):
        given = "2027-06-13"
        for row in desk.site.journal.home_rows():
            if row.id == view.instrument and row.calibration_due:
                given = row.calibration_due
    assert ask is not None
    selector = ask.wanted if isinstance(ask, ReadingAsk) else ""
    return desk.answer(view.checkout, ask.key, Typed(given, selector=selector), took=4)


async def pictures(folder: Path) -> None:
    """Home, the readings of a response, a wait, and an ending."""
    clock = ManualClock(NOW)
    with make_demo(folder, clock) as site:
        use_cases = SiteUseCases(site)
        app = ChecklistApp(use_cases, bell=False)
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause()
            keep(app, "home")
            await typed(pilot, "QP-2")
            await typed(pilot, "QO-01")
            await pilot.press("enter")
            await pilot.pause()
            desk = use_cases.desk
            view = desk.view(desk.open_checkouts()[0].checkout)
            shot = set()
            while view.ending is None:
                name = "wait" if isinstance(view.ask, Wait) and view.step_title == "Warm up" else ""
                if isinstance(view.ask, ReadingAsk) and view.ask.key == "reading-2":
                    name = "checkout"
                if name and name not in shot:
                    shot.add(name)
                    app.lookout.take(view)
                    app.show_checkout(view.checkout)
                    await pilot.pause()
                    if name == "checkout":
                        await pilot.press("down", "1", "full_stop", "6", "6", "enter")
                        await pilot.pause()
                    keep(app, name)
                view = go_on(desk, view, clock)
            app.lookout.take(view)
            app.show_ending(view)
            await pilot.pause()
            keep(app, "ending")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        asyncio.run(pictures(Path(made)))
