"""The life of an instrument around its checks, by keys: out, back, failed, in doubt, cleared, exchanged.

The checkouts themselves are walked by keys elsewhere; here they are done at the desk behind the screens.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from desk_walk import START, id_of, sensible, small_site, walk
from screen_text import screen_text
from textual.events import Key

from checklist_tui.app import ChecklistApp
from checklist_tui.screens.form import FormScreen
from checklist_tui.use_cases import SiteUseCases
from checklist_tui.widgets.form_page import FormPage
from procedures.asks import Ask, ReadingAsk
from procedures.clock import ManualClock
from procedures.journal.states import fitness
from procedures.site import clearing, exchange
from procedures.site.opening import Site, open_site
from procedures.site.verification import verify_site
from procedures.site.views import CheckoutView


def _low(ask: Ask, view: CheckoutView) -> str:
    return "1.10" if isinstance(ask, ReadingAsk) and ask.key.startswith("reading-") else sensible(ask, view)


class Life:
    """Somebody at the keyboard who reads the screen and presses what it says."""

    def __init__(self, app: ChecklistApp, pilot: Any, site: Site, clock: ManualClock) -> None:
        self.app, self.pilot, self.site, self.clock = app, pilot, site, clock

    @property
    def seen(self) -> str:
        return " ".join(screen_text(self.app).split())

    async def press(self, *keys: str) -> None:
        for key in keys:
            self.clock.advance(0.5)
            self.app.post_message(Key(key, key if len(key) == 1 else None))
            for _ in range(5):
                await self.pilot.pause(0)

    async def type(self, text: str) -> None:
        await self.press("ctrl+u")
        self.app.focused.insert_text_at_cursor(text)  # type: ignore[union-attr]
        await self.press("enter")

    async def home(self) -> None:
        for _ in range(12):
            if len(self.app.screen_stack) == 1:
                return
            await self.press("f3" if getattr(self.app.screen, "place", "") in ("instrument", "sheet") else "escape")
        raise AssertionError(f"no way home: {self.seen}")

    async def instrument(self, label: str = "C-1") -> None:
        """From wherever to everything about an instrument: home, its label, the key."""
        await self.home()
        await self.type(label)
        await self.press("f4")
        assert f"{label} " in self.seen

    async def do(self, words: str) -> None:
        """Open one of the things that can be done here."""
        await self.press("f4")
        for _ in range(40):
            found = re.search(rf"▸\s+\d+\s+{re.escape(words)}", self.seen)
            if found:
                break
            await self.press("down")
        assert found, f"{words!r} cannot be done here: {self.seen}"
        await self.press("enter")

    async def fill(self, **values: str) -> None:
        """Fill a form in as it asks, page after page; what is not given stays as it is."""
        for _ in range(60):
            if not isinstance(self.app.screen, FormScreen):
                return
            present = self.app.screen.query_one(FormPage).present
            if present is None or (value := values.get(present.asks.id)) is None:
                await self.press("enter")
            elif present.asks.kind in ("choice", "yes-no"):
                options = [each.value for each in present.asks.options] or ["yes", "no"]
                await self.press(str(options.index(value) + 1), "enter")
            else:
                await self.type(value)
        raise AssertionError(f"the form does not end: {self.seen}")

    def check(self, answer: Any = sensible) -> str:
        """A checkout of the instrument, at the desk."""
        desk = self.app.use_cases.desk
        view = walk(desk, desk.start(id_of(self.site, "C-1"), id_of(self.site, "P-1")), self.clock, answer)  # type: ignore[arg-type]
        self.clock.advance(60)
        return view.ending.ending  # type: ignore[union-attr]

    def stands(self) -> str:
        state = self.site.journal.instrument_now(id_of(self.site, "C-1"))
        return fitness(state, self.clock.now().utc).word


async def test_the_life_of_an_instrument_by_keys(tmp_path: Path) -> None:
    """Each thing is done where the screens lead to it, and the next one is refused until it was done."""
    clock = ManualClock(START)
    with small_site(tmp_path / "one", clock) as site:
        app = ChecklistApp(SiteUseCases(site), bell=False)
        async with app.run_test(size=(80, 24)) as pilot:
            life = Life(app, pilot, site, clock)
            for _ in range(5):
                await pilot.pause()
            await life.type("P-1")
            assert "Lead Person" in life.seen
            await _out_and_back(life)
            await _failed_and_in_doubt(life)
            await _cleared_and_checked(life)
            await _binder(life, tmp_path / "one")
            await _exchanged(life, tmp_path)
    found = verify_site(tmp_path / "one")
    assert found.sound, found


async def _out_and_back(life: Life) -> None:
    await life.instrument()
    await life.do("Hand out")
    assert "not fit for use" in life.seen
    assert not isinstance(life.app.screen, FormScreen)
    assert life.check() == "fit for use"
    await life.instrument()
    await life.do("Hand out")
    await life.fill(to="P-2", job="survey of the store", place="hall 2")
    assert "handed out" in life.seen
    assert life.site.journal.instrument_now(id_of(life.site, "C-1")).whereabouts == "handed out"
    life.clock.advance(3600)
    await life.instrument()
    await life.do("Take back")
    await life.fill(by="P-2", condition="as it went out")
    assert life.site.journal.instrument_now(id_of(life.site, "C-1")).whereabouts == "here"


async def _failed_and_in_doubt(life: Life) -> None:
    assert life.check(_low) == "locked out"
    await life.instrument()
    await life.do("Tag")
    assert "OUT OF SERVICE" in life.seen
    await life.instrument()
    await life.do("Uses in doubt")
    assert "hall 2" in life.seen
    rows, total = life.site.journal.doubts_open(limit=10)
    assert total == 1
    await life.do("Look into")
    await life.fill(note="surveyed again with another instrument")
    assert life.site.journal.doubts_open(limit=10)[1] == 0
    assert life.site.journal.doubts_all(limit=10)[0][0].use == rows[0].use


async def _cleared_and_checked(life: Life) -> None:
    await life.instrument()
    await life.do("Clear")
    await life.fill(
        cause="its source had slipped in the jig", action="jig tightened", parts="", repaired_by="workshop",
        calibration="no",
    )  # fmt: skip
    assert life.stands() == "locked out", "a clearing alone gives nothing back"
    assert life.check() == "fit for use"
    assert life.stands() == "ready"


async def _binder(life: Life, folder: Path) -> None:
    await life.home()
    await life.press("f3")
    for _ in range(60):
        if re.search(r"▸\s+Inspection binder", life.seen):
            break
        await life.press("down")
    await life.press("enter")
    await life.fill()
    assert "in doubt" in life.seen
    await life.press("f6", "1", "enter", "enter")
    assert list((folder / "reports").glob("binder*")), life.seen


async def _exchanged(life: Life, place: Path) -> None:
    """Another laptop locks the same instrument out while it is ready here: the lockout arrives."""
    file = place / "first.exchange"
    exchange.exchange_out(life.site, file)
    exchange.join(file, place / "two", life.clock, station="station-b", name="second laptop")
    with open_site(place / "two", life.clock) as second:
        life.clock.advance(60)
        clearing.lock_by_hand(second, id_of(second, "C-1"), id_of(second, "P-2"), "it was dropped")
        exchange.exchange_out(second, place / "back.exchange")
    await life.home()
    await life.press("f3")
    for _ in range(60):
        if re.search(r"▸\s+Exchange", life.seen):
            break
        await life.press("down")
    await life.press("enter")
    await life.do("Take a file")
    await life.fill(path=str(place / "back.exchange"))
    assert "C-1" in life.seen
    assert life.stands() == "locked out"
    await life.instrument()
    await life.do("Hand out")
    assert not isinstance(life.app.screen, FormScreen)
