"""A desk without rules, for trying the screens: it walks each checkout along a list of asks.

What an answer leads to is picked by the answer itself ("below the band" fails, "cannot say" could not be checked).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING

from fake_asks import BATTERY, RESPONSE, START

from procedures.asks import (
    Ask,
    Hold,
    ReadingAsk,
    Scan,
    Wait,
)
from procedures.site.views import (
    CheckoutView,
    EndingView,
    FindingView,
    OpenCheckout,
    PersonView,
    ReasonView,
    RemedyView,
    TrailStep,
    Typed,
    Understood,
    WaitView,
)
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from fake_site import FakeSite


@dataclass
class Run:
    """One fake checkout."""

    label: str
    person: PersonView
    opened: float
    at: int = 0
    begun: float | None = None
    paused: str = ""
    remedy: bool = False
    notice: str = ""
    result: FindingView | None = None
    readings: tuple[str, ...] = ()
    ending: EndingView | None = None
    failed: bool = False
    notes: list[str] = field(default_factory=list)


class FakeDesk:
    """Walks each checkout along `every_ask`."""

    def __init__(self, site: FakeSite) -> None:
        self.site = site
        self.runs: dict[str, Run] = {}
        self.took: list[tuple[str, float]] = []

    def _now(self) -> float:
        return self.site.clock.now().ticks

    def start(self, instrument: str, person: str, pin: str | None = None) -> CheckoutView:
        row = self.site.row(instrument)
        self.site.check_pin(person, "", pin)
        if row.fitness == "locked out":
            raise Trouble(f"{row.label} is locked out", allowed="a checkout after a clearing", do="Tell the site lead.")
        checkout = f"checkout-{instrument}"
        self.runs[checkout] = Run(row.label, self.site.people[person], self._now())
        return self.view(checkout)

    def _asks(self, checkout: str) -> tuple[tuple[str, Ask], ...]:
        return self.site.asks(self.runs[checkout].label)

    def view(self, checkout: str) -> CheckoutView:
        run, asks = self.runs[checkout], self._asks(checkout)
        title, ask = asks[min(run.at, len(asks) - 1)]
        titles = list(dict.fromkeys(name for name, _ in asks))
        here = titles.index(title)
        trail = tuple(
            TrailStep(each, each, "passed" if at < here else "now" if at == here else "to come")
            for at, each in enumerate(titles)
        )
        going = run.ending is None and not run.paused and not run.remedy
        row = self.site.row(checkout.removeprefix("checkout-"))
        return CheckoutView(
            checkout=checkout,
            marking=self.site.marking,
            instrument=row.id,
            label=run.label,
            serial=row.serial,
            type=row.type,
            person=run.person.id,
            person_name=run.person.name,
            title="Invented profile",
            trail=trail,
            step=here + 1,
            steps=len(titles),
            step_title=title,
            seconds=self._now() - run.opened,
            ask=ask if going else None,
            remedy=self._remedy() if run.remedy else None,
            wait=self._wait(run, ask) if going else None,
            ending=run.ending,
            paused=run.paused,
            notice=run.notice,
            result=run.result,
            failed=run.failed,
            readings=run.readings,
        )

    def _remedy(self) -> RemedyView:
        caution = "Switch off before opening the battery box."
        return RemedyView(
            BATTERY, "Fit fresh cells, matching the polarity marks.", caution, "fresh-cells", 1, 1, "battery"
        )

    def _wait(self, run: Run, ask: Ask) -> WaitView | None:
        if not isinstance(ask, Wait | Hold):
            return None
        if isinstance(ask, Wait) and run.begun is None:
            run.begun = self._now()
        if run.begun is None:
            return None
        left = max(0.0, ask.seconds - (self._now() - run.begun))
        return WaitView("wait" if isinstance(ask, Wait) else "hold", ask.seconds, left, ask.meanwhile)

    def understand(self, checkout: str, ask: str, typed: Typed) -> Understood:
        due = self._asks(checkout)[self.runs[checkout].at][1]
        assert due.key == ask
        if isinstance(due, ReadingAsk):
            if typed.state:
                return Understood(f"{typed.state} on {typed.selector}")
            chosen = next((each for each in due.selectors if each.name == typed.selector), None)
            if chosen is None:
                raise Trouble("no selector position was given", allowed="x1, x10", do="Say where the selector stands.")
            try:
                figure = Decimal(typed.text)
            except InvalidOperation:
                raise Trouble(
                    f"“{typed.text}” is no figure", allowed="a number such as 1.62", do="Type it again."
                ) from None
            return Understood(f"{figure} on {chosen.name} = {figure * chosen.times} {chosen.unit}")
        if not typed.text:
            raise Trouble("nothing was typed", do="Type it.")
        return Understood(typed.text)

    def answer(self, checkout: str, ask: str, typed: Typed, *, took: float) -> CheckoutView:
        run = self.runs[checkout]
        title, due = self._asks(checkout)[run.at]
        assert due.key == ask, "an answer to another question"
        self.took.append((ask, took))
        run.notice = ""
        if isinstance(due, Scan) and typed.text != due.due:
            raise Trouble(f"that is “{typed.text}”, not {due.due}", allowed=f"the label {due.due}", do="Scan it again.")
        if isinstance(due, ReadingAsk):
            run.readings = (*run.readings, self.understand(checkout, ask, typed).echo)
        if typed.text == "below the band":
            run.remedy = run.failed = True
        elif typed.text in ("damaged", "no label at all"):
            self._end(run, "locked out")
        elif typed.text == "unknown":
            self._end(run, "not checked")
        else:
            self._next(run, title, checkout)
        return self.view(checkout)

    def _next(self, run: Run, title: str, checkout: str) -> None:
        asks = self._asks(checkout)
        run.at += 1
        run.begun = None
        run.result = None
        if run.at >= len(asks):
            self._end(run, "fit for use")
        elif asks[run.at][0] != title and title == "response":
            run.result = FindingView("Response", START, RESPONSE, True)

    def tick(self, checkout: str) -> CheckoutView:
        run = self.runs[checkout]
        view = self.view(checkout)
        if view.wait is not None and view.wait.remaining <= 0:
            self._next(run, view.step_title, checkout)
        return self.view(checkout)

    def hold(self, checkout: str) -> CheckoutView:
        run = self.runs[checkout]
        run.begun, run.notice = self._now(), ""
        return self.view(checkout)

    def let_go(self, checkout: str) -> CheckoutView:
        run = self.runs[checkout]
        run.begun, run.notice = None, "Let go too early. Once more."
        return self.view(checkout)

    def remedy(self, checkout: str, *, done: bool) -> CheckoutView:
        run = self.runs[checkout]
        run.remedy = False
        if not done:
            self._end(run, "locked out")
        return self.view(checkout)

    def pause(self, checkout: str, why: str = "") -> CheckoutView:
        self.runs[checkout].paused = why or "set aside"
        self.runs[checkout].begun = None
        return self.view(checkout)

    def resume(self, checkout: str, person: str, *, switched_off: bool, pin: str | None = None) -> CheckoutView:
        run = self.runs[checkout]
        self.site.check_pin(person, run.person.id, pin)
        run.paused, run.person = "", self.site.people[person]
        if switched_off:
            run.at, run.notice = 0, "It was switched off: everything is done again."
        return self.view(checkout)

    def fail_by_judgement(self, checkout: str, say: str) -> CheckoutView:
        self._end(self.runs[checkout], "locked out", say)
        return self.view(checkout)

    def abandon(self, checkout: str, why: str) -> CheckoutView:
        self._end(self.runs[checkout], "abandoned", why)
        return self.view(checkout)

    def withdraw(self, checkout: str, why: str) -> CheckoutView:
        self._end(self.runs[checkout], "abandoned", f"withdrawn: {why}")
        return self.view(checkout)

    def note(self, checkout: str, text: str) -> None:
        self.runs[checkout].notes.append(text)

    def open_checkouts(self) -> tuple[OpenCheckout, ...]:
        rows = []
        for checkout, run in self.runs.items():
            if run.ending is None:
                view = self.view(checkout)
                left = view.wait.remaining if view.wait else None
                phase = "paused" if run.paused else "waiting" if view.wait else "asking"
                rows.append(
                    OpenCheckout(
                        checkout, view.instrument, run.label, run.person.name, view.step_title, phase, left, run.failed
                    )
                )
        return tuple(rows)

    def _end(self, run: Run, how: str, say: str = "") -> None:
        fit, out = how == "fit for use", how == "locked out"
        run.failed = run.failed or out
        reason = ReasonView(
            "response-out", say or "It reads 31 % low with source S-7.", "Tag it, put it on the out-of-service shelf."
        )
        run.ending = EndingView(
            ending=how,
            reasons=() if fit else (reason,),
            missing=("no reference reading for source S-7",) if how == "not checked" else (),
            fit_for=("photon exposure rate", "beta, slide open") if fit else (),
            not_for=("alpha", "neutron"),
            scales=(("x1", "source"), ("x10", "zero"), ("x100", "not shown")) if fit else (),
            until=START + timedelta(hours=8) if fit else None,
            until_local="14:00 today" if fit else "",
            factor="1.04" if fit else "",
            warnings=("Damp air makes it read high.",),
            tell=("Close to the limit.",) if fit else (),
            do=("Use it.",) if fit else ("Tell the site lead.",),
            tag="T-0042",
            doubt=5 if out else 0,
            sources_out=("S-7",) if not fit else (),
            findings=(FindingView("Battery", START, BATTERY, False), FindingView("Response", START, RESPONSE, True)),
        )
