"""A small invented site for trying the screens without one: every kind of ask, remedies, waits, holds, all endings.

It keeps no rules. Answers move along a list of asks; what they lead to is picked by the answer itself ("below the
band" fails, "cannot say" could not be checked). Values and names are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal, InvalidOperation
from pathlib import Path

from procedures.asks import (
    Acknowledge,
    Ask,
    Choice,
    DateAsk,
    Hold,
    Option,
    Place,
    QuantityAsk,
    ReadingAsk,
    Scan,
    Selector,
    TextAsk,
    Wait,
)
from procedures.clock import ManualClock
from procedures.findings import Finding, Number
from procedures.site.views import (
    CheckoutView,
    EndingView,
    FindingView,
    Found,
    Home,
    InstrumentRow,
    Mark,
    OpenCheckout,
    PersonView,
    ReasonView,
    RemedyView,
    SourceOut,
    TrailStep,
    Typed,
    Understood,
    WaitView,
)
from procedures.trouble import Trouble

START = datetime(2026, 3, 12, 5, 5, tzinfo=UTC)

X1 = Selector("x1", Decimal(1), "mR/h", Decimal(3), Decimal("0.1"))
X10 = Selector("x10", Decimal(10), "mR/h", Decimal(3), Decimal("0.1"))

READ = "Source S-7 in its jig, slide open. When the needle rests, read it."

RESPONSE = Finding(
    step="response",
    kind="response",
    outcome="pass",
    say="Observed 1.61 mR/h, 98 % of expected.",
    rule="response-simple 1",
    numbers=(
        Number("low", "lowest allowed", "1.31", "mR/h"),
        Number("expected", "expected", "1.6398277", "mR/h"),
        Number("high", "highest allowed", "1.97", "mR/h"),
        Number("observed", "observed", "1.61", "mR/h"),
    ),
    tell=("Close to the limit.",),
)
BATTERY = Finding(step="battery", kind="battery", outcome="fail", say="The needle rests below the band.", rule="b 1")


def every_ask(label: str) -> tuple[tuple[str, Ask], ...]:
    """One of each kind, with the title of the step it stands in."""
    return (
        ("identity", Scan(key="tag", say=f"Scan the label on {label}.", of="instrument", due=label)),
        (
            "look-over",
            Choice(
                key="case",
                say="Look the case over. What do you see?",
                more="Turn it round once.",
                options=(
                    Option("sound", "sound, nothing loose"),
                    Option("damaged", "damaged"),
                    Option("unknown", "cannot say"),
                ),
            ),
        ),
        (
            "battery",
            Place(
                key="needle",
                say="Hold the battery button. Where does the needle rest?",
                caution="Switch off before opening the battery box.",
                places=("below the band", "in the band", "above the band"),
            ),
        ),
        ("warm-up", Acknowledge(key="on", say="Switch it on.", done="It is on now", mark="switched-on")),
        ("warm-up", Wait(key="settle", say="Let it warm up.", seconds=120, meanwhile="The electrometer settles.")),
        (
            "zero",
            Hold(key="hold", say="Keep the zero button down.", seconds=8, meanwhile="The charge is leaking away."),
        ),
        (
            "response",
            ReadingAsk(
                key="r1",
                say="Source S-7 in its jig, slide open. When the needle rests, read it.",
                part=(1, 2),
                selectors=(X1, X10),
            ),
        ),
        (
            "response",
            ReadingAsk(
                key="r2",
                say="Source S-7 in its jig, slide open. When the needle rests, read it.",
                part=(2, 2),
                selectors=(X1, X10),
            ),
        ),
        ("air", QuantityAsk(key="t", say="Read the thermometer.", units=("degC", "degF"))),
        ("label", DateAsk(key="due", say="What date does the calibration label show?", absent="there is no label")),
        ("place", TextAsk(key="where", say="Where will it be used?", longest=60)),
        ("put away", Scan(key="back", say="Put source S-7 back and scan its store.", of="store", due="ST-7")),
    )


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

    def start(self, instrument: str, person: str) -> CheckoutView:
        row = self.site.row(instrument)
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

    def resume(self, checkout: str, person: str, *, switched_off: bool) -> CheckoutView:
        run = self.runs[checkout]
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


class FakeSite:
    """The use cases of an invented site."""

    def __init__(
        self,
        folder: Path,
        *,
        marking: Mark = "demo",
        prefix: str = "",
        many: int = 0,
        asks: Callable[[str], tuple[tuple[str, Ask], ...]] = every_ask,
    ) -> None:
        """`prefix` stands before every name and text that people supply; `many` instruments more than three."""
        self.folder = folder
        self.marking = marking
        self.clock = ManualClock(START, offset=60, ticks=1000.0)
        self.prefix = prefix
        self.asks = asks
        self.people = {
            "p1": PersonView("p1", "B-1", f"{prefix}Ada Lane", "AL", ("technician",)),
            "p2": PersonView("p2", "B-2", f"{prefix}Ben Moor", "BM", ("technician",)),
        }
        kind = f"{prefix}vented chamber, analog"
        self.rows = [
            self._row("i1", f"{prefix}C-101", kind, "needs check", why="no check today"),
            self._row("i2", f"{prefix}C-102", kind, "ready", until=START + timedelta(hours=9), holder=f"{prefix}Ben"),
            self._row("i3", f"{prefix}G-201", f"{prefix}counter, end window", "locked out", why="window-damaged"),
            *(self._row(f"m{n}", f"M-{n:03}", kind, "needs check", why="no check today") for n in range(many)),
        ]
        self.desk = FakeDesk(self)
        self.done: list[tuple[str, ...]] = []
        self.reads = 0

    def _row(
        self,
        key: str,
        label: str,
        kind: str,
        fitness: str,
        *,
        why: str = "",
        until: datetime | None = None,
        holder: str = "",
    ) -> InstrumentRow:
        return InstrumentRow(
            id=key,
            label=label,
            serial=f"{self.prefix}0042",
            type=kind,
            fitness=fitness,
            why=f"{self.prefix}{why}" if why else "",
            reasons=(f"{self.prefix}The window is torn.",) if fitness == "locked out" else (),
            until=until,
            whereabouts="handed out" if holder else "here",
            holder=holder,
            contaminated=fitness == "locked out",
            calibration_due=date(2026, 9, 1),
            due=(f"{self.prefix}calibration due in 12 days",) if key == "i1" else (),
            checkout="",
        )

    def row(self, key: str) -> InstrumentRow:
        return next(each for each in self.rows if each.id == key)

    def home(self, *, search: str = "", limit: int = 50, offset: int = 0) -> Home:
        self.reads += 1
        open_ones = self.desk.open_checkouts()
        with_checkout = {each.instrument: each.checkout for each in open_ones}
        rows = [replace(each, checkout=with_checkout.get(each.id, "")) for each in self.rows]
        fitting = [each for each in rows if search.casefold() in f"{each.label} {each.type}".casefold()]
        now = self.clock.now()
        return Home(
            site=f"{self.prefix}North Site",
            marking=self.marking,
            station=f"{self.prefix}laptop 2",
            now=now.utc,
            offset=now.offset,
            instruments=tuple(fitting[offset : offset + limit]),
            total=len(fitting),
            checkouts=open_ones,
            sources_out=(SourceOut("s7", f"{self.prefix}S-7", "x", f"{self.prefix}C-104", START),),
            due=(f"{self.prefix}leak test of S-9 in 3 days",),
            notices=(),
        )

    def find(self, text: str) -> Found:
        for each in self.rows:
            if text.casefold() == each.label.casefold():
                return Found("instrument", each.id, each.label, "", (each,))
        for person in self.people.values():
            if text in (person.label, person.initials, person.name):
                return Found("person", person.id, person.label)
        if text == "S-7":
            return Found("source", "s7", "S-7")
        some = tuple(each for each in self.rows if text.casefold() in each.label.casefold())
        if some:
            return Found("several", say=f"{len(some)} instruments fit “{text}”.", rows=some)
        return Found("nothing", say=f"Nothing here is called “{text}”.")

    def who(self, text: str) -> PersonView:
        for person in self.people.values():
            if text in (person.label, person.initials, person.name):
                return person
        raise Trouble(f"nobody here is “{text}”", allowed="a badge, initials or a name", do="Scan your badge again.")

    def causes(self) -> tuple[Option, ...]:
        return (
            Option("dropped", f"{self.prefix}dropped or knocked"),
            Option("cells", "cells changed"),
            Option("wet", "got wet"),
        )

    def end_readiness(self, instrument: str, person: str, cause: str, say: str) -> None:
        self.done.append(("end-readiness", instrument, person, cause, say))

    def lock_out(self, instrument: str, person: str, say: str) -> None:
        self.done.append(("lock-out", instrument, person, say))

    def source_back(self, text: str, person: str) -> str:
        self.done.append(("source-back", text, person))
        return text
