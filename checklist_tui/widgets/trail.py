"""The procedure at a glance: every step with a symbol, the present one in capitals."""

from __future__ import annotations

from textual.content import Content
from textual.widget import Widget

from checklist_tui.symbols import TRAIL, sign
from procedures.site.views import TrailStep


class Trail(Widget):
    """One line. When it does not fit, steps far from the present one shrink to their symbols."""

    def __init__(self, steps: tuple[TrailStep, ...]) -> None:
        super().__init__()
        self._steps = steps

    def show(self, steps: tuple[TrailStep, ...]) -> None:
        if steps != self._steps:
            self._steps = steps
            self.refresh()

    def render(self) -> Content:
        width = self.size.width - 2
        now = next((at for at, each in enumerate(self._steps) if each.state == "now"), 0)
        for near in range(len(self._steps), -1, -1):
            parts = [_part(each, abs(at - now) <= near) for at, each in enumerate(self._steps)]
            line = Content("  ").join(parts)
            if line.cell_length <= width:
                return Content(" ") + line
        tight = Content("").join(_part(each, False) for each in self._steps)
        return (Content(" ") + tight).truncate(max(1, width), ellipsis=True)


def _part(step: TrailStep, whole: bool) -> Content:
    mark = sign(TRAIL, step.state)
    if step.state == "now":
        return Content.styled(f"{mark.symbol} {step.title.upper()}" if whole else mark.symbol, f"bold {mark.colour}")
    return Content.styled(f"{step.title} {mark.symbol}" if whole else mark.symbol, mark.colour)
