"""Trouble and news as lines whose continuations hang under their words, so that each part is seen to begin."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from textual.content import Content
from textual.geometry import Size
from textual.widgets import Static

from checklist_tui.tables import wrapped
from procedures.trouble import Trouble

_FRONT: Final = 2
_HANG: Final = 2


class Hanging(Static):
    """A sign and a bold first sentence, the others below it; whatever the width, what goes on hangs further in."""

    def __init__(self, *, classes: str = "") -> None:
        super().__init__(classes=classes, markup=False)
        self._sign = ""
        self._said: tuple[str, ...] = ()

    def say(self, sign: str, lines: Sequence[str]) -> None:
        """Shows these sentences."""
        self._sign, self._said = sign, tuple(lines)
        self.refresh(layout=True)

    def say_trouble(self, trouble: Trouble) -> None:
        self.say("!", trouble.lines())

    def _lines(self, width: int) -> list[Content]:
        lines = []
        for at, each in enumerate(self._said):
            front = f"{self._sign} " if at == 0 else " " * _FRONT
            # The first sentence hangs under itself; the parts below it hang under their names.
            first, *more = wrapped(each, max(1, width - _FRONT), hang=0 if at == 0 else _HANG)
            words = [front + first, *(" " * _FRONT + part for part in more)]
            lines += [Content.styled(part, "" if at else "bold") for part in words]
        return lines

    def get_content_height(self, _container: Size, _viewport: Size, width: int) -> int:
        return len(self._lines(max(1, width)))

    def render(self) -> Content:
        return Content("\n").join(self._lines(max(1, self.size.width)))
