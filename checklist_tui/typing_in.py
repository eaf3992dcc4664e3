"""What a keyboard, a scanner or a paste brings in, made harmless before anything else looks at it."""

from __future__ import annotations

import unicodedata
from typing import Final

from procedures.trouble import Trouble

LONGEST: Final = 200
"""Characters. No label, reading or reason is longer; what is longer was scanned or pasted by mistake."""

FAST: Final = 0.1
"""Seconds. Fingers do not press two keys so closely; a scanner or a key held down does."""


def clean(text: str) -> str:
    """`text` without control and invisible characters, outer blanks removed. Scanners send some as prefix or suffix."""
    return "".join(each for each in text if unicodedata.category(each) not in ("Cc", "Cf", "Cs", "Co", "Cn")).strip()


def checked(text: str, *, dropped: int = 0) -> str:
    """`text` cleaned. Trouble when it is longer than anything that is asked for; `dropped` counts what was cut off."""
    tidy = clean(text)
    length = len(text) + dropped
    if dropped or len(tidy) > LONGEST:
        raise Trouble(
            f"That is {length} characters; nothing of it was taken.",
            allowed=f"at most {LONGEST} characters",
            do="Scan one label, or type it as it is marked.",
        )
    return tidy


class Burst:
    """Characters that came faster than fingers type while no field had the focus: a scan, or a key held down.

    Without this, a label scanned at the wrong moment would answer a question with its digits and its Enter.
    """

    def __init__(self) -> None:
        self._text = ""
        self._last = float("-inf")

    def add(self, character: str, now: float) -> None:
        """One character at `now` (seconds of a clock that only goes forward)."""
        self._text = self._text + character if now - self._last < FAST else character
        self._text = self._text[-(LONGEST + 1) :]
        self._last = now

    @property
    def scanning(self) -> bool:
        """Whether these characters can be no finger's: several, one after another, and not one key held down."""
        return len(set(self._text)) > 1

    def take(self, now: float) -> str:
        """The scan that Enter or Tab ends at `now`, "" when fingers typed it; begins anew either way."""
        text = self._text if now - self._last < FAST and len(self._text) > 1 else ""
        self._text = ""
        return text
