"""The watch over open checkouts, without any screen."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from checklist_tui.watch import Watch
from checklist_tui.words import left, minutes
from procedures.figures import figure
from procedures.trouble import Trouble


def waiting(fake_site: Any, instrument: str = "i1") -> Watch:
    """A watch over one checkout that has just begun its wait."""
    watch = Watch(fake_site)
    view = fake_site.desk.start(instrument, "p1")
    fake_site.desk.runs[view.checkout].at = 4
    watch.take(fake_site.desk.view(view.checkout))
    return watch


def test_a_wait_calls_by_name_when_it_ends(fake_site: Any) -> None:
    """Not before, once, and until somebody looks."""
    watch = waiting(fake_site)
    fake_site.clock.advance(119.9)
    assert watch.tick().ended == ()
    fake_site.clock.advance(0.1)
    assert watch.tick().ended == ("checkout-i1",)
    assert [each.label for each in watch.calls.values()] == ["C-101"]
    assert watch.tick().ended == ()
    watch.visited("checkout-i1")
    assert watch.calls == {}


def test_the_checkout_in_front_does_not_call(fake_site: Any) -> None:
    """Whoever looks at it sees it; the bell rings all the same."""
    watch = waiting(fake_site)
    fake_site.clock.advance(120)
    assert watch.tick("checkout-i1").ended == ("checkout-i1",)
    assert watch.calls == {}


def test_trouble_in_a_tick_is_told(fake_site: Any) -> None:
    """A wait that cannot be looked at calls too: silence would look like waiting."""
    watch = waiting(fake_site)

    def tick(_checkout: str) -> Any:
        raise Trouble("the disk is full")

    fake_site.desk.tick = tick
    assert watch.tick().troubles["checkout-i1"].what == "the disk is full"
    assert watch.calls["checkout-i1"].say == "the disk is full"


def test_answer_time_counts_from_the_first_showing(fake_site: Any) -> None:
    """Going away and coming back does not make an answer look hasty; a new question starts anew."""
    watch = Watch(fake_site)
    view = watch.take(fake_site.desk.start("i1", "p1"), answered=True)
    fake_site.clock.advance(5)
    watch.take(fake_site.desk.view(view.checkout))
    assert watch.took(view.checkout) == pytest.approx(5)
    watch.take(fake_site.desk.view(view.checkout), answered=True)
    assert watch.took(view.checkout) == pytest.approx(0)


@given(st.floats(min_value=0, max_value=20_000, allow_nan=False))
def test_time_left_is_never_shown_as_over(seconds: float) -> None:
    """Only nothing left is shown as nothing left; what is shown is never less than what is left."""
    shown = left(seconds)
    parts = [int(each) for each in shown.split(":")]
    total = sum(value * 60**power for power, value in enumerate(reversed(parts)))
    assert total >= seconds - 1e-6
    assert (total == 0) == (seconds <= 1e-9)


@given(st.integers(min_value=0, max_value=100_000))
def test_minutes_read_back(seconds: int) -> None:
    """Time gone by is written so that it can be read back."""
    parts = [int(each) for each in minutes(seconds).split(":")]
    assert sum(value * 60**power for power, value in enumerate(reversed(parts))) == seconds


@given(st.decimals(min_value=-1000, max_value=1000, allow_nan=False, allow_infinity=False, places=9))
def test_figures_are_rounded_for_reading_only(value: Any) -> None:
    """Four significant digits, so at most half a part in a thousand off."""
    assert float(figure(str(value))) == pytest.approx(float(value), rel=5e-4)
