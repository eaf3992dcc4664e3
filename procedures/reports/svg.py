"""A plot as SVG inside an HTML document: values over dates, with lines, marks and special dots told apart by shape.

No script, no address, no style attribute; the document's own style sheet sets the type. What a dot, a line or a mark
means is written out below the picture by `legend`, so that nothing has to be read off a shape alone.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from procedures.reports.axes import Axis, seconds, time_axis, value_axis
from procedures.reports.text import html_text, shown
from procedures.sheets import Plot, PlotDot

WIDTH: Final = 720
HEIGHT: Final = 330
LEFT: Final = 66
RIGHT: Final = 566
TOP: Final = 24
BOTTOM: Final = 286
"""The frame, inside which every dot lies."""

DASHES: Final[Mapping[str, str]] = {"allowed": "9 4", "control": "2 3", "centre": "14 3 2 3"}
KINDS: Final[Mapping[str, str]] = {"allowed": "long dashes", "control": "dots", "centre": "dash and dot"}
_LONGEST_LABEL: Final = 23
_APART: Final = 14.0
"""Between two labels of lines, in the picture's own unit."""
_ROOM: Final = 9.0
"""That a figure of the number of a mark takes, with what is left free beside it."""


class _Placed(NamedTuple):
    dot: PlotDot
    x: float
    y: float


def drawable(plot: Plot) -> tuple[PlotDot, ...]:
    """The dots that can be drawn, by time: those whose value is a finite number."""
    return tuple(sorted((dot for dot in plot.dots if math.isfinite(dot.value)), key=lambda dot: seconds(dot.at)))


def svg(plot: Plot, key: str) -> str:
    """The picture, or "" where there is nothing to draw. `key` tells the ids in it from those of other plots."""
    dots = drawable(plot)
    if not dots:
        return ""
    lines = [line for line in plot.lines if math.isfinite(line.value)]
    across = time_axis([*(dot.at for dot in dots), *(mark.at for mark in plot.marks)])
    upward = value_axis([*(dot.value for dot in dots), *(line.value for line in lines)])
    placed = [_Placed(dot, _x(across, seconds(dot.at)), _y(upward, dot.value)) for dot in dots]
    return "".join(
        (
            f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-labelledby="{key}-title {key}-desc">',
            f'<title id="{key}-title">{html_text(plot.title)}</title>',
            f'<desc id="{key}-desc">{html_text(told(plot))}</desc>',
            *_frame(plot, across, upward),
            *_lines(plot, upward),
            *_marks(plot, across),
            *_joined(plot, placed),
            *(_dot(each, plot.unit) for each in placed),
            "</svg>",
        )
    )


def told(plot: Plot) -> str:
    """The plot in one sentence or two, for whoever does not see it."""
    dots = drawable(plot)
    left_out = len(plot.dots) - len(dots)
    said = []
    if dots:
        least, most = (edge(dots, key=lambda dot: dot.value).value for edge in (min, max))
        count = f"{len(dots)} value{'' if len(dots) == 1 else 's'}"
        said.append(
            f"{count} from {dots[0].at:%Y-%m-%d} to {dots[-1].at:%Y-%m-%d}: lowest {_value(least, plot.unit)}, "
            f"highest {_value(most, plot.unit)}, newest {_value(dots[-1].value, plot.unit)}."
        )
    else:
        said.append("There are no values to draw.")
    if left_out:
        said.append(f"{left_out} of the values {'is' if left_out == 1 else 'are'} no finite number, and not drawn.")
    return " ".join(said)


def legend(plot: Plot) -> Iterator[str]:
    """What lines, marks and special dots mean, a line of text each."""
    for line in plot.lines:
        yield f"{line.say}: {_value(line.value, plot.unit)} ({KINDS[line.kind]})"
    for number, mark in enumerate(plot.marks, 1):
        yield f"Mark {number}, {mark.at:%Y-%m-%d}: {mark.say}"
    for dot in plot.dots:
        if dot.sign or dot.say:
            sign = f"{dot.sign} " if dot.sign else ""
            say = f": {dot.say}" if dot.say else ""
            yield f"{sign}{dot.at:%Y-%m-%d %H:%M}, {_value(dot.value, plot.unit)}{say}"


def _value(value: float, unit: str) -> str:
    return f"{value:.4g}{f' {unit}' if unit else ''}"


def _x(axis: Axis, value: float) -> float:
    return LEFT + (RIGHT - LEFT) * axis.part(value)


def _y(axis: Axis, value: float) -> float:
    return BOTTOM - (BOTTOM - TOP) * axis.part(value)


def _frame(plot: Plot, across: Axis, upward: Axis) -> Iterator[str]:
    yield (
        f'<rect x="{LEFT}" y="{TOP}" width="{RIGHT - LEFT}" height="{BOTTOM - TOP}" fill="none" stroke="#111" '
        'stroke-width="1"/>'
    )
    for value, say in upward.ticks:
        y = _y(upward, value)
        yield f'<line x1="{LEFT - 5}" x2="{LEFT}" y1="{y:.1f}" y2="{y:.1f}" stroke="#111"/>'
        yield f'<text x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end">{html_text(say)}</text>'
    for value, say in across.ticks:
        x = _x(across, value)
        yield f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{BOTTOM}" y2="{BOTTOM + 5}" stroke="#111"/>'
        yield f'<text x="{x:.1f}" y="{BOTTOM + 19}" text-anchor="middle">{html_text(say)}</text>'
    if plot.unit:
        yield f'<text x="{LEFT - 8}" y="{TOP - 8}" text-anchor="end">{html_text(_cut(plot.unit, 12))}</text>'


def _lines(plot: Plot, upward: Axis) -> Iterator[str]:
    lines = sorted((line for line in plot.lines if math.isfinite(line.value)), key=lambda line: line.value)
    heights = [_y(upward, line.value) for line in lines]
    for line, y, label_y in zip(lines, heights, _spread(heights), strict=True):
        yield (
            f'<line class="level {line.kind}" x1="{LEFT}" x2="{RIGHT}" y1="{y:.1f}" y2="{y:.1f}" stroke="#111" '
            f'stroke-width="1.2" stroke-dasharray="{DASHES[line.kind]}"/>'
        )
        yield f'<text x="{RIGHT + 6}" y="{label_y + 4:.1f}">{html_text(_cut(line.say, _LONGEST_LABEL))}</text>'


def _spread(heights: Sequence[float]) -> list[float]:
    """Heights of labels, from the lowest line (the largest figure) up, moved so far apart that they can be read."""
    placed: list[float] = []
    for height in heights:
        placed.append(min(height, placed[-1] - _APART) if placed else height)
    # Those that were pushed above the picture come down again, and push back the ones below.
    edge = TOP - 12.0
    for index in range(len(placed) - 1, -1, -1):
        placed[index] = max(placed[index], edge)
        edge = placed[index] + _APART
    return placed


def _marks(plot: Plot, across: Axis) -> Iterator[str]:
    labels: list[tuple[float, str]] = []
    for x, number, mark in sorted(
        (_x(across, seconds(mark.at)), number, mark) for number, mark in enumerate(plot.marks, 1)
    ):
        yield (
            f'<line class="mark" x1="{x:.1f}" x2="{x:.1f}" y1="{TOP}" y2="{BOTTOM}" stroke="#111" stroke-width="1">'
            f"<title>{html_text(mark.say)}</title></line>"
        )
        if labels and x - labels[-1][0] < _ROOM * len(labels[-1][1]):
            labels[-1] = (labels[-1][0], f"{labels[-1][1]},{number}")
        else:
            labels.append((x, str(number)))
    for x, label in labels:
        yield f'<text class="number" x="{x - 3:.1f}" y="{TOP - 5}">{label}</text>'


def _joined(plot: Plot, placed: Sequence[_Placed]) -> Iterator[str]:
    """Thin lines from dot to dot, none across a mark: values before and after it do not compare."""
    marks = sorted(seconds(mark.at) for mark in plot.marks)
    parts: dict[int, list[_Placed]] = {}
    for each in placed:
        parts.setdefault(bisect_right(marks, seconds(each.dot.at)), []).append(each)
    for part in parts.values():
        points = " ".join(f"{each.x:.1f},{each.y:.1f}" for each in part)
        yield f'<polyline points="{points}" fill="none" stroke="#777" stroke-width="0.8"/>'


def _dot(placed: _Placed, unit: str) -> str:
    dot, x, y = placed
    say = f"{dot.at:%Y-%m-%d %H:%M}: {_value(dot.value, unit)}{f', {dot.say}' if dot.say else ''}"
    title = f"<title>{html_text(say)}</title>"
    if not dot.sign:
        return f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="2.6" fill="#111">{title}</circle>'
    return (
        f'<circle class="dot special" cx="{x:.1f}" cy="{y:.1f}" r="4.5" fill="#fff" stroke="#111" stroke-width="1.6">'
        f"{title}</circle>"
        f'<text x="{x:.1f}" y="{y - 8:.1f}" text-anchor="middle" stroke="#fff" stroke-width="3" '
        f'paint-order="stroke">{html_text(dot.sign)}</text>'
    )


def _cut(text: str, longest: int) -> str:
    text = shown(text)
    return text if len(text) <= longest else f"{text[: longest - 1]}…"
