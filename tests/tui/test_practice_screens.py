"""Practice on the screen: the instrument is worked and read there, and everything says that it is practice."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest
from fake_asks import START
from hypothesis import given
from hypothesis import strategies as st
from screen_text import screen_text

from checklist_tui.practice_app import PracticeApp
from checklist_tui.practice_cases import PracticeUseCases, open_practice
from checklist_tui.screens.practice_checkout import PracticeCheckoutScreen
from checklist_tui.screens.practice_home import PracticeHomeScreen
from checklist_tui.screens.seen import SeenScreen
from checklist_tui.screens.sheet import SheetScreen
from checklist_tui.widgets.bench_face import scale_lines
from checklist_tui.widgets.bench_panel import BenchPanel
from procedures.clock import ManualClock
from procedures.practice import packaged
from procedures.practice.drills import Drill, sound
from procedures.practice.facing import figures
from procedures.practice.kit import kits
from procedures.site.practising.views import NeedleFace

SIZES = [(80, 24), (60, 20)]
VENTED = "vented-chamber-analog"


@pytest.fixture
def cases(tmp_path: Path) -> Iterator[PracticeUseCases]:
    made = open_practice(tmp_path / "practice", ManualClock(START), "p")
    yield made
    made.site.close()


def begun(cases: PracticeUseCases, case: str = "") -> str:
    """A session of somebody new, on a case or on a sound vented chamber."""
    person = cases.enrol("Tila Novice")
    now = cases.clock.now().utc
    wanted = packaged.cases()[case] if case else sound(kits()[VENTED])
    return cases.desk.begin(person.id, Drill(wanted, "7", now)).checkout


@given(st.floats(-0.05, 1.05), st.sampled_from([20, 25, 30, 50]), st.integers(34, 76))
def test_the_needle_can_be_read_to_half_a_division(position: float, divisions: int, width: int) -> None:
    """What is drawn says where the needle stands, to a quarter of a division either way, on the scale and beyond it."""
    needle = NeedleFace(position, figures(Decimal(3)), divisions)
    _, marks, pointer = scale_lines(needle, max(width, divisions + 5))
    first = marks.index("│") if "│" in marks else 0
    step = marks.index("╵") - first if "╵" in marks else 1
    sign = pointer.strip()
    half = {"▌": -0.5, "┃": 0.0, "▐": 0.5}[sign]
    read = (pointer.index(sign) - first + half) / step
    at = min(max(position * divisions, -2 / step), divisions + 2 / step)
    assert abs(read - at) <= 0.26


@pytest.mark.parametrize("size", SIZES)
async def test_the_instrument_is_worked_by_letters_and_seen_to_answer(
    cases: PracticeUseCases, size: tuple[int, int]
) -> None:
    """Switched on, its button held until it is pressed again, its range changed; the held state is plain."""
    session = begun(cases)
    app = PracticeApp(cases)
    async with app.run_test(size=size) as pilot:
        app.person = cases.who("T-1")
        app.show_checkout(session)
        await pilot.pause()
        assert isinstance(app.screen, PracticeCheckoutScreen)
        await pilot.press("f7")
        assert app.screen.query_one(BenchPanel).has_focus
        await pilot.press("p")
        assert cases.desk.face(session).on
        await pilot.press("z")
        await pilot.pause()
        assert cases.desk.face(session).held == ("zero",)
        assert "HELD" in screen_text(app)
        await pilot.press("z", "r")
        await pilot.pause()
        face = cases.desk.face(session)
        assert face.held == ()
        assert face.selector is not None
        assert face.selector.name == "x10"
        assert "PRACTICE" in screen_text(app)
        await pilot.press("v")
        await pilot.pause()
        assert isinstance(app.screen, SeenScreen)
        assert "P-1" in screen_text(app)
        await pilot.press("escape", "f7")
        await pilot.pause()
        assert not app.screen.query_one(BenchPanel).has_focus


async def test_no_figure_of_a_needles_reading_is_shown(cases: PracticeUseCases) -> None:
    """Whoever is told the figure does not learn to read it."""
    session = begun(cases)
    app = PracticeApp(cases)
    async with app.run_test(size=(80, 24)) as pilot:
        app.show_checkout(session)
        cases.desk.work(session, "power", "on")
        cases.desk.work(session, "source", "daily")
        cases.clock.advance(60)  # type: ignore[attr-defined]
        await pilot.pause(0.3)
        text = screen_text(app)
        needle = cases.desk.face(session).needle
        assert needle is not None
        assert f"{needle.position * 3:.2f}" not in text
        assert "┃" in text or "▌" in text or "▐" in text


@pytest.mark.parametrize("size", SIZES)
async def test_what_fails_by_judgement_leads_to_the_debrief(cases: PracticeUseCases, size: tuple[int, int]) -> None:
    """A torn window that was seen: locked out, right, and said so first; then back to the beginning."""
    name = next(each for each in packaged.cases() if each.startswith("vented") and "window" in each)
    session = begun(cases, name)
    app = PracticeApp(cases)
    async with app.run_test(size=size) as pilot:
        app.person = cases.who("T-1")
        app.show_checkout(session)
        await pilot.pause()
        await pilot.press("f6")
        await pilot.pause()
        await pilot.press(*"torn window", "enter")
        cases.clock.advance(2)  # type: ignore[attr-defined]
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, SheetScreen)
        text = screen_text(app)
        assert "PRACTICE" in text
        assert "RIGHT" in text
        await pilot.press("escape")
        await pilot.pause()
        assert isinstance(app.screen, PracticeHomeScreen)


async def test_a_new_name_is_put_on_the_list_and_begins_a_drill(cases: PracticeUseCases) -> None:
    """From an empty room to the first question, by keys alone."""
    app = PracticeApp(cases)
    clock = cases.clock
    assert isinstance(clock, ManualClock)

    async with app.run_test(size=(80, 24)) as pilot:

        async def chosen(number: str) -> None:
            await pilot.press(number)
            clock.advance(1)
            await pilot.press("enter")
            clock.advance(1)
            await pilot.pause()

        await chosen("6")
        await pilot.press(*"Tila Novice", "enter")
        clock.advance(2)
        await pilot.press("enter")
        clock.advance(2)
        await pilot.pause()
        assert app.person is not None
        for number in ("2", "5", "3"):
            await chosen(number)
        assert isinstance(app.screen, PracticeCheckoutScreen)
        assert cases.desk.speed(app.screen.checkout) == 10
        assert "Scan the label" in screen_text(app)
