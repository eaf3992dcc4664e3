"""The screen as plain text, the way a terminal of a given size shows it, and its comparison with a kept one."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

KEPT = Path(__file__).parent / "kept_screens"


def screen_text(app: Any) -> str:
    """Every line of the screen, right blanks cut off."""
    strips = app.screen._compositor.render_strips()
    return "".join(f"{strip.text.rstrip()}\n" for strip in strips)


def assert_kept(app: Any, name: str) -> None:
    """Compares the screen with the kept text `name`; KEEP_SCREENS=1 in the environment keeps the present one."""
    width, height = app.size
    path = KEPT / f"{name}-{width}x{height}.txt"
    seen = screen_text(app)
    if os.environ.get("KEEP_SCREENS"):
        path.parent.mkdir(exist_ok=True)
        path.write_text(seen, encoding="utf-8")
    assert path.exists(), f"no kept screen {path.name}; keep it with KEEP_SCREENS=1"
    assert path.read_text(encoding="utf-8") == seen
