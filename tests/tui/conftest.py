"""What the screens are tried with: the invented site beside this file, and hands that press keys at a human's pace."""

from __future__ import annotations

import sys
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest
from textual.events import Key

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture
def fake_site(tmp_path: Path) -> Any:
    from fake_site import FakeSite

    return FakeSite(tmp_path)


@pytest.fixture
def press() -> Callable[..., Awaitable[None]]:
    """Presses keys one by one with half a second of the site's clock between them, as fingers do.

    Text in quotes ("'C-101'") goes into the focused field in one go.
    """

    async def press_keys(pilot: Any, *keys: str) -> None:
        for key in keys:
            pilot.app.use_cases.clock.advance(0.5)
            if len(key) > 2 and key[0] == key[-1] == "'":
                pilot.app.focused.insert_text_at_cursor(key[1:-1])
            else:
                # Not pilot.press, which waits twice for each key.
                pilot.app.post_message(Key(key, key if len(key) == 1 else None))
            await pilot.pause()

    return press_keys
