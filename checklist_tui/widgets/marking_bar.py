"""PRACTICE or DEMO, on every screen, whenever nothing here is real."""

from __future__ import annotations

from textual.content import Content
from textual.widgets import Static

from procedures.site.views import Mark

_WORDS: dict[str, str] = {
    "practice": "PRACTICE: a simulated instrument, no real record",
    "demo": "DEMO: nothing here is real",
}


class MarkingBar(Static):
    """Hidden on a real site, since the absence of a mark is what real looks like."""

    def __init__(self, marking: Mark) -> None:
        super().__init__(Content(f"/// {_WORDS.get(marking, '')} ///"), markup=False)
        self.display = marking in _WORDS
        self.set_class(marking == "practice", "-practice")
