"""Somebody who runs checkouts on the demo site: answers go through the Desk as they would from a screen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from procedures.asks import Acknowledge, Ask, Hold, ReadingAsk, Scan, Wait
from procedures.clock import ManualClock
from procedures.site.checkouts import Desk
from procedures.site.views import CheckoutView, Typed

Script = Mapping[str, str]
"""Answers by "step/ask"."""

_USUAL_SECONDS = 4.0
_BEAT = 0.5


@dataclass(slots=True)
class Player:
    """One pair of hands at a desk whose clock is moved by hand."""

    desk: Desk
    clock: ManualClock

    def check(self, instrument: str, person: str, script: Script) -> CheckoutView:
        """Run a checkout to its ending. KeyError: it asked something that the script does not answer."""
        view = self.desk.start(instrument, person)
        while view.ending is None:
            view = self._go_on(view, script)
        return view

    def _go_on(self, view: CheckoutView, script: Script) -> CheckoutView:
        checkout = view.checkout
        ask = view.ask
        if view.remedy is not None:
            self.clock.advance(90.0)
            return self.desk.remedy(checkout, done=True)
        if ask is None:
            raise KeyError(f"{checkout} asks nothing: {view.paused}")
        if isinstance(ask, Wait):
            self.clock.advance(view.wait.remaining if view.wait is not None else ask.seconds)
            return self.desk.tick(checkout)
        if isinstance(ask, Hold):
            return self._hold(checkout)
        self.clock.advance(max(_USUAL_SECONDS, ask.look))
        step = next(each.id for each in view.trail if each.state == "now")
        typed = Typed(_text(step, ask, script), selector=ask.wanted if isinstance(ask, ReadingAsk) else "")
        return self.desk.answer(checkout, ask.key, typed, took=max(_USUAL_SECONDS, ask.look))

    def _hold(self, checkout: str) -> CheckoutView:
        view = self.desk.hold(checkout)
        while view.wait is not None and view.wait.kind == "hold":
            self.clock.advance(_BEAT)
            view = self.desk.tick(checkout)
        return view


def _text(step: str, ask: Ask, script: Script) -> str:
    """The script's answer, or what goes without saying: the thing is done, the right label is scanned."""
    key = f"{step}/{ask.key}"
    if key in script:
        return script[key]
    if isinstance(ask, Acknowledge):
        return ask.done
    if isinstance(ask, Scan):
        return ask.due
    raise KeyError(f"{key}: {ask.say}")
