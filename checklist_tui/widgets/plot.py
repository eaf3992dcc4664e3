"""The one drawing of values over time on a page; colours only repeat what dashes, signs and words say."""

from __future__ import annotations

from typing import Final

from textual.content import Content

from checklist_tui.plotting import Kind, plot_lines
from checklist_tui.widgets.reader import PageMaker
from procedures.sheets import Plot

_SMALL: Final = 66
"""Cells: a page narrower than this is that of a small screen, which has fewer lines as well."""
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
    height = 9 if page.width < _SMALL else 11  # with title and dates it is seen whole
    for row in plot_lines(plot, page.width, height):
        page.say(Content.assemble(*((text, _COLOURS[kind]) for text, kind in row)))
