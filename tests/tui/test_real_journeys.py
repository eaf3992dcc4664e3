"""Journeys with real keys on the demo site: the real site and the real desk, from the badge to the ending screen.

Each is walked on a plain terminal and in the corner of a rugged laptop's screen. The demo is made once and copied.
"""

from __future__ import annotations

import shutil
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import pytest
from demo_hands import GOOD, Hands, Seen, always_in_sight, due, in_full, program, read_ending
from screen_text import screen_text

from procedures.clock import ManualClock
from procedures.journal.states import fitness
from procedures.site.demo import make_demo
from procedures.site.opening import open_site

NOW: Final = datetime(2031, 5, 6, 8, 30, tzinfo=UTC)
SIZES: Final = ((80, 24), (60, 20))
BADGE: Final = "QP-2"

Begin = Callable[..., AbstractAsyncContextManager[Hands]]


@dataclass(frozen=True, slots=True)
class Bad:
    """What is seen otherwise than on a good day; the reason codes and the words of the ending it must come to."""

    seen: Seen
    codes: tuple[str, ...]
    words: tuple[str, ...]


BAD: Final = {
    # The zero will not come right, and the desiccant that is looked at for it is spent.
    "vented": Bad(
        {"zero/zero": "x1 0.2", "desiccant/colour": "green"},
        ("zero-off", "desiccant-spent"),
        ("0.2", "at most 0.05 mR/h", "Desiccant is green", "out-of-service shelf"),
    ),
    # The alarm lights and makes no sound, before and after it was set.
    "sealed": Bad(
        {"test-button": "light only"}, ("alarm-silent",), ("alarm", "Hang a tag on it", "tell the site lead")
    ),
    "pancake": Bad(
        {"window/window": "torn or holed"}, ("window-damaged",), ("window", "Hang a tag on it", "tell the site lead")
    ),
    # A pinhole in the film: it counts light.
    "alpha": Bad({"bright-reading": "940"}, ("light-leak",), ("light", "Hang a tag on it", "tell the site lead")),
    # Source and scale are looked at twice, and it stays silent: never "not checked".
    "neutron": Bad(
        {
            "reading-1": "x10 no-movement",
            "reading-look-again": "one was wrong",
            "reading-1-anew": "x10 no-movement",
        },
        ("no-response",),
        ("does not respond", "Hang a tag on it", "tell the site lead", "Put source QS-3 back into its store"),
    ),
}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One demo for all journeys."""
    folder = tmp_path_factory.mktemp("demo")
    make_demo(folder, ManualClock(NOW, session="made")).close()
    return folder


@pytest.fixture
def begin(demo: Path, tmp_path: Path) -> Begin:
    """Starts the program, `size` large, on this test's own copy of the demo; again: on what the last start left."""
    folder = tmp_path / "site"
    shutil.copytree(demo, folder)

    @asynccontextmanager
    async def started(
        size: tuple[int, int] = (80, 24), *, minutes: float = 1, session: str = "first", badge: str = BADGE
    ) -> AsyncIterator[Hands]:
        clock = ManualClock(NOW + timedelta(minutes=minutes), session=session)
        with open_site(folder, clock, marking="demo") as site:
            app = program(site)
            async with app.run_test(size=size) as pilot:
                hands = Hands(app, pilot, site, clock)
                await pilot.pause()
                always_in_sight(app, "home")
                if badge:
                    await hands.say_who(badge)
                yield hands

    return started


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("profile", GOOD)
async def test_to_fit_for_use(begin: Begin, profile: str, size: tuple[int, int]) -> None:
    """A good day ends fit for use, and the screen says for what, until when, and what goes with it into the field."""
    good = GOOD[profile]
    async with begin(size) as hands:
        await hands.begin(good.instrument)
        view = await hands.to_ending(good)

        assert view.ending is not None
        assert view.ending.ending == "fit for use", hands.asked
        said = await read_ending(hands.app, hands.pilot)
        assert f"✓ FIT FOR USE {good.instrument}" in said
        assert f"Until {view.ending.until_local}" in said
        for words in good.fit:
            assert words in said
        always_in_sight(hands.app, "ending")

        now = fitness(hands.site.journal.instrument_now(view.instrument), hands.clock.now().utc)
        assert (now.word, now.until) == ("ready", view.ending.until)
        assert view.ending.sources_out == ()


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("profile", BAD)
async def test_to_locked_out(begin: Begin, profile: str, size: tuple[int, int]) -> None:
    """What fails ends locked out, and the screen says why and what to do with the instrument now."""
    good, bad = GOOD[profile], BAD[profile]
    async with begin(size) as hands:
        await hands.begin(good.instrument)
        view = await hands.to_ending(good, bad.seen)

        assert view.ending is not None
        assert view.ending.ending == "locked out", hands.asked
        assert tuple(each.code for each in view.ending.reasons) == bad.codes
        said = await read_ending(hands.app, hands.pilot)
        assert f"■ LOCKED OUT {good.instrument}" in said
        for words in (*bad.codes, *bad.words):
            assert words in said
        always_in_sight(hands.app, "ending")

        instrument = hands.site.journal.instrument_now(view.instrument)
        assert fitness(instrument, hands.clock.now().utc).word == "locked out"
        standing = [each for each in instrument.lockouts if each.status == "open"]
        assert [reason.code for each in standing for reason in each.reasons] == list(bad.codes)


# --- side by side, set aside, left open


async def test_a_wait_that_ends_calls_its_instrument_by_name(begin: Begin) -> None:
    """While one warms up the next is looked over; when the first is ready the program says so, and which one it is."""
    async with begin() as hands:
        await hands.begin("QO-01")
        first = hands.app.front
        await hands.to(first, "warm-up/warm-up", GOOD["vented"])
        await hands.press("f3")
        assert "… QO-01 waiting" in hands.seen

        await hands.begin("QO-10")
        second = hands.app.front
        await hands.to(second, "look-over/label", GOOD["neutron"])
        in_front = hands.view
        await hands.later(60)
        assert "QO-01: the wait is over" in hands.seen
        assert hands.app.front == second, "it calls, and takes nobody away"
        assert hands.view.ask == in_front.ask

        await hands.press("f5", "enter")
        assert hands.app.front == first
        assert due(hands.view) == "window/window"
        assert "the wait is over" not in hands.seen, "it was answered"
        view = await hands.to_ending(GOOD["vented"])
        assert view.ending is not None
        assert view.ending.ending == "fit for use"

        await hands.leave_ending()
        await hands.press("f5", "enter")
        assert hands.app.front == second
        assert due(hands.view) == "look-over/label"
        in_full(hands.app, hands.view)


async def test_paused_and_gone_on_with(begin: Begin) -> None:
    """Pausing keeps everything; whoever goes on says whether it stayed on, and meets the same ask again."""
    async with begin((60, 20)) as hands:
        checkout = await hands.begin("QO-01")
        await hands.to(checkout, "window/window", GOOD["vented"])
        await hands.press("f4", "enter")
        assert hands.app.screen.place == "home"  # type: ignore[attr-defined]
        assert "QO-01 paused" in hands.seen

        await hands.later(600)
        await hands.type("QO-01", "enter")
        assert "QO-01 is paused" in hands.seen
        await hands.press("1", "enter")
        assert "Was QO-01 switched off meanwhile?" in hands.seen
        await hands.press("1", "enter")
        assert due(hands.view) == "window/window"
        in_full(hands.app, hands.view)


async def test_switched_off_meanwhile_begins_anew(begin: Begin) -> None:
    """A warm-up that was switched off counts for nothing: back to the first step, and the screen says why."""
    async with begin() as hands:
        checkout = await hands.begin("QO-01")
        await hands.to(checkout, "window/window", GOOD["vented"])
        await hands.press("f4", "enter")
        await hands.type("QO-01", "enter")
        await hands.press("1", "enter", "2", "enter")
        assert due(hands.view) == "look-over/instrument"
        assert hands.view.notice
        assert hands.view.notice in hands.seen


async def test_left_open_when_the_program_dies(begin: Begin) -> None:
    """Killed in the middle of a wait: the next start shows it as left open and goes on at the same ask, from its
    beginning, since nobody saw what happened meanwhile."""
    async with begin() as hands:
        checkout = await hands.begin("QO-01")
        await hands.to(checkout, "zero/settle", GOOD["vented"])
        await hands.later(5)
        begun = hands.view.wait
        # It ends without a word: nothing is paused, nothing is said to the desk.

    async with begin((60, 20), minutes=8, session="second") as hands:
        assert "QO-01 left open" in hands.seen
        await hands.type("QO-01", "enter")
        assert hands.app.front == checkout
        assert "left open" in hands.seen
        await hands.press("1", "enter", "1", "enter")
        assert due(hands.view) == "zero/settle"
        again = hands.view.wait
        assert begun is not None
        assert again is not None
        assert again.remaining == again.seconds > begun.remaining

        view = await hands.to_ending(GOOD["vented"])
        assert view.ending is not None
        assert view.ending.ending == "fit for use"


# --- by a person's own judgement


async def test_failed_by_judgement(begin: Begin) -> None:
    """F6, a reason, one confirmation: locked out at once with the reason as it was written."""
    async with begin((60, 20)) as hands:
        checkout = await hands.begin("QO-01")
        await hands.to(checkout, "battery/battery", GOOD["vented"])
        await hands.press("f6")
        await hands.type("needle sticks when tilted", "enter")
        assert hands.app.use_cases.desk.view(checkout).ending is None, "nothing has happened yet"
        await hands.press("enter")
        said = await read_ending(hands.app, hands.pilot)
        assert "■ LOCKED OUT QO-01" in said
        assert "Needle sticks when tilted" in said
        assert word(hands, "QO-01") == "locked out"


async def test_readiness_ended_with_a_cause(begin: Begin) -> None:
    """Whoever drops one says so with F7; it is not ready any longer, and everybody sees it."""
    async with begin() as hands:
        assert word(hands, "QO-02") == "ready"
        await hands.type("QO-02", "enter")
        await hands.press("f7")
        assert "What happened to QO-02?" in hands.seen
        await hands.press("1", "enter")
        assert word(hands, "QO-02") == "ready", "not before it is confirmed"
        await hands.press("enter")
        assert "QO-02: readiness has ended" in hands.seen
        assert word(hands, "QO-02") == "needs check"


async def test_locked_out_by_hand(begin: Begin) -> None:
    """F6 on an instrument that is in no checkout: the form with common reasons; afterwards nobody can begin one."""
    async with begin((60, 20)) as hands:
        await hands.type("QO-04", "enter")
        await hands.press("f6")
        assert "what is wrong" in hands.seen
        await hands.press("1", "enter")
        await hands.type("handle is off", "enter")
        await hands.type("17", "enter")
        assert word(hands, "QO-04") != "locked out", "not before it is kept"
        await hands.press("f4")
        assert "QO-04 is locked out" in hands.seen
        assert word(hands, "QO-04") == "locked out"

        await hands.press("f3")
        await hands.type("QO-04", "enter")
        assert "handle is off" in hands.seen
        await hands.press("enter")
        assert not hands.app.front, "it cannot be begun"
        assert "It is locked out: the site lead has to clear it first" in hands.seen


# --- home, and what is typed wrong


async def test_source_scanned_back(begin: Begin) -> None:
    """Home shows the source that was left out; its label, scanned there, brings it back."""
    async with begin((60, 20)) as hands:
        assert "1 source out: QS-5" in hands.seen
        await hands.type("QS-5", "tab")
        assert "Source QS-5 is back in its store" in hands.seen
        assert "source out" not in hands.seen
        assert hands.site.journal.source_now(hands.site.journal.labelled("QS-5")[0].id).out_with is None


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_bad_readings_keep_the_ask(begin: Begin, size: tuple[int, int]) -> None:
    """More than the scale has, no position, no figure: each is said in words, and the same reading is still asked."""
    async with begin(size) as hands:
        checkout = await hands.begin("QO-01")
        await hands.to(checkout, "zero/as-found", GOOD["vented"])
        before = hands.view
        await hands.type("0.05", "enter")
        assert "selector position is missing" in hands.seen
        await hands.press("down")
        for wrong in ("9.9", "o.o5", "4 R/h"):
            await hands.type(wrong, "enter")
            assert "Allowed:" in hands.seen, screen_text(hands.app)
            assert hands.view.ask == before.ask
            in_full(hands.app, hands.view)
        # Up from x1 is the last position: what it comes to there is said before anything is kept.
        await hands.press("up")
        await hands.type("5", "enter")
        assert "x100" in hands.seen
        assert due(hands.view) == "zero/as-found"
        await hands.press("down")
        await hands.type("0.05", "enter")
        assert "that is 0.05 mR/h" in hands.seen, screen_text(hands.app)
        assert "Allowed:" not in hands.seen
        await hands.press("enter")
        assert due(hands.view) == "zero/hold"


async def test_wrong_label_is_not_taken(begin: Begin) -> None:
    """The instrument in the hand is another one than the checkout is of: said at once, and asked again."""
    async with begin((60, 20)) as hands:
        await hands.begin("QO-01")
        await hands.type("QO-02", "enter")
        assert due(hands.view).startswith("look-over/instrument")
        assert "QO-02" in hands.seen
        in_full(hands.app, hands.view)


def word(hands: Hands, label: str) -> str:
    """The fitness of an instrument, folded afresh from the journal."""
    instrument = hands.site.journal.labelled(label)[0].id
    return fitness(hands.site.journal.instrument_now(instrument), hands.clock.now().utc).word
