"""Whatever is typed, scanned or pasted gets a clear answer and does no harm."""

from __future__ import annotations

import unicodedata
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from screen_text import screen_text
from textual.events import Key, Paste

from checklist_tui.app import ChecklistApp
from checklist_tui.typing_in import LONGEST, Burst, checked, clean
from procedures.trouble import Trouble


@given(st.text(max_size=300))
def test_clean_leaves_nothing_invisible(text: str) -> None:
    """No control or format character reaches a record, and cleaning twice is cleaning once."""
    tidy = clean(text)
    assert not [each for each in tidy if unicodedata.category(each) in ("Cc", "Cf")]
    assert clean(tidy) == tidy
    assert len(tidy) <= len(text)


@given(st.text(alphabet=st.characters(categories=["L", "N"]), min_size=LONGEST + 1, max_size=2 * LONGEST))
def test_too_long_is_refused_with_a_way_on(text: str) -> None:
    """Nothing of an endless scan is taken, and the trouble says how long, how long it may be, and what to do."""
    with pytest.raises(Trouble) as caught:
        checked(text)
    assert str(len(text)) in caught.value.what
    assert caught.value.allowed
    assert caught.value.do


@given(st.text(alphabet="ABC-0123456789", min_size=2, max_size=20), st.floats(min_value=0.0, max_value=0.05))
def test_a_burst_is_a_scan(label: str, gap: float) -> None:
    """Characters closer than fingers can press them are one scan."""
    burst, now = Burst(), 0.0
    for each in label:
        now += gap
        burst.add(each, now)
    assert burst.take(now + gap) == label
    assert burst.take(now + gap) == "", "a scan is taken once"


@given(st.text(alphabet="0123456789", min_size=1, max_size=5), st.floats(min_value=0.11, max_value=2.0))
def test_fingers_make_no_scan(keys: str, gap: float) -> None:
    """Figures pressed by hand choose answers and are no scan."""
    burst, now = Burst(), 0.0
    for each in keys:
        now += gap
        burst.add(each, now)
    assert burst.take(now + gap) == ""


async def test_ten_thousand_characters(fake_site: Any, press: Any) -> None:
    """An endless scan is answered, not drawn, and the next one is taken."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.focused.insert_text_at_cursor("x" * 10_000)  # type: ignore[union-attr]
        await press(pilot, "enter")
        assert "10000 characters" in screen_text(app)
        await press(pilot, "'AL'", "enter")
        assert app.person is not None


async def test_several_pasted_lines_are_told(fake_site: Any) -> None:
    """Only one line is taken, and nobody has to guess what became of the others."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.focused.post_message(Paste("C-101\nC-102\nC-103"))  # type: ignore[union-attr]
        await pilot.pause()
        assert app.focused.value == "C-101"  # type: ignore[union-attr]
        assert "3 lines were pasted; only the first one was taken" in screen_text(app)


async def test_control_characters_of_a_scanner_are_left_out(fake_site: Any, press: Any) -> None:
    """Some scanners put a control character before a label; the label is the same."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.focused.insert_text_at_cursor("\x02C-101\x03")  # type: ignore[union-attr]
        await press(pilot, "tab")
        assert "Begin its checkout" in screen_text(app)


async def test_long_text_scrolls_in_its_field(fake_site: Any, press: Any) -> None:
    """The end of what is typed is in sight, and its beginning on Home: laying out less must not freeze the field."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(60, 20)) as pilot:
        text = "".join(str(at % 10) for at in range(90))
        await press(pilot, f"'{text}'")
        assert screen_text(app).splitlines()[2].strip().endswith(text[-50:])
        await press(pilot, "home")
        assert screen_text(app).splitlines()[2].strip().startswith(text[:50])


async def test_a_blank_in_a_scan_presses_nothing(fake_site: Any) -> None:
    """A label with a blank, scanned while a button has the focus, acknowledges nothing."""
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.person = fake_site.people["p1"]
        app.begin_checkout("i1")
        fake_site.desk.runs["checkout-i1"].at = 3
        app.lookout.take(fake_site.desk.view("checkout-i1"))
        app.look_at_waits()
        await pilot.pause()
        fake_site.clock.advance(5)
        for key in ("space", "Q", "space", "7", "enter"):
            fake_site.clock.advance(0.002)
            app.post_message(Key(key, " " if key == "space" else key if len(key) == 1 else None))
            await pilot.pause()
        assert fake_site.desk.runs["checkout-i1"].at == 3
