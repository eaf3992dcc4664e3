"""The face of a simulated instrument: its scale with the needle, or its digits, and what can be seen beside it.

The needle is read by eye. A bar in the middle of a column stands on its mark, a bar at the edge of one half way to the
next; no figure of the reading is written anywhere.
"""

from __future__ import annotations

from itertools import pairwise

from textual.content import Content
from textual.widgets import Static

from checklist_tui.bench_words import beside
from procedures.site.practising.views import BatteryFace, Face, NeedleFace

WIDEST = 60
_MARGIN = 2
MOST_FIGURES = 7
_WIDE, _BESIDE = 72, 22
"""From which width on words stand beside the scale, and how much they need."""


def scale_lines(needle: NeedleFace, width: int) -> tuple[str, str, str]:
    """Figures, marks and pointer, each as a line of at most `width` cells."""
    divisions = max(1, needle.divisions)
    step = max(1, (min(width, WIDEST) - 2 * _MARGIN - 1) // divisions)
    long = divisions * step
    figures = [" "] * (long + 2 * _MARGIN + 4)
    marks = [" "] * (long + 2 * _MARGIN + 4)
    for mark in range(divisions + 1):
        marks[_MARGIN + mark * step] = "╵"
    for place, text in needle.figures:
        at = _MARGIN + round(place * divisions) * step
        marks[at] = "│"
        begin = max(0, at - (len(text) - 1) // 2)
        figures[begin : begin + len(text)] = list(text)
    return "".join(figures).rstrip(), "".join(marks).rstrip(), _pointer(needle, divisions * step)


def _pointer(needle: NeedleFace, long: int) -> str:
    at = min(max(needle.position * long, -_MARGIN + 0.0), long + _MARGIN + 0.0)
    cell = round(at)
    off = at - cell
    sign = "▌" if off < -0.25 else "▐" if off > 0.25 else "┃"
    return " " * (_MARGIN + cell) + sign


def picture(face: Face, width: int) -> tuple[str, ...]:
    """The indicator in four lines."""
    where = f"range {face.selector.name}, {face.selector.unit}" if face.selector is not None else "battery test"
    if face.digits is not None:
        text = f"{face.digits.text} {face.digits.unit}".strip() if face.digits.text else "(dark)"
        battery = f"battery test: {face.battery.text} {face.battery.unit}" if face.battery and face.battery.text else ""
        return ("", f"  [ {text} ]", f"  {battery}", f"  {where}")
    if face.needle is None:
        return ("", "  no indicator is to be seen", "", f"  {where}")
    if face.battery is not None and face.battery.places:
        return _battery_lines(face, width)
    if face.battery is not None and face.battery.full_volts:
        return (*scale_lines(_in_volts(face.needle.position, face.battery), width), "  battery test, V")
    return (*scale_lines(face.needle, width), f"  {where}")


def _in_volts(position: float, battery: BatteryFace) -> NeedleFace:
    """The scale of the battery test: a mark for each of its divisions, a figure for every whole volt or two."""
    top = battery.full_volts
    every = 2 if top > MOST_FIGURES else 1
    figures = tuple((volt / top, str(volt)) for volt in range(0, int(top) + 1, every))
    return NeedleFace(position, figures, round(top / (battery.division or 1.0)))


def _battery_lines(face: Face, width: int) -> tuple[str, str, str, str]:
    """The marked bands with a number each, and what they are called: a name may be wider than its band."""
    assert face.battery is not None
    assert face.needle is not None
    long = min(width, WIDEST) - 2 * _MARGIN - 1
    edges = [0.0, *face.battery.edges, 1.0]
    numbers = [" "] * (long + 2 * _MARGIN + 1)
    marks = ["─"] * (long + 1)
    for edge in edges:
        marks[round(edge * long)] = "│"
    for number, (low, high) in enumerate(pairwise(edges), 1):
        numbers[_MARGIN + round((low + high) / 2 * long)] = str(number)
    names = "  ".join(f"{number} {place}" for number, place in enumerate(face.battery.places, 1))
    return "".join(numbers).rstrip(), " " * _MARGIN + "".join(marks), _pointer(face.needle, long), f"  {names}"


class BenchFace(Static):
    """Draws a face; drawn anew only when it looks otherwise."""

    def __init__(self) -> None:
        super().__init__(markup=False)
        self._drawn: object = None

    def show(self, face: Face) -> None:
        """Shows this face."""
        width = self.size.width or 78
        lines = picture(face, min(width - _BESIDE, WIDEST) if width >= _WIDE else width)
        said = beside(face)
        if (lines, said, width) == self._drawn:
            return
        self._drawn = (lines, said, width)
        self.update(_assembled(lines, said, width))


def _assembled(lines: tuple[str, ...], said: tuple[str, ...], width: int) -> Content:
    if width < _WIDE:
        return Content("\n").join([*(Content.styled(line, "bold") for line in lines), Content(" · ".join(said))])
    left = max(width - 30, *(len(line) + 2 for line in lines))
    rows = [said[n] if n < 3 else " · ".join(said[3:]) for n in range(min(4, len(said)))]
    made = []
    for n in range(4):
        right = rows[n] if n < len(rows) else ""
        made.append(Content.assemble((f"{lines[n]:<{left}}", "bold"), right[: width - left]))
    return Content("\n").join(made)
