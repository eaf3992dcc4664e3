"""How much of a wait has gone by, as a bar."""

from __future__ import annotations

from textual.content import Content
from textual.widget import Widget


class Bar(Widget):
    """A bar from empty to full. Only redrawn when a cell changes."""

    def __init__(self) -> None:
        super().__init__()
        self._share = 0.0
        self._drawn = -1

    def show(self, share: float) -> None:
        """`share` of the whole, 0 to 1."""
        self._share = min(1.0, max(0.0, share))
        if self._cells() != self._drawn:
            self.refresh()

    def _cells(self) -> int:
        # Rounded down: a bar that looks full before the wait is over would be believed.
        return int(self._share * self._room)

    @property
    def _room(self) -> int:
        return max(1, self.size.width - 2)

    def render(self) -> Content:
        self._drawn = self._cells()
        return Content(f"▕{'█' * self._drawn}{'░' * (self._room - self._drawn)}▏")
