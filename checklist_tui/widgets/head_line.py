"""Always in sight: which instrument, which person, where in the procedure, how long so far."""

from __future__ import annotations

from textual.content import Content
from textual.widget import Widget

from checklist_tui.words import minutes, shorten
from procedures.site.views import CheckoutView


class HeadLine(Widget):
    """One line; the type of instrument gives way first when it is narrow."""

    def __init__(self, view: CheckoutView) -> None:
        super().__init__()
        self._view = view
        self._gone = minutes(view.seconds)

    def show(self, view: CheckoutView, seconds: float) -> None:
        """Another view, `seconds` since the opening; redrawn only when it says something else."""
        gone = minutes(seconds)
        if view is not self._view or gone != self._gone:
            self._view, self._gone = view, gone
            self.refresh()

    def render(self) -> Content:
        view, width = self._view, self.size.width
        where = f"step {view.step} of {view.steps}" if width >= 72 else f"{view.step}/{view.steps}"
        right = f"{view.person_name}  {where}  {self._gone} "
        if len(right) > width // 2 + 8:
            right = f"{shorten(view.person_name, max(6, width // 4))}  {where}  {self._gone} "
        room = max(4, width - len(right) - 2)
        label = shorten(view.label, room)
        kind = (
            view.type if len(label) + 2 + len(view.type) <= room else shorten(view.type, max(0, room - len(label) - 2))
        )
        left = f" {label}"
        middle = f"  {kind}" if room - len(label) > 6 else ""
        gap = " " * max(1, width - len(left) - len(middle) - len(right))
        return Content.assemble((left, "bold"), middle, gap, right)
