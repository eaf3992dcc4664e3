"""Failing the checkout in progress by a person's own judgement: a reason, one confirmation."""

from __future__ import annotations

from checklist_tui.screens.reason import ReasonScreen

LOCKS_OUT = (
    "This locks the instrument out at once, for everybody. It ends only by a repair, a clearing and a new checkout."
)
EXAMPLE = "case cracked, rattles when tilted"


def fail_screen(label: str) -> ReasonScreen:
    """Failing the checkout in progress by judgement."""
    return ReasonScreen(f"{label} fails. Why?", what=LOCKS_OUT, yes=f"Yes, {label} fails", example=EXAMPLE)
