"""Trouble in lines: every word of it, none wider than there is room, and whatever goes on begins further in."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from checklist_tui.widgets.hanging import Hanging
from procedures.trouble import Trouble

WORDS = st.lists(st.text("abcxyz", min_size=1, max_size=9), min_size=1, max_size=20).map(" ".join)


@given(WORDS, WORDS, WORDS, st.integers(16, 100))
def test_what_goes_on_hangs(what: str, allowed: str, do: str, width: int) -> None:
    """A long list of what is allowed must not look like several parts."""
    panel = Hanging()
    panel.say_trouble(Trouble(what, allowed=allowed, do=do))
    lines = [each.plain for each in panel._lines(width)]
    assert all(len(each) <= width for each in lines)
    assert "".join("".join(lines).split()) == "".join(f"!{what}Allowed:{allowed}Do:{do}".split())
    begins = [at for at, each in enumerate(lines) if each.startswith(("! ", "  Allowed:", "  Do:"))]
    assert len(begins) == 3
    assert all(each.startswith("    ") for each in lines[begins[1] + 1 :] if not each.startswith("  Do:"))
