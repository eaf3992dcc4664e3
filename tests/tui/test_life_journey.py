"""The life of an instrument, by keys: taken in, calibrated, bound, referenced, checked; then out, back, failed, in
doubt, cleared, exchanged.

The first check is done by keys from its first ask to its ending; the later ones at the desk behind the screens.
"""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path
from typing import Any, Final

from demo_hands import GOOD, Good, Hands, due
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
from procedures.site import beginning, clearing, exchange
from procedures.site.opening import Site, open_site
from procedures.site.verification import verify_site
from procedures.site.views import CheckoutView

PIN: Final = "739152"


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

    async def row(self, words: str) -> None:
        """From wherever to a row of the records, and open it."""
        await self.home()
        await self.press("f3")
        for _ in range(60):
            found = re.search(rf"▸\s+{re.escape(words)}", self.seen)
            if found:
                break
            await self.press("down")
        assert found, f"{words!r} is no row here: {self.seen}"
        await self.press("enter")

    async def fill(self, **values: str | tuple[str, ...]) -> None:
        """Fill a form in as it asks, page after page; what is not given stays as it is.

        Several values are typed one after another, then Enter alone unless the field has had enough by then. "!" and a
        reason rejects what was typed last.
        """
        for _ in range(60):
            if not isinstance(self.app.screen, FormScreen):
                return
            present = self.app.screen.query_one(FormPage).present
            if present is None or (value := values.get(present.asks.id)) is None:
                await self.press("enter")
            elif isinstance(value, tuple):
                await self._several(present.asks.id, value)
            elif present.asks.kind in ("choice", "yes-no"):
                options = [each.value for each in present.asks.options] or ["yes", "no"]
                await self.press(str(options.index(value) + 1), "enter")
            else:
                await self.type(value)
        raise AssertionError(f"the form does not end: {self.seen}")

    async def _several(self, field: str, values: tuple[str, ...]) -> None:
        for each in values:
            if each.startswith("!"):
                await self.press("f6")
                await self.type(each[1:])
                await self.press("enter")
            else:
                await self.type(each)
        present = self.app.screen.query_one(FormPage).present
        if present is not None and present.asks.id == field:
            await self.press("enter")

    def check(self, answer: Any = sensible) -> str:
        """A checkout of the instrument, at the desk."""
        desk = self.app.use_cases.desk
        view = walk(desk, desk.start(id_of(self.site, "C-1"), id_of(self.site, "P-1")), self.clock, answer)  # type: ignore[arg-type]
        self.clock.advance(60)
        return view.ending.ending  # type: ignore[union-attr]

    def stands(self) -> str:
        state = self.site.journal.instrument_now(id_of(self.site, "C-1"))
        return fitness(state, self.clock.now().utc).word


async def test_from_an_empty_site_to_fit_for_use_by_keys(tmp_path: Path) -> None:
    """Somebody with nothing but a new site and their PIN gets an instrument to fit for use by the screens alone."""
    clock = ManualClock(START)
    plan = beginning.Beginning(
        name="New site", zone="Etc/UTC", day_starts="06:00", shifts=("06:00", "14:00", "22:00"),
        lead=beginning.Lead("W-1", "Lead Person", "LP"), settings=beginning.GUARDED,
        profiles=("vented-chamber-analog",),
    )  # fmt: skip
    with beginning.begin(tmp_path / "site", clock, plan, station="station-a", salt=bytes(16), pin=PIN) as site:
        app = ChecklistApp(SiteUseCases(site), bell=False)
        async with app.run_test(size=(80, 24)) as pilot:
            life = Life(app, pilot, site, clock)
            for _ in range(5):
                await pilot.pause()
            await life.type("W-1")
            await _taken_in(life)
            await _calibrated_and_bound(life)
            await _referenced(life)
            await _checked(Hands(app, pilot, site, clock))
    found = verify_site(tmp_path / "site")
    assert found.sound, found


async def _taken_in(life: Life) -> None:
    await life.row("A new person")
    await life.fill(label="W-2", name="Tech Person", initials="TP", pin=PIN)
    await life.row("A new check source")
    await life.fill(
        label="WS-1",
        nuclide="Cs-137",
        activity="340 kBq",
        activity_on="2026-03-12",
        emits="gamma",
        strong="no",
        pin=PIN,
    )
    await life.row("A new jig")
    await life.fill(label="WJ-1", pin=PIN)
    await life.row("A new instrument")
    await life.fill(label="W-101", type="Vent one", profile="vented-chamber-analog", pin=PIN)
    for label in ("W-2", "WS-1", "WJ-1", "W-101"):
        assert life.site.journal.labelled(label), f"{label} was not taken in: {life.seen}"
    await life.instrument("W-101")
    await life.do("Reference reading")
    assert not isinstance(life.app.screen, FormScreen), "without a calibration there is nothing to refer to"


async def _calibrated_and_bound(life: Life) -> None:
    today = life.clock.now().utc.date()
    await life.instrument("W-101")
    await life.do("Calibration")
    await life.fill(
        on=(today - timedelta(days=5)).isoformat(), by="Cal lab", certificate="K-1", pin=PIN,
        points=(
            *("x1", "2.00", "2.10", "2.05", "mR/h"),
            *("x10", "20", "21", "20.5", "mR/h"),
            *("x100", "200", "215", "204", "mR/h"),
        ),
    )  # fmt: skip
    calibration = life.site.journal.instrument_now(id_of(life.site, "W-101")).calibration
    assert calibration is not None, life.seen
    await life.instrument("W-101")
    await life.do("Bind a check source")
    await life.fill(source="WS-1", jig="WJ-1", pin=PIN)
    bound = life.site.journal.instrument_now(id_of(life.site, "W-101")).bindings["daily"]
    assert (bound.source, bound.jig) == (id_of(life.site, "WS-1"), id_of(life.site, "WJ-1"))


async def _referenced(life: Life) -> None:
    """Ten readings count; the one that was disturbed is kept with its reason."""
    await life.instrument("W-101")
    await life.do("Reference reading")
    await life.fill(
        source="WS-1", jig="WJ-1", temperature="21.0", pressure="99.4", pin=PIN,
        readings=("1.64", "1.66", "1.9", "!jig was bumped", *("1.66", "1.65") * 4),
    )  # fmt: skip
    events, total = life.site.journal.happened(["reference-recorded"], since=None, until=None, limit=10, offset=0)
    assert total == 1, life.seen
    assert "jig was bumped" in str(events[0].body), events[0].body


async def _checked(hands: Hands) -> None:
    life = Life(hands.app, hands.pilot, hands.site, hands.clock)
    await life.home()
    hands.clock.advance(600)
    checkout = await hands.begin("W-101")
    good = Good("W-101", GOOD["vented"].seen, ())
    for _ in range(60):
        view = hands.app.use_cases.desk.view(checkout)
        if view.ending is not None:
            break
        hands.asked.append(due(view))
        await hands.one(view, good, good.seen)
    assert view.ending is not None, hands.asked
    assert view.ending.ending == "fit for use", hands.asked
    assert fitness(hands.site.journal.instrument_now(view.instrument), hands.clock.now().utc).word == "ready"


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
    await life.row("Inspection binder")
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
    await life.row("Exchange")
    await life.do("Take a file")
    await life.fill(path=str(place / "back.exchange"))
    assert "C-1" in life.seen
    assert life.stands() == "locked out"
    await life.instrument()
    await life.do("Hand out")
    assert not isinstance(life.app.screen, FormScreen)
