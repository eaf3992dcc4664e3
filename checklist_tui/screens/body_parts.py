"""The parts of a checkout's body, made from its view: what must be seen first, what takes the answer, side matter."""

from __future__ import annotations

from typing import Final

from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from checklist_tui.widgets.ask import Understand, draw
from checklist_tui.widgets.choice_list import ChoiceList
from checklist_tui.widgets.result_card import ResultCard
from checklist_tui.words import paused_words
from procedures.site.views import CheckoutView

REMEDY: Final = "remedy"
PAUSED: Final = "paused"

_OF_REMEDY: Final = (("done", "It is done"), ("not-done", "It cannot be done"))
_OF_PAUSED: Final = (("resume", "Go on with it"), ("home", "Leave it for later"))


def answer(view: CheckoutView, understand: Understand) -> tuple[Widget, str, tuple[int, int] | None]:
    """The widget that takes the answer, the instruction, and which part of how many it is."""
    if view.paused:
        return ChoiceList(_OF_PAUSED, name=PAUSED), paused_words(view.label, view.paused), None
    if view.remedy is not None:
        return ChoiceList(_OF_REMEDY, name=REMEDY), view.remedy.say, None
    if view.ask is not None:
        return draw(view.ask, view, understand), view.ask.say, view.ask.part
    return Static("", markup=False), "", None


def above(view: CheckoutView) -> list[Widget]:
    """What must be seen before the answer: what has just happened, what failed, the caution."""
    ask, remedy = view.ask, view.remedy
    notices = dict.fromkeys((view.notice, ask.notice if ask else ""))
    said: list[Widget] = [_line(f"! {each}", "notice") for each in notices if each]
    if remedy is not None:
        said.append(_line(f"■ {remedy.failed.say}", "notice"))
        said.append(_line(f"Try {remedy.attempt} of {remedy.attempts}, then again from: {remedy.back_to}", "quiet"))
    if caution := remedy.caution if remedy else ask.caution if ask else "":
        said.append(_line(f"! {caution}", "caution"))
    return said


def below(view: CheckoutView) -> list[Widget]:
    """Side matter, in the order in which it may be missed."""
    said: list[Widget] = []
    if view.ask is not None and view.ask.more:
        said.append(_line(view.ask.more, "quiet"))
    if view.readings:
        said.append(_line(f"so far: {', '.join(view.readings)}", "quiet"))
    # What failed stands above the remedy already.
    if view.result is not None and (view.remedy is None or view.result.finding != view.remedy.failed):
        said.append(ResultCard(view.result))
    return said


def _line(text: str, kind: str) -> Static:
    return Static(Content(text), classes=kind, markup=False)
