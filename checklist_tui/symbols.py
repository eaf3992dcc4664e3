"""Symbol, word and colour of every state. Each is enough alone: nothing is said by colour only.

Symbols are single-width and plain. The words are those the site hands out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from textual.content import Content

from procedures.site.views import InstrumentRow


@dataclass(frozen=True, slots=True)
class Sign:
    """How a state is shown: a plain symbol, a word in capitals, a colour variable of the theme."""

    symbol: str
    word: str
    colour: str

    @property
    def text(self) -> str:
        return f"{self.symbol} {self.word}"

    def content(self, width: int = 0) -> Content:
        """Symbol and word in colour, filled up to `width`."""
        return Content.styled(self.text.ljust(width), f"bold {self.colour}")


FITNESS: Final = {
    "ready": Sign("✓", "READY", "$success"),
    "needs check": Sign("○", "NEEDS CHECK", "$warning"),
    "locked out": Sign("■", "LOCKED OUT", "$error"),
}
CLEARED: Final = Sign("□", "CLEARED: CHECK", "$warning")
"""Repaired and cleared, and nobody may use it before its check: neither locked out nor ready."""
OUTCOME: Final = {
    "pass": Sign("✓", "passed", "$success"),
    "warn": Sign("!", "passed, with a warning", "$warning"),
    "fail": Sign("■", "FAILED", "$error"),
    "could not check": Sign("?", "could not be checked", "$warning"),
    "not applicable": Sign("-", "does not apply", "$foreground"),
}
ENDING: Final = {
    "fit for use": Sign("✓", "FIT FOR USE", "$success"),
    "locked out": Sign("■", "LOCKED OUT", "$error"),
    "not checked": Sign("?", "NOT CHECKED", "$warning"),
    "abandoned": Sign("×", "ABANDONED", "$warning"),
    "withdrawn": Sign("-", "WITHDRAWN", "$warning"),
}
TRAIL: Final = {
    "passed": Sign("✓", "passed", "$success"),
    "warned": Sign("!", "warned", "$warning"),
    "failed": Sign("■", "failed", "$error"),
    "now": Sign(">", "now", "$accent"),
    "to come": Sign("·", "to come", "$foreground"),
    "again": Sign("~", "again", "$warning"),
}
PHASE: Final = {
    "asking": Sign(">", "asking", "$accent"),
    "waiting": Sign("…", "waiting", "$foreground"),
    "wait over": Sign("*", "WAIT OVER", "$accent"),
    "remedy": Sign("■", "remedy due", "$error"),
    "paused": Sign("=", "paused", "$warning"),
    "left open": Sign("=", "left open", "$warning"),
    "ended": Sign("*", "ENDED", "$accent"),
}
TONE: Final = {
    "": Sign("", "", "$foreground"),
    "good": Sign("✓", "", "$success"),
    "warn": Sign("!", "", "$warning"),
    "bad": Sign("■", "", "$error"),
    "quiet": Sign("", "", "$secondary"),
}
"""How much a line matters. Its own words say it too."""
_WHEREABOUTS: Final = {
    "here": "·",
    "handed out": ">",
    "at calibration": "^",
    "in storage": "_",
    "lent": ">",
    "borrowed": "<",
    "transferred": ">",
    "missing": "?",
    "disposed": "×",
}
_UNKNOWN: Final = Sign("?", "unknown", "$error")


def sign(table: dict[str, Sign], state: str) -> Sign:
    """The sign of a state. One that this program does not know is shown as it is, in the colour of trouble."""
    return table.get(state) or Sign(_UNKNOWN.symbol, state, _UNKNOWN.colour)


def fitness(row: InstrumentRow) -> Sign:
    """How an instrument stands."""
    return CLEARED if row.awaiting else sign(FITNESS, row.fitness)


def whereabouts(word: str, holder: str = "") -> Content:
    """Where an instrument is, and who has it."""
    symbol = _WHEREABOUTS.get(word, "?")
    colour = "$foreground" if word == "here" else "$warning"
    return Content.styled(f"{symbol} {word}{f': {holder}' if holder else ''}", colour)


def stands(word: str, holder: str = "") -> Content:
    """Where an instrument is, as a sentence."""
    said = whereabouts(word, holder)
    return Content(f"It is {word}.") if word == "here" and not holder else said


def contamination(contaminated: bool) -> Content:
    return Content.styled(" ! CONTAMINATED", "bold $error") if contaminated else Content("")
