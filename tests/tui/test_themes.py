"""High contrast is a number: WCAG 2.1, success criterion 1.4.6, asks for 7 to 1 (source from memory)."""

from __future__ import annotations

from typing import Any

import pytest
from screen_text import screen_text
from textual.color import Color
from textual.filter import Monochrome

from checklist_tui.app import ChecklistApp
from checklist_tui.symbols import ENDING, FITNESS, OUTCOME, PHASE, TRAIL
from checklist_tui.themes import DARK, LIGHT


def luminance(colour: Color) -> float:
    """Relative luminance as WCAG 2.1 defines it (formula from memory)."""
    parts = [each / 12.92 if each <= 0.04045 else ((each + 0.055) / 1.055) ** 2.4 for each in colour.normalized]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.1)."""
    dark, light = sorted(luminance(Color.parse(each)) for each in (one, other))
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda each: each.name)
def test_every_colour_stands_out(theme: Any) -> None:
    """Text in any colour of the theme reads at 7 to 1 on its ground and on panels; so does the ground on colours."""
    for name in ("foreground", "secondary", "accent", "success", "warning", "error"):
        for ground in ("background", "panel"):
            assert contrast(getattr(theme, name), getattr(theme, ground)) >= 7, (name, ground)


@pytest.mark.parametrize("table", [FITNESS, ENDING, TRAIL], ids=["fitness", "ending", "trail"])
def test_symbol_and_word_each_tell_states_apart(table: Any) -> None:
    """Each of symbol and word is enough alone."""
    assert len({each.symbol for each in table.values()}) == len(table)
    assert len({each.word for each in table.values()}) == len(table)


def test_symbols_take_one_cell() -> None:
    """A symbol of doubtful width shifts whole lines on some terminals."""
    from rich.cells import cell_len

    for table in (FITNESS, OUTCOME, ENDING, TRAIL, PHASE):
        assert {cell_len(each.symbol) for each in table.values()} == {1}


async def test_no_color(fake_site: Any, monkeypatch: Any) -> None:
    """With NO_COLOR set nothing is lost: states by word and symbol, the focus by its mark."""
    monkeypatch.setenv("NO_COLOR", "1")
    app = ChecklistApp(fake_site)
    async with app.run_test(size=(80, 24)) as pilot:
        assert app.no_color
        await pilot.pause()
        seen = screen_text(app)
        assert "✓ READY" in seen
        assert "■ LOCKED OUT" in seen
        assert "▸ ○ NEEDS CHECK" in seen
        assert any(isinstance(each, Monochrome) for each in app._filters), "the terminal gets no colour"


async def test_light_and_dark(fake_site: Any) -> None:
    """Both themes are ours and change from the menu."""
    app = ChecklistApp(fake_site, light=True)
    async with app.run_test(size=(80, 24)):
        assert app.theme == LIGHT.name
        app.screen.action_light_dark()  # type: ignore[attr-defined]
        assert app.theme == DARK.name
