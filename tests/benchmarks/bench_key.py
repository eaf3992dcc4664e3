"""How long a key takes to be seen in the checkout screen, against a bare Input: from the key to the paint.

    python tests/benchmarks/bench_key.py [rounds]

Both apps run headless in one process, by turns, on the demo site's real desk. Prints the medians and their ratio. The
aim is a ratio of at most 1.5.
"""

from __future__ import annotations

import asyncio
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from textual.app import App, ComposeResult
from textual.events import Key
from textual.widgets import Input

from checklist_tui.app import ChecklistApp
from checklist_tui.use_cases import SiteUseCases

AIM = 1.5
ROUNDS = 120
BLOCKS = 6
SIZE = (80, 24)


class Painted:
    """Notes when an app last painted."""

    painted: asyncio.Event

    def _display(self, *given: Any) -> None:
        super()._display(*given)  # type: ignore[misc]
        if hasattr(self, "painted"):
            self.painted.set()


class Bare(Painted, App[None]):
    """One Input."""

    def compose(self) -> ComposeResult:
        yield Input()


class Checkout(Painted, ChecklistApp):
    """The whole interface."""


async def key_to_paint(app: Any) -> float:
    """Seconds from a key's arrival to the paint that shows it."""
    app.focused.cursor_blink = False
    await asyncio.sleep(0.02)
    app.painted = asyncio.Event()
    begun = time.perf_counter()
    app.post_message(Key("x", "x"))
    await asyncio.wait_for(app.painted.wait(), 5)
    return time.perf_counter() - begun


async def block(app: Any, keys: int, prepare: Any = None) -> list[float]:
    """`keys` keys to one app; the first few are thrown away."""
    async with app.run_test(size=SIZE) as pilot:
        if prepare is not None:
            await prepare(app, pilot)
        took = []
        for at in range(keys + 5):
            if at % 20 == 0:
                app.focused.value = ""
            took.append(await key_to_paint(app))
        return took[5:]


async def compare(site: Any, rounds: int) -> None:
    """The two apps by turns."""
    uses = SiteUseCases(site)
    ours: list[float] = []
    theirs: list[float] = []
    for _ in range(BLOCKS):
        theirs += await block(Bare(), rounds // BLOCKS)
        ours += await block(Checkout(uses), rounds // BLOCKS, open_a_scan)
    one, two = statistics.median(theirs), statistics.median(ours)
    print(f"bare Input {one * 1000:.2f} ms, checkout {two * 1000:.2f} ms, ratio {two / one:.2f} (aim: at most {AIM})")


async def open_a_scan(app: Checkout, pilot: Any) -> None:
    """A checkout at an ask with a field: the first instrument that may be checked, answered up to there."""
    from procedures.asks import Acknowledge, Choice, Place, Wait
    from procedures.site import status
    from procedures.site.views import Typed

    site: Any = app.use_cases._site  # type: ignore[attr-defined]
    app.person = next(each for each in status.people(site) if not each.may_check)
    desk = app.use_cases.desk
    left = [each for each in desk.open_checkouts() if each.phase == "asking"]
    if left:
        view = desk.view(left[0].checkout)
    else:
        row = next(each for each in status.status(site) if each.fitness == "ready" and each.whereabouts == "here")
        view = desk.start(row.id, app.person.id)
    while isinstance(view.ask, Acknowledge | Choice | Place | Wait):
        ask = view.ask
        if isinstance(ask, Wait):
            site.clock.advance(ask.seconds)
            view = desk.tick(view.checkout)
        elif isinstance(ask, Acknowledge):
            view = desk.answer(view.checkout, ask.key, Typed("yes"), took=9.0)
        else:
            good = ask.options[0].value if isinstance(ask, Choice) else ask.places[len(ask.places) // 2]
            view = desk.answer(view.checkout, ask.key, Typed(good), took=9.0)
    app.lookout.take(view)
    app.show_checkout(view.checkout)
    await pilot.pause()
    assert isinstance(app.focused, Input), view.ask


def main() -> None:
    """On a demo site whose clock is moved by hand."""
    import datetime as dt

    from procedures.clock import ManualClock
    from procedures.site.demo import make_demo

    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    with tempfile.TemporaryDirectory() as place:
        clock = ManualClock(dt.datetime.now(dt.UTC))
        with make_demo(Path(place) / "demo", clock) as site:
            asyncio.run(compare(site, rounds))


if __name__ == "__main__":
    main()
