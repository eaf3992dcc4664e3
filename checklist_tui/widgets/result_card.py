"""The finding of the step just done. Expected value and limits appear here, after the reading, and nowhere before."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Final

from textual.content import Content
from textual.widget import Widget

from checklist_tui.symbols import OUTCOME, sign
from procedures.figures import figure
from procedures.findings import Finding, Number
from procedures.site.views import FindingView

SCALE_NUMBERS: Final = ("low", "expected", "high", "observed")
"""Names of the numbers that the bar needs; a finding without all of them is shown in words."""


class ResultCard(Widget):
    """Outcome in word, symbol and colour, what it means, and the bar when the finding has one."""

    def __init__(self, found: FindingView) -> None:
        super().__init__(classes="result")
        self._found = found

    def render(self) -> Content:
        finding = self._found.finding
        mark = sign(OUTCOME, finding.outcome)
        head = Content.assemble((f"{mark.symbol} {self._found.title}: {mark.word}", f"bold {mark.colour}"))
        lines = [head, Content(finding.say)]
        if bar := scale_lines(finding, min(self.size.width, 76)):
            lines[1:1] = [Content(each) for each in bar]
        lines += [Content(f"! {each}") for each in finding.tell]
        return Content("\n").join(lines)


def scale_lines(finding: Finding, width: int) -> tuple[str, ...]:
    """Low, expected, high on a line with the observed value under it; () when a number is missing or it is narrow."""
    found = [finding.number(name) for name in SCALE_NUMBERS]
    numbers = [each for each in found if each is not None]
    if len(numbers) != len(SCALE_NUMBERS) or width < 40:
        return ()
    try:
        low, expected, high, observed = (Decimal(each.value) for each in numbers)
    except InvalidOperation:
        return ()
    if not all(each.is_finite() for each in (low, expected, high, observed)) or not low < high:
        return ()
    margin = (high - low) / 8
    left, right = min(low - margin, observed), max(high + margin, observed)
    room = width - 1

    def column(value: Decimal) -> int:
        return min(room, max(0, round(float((value - left) / (right - left)) * room)))

    rail = ["─" if column(low) <= at <= column(high) else "·" for at in range(width)]
    rail[column(low)], rail[column(high)] = "┤", "├"
    rail[column(expected)] = "│"
    words = [_words(each) for each in numbers]
    over = _placed(
        width, ((column(low), f"low {words[0]}"), (column(expected), words[1]), (column(high), f"high {words[2]}"))
    )
    under = _placed(width, ((column(observed), f"▲ {words[3]}"),), at_mark=True)
    return (over, "".join(rail), under)


def _words(number: Number) -> str:
    return figure(number.value)


def _placed(width: int, labels: tuple[tuple[int, str], ...], *, at_mark: bool = False) -> str:
    """Labels on one line near their columns, none over another; what does not fit is left out."""
    line = ""
    for column, text in labels:
        start = column if at_mark else column - len(text) // 2
        start = max(len(line) + (2 if line else 0), min(start, width - len(text)))
        if at_mark and column + len(text) > width:
            text = f"{text[2:]} ▲"
            start = max(0, column - len(text) + 1)
        if start + len(text) <= width:
            line = line.ljust(start) + text
    return line
