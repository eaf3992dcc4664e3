"""Values over time as lines of characters: readable at sixty columns, without colour, on any terminal.

Limits, control limits and the centre are told apart by their dashes and named at the right edge; marks are upright
lines named above; what is special about a dot is said by its sign, and in words beneath. Pure: no screen is known here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import ceil, floor, isfinite, log10
from typing import Final, Literal

from rich.cells import cell_len

from checklist_tui.tables import cut, filled, one_line, wrapped
from procedures.sheets import Plot, PlotDot, PlotLine, PlotMark

Kind = Literal["", "dot", "special", "allowed", "control", "centre", "mark", "quiet"]
"""What a piece of a line is, for whoever gives it a colour. Nothing is said by that alone."""

Piece = tuple[str, Kind]
PlotRow = tuple[Piece, ...]

DOT: Final = "o"
DASHES: Final[dict[str, str]] = {"allowed": "─", "control": "- ", "centre": "·   "}
"""Repeated along a level line."""
UPRIGHT: Final = "┊"
_SAMPLES: Final = {"allowed": "──", "control": "- -", "centre": "·"}
_LEAST_WIDTH: Final = 30
_LEAST_HEIGHT: Final = 5
_MOST_SAID: Final = 6
_TICKS: Final = 5


def plot_lines(plot: Plot, width: int, height: int) -> list[PlotRow]:
    """`plot` in lines of at most `width` cells; the frame is `height` lines high, words stand above and beneath it."""
    title = f"{plot.title} ({plot.unit})" if plot.unit and plot.title else plot.title or plot.unit
    rows: list[PlotRow] = [((each, ""),) for each in wrapped(title, width)] if title else []
    dots = [each for each in plot.dots if isfinite(each.value)]
    levels = [each for each in plot.lines if isfinite(each.value)]
    if dots and width >= _LEAST_WIDTH:
        rows += _Frame(plot, dots, levels, width, max(_LEAST_HEIGHT, height)).rows()
    else:
        rows += _in_words(plot, dots, levels, width)
    rows += _said(_signs(dots), width)
    if gone := len(plot.dots) - len(dots):
        rows += _said([f"{gone} values are no finite figures and are not drawn."], width)
    return rows + _said(plot.notes, width)


def plain(row: PlotRow) -> str:
    """A line of a plot as text."""
    return "".join(text for text, _ in row).rstrip()


def _said(lines: Sequence[str], width: int) -> list[PlotRow]:
    return [((part, "quiet"),) for each in lines for part in wrapped(each, width, hang=2)]


def _in_words(plot: Plot, dots: list[PlotDot], levels: list[PlotLine], width: int) -> list[PlotRow]:
    """Where nothing can be drawn: what there is, in words."""
    lines = ["No values yet."] if not dots else [f"{each.at:%Y-%m-%d}: {each.value:.4g}" for each in dots[-_MOST_SAID:]]
    lines += [f"{_SAMPLES[each.kind]} {each.say}: {each.value:.4g}" for each in levels]
    return _said([*lines, *(_mark_words(each) for each in plot.marks)], width)


def _mark_words(mark: PlotMark) -> str:
    return f"{UPRIGHT} {mark.at:%Y-%m-%d} {mark.say}"


def _signs(dots: Sequence[PlotDot]) -> list[str]:
    """What the signs mean, the same words once."""
    counted = Counter((_sign(each), each.say) for each in dots if each.sign and each.say)
    lines = [f"{sign} {say}{f' ({count})' if count > 1 else ''}" for (sign, say), count in counted.items()]
    more = len(lines) - _MOST_SAID
    return [*lines[-_MOST_SAID:], *([f"… and {more} more kinds of sign"] if more > 0 else [])]


def _sign(dot: PlotDot) -> str:
    """The sign of a dot; one that is not a single cell would shift the line."""
    sign = one_line(dot.sign).strip()
    return sign if cell_len(sign) == 1 and len(sign) == 1 else "*" if dot.sign else DOT


@dataclass(frozen=True, slots=True)
class _Scale:
    """Places along one axis: `low` is at 0, `high` at `last`. Values are divided by `unit` so that none overflows."""

    low: float
    high: float
    last: int
    unit: float = 1.0

    def at(self, value: float) -> int:
        part = (value / self.unit - self.low) / (self.high - self.low)
        return min(self.last, max(0, round(part * self.last)))

    @classmethod
    def of(cls, values: Sequence[float], last: int, margin: float) -> _Scale:
        unit = max(abs(each) for each in values) or 1.0
        low, high = min(values) / unit, max(values) / unit
        if high - low < 1e-12:
            return cls(low - 0.1, high + 0.1, last, unit)
        spare = (high - low) * margin
        return cls(low - spare, high + spare, last, unit)


class _Frame:
    """One drawn plot: cells of a frame, the axis at its left, the names of its lines at its right."""

    def __init__(self, plot: Plot, dots: list[PlotDot], levels: list[PlotLine], width: int, height: int) -> None:
        self.width, self.height = width, height
        self.dots, self.levels = dots, levels
        upright = _Scale.of([each.value for each in dots] + [each.value for each in levels], height - 1, 0.06)
        self.upright = upright
        self.ticks = self._ticks()
        self.left = max([len(each) for each in self.ticks.values()], default=0) + 2
        names = [cell_len(self._name(each)) for each in levels]
        self.gutter = min(max(names, default=0), max(10, width // 4))
        self.across = max(10, width - self.left - (self.gutter + 1 if self.gutter else 0))
        first = min(each.at for each in dots)
        self.marks = [each for each in plot.marks if each.at >= first]
        self.before = [each for each in plot.marks if each.at < first]
        times = [each.at for each in dots] + [each.at for each in self.marks]
        self.first, self.last = min(times), max(times)
        # Times count from the first one: a span of minutes would be lost in seconds since 1970.
        self.along = _Scale.of([0.0, max(1.0, self._since(self.last))], self.across - 1, 0.0)
        self.cells: list[list[Piece]] = [[(" ", "")] * self.across for _ in range(height)]

    def _since(self, moment: datetime) -> float:
        return (moment - self.first).total_seconds()

    def column(self, moment: datetime) -> int:
        if self.first == self.last:
            return self.across // 2
        return self.along.at(self._since(moment))

    def row(self, value: float) -> int:
        return self.height - 1 - self.upright.at(value)

    def rows(self) -> list[PlotRow]:
        above, unnamed = self._mark_line()
        self._draw()
        names, unplaced = self._names()
        rows: list[PlotRow] = [above] if above else []
        for at, cells in enumerate(self.cells):
            tick = f"{self.ticks.get(at, '').rjust(self.left - 2)} {'┤' if at in self.ticks else '│'}"
            name = names.get(at)
            rows.append(((tick, "quiet"), *_joined(cells), *(((" ", ""), name) if name else ())))
        rows.append(((f"{' ' * (self.left - 1)}└{'─' * self.across}", "quiet"),))
        rows.append(((f"{' ' * self.left}{self._dates()}", "quiet"),))
        said = [f"{_SAMPLES[each.kind]} {each.say}: {each.value:.4g}" for each in unplaced]
        return rows + _said([*said, *(_mark_words(each) for each in (*unnamed, *self.before))], self.width)

    def _draw(self) -> None:
        for mark in self.marks:
            for line in self.cells:
                line[self.column(mark.at)] = (UPRIGHT, "mark")
        for level in sorted(self.levels, key=lambda each: each.kind == "allowed"):
            dashes, line = DASHES[level.kind], self.cells[self.row(level.value)]
            for at in range(self.across):
                if (dash := dashes[at % len(dashes)]) != " ":
                    line[at] = (dash, level.kind)
        for dot in sorted(self.dots, key=lambda each: bool(each.sign)):
            self.cells[self.row(dot.value)][self.column(dot.at)] = (_sign(dot), "special" if dot.sign else "dot")

    @staticmethod
    def _name(level: PlotLine) -> str:
        return f"{_SAMPLES[level.kind]} {one_line(level.say)}"

    def _names(self) -> tuple[dict[int, Piece], list[PlotLine]]:
        """Names by the line of the frame they stand at, near their own; and the lines whose name has no room."""
        names: dict[int, Piece] = {}
        unplaced = []
        for level in sorted(self.levels, key=lambda each: -each.value):
            own = self.row(level.value)
            free = [at for at in range(self.height) if at not in names and abs(at - own) <= 1]
            name = self._name(level)
            if free:
                names[min(free, key=lambda at: abs(at - own))] = (cut(name, self.gutter), level.kind)
            if not free or cell_len(name) > self.gutter:
                unplaced.append(level)
        return names, unplaced

    def _mark_line(self) -> tuple[PlotRow | None, list[PlotMark]]:
        """The line above the frame with the names of the marks, and the marks whose name has no room there."""
        text, unnamed = "", []
        for mark in sorted(self.marks, key=lambda each: each.at):
            say, at = one_line(mark.say), self.column(mark.at)
            room = self.width - self.left
            start = at if at + 2 + cell_len(say) <= room else at - cell_len(say) - 1
            words = f"{UPRIGHT} {say}" if start == at else f"{say} {UPRIGHT}"
            if start < cell_len(text) + (2 if text else 0):
                unnamed.append(mark)
            else:
                text = filled(text, start) + words
        return (((" " * self.left, ""), (text, "mark")) if text else None), unnamed

    def _ticks(self) -> dict[int, str]:
        """Round figures by the line of the frame they stand at."""
        scale = self.upright
        low, high = scale.low * scale.unit, scale.high * scale.unit
        step = _round_step((high - low) / min(_TICKS, self.height // 2))
        if not isfinite(step) or step <= 0 or abs(low / step) > 1e15:
            return {self.row(each): f"{each:.3g}" for each in (low, high) if isfinite(each)}
        marked = {}
        for count in range(ceil(low / step), floor(high / step) + 1):
            value = count * step
            marked[self.row(value)] = _figure(value, step)
        return marked

    def _dates(self) -> str:
        """First and last time, and the middle one where there is room."""
        if self.first == self.last:
            return cut(f"{self.first:%Y-%m-%d}".center(self.across).rstrip(), self.across)
        long = (self.last - self.first).total_seconds() > 2 * 86400
        forms = ("%Y-%m-%d", "%m-%d") if long else ("%Y-%m-%d %H:%M", "%H:%M")
        for form in forms:
            begin, end = f"{self.first:{form}}", f"{self.last:{form}}"
            room = self.across - len(begin) - len(end)
            if room >= 1:
                middle = f"{self.first + (self.last - self.first) / 2:{form}}"
                return f"{begin}{middle.center(room) if room >= len(middle) + 4 else ' ' * room}{end}"
        return ""


def _joined(cells: Sequence[Piece]) -> list[Piece]:
    """Neighbours of one kind as one piece."""
    pieces: list[Piece] = []
    for text, kind in cells:
        if pieces and pieces[-1][1] == kind:
            pieces[-1] = (pieces[-1][0] + text, kind)
        else:
            pieces.append((text, kind))
    return pieces


def _round_step(rough: float) -> float:
    """The next 1, 2 or 5 times a power of ten."""
    if not isfinite(rough) or rough <= 0:
        return 0.0
    power = 10.0 ** floor(log10(rough))
    return next((times * power for times in (1, 2, 5) if times * power >= rough), 10 * power)


def _figure(value: float, step: float) -> str:
    """A tick's figure, with as many decimals as the step needs."""
    size = max(abs(value), step)
    if size >= 1e6 or step < 1e-4:
        return f"{value:.3g}"
    return f"{value:.{max(0, -floor(log10(step)))}f}"
