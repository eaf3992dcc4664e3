"""The one drawing of values over time on a page; colours only repeat what dashes, signs and words say."""

from __future__ import annotations

from typing import Final

from textual.content import Content

from checklist_tui.plotting import Kind, plot_lines
from checklist_tui.widgets.reader import PageMaker
from procedures.sheets import Plot

HEIGHT: Final = 11
"""Lines of the frame: with its title, dates and notes it fits a small screen."""
_COLOURS: Final[dict[Kind, str]] = {
    "": "$foreground",
    "dot": "bold $foreground",
    "special": "bold $error",
    "allowed": "$warning",
    "control": "$accent",
    "centre": "$secondary",
    "mark": "$accent",
    "quiet": "$secondary",
}


def add_plot(page: PageMaker, plot: Plot) -> None:
    """Adds a plot to a page."""
    for row in plot_lines(plot, page.width, HEIGHT):
        page.say(Content.assemble(*((text, _COLOURS[kind]) for text, kind in row)))
