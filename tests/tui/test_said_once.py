"""What a screen says it says once, in the same words as line mode, and with its unit."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from fake_asks import BATTERY, START, every_ask
from hypothesis import given
from hypothesis import strategies as st
from screen_text import screen_text

from checklist_tui import line_results, line_words
from checklist_tui.app import ChecklistApp
from checklist_tui.line_mode import LineMode
from checklist_tui.screens import body_parts, ending
from checklist_tui.widgets.result_card import ResultCard
from checklist_tui.words import BEYOND, says_figure, scales_shown, wait_left
from procedures.answers import understand
from procedures.asks import ReadingAsk
from procedures.site.views import CheckoutView, EndingView, FindingView

WHY = "Multiply every reading by 1.04: at 21.0 °C the chamber holds other air."


def remedy_view(fake_site: Any) -> CheckoutView:
    """A remedy is due after the battery failed."""
    checkout = fake_site.desk.start("i1", "p1").checkout
    fake_site.desk.runs[checkout].remedy = True
    return replace(fake_site.desk.view(checkout), result=FindingView("battery", START, BATTERY, True))


def fit(fake_site: Any) -> tuple[CheckoutView, EndingView]:
    """A good ending with the factor 1.04."""
    checkout = fake_site.desk.start("i1", "p1").checkout
    fake_site.desk._end(fake_site.desk.runs[checkout], "fit for use")
    view = fake_site.desk.view(checkout)
    return view, view.ending


def test_a_remedy_says_the_failure_once(fake_site: Any) -> None:
    """Above the answers, where it is read; another step's finding would still be shown below."""
    view = remedy_view(fake_site)
    assert body_parts.below(view) == []
    other = replace(view, result=FindingView("air", START, replace(BATTERY, step="air"), True))
    assert [type(each) for each in body_parts.below(other)] == [ResultCard]
    assert [type(each) for each in body_parts.below(replace(view, remedy=None))] == [ResultCard]


@pytest.mark.parametrize(
    ("warnings", "said"), [((), 1), ((WHY,), 1), (("Damp by 11.04 or 1.041.",), 2)], ids=["bare", "with why", "another"]
)
def test_the_factor_is_said_once(fake_site: Any, warnings: tuple[str, ...], said: int) -> None:
    """With its reason where a warning has it, alone where none has: never lost, on the screen and in line mode."""
    view, good = fit(fake_site)
    good = replace(good, warnings=warnings)
    for lines in ([each.plain for each in ending._words(good)], line_results.ending_lines(view, good)):
        assert len([line for line in lines if "1.04" in line]) == said
        assert any(says_figure(line, "1.04") for line in lines)


def test_a_scale_that_was_not_shown_is_as_plain_as_in_line_mode(fake_site: Any) -> None:
    """Small letters in the middle of a line are read over."""
    view, good = fit(fake_site)
    screen = "\n".join(each.plain for each in ending._words(good))
    plain = "\n".join(line_results.ending_lines(view, good))
    for words in ("shown with the source", "shown by its zero only", "NOT SHOWN by this checkout"):
        assert words in screen
        assert words in plain
    assert scales_shown((("x1", "source"), ("x10", "not shown"), ("x100", "not shown"))) == [
        "x1 shown with the source",
        "x10, x100 NOT SHOWN by this checkout",
    ]


@given(st.decimals(Decimal("0.001"), 99, places=3), st.text("0123456789.", max_size=3))
def test_a_figure_is_not_found_within_a_longer_one(figure: Decimal, more: str) -> None:
    """1.02 does not stand in 1.023, nor 4 in 1.04."""
    assert says_figure(f"by {figure}: at", str(figure))
    assert says_figure(f"by {figure}.", str(figure))
    assert not says_figure(f"by 1{figure}", str(figure))
    if more.strip("."):
        assert not says_figure(f"by {figure}{more.strip('.')}", str(figure))


@given(st.floats(0.01, 5000))
def test_a_wait_has_its_unit(seconds: float) -> None:
    """58 of what? Minutes and seconds are known by their colon."""
    said = wait_left(seconds)
    assert said.endswith(" s") != (":" in said)


async def test_waits_beside_and_on_home_have_their_unit(fake_site: Any) -> None:
    """On both lines that name a wait of another instrument."""
    fake_site.rows[1] = replace(fake_site.rows[1], fitness="needs check", until=None)
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        app.person = fake_site.people["p1"]
        for instrument in ("i1", "i2"):
            app.begin_checkout(instrument)
            await pilot.pause()
        fake_site.desk.runs["checkout-i1"].at = 4
        app.lookout.take(fake_site.desk.view("checkout-i1"))
        fake_site.clock.advance(62)
        app.look_at_waits()
        await pilot.pause()
        assert "beside: C-101 … waiting 58 s" in screen_text(app)
        app.to_home()
        await pilot.pause()
        assert "… C-101     waiting 58 s" in screen_text(app)


@pytest.mark.parametrize("state", BEYOND)
def test_what_no_figure_says_has_one_name(state: str) -> None:
    """The words of the buttons are those of line mode, and the core understands them; the others still."""
    ask = next(each for _, each in every_ask("C-101") if isinstance(each, ReadingAsk))
    assert BEYOND[state] in line_words.answer_lines(ask)[-1]
    for word in (BEYOND[state], state):
        assert understand(ask, f"x1 {word}")[0].state == state


@pytest.mark.parametrize("size", [(60, 20), (80, 24)], ids=str)
async def test_the_form_says_how_the_selector_is_chosen(fake_site: Any, size: tuple[int, int]) -> None:
    """Without it nobody at a small screen knows."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=size) as pilot:
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        fake_site.desk.runs["checkout-i1"].at = 6
        app.lookout.take(fake_site.desk.view("checkout-i1"))
        app.look_at_waits()
        await pilot.pause()
        await pilot.pause()
        assert "( ) x10  (Up, Down)" in screen_text(app)


@pytest.mark.parametrize(
    ("why", "said"),
    [("left open", "C-101 was left open when the program stopped."), ("lunch", "C-101 is paused: lunch")],
    ids=["killed", "paused"],
)
def test_a_checkout_left_open_was_not_paused(fake_site: Any, why: str, said: str) -> None:
    """Nobody paused it: the program stopped."""
    view = replace(fake_site.desk.start("i1", "p1"), paused=why)
    _, instruction, _ = body_parts.answer(view, lambda _typed: "")
    assert instruction == said


def test_line_mode_says_what_stands_in_the_way_before_it_begins(fake_site: Any) -> None:
    """As the instrument screen does; and an instrument that was cleared is not called locked out."""
    row = replace(fake_site.rows[0], awaiting=True, fitness="locked out")
    assert line_words.instrument_line(row, START).startswith("CLEARED, CHECK IT FIRST: C-101")
    fake_site.in_the_way = ("no calibration is recorded", "no check source is bound to it")
    told: list[str] = []
    mode = LineMode(fake_site, None, told.append)  # type: ignore[arg-type]
    mode._person = fake_site.people["p1"]
    mode._view_of(fake_site.rows[0])
    assert told == ["It cannot become fit for use now: no calibration is recorded; no check source is bound to it.\n"]
    mode._view_of(fake_site.rows[0])
    assert len(told) == 1, "of one that is open already it is too late"
