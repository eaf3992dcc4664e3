"""Line mode on a fake desk and a clock moved by hand: what is asked, kept, dropped, and with which code it ends."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from checklist_tui import line_words, output
from checklist_tui.line_answers import chosen, command_in, typed_for
from checklist_tui.line_input import LONGEST_LINE, End, Line, LineCutter, StreamLines
from checklist_tui.line_mode import LineMode
from procedures import settling
from procedures.answers import understand
from procedures.asks import Acknowledge, Ask, Choice, Hold, Option, Place, ReadingAsk, Scan, Selector, TextAsk, Wait
from procedures.clock import ManualClock
from procedures.findings import Ending, Finding, Number
from procedures.sheets import Done, Form, FormField, Look
from procedures.site.views import (
    CheckoutView,
    EndingView,
    FindingView,
    Found,
    Home,
    InstrumentRow,
    OpenCheckout,
    PersonView,
    ReasonView,
    RemedyView,
    Typed,
    Understood,
    WaitView,
)
from procedures.trouble import Trouble

NOW = datetime(2026, 11, 25, 6, 0, tzinfo=UTC)

BATTERY = Place(
    key="where",
    say="Hold the battery button. Where does the needle rest?",
    caution="Switch off before opening the battery box.",
    places=("below the band", "in the band"),
)
SETTLE = Wait(key="settle", say="Let it settle.", seconds=30, meanwhile="The charge is leaking away.")
ZERO = Hold(key="zero", say="Keep the zero button down.", seconds=8)
READ = ReadingAsk(
    key="r1", say="Read it.", part=(1, 1), selectors=(Selector("x10", Decimal(10), "mR/h", Decimal(5), Decimal("0.1")),)
)
SCAN = Scan(key="scan", say="Scan the source.", of="source", due="S-7")
DONE = Acknowledge(key="done", say="Put the source back.", done="It is in its store")


@dataclass
class FakeCheckout:
    """One checkout: the asks still due and what was kept."""

    id: str
    row: InstrumentRow
    asks: list[Ask]
    kept: list[tuple[str, Any]] = field(default_factory=list)
    took: list[float] = field(default_factory=list)
    waiting: settling.Wait | None = None
    hold: settling.Hold | None = None
    notice: str = ""
    paused: str = ""
    ending: Ending | None = None
    result: FindingView | None = None
    remedy: RemedyView | None = None
    steps_done: int = 0


def finding(outcome: Any, say: str, *numbers: Number) -> FindingView:
    made = Finding(step="s", kind="k", outcome=outcome, say=say, rule="rule 1", numbers=numbers)
    return FindingView("Battery", NOW, made, counts=outcome == "pass")


class FakeDesk:
    """Goes through a list of asks. A needle "below the band" locks out, after one remedy where there is one."""

    def __init__(self, clock: ManualClock, rows: Sequence[InstrumentRow], asks: Sequence[Ask]) -> None:
        self.clock, self.rows, self.script = clock, rows, asks
        self.open: dict[str, FakeCheckout] = {}
        self.log: list[str] = []
        self.offers_remedy = False
        self.pin = ""

    def start(self, instrument: str, person: str, pin: str | None = None) -> CheckoutView:
        row = next(row for row in self.rows if row.id == instrument)
        if row.fitness == "locked out":
            raise Trouble(f"{row.label} is locked out", do="Leave it on the out-of-service shelf.")
        if self.pin and pin != self.pin:
            raise Trouble("that is not the PIN", do="Wait, then enter it again.")
        self.log.append(f"start {instrument} {person}")
        checkout = FakeCheckout(f"co-{instrument}", row, list(self.script))
        self.open[checkout.id] = checkout
        self._arrive(checkout)
        return self.view(checkout.id)

    def _arrive(self, checkout: FakeCheckout) -> None:
        if not checkout.asks:
            checkout.ending = "fit for use"
        elif isinstance(checkout.asks[0], Wait):
            checkout.waiting = settling.Wait(checkout.asks[0].seconds, self.clock.now())

    def view(self, checkout: str) -> CheckoutView:
        c = self.open[checkout]
        ask = c.asks[0] if c.asks and not c.paused and c.ending is None and c.remedy is None else None
        wait = None
        if c.hold is not None:
            wait = WaitView("hold", c.hold.seconds, settling.still_to_hold(c.hold), "")
        elif c.waiting is not None:
            wait = WaitView(
                "wait", c.waiting.seconds, settling.remaining(c.waiting, self.clock.now()), "It leaks away."
            )
        return CheckoutView(
            checkout=c.id, marking="demo", instrument=c.row.id, label=c.row.label, serial="1", type=c.row.type,
            person="p1", person_name="A. Person", title="A profile", trail=(), step=c.steps_done + 1, steps=9,
            step_title=f"Step {c.steps_done + 1}", seconds=0.0, ask=ask, remedy=c.remedy, wait=wait,
            ending=self._ending(c), paused=c.paused, notice=c.notice, result=c.result,
        )  # fmt: skip

    def _left(self, c: FakeCheckout) -> float:
        return settling.remaining(c.waiting, self.clock.now()) if c.waiting else 0.0

    def _ending(self, c: FakeCheckout) -> EndingView | None:
        if c.ending is None:
            return None
        reasons = (ReasonView("battery-low", "The battery is low", "Tag it"),) if c.ending == "locked out" else ()
        return EndingView(
            ending=c.ending, reasons=reasons, missing=(), fit_for=("photons",), not_for=("neutrons",),
            scales=(("x10", "source"),), until=None, until_local="14:00 on 25 Nov 2026", factor="1.05",
            warnings=("Damp air makes it read high",), tell=(), do=("Tag it",) if reasons else ("Take it",),
            tag="T-1" if reasons else "", doubt=5 if reasons else 0, sources_out=(), findings=(),
        )  # fmt: skip

    def understand(self, checkout: str, ask: str, typed: Typed) -> Understood:
        asked = self.open[checkout].asks[0]
        assert asked.key == ask
        return Understood(understand(asked, typed.text)[1])

    def answer(self, checkout: str, ask: str, typed: Typed, *, took: float) -> CheckoutView:
        c = self.open[checkout]
        asked = c.asks[0]
        assert asked.key == ask
        value, _ = understand(asked, typed.text)
        c.kept.append((ask, value))
        c.took.append(took)
        c.notice = ""
        if value == "below the band":
            low = finding("fail", "The needle is below the band")
            c.result = low
            if self.offers_remedy:
                self.offers_remedy = False
                c.remedy = RemedyView(low.finding, "Fit fresh cells.", "", "fresh cells fitted", 1, 1, "Battery")
            else:
                c.ending = "locked out"
            return self.view(checkout)
        c.result = finding("pass", f"Kept {value}", Number("expected", "expected", "41.5", "mR/h"),
                           Number("low", "low limit", "33.2", "mR/h"))  # fmt: skip
        self._next(c)
        return self.view(checkout)

    def _next(self, c: FakeCheckout) -> None:
        c.asks.pop(0)
        c.steps_done += 1
        c.waiting = c.hold = None
        self._arrive(c)

    def tick(self, checkout: str) -> CheckoutView:
        c, now = self.open[checkout], self.clock.now()
        if c.hold is not None:
            beaten = settling.beat(c.hold, now)
            if isinstance(beaten, settling.Broken):
                c.hold, c.notice = None, "The hold does not count."
            elif settling.is_kept(beaten):
                c.kept.append((c.asks[0].key, settling.held(beaten)))
                self._next(c)
            else:
                c.hold = beaten
        elif c.waiting is not None and settling.is_over(c.waiting, now):
            c.kept.append((c.asks[0].key, settling.elapsed(c.waiting, now)))
            self._next(c)
        return self.view(checkout)

    def hold(self, checkout: str) -> CheckoutView:
        c = self.open[checkout]
        c.notice = ""
        asked = c.asks[0]
        assert isinstance(asked, Hold)
        c.hold = settling.begin_hold(asked.seconds, self.clock.now())
        return self.view(checkout)

    def let_go(self, checkout: str) -> CheckoutView:
        c = self.open[checkout]
        if c.hold is not None:
            c.hold, c.notice = None, "The button came up too early."
            self.log.append("broken")
        return self.view(checkout)

    def remedy(self, checkout: str, *, done: bool) -> CheckoutView:
        c = self.open[checkout]
        self.log.append(f"remedy {done}")
        c.remedy = None
        if not done:
            c.ending = "locked out"
        return self.view(checkout)

    def pause(self, checkout: str, why: str = "") -> CheckoutView:
        c = self.open[checkout]
        if c.paused or c.ending:
            raise Trouble("this checkout is set aside")
        c.paused = why or "paused"
        c.hold = c.waiting = None
        self.log.append(f"pause {checkout}")
        return self.view(checkout)

    def resume(self, checkout: str, person: str, *, switched_off: bool, pin: str | None = None) -> CheckoutView:
        c = self.open[checkout]
        self.log.append(f"resume {person} {switched_off}" + (f" with {pin}" if pin else ""))
        c.paused = ""
        self._arrive(c)
        return self.view(checkout)

    def fail_by_judgement(self, checkout: str, say: str) -> CheckoutView:
        self.log.append(f"fail {say}")
        self.open[checkout].ending = "locked out"
        return self.view(checkout)

    def abandon(self, checkout: str, why: str) -> CheckoutView:
        self.log.append(f"abandon {why}")
        self.open[checkout].ending = "abandoned"
        return self.view(checkout)

    def withdraw(self, checkout: str, why: str) -> CheckoutView:
        self.log.append(f"withdraw {why}")
        c = self.open[checkout]
        c.ending = c.ending or "abandoned"
        return self.view(checkout)

    def note(self, checkout: str, text: str) -> None:
        self.log.append(f"note {checkout} {text}")

    def open_checkouts(self) -> tuple[OpenCheckout, ...]:
        rows = []
        for c in self.open.values():
            if c.ending is None:
                left = settling.remaining(c.waiting, self.clock.now()) if c.waiting else None
                phase: Any = "waiting" if left else "asking"
                rows.append(OpenCheckout(c.id, c.row.id, c.row.label, "A. Person", "Battery", phase, left, False))
        return tuple(rows)


def row(label: str, fitness: Any = "needs check", **more: Any) -> InstrumentRow:
    made = InstrumentRow(
        id=f"id-{label}", label=label, serial="1", type="vented chamber", fitness=fitness, why="not checked today",
        reasons=(), until=None, whereabouts="here", holder="", contaminated=False, calibration_due=None, due=(),
        checkout="",
    )  # fmt: skip
    return replace(made, **more)


HAND = (Option("dropped", "It was dropped."), Option("other", "something else"))


class FakeUseCases:
    """A site with a few instruments, one person who may check and one who may not."""

    marking = "demo"
    folder = Path()

    def __init__(self, clock: ManualClock, rows: Sequence[InstrumentRow], asks: Sequence[Ask]) -> None:
        self.clock = clock
        self.rows = tuple(rows)
        self.desk = FakeDesk(clock, rows, asks)
        self.in_the_way: tuple[str, ...] = ()

    def home(self, *, search: str = "", limit: int = 50, offset: int = 0) -> Home:
        rows = tuple(row for row in self.rows if search.casefold() in (row.label + row.type).casefold())
        return Home(
            "North", "demo", "laptop", NOW, rows[offset : offset + limit], len(rows), (), (), ("Leak test S-7",), ()
        )

    def instrument(self, instrument: str) -> InstrumentRow | None:
        return next((each for each in self.rows if each.id == instrument), None)

    def find(self, text: str) -> Found:
        for each in self.rows:
            if each.label.casefold() == text.casefold():
                return Found("instrument", each.id, each.label)
        if text == "S-7":
            return Found("source", "s7", "S-7")
        return Found("nothing", say=f"Nothing here is marked {text}.")

    def obstacles(self, _instrument: str) -> tuple[str, ...]:
        return self.in_the_way

    def who(self, text: str) -> PersonView:
        if text == "B-1":
            return PersonView("p1", "B-1", "A. Person", "AP", ("technician",))
        if text == "B-2":
            return PersonView("p2", "B-2", "B. Person", "BP", (), "training ended")
        raise Trouble(f"nobody here has the badge {text}")

    def source_back(self, text: str, person: str) -> str:
        self.desk.log.append(f"back {text} {person}")
        return text

    def check_takes_pin(self, person: str, whose: str = "") -> bool:
        return self.desk.pin != "" and person != whose

    def causes(self) -> tuple[Option, ...]:
        return (Option("dropped", "It was dropped"), Option("wet", "It got wet"))

    def end_readiness(self, instrument: str, person: str, cause: str, say: str) -> None:
        self.desk.log.append(f"ended {instrument} {person} {cause} {say}")

    def form(self, name: str, about: str, _person: str, _entered: Mapping[str, str], _page: int) -> Form:
        fields = (FormField("reason", "what is wrong", "choice", options=HAND), FormField("say", "in your words"))
        return Form(name, "Lock it out", "Say what is wrong with it.", fields, about, keep="Lock it out")

    def look(self, _name: str, _about: str, _person: str, entered: Mapping[str, str]) -> Look:
        return Look((f"Recorded: {entered.get('say', '')}",))

    def keep(self, name: str, about: str, person: str, entered: Mapping[str, str]) -> Done:
        self.desk.log.append(f"{name} {about} {person} {entered['reason']} {entered['say']}")
        return Done("It is locked out.", "Hang a tag on it.")


@dataclass
class Ahead:
    """A line that was typed before anything was asked."""

    text: str


class Script:
    """Lines as a person types them. A number lets that many seconds pass before the next line."""

    def __init__(self, clock: ManualClock, items: Sequence[str | float | Ahead], *, piped: bool = False) -> None:
        self.clock, self.items, self.piped = clock, list(items), piped
        self.hides = 0

    def next(self, seconds: float) -> Line | End | None:
        if not self.items:
            return End()
        head = self.items[0]
        if isinstance(head, int | float):
            step = min(seconds, head)
            self.clock.advance(step)
            self.items[0] = left = head - step
            if left <= 1e-9:
                self.items.pop(0)
            return None
        self.items.pop(0)
        return Line(head.text if isinstance(head, Ahead) else head)

    def rest(self, seconds: float) -> End | None:
        self.clock.advance(seconds)
        return None

    @contextmanager
    def hidden(self) -> Iterator[None]:
        self.hides += 1
        yield

    def drop(self) -> int:
        dropped = 0
        while not self.piped and self.items and isinstance(self.items[0], Ahead):
            self.items.pop(0)
            dropped += 1
        return dropped


@dataclass
class Session:
    """What a session came to."""

    code: int
    text: str
    desk: FakeDesk
    script: Script

    def kept(self, label: str = "C-101") -> list[tuple[str, Any]]:
        return self.desk.open[f"co-id-{label}"].kept


ROWS = (row("C-101"), row("C-102", "ready", why=""), row("C-103", "locked out", why="battery-low"))


def talk(
    *items: str | float | Ahead,
    asks: Sequence[Ask] = (BATTERY,),
    rows: Sequence[InstrumentRow] = ROWS,
    instrument: str = "C-101",
    person: str = "B-1",
    piped: bool = False,
    remedy: bool = False,
    pin: str = "",
) -> Session:
    clock = ManualClock(NOW, offset=60)
    cases = FakeUseCases(clock, rows, asks)
    cases.desk.offers_remedy = remedy
    cases.desk.pin = pin
    told: list[str] = []
    script = Script(clock, items, piped=piped)
    code = LineMode(cases, script, told.append).run(instrument=instrument, person=person)  # type: ignore[arg-type]
    return Session(code, "".join(told), cases.desk, script)


# --- answers -------------------------------------------------------------------------------------------------------


def test_a_checkout_that_passes_ends_fit_for_use_and_exits_0() -> None:
    """The whole of it: caution, question, numbered places, echo, Enter, ending in full."""
    done = talk("2", "", "")
    assert done.code == 0
    assert done.kept() == [("where", "in the band")]
    assert "CAUTION: Switch off before opening the battery box." in done.text
    assert "  2  in the band" in done.text
    assert "That is: the needle rests in the band." in done.text
    for said in ("DEMO FIT FOR USE: C-101.", "Fit for photons. Until 14:00 on 25 Nov 2026.", "Not for neutrons.",
                 "Multiply every reading by 1.05.", "WARNING: Damp air makes it read high.",
                 "Do now: Take it."):  # fmt: skip
        assert said in done.text


def test_a_failed_step_locks_out_says_why_and_exits_3() -> None:
    """The reason in words, what to do now, the uses in doubt; the ending is left by a word, not by Enter."""
    done = talk("1", "", "", "", "numbers", "home")
    assert done.code == output.LOCKED_OUT
    for said in ("DEMO LOCKED OUT: C-101.", "Reason battery-low: The battery is low.", "Do now: Tag it.", "Tag T-1.",
                 "In doubt now: 5 uses since its last good check."):  # fmt: skip
        assert said in done.text
    assert done.script.items == []


def test_what_was_typed_is_repeated_and_can_be_replaced_before_it_is_kept() -> None:
    """A slip of typing is mended at the echo; only the last version is kept."""
    done = talk("1", "2", "", "")
    assert done.kept() == [("where", "in the band")]
    assert done.code == 0


def test_a_reading_is_echoed_with_its_product_and_the_limits_come_after() -> None:
    """Read first, compare after: nothing of what is expected is said before the reading is kept."""
    done = talk("4.2", "", "", asks=[READ])
    before, after = done.text.split("That is: 4.2 on x10 = 42", 1)
    assert "41.5" not in before
    assert "Expected 41.5 mR/h, low limit 33.2 mR/h." in after


def test_an_answer_that_is_not_understood_is_explained_and_asked_again() -> None:
    """Trouble in words, nothing kept, the same question again."""
    done = talk("7", "sideways", "abc", "2", "", "")
    assert done.kept() == [("where", "in the band")]
    assert done.text.count("is not one of the answers") == 3
    assert "Allowed: 1 below the band; 2 in the band." in done.text


def test_options_that_are_figures_are_chosen_by_letters() -> None:
    """A list number and a figure on the instrument must never be mistaken for each other."""
    ask = Choice(key="k", say="?", options=(Option("2", "2 lamps"), Option("1", "1 lamp")))
    assert typed_for(ask, "a") == Typed("2")
    assert typed_for(ask, "1 lamp") == Typed("1")
    assert line_words.answer_lines(ask) == ["  a  2 lamps", "  b  1 lamp"]


@given(st.text(max_size=30))
def test_no_text_chooses_what_was_not_on_offer(text: str) -> None:
    """Whatever is typed gives one of the options or Trouble."""
    options = (Option("yes", "It is intact"), Option("no", "It is torn"))
    with suppress(Trouble):
        assert chosen(options, text) in options


def test_a_scan_is_taken_as_it_comes_and_an_acknowledgement_needs_its_number() -> None:
    """A scanner ends its line itself. Enter alone acknowledges nothing: it is pressed too easily."""
    done = talk("S-7", "", "1", "", asks=[SCAN, DONE])
    assert done.kept() == [("scan", "S-7"), ("done", True)]
    assert "nothing was typed" in done.text


def test_the_time_an_answer_took_is_measured_from_when_it_was_asked() -> None:
    """Hasty answers are recorded by the core; it needs the true time."""
    done = talk(2.5, "2", 1.5, "", "")
    assert done.desk.open["co-id-C-101"].took == [pytest.approx(4.0)]


def test_quotation_marks_make_an_answer_of_a_command_word() -> None:
    """On which side? "left" must be sayable."""
    done = talk("left", '"left"', "", "", asks=[TextAsk(key="side", say="On which side?")])
    assert done.kept() == [("side", "left")]
    assert command_in("left", Choice(key="k", say="?", options=(Option("left", "on the left"),))) == ""


# --- typed ahead, waits, holds -------------------------------------------------------------------------------------


def test_lines_typed_before_the_question_are_dropped_and_said_to_be() -> None:
    """Nobody has answered a question they had not seen."""
    done = talk(Ahead("2"), Ahead(""), "2", "", "")
    assert "2 lines typed before the question: not taken." in done.text
    assert done.kept() == [("where", "in the band")]


def test_an_echo_is_not_confirmed_by_a_line_typed_ahead() -> None:
    """Enter pressed twice in haste keeps nothing: the echo was not on the line yet."""
    done = talk("1", Ahead(""), "2", "", "")
    assert done.kept() == [("where", "in the band")]


def test_a_wait_ends_by_itself_and_is_never_over_early() -> None:
    """30 s of the clock, whatever is typed meanwhile; the time left is said when asked, rounded up."""
    done = talk(10.1, "left", "", "2", 30, "2", "", "", asks=[SETTLE, BATTERY])
    (key, waited), kept = done.kept()
    assert key == "settle"
    assert waited == pytest.approx(30, abs=0.26)
    assert waited >= 30
    assert kept == ("where", "in the band")
    assert "Wait 30 s. It leaks away." in done.text
    assert "20 s left." in done.text
    assert done.text.count("Not taken: nothing is asked during a wait.") == 2


def test_nothing_is_printed_while_a_wait_goes_on_unless_asked() -> None:
    """No ticking: a screen reader would read every tick."""
    done = talk(40, "", asks=[replace(SETTLE, seconds=39)])
    between = done.text.split("home for the other instruments.\n")[1].split("The time is over.")[0]
    assert between == ""


def test_enter_starts_a_hold_and_it_is_kept_by_silence() -> None:
    """8 s without a line."""
    done = talk("", 9, "", asks=[ZERO])
    ((key, held),) = done.kept()
    assert key == "zero"
    assert 8 <= held <= 8.26


def test_any_line_breaks_a_hold_and_it_begins_anew() -> None:
    """Even an empty one: a finger that types is not on the button."""
    done = talk("", 7, "", "", 9, "", asks=[ZERO])
    assert done.desk.log.count("broken") == 1
    assert "The button came up too early." in done.text
    ((_, held),) = done.kept()
    assert held >= 8


def test_words_do_not_begin_a_hold() -> None:
    """Only Enter, pressed with the button."""
    done = talk("now", "", 9, "", asks=[ZERO])
    assert "a hold begins with an empty line" in done.text
    assert len(done.kept()) == 1


def test_piped_lines_wait_for_their_questions() -> None:
    """Of a pipe nothing is read during a wait, and a hold is not broken by the lines that follow."""
    done = talk("", "2", "", "", asks=[SETTLE, ZERO, BATTERY], piped=True)
    assert [key for key, _ in done.kept()] == ["settle", "zero", "where"]
    assert done.code == 0


# --- leaving -------------------------------------------------------------------------------------------------------


def test_the_end_of_the_input_pauses_what_is_open() -> None:
    """Nothing is lost and nothing passes."""
    done = talk("2")
    assert done.code == output.PAUSED
    assert done.desk.log[-1] == "pause co-id-C-101"
    assert "C-101 is paused. Everything is kept." in done.text


def test_the_end_of_the_input_during_a_hold_pauses_too() -> None:
    """A hold that nobody ended is no hold."""
    done = talk("", 3, asks=[ZERO])
    assert done.code == output.PAUSED
    assert done.kept() == []


def test_pause_keeps_everything_and_exits_6() -> None:
    """The command as such."""
    done = talk("pause")
    assert done.code == output.PAUSED
    assert done.desk.log == ["start id-C-101 p1", "pause co-id-C-101"]


def test_a_paused_checkout_asks_whether_the_instrument_was_switched_off() -> None:
    """From the list it is gone on with; doubt counts as switched off."""
    done = talk("1", "pause", "1", "2", "", "2", "", "", "quit", instrument="")
    assert "resume p1 True" in done.desk.log
    assert done.code == 0


def test_failing_by_judgement_needs_a_reason_and_a_yes() -> None:
    """The first time it is not confirmed and nothing happens; the second time it locks out."""
    done = talk("fail", "It rattles", "no", "fail", "It rattles", "yes", "home")
    assert [line for line in done.desk.log if line.startswith("fail")] == ["fail It rattles"]
    assert "Nothing was failed." in done.text
    assert done.code == output.LOCKED_OUT


def test_abandoning_needs_a_reason_and_a_yes() -> None:
    """Not fit for use, exit 5."""
    done = talk("abandon", "Fire drill", "yes", "home")
    assert "abandon Fire drill" in done.desk.log
    assert done.code == output.ABANDONED


def test_a_withdrawn_pass_is_no_success() -> None:
    """Fit for use on the wrong instrument must not exit 0."""
    done = talk("2", "", "wrong", "It was C-102", "yes")
    assert "withdraw It was C-102" in done.desk.log
    assert done.code == output.ABANDONED


def test_a_remedy_is_put_as_numbered_answers() -> None:
    """Done: the step comes again. The failure stands in the words."""
    done = talk("1", "", "1", "", "2", "", "", remedy=True)
    assert "Battery: FAILED. The needle is below the band." in done.text
    assert "Attempt 1 of 1. Fit fresh cells." in done.text
    assert "remedy True" in done.desk.log
    assert done.code == 0


def test_a_remedy_that_is_not_done_is_said_to_be_so() -> None:
    """Then the lockout follows."""
    done = talk("1", "", "2", "", "home", remedy=True)
    assert "remedy False" in done.desk.log
    assert done.code == output.LOCKED_OUT


def test_a_locked_out_instrument_exits_3_and_an_unknown_one_is_trouble() -> None:
    """With --instrument the code speaks of that instrument: never 0 unless it is fit for use."""
    assert talk(instrument="C-103").code == output.LOCKED_OUT
    with pytest.raises(Trouble, match="Nothing here is marked X-9"):
        talk(instrument="X-9")
    with pytest.raises(Trouble, match="may not check"):
        talk(person="B-2")


def test_no_person_no_checkout() -> None:
    """The input ends before anybody was named: nothing was begun, and that is not success."""
    done = talk("B-9", "B-2", person="")
    assert done.code == output.NOT_CHECKED
    assert done.desk.log == []


def test_output_that_nobody_reads_pauses_and_says_so_by_its_code() -> None:
    """A closed terminal or pipe: the checkout is paused, not lost."""
    clock = ManualClock(NOW)
    cases = FakeUseCases(clock, ROWS, [BATTERY])
    told: list[str] = []

    def write(text: str) -> None:
        if len(told) > 3:
            raise BrokenPipeError
        told.append(text)

    code = LineMode(cases, Script(clock, ["2", "", ""]), write).run(instrument="C-101", person="B-1")  # type: ignore[arg-type]
    assert code == output.BROKEN_PIPE
    assert cases.desk.log[-1] == "pause co-id-C-101"


# --- the list ------------------------------------------------------------------------------------------------------


def test_the_list_says_the_fitness_first() -> None:
    """A listener hears the word that matters before the rest."""
    done = talk("quit", instrument="")
    assert "1. NEEDS CHECK: C-101, vented chamber. Not checked today." in done.text
    assert "2. READY: C-102, vented chamber." in done.text
    assert "3. LOCKED OUT: C-103" in done.text
    assert "DEMO. Nothing here is a real instrument." in done.text
    assert done.code == 0


def test_an_instrument_is_chosen_by_number_or_by_its_label() -> None:
    """Both ways lead to a checkout; the second one while the first stays open."""
    done = talk("1", "home", "c-102", "yes", "2", "", "", "open", "quit", instrument="")
    assert done.desk.log == ["start id-C-101 p1", "start id-C-102 p1", "pause co-id-C-101"]
    assert "C-101, A. Person: Battery, asking." in done.text
    assert done.code == output.PAUSED


def test_readiness_is_asked_for_before_it_is_ended() -> None:
    """A checkout of what is ready takes its readiness away: anything but yes leaves it."""
    done = talk("c-102", "no", "c-102", "", "quit", instrument="")
    assert done.text.count("C-102 is ready") >= 2
    assert "A new checkout ends that." in done.text
    assert done.desk.log == []


def test_a_label_that_is_also_a_number_in_the_list_has_to_be_settled() -> None:
    """Instrument "2" stands first, instrument "1" second: a guess would check the wrong one."""
    rows = (row("2"), row("1"))
    done = talk("1", "label 1", "pause", "row 1", "pause", "quit", instrument="", rows=rows)
    assert "is a number in the list and also the label of something else" in done.text
    assert done.desk.log[:3] == ["start id-1 p1", "pause co-id-1", "start id-2 p1"]


def test_a_wait_that_ends_elsewhere_calls_by_name() -> None:
    """Two instruments side by side: while one settles the other is looked over."""
    rows = (row("C-101"), row("C-102"))
    items = ("1", "home", "2", 31, "pause", "quit")
    done = talk(*items, instrument="", rows=rows, asks=[SETTLE, BATTERY])
    assert "C-101: the wait is over." in done.text


def test_a_source_scanned_at_the_list_is_put_back() -> None:
    """After a failed check a source may still be out."""
    done = talk("S-7", "quit", instrument="")
    assert done.desk.log == ["back S-7 p1"]
    assert "Source S-7 is back in its store." in done.text


def test_more_goes_on_with_what_was_searched_for() -> None:
    """The second page of a search holds what fits it, and list tells all again."""
    rows = [row(f"{letter}-{n}") for letter in "CD" for n in range(101, 126)]
    done = talk("find D-", "more", "list", "quit", instrument="", rows=rows)
    searched = done.text.split("20 of 25. Type more for the next ones.")[1].split("20 of 50.")[0]
    assert "25. NEEDS CHECK: D-125" in searched
    assert "NEEDS CHECK: C-101" in done.text.rsplit("D-125", 1)[1]


def test_readiness_is_ended_with_a_cause_by_anyone() -> None:
    """Even by somebody who may not check; one confirmation."""
    done = talk("end 2", "B-2", "2", "no", "end c-102", "B-2", "2", "yes", "quit", instrument="", person="")
    assert done.desk.log == ["ended id-C-102 p2 wet It got wet"]
    assert "Nothing was changed." in done.text


def test_a_pin_is_asked_for_hidden_where_a_badge_is_not_enough() -> None:
    """A wrong one begins nothing, and the list of instruments is there again."""
    done = talk("1", "1357", "1", "2468", "pause", "quit", instrument="", pin="2468")
    assert done.desk.log[0] == "start id-C-101 p1"
    assert done.text.count("PIN of A. Person (not shown): ") == done.script.hides == 2
    assert "Not taken: that is not the PIN." in done.text


def test_an_instrument_is_locked_out_by_hand() -> None:
    """The same form as on the screens: a common reason, one's own words, one confirmation; left, nothing happens."""
    done = talk("lock 1", "stop", "lock 1", "2", "It smells burnt", "yes", "quit", instrument="")
    assert done.desk.log == ["lock-out id-C-101 p1 other It smells burnt"]
    assert done.text.index("Left. Nothing was kept.") < done.text.index("Hang a tag on it.")


def test_long_lists_are_told_in_pages_and_searched() -> None:
    """45 instruments: 20, more, more; find narrows the list, and numbers mean what was told last."""
    rows = [row(f"C-{n}") for n in range(101, 146)]
    done = talk("more", "more", "more", "find C-145", "1", "pause", "quit", instrument="", rows=rows)
    assert "20 of 45. Type more for the next ones." in done.text
    assert "45. NEEDS CHECK: C-145" in done.text
    assert "No more instruments." in done.text
    assert done.desk.log[0] == "start id-C-145 p1"


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.one_of(
            st.sampled_from(["", "1", "2", "yes", "home", "pause", "fail", "?", "left", "again", "wrong", "abandon"]),
            st.text(max_size=12),
            st.floats(0.1, 40),
        ),
        max_size=25,
    )
)
def test_whatever_is_typed_ends_in_words_and_a_code(items: list[str | float]) -> None:
    """No line, in no order, ends in anything but one of the codes; what passed was kept in the right order."""
    done = talk(*items, asks=[SETTLE, ZERO, BATTERY])
    assert done.code in (0, output.LOCKED_OUT, output.NOT_CHECKED, output.ABANDONED, output.PAUSED)
    if done.code == 0:
        assert [key for key, _ in done.kept()] == ["settle", "zero", "where"]
        assert done.kept()[-1] == ("where", "in the band")
    assert "\x1b" not in done.text
    assert "\r" not in done.text


# --- lines from a stream -------------------------------------------------------------------------------------------


@given(st.lists(st.text(st.characters(exclude_characters="\r\n", exclude_categories=["Cs"]), max_size=20)), st.data())
def test_lines_are_the_same_however_the_bytes_arrive(lines: list[str], data: st.DataObject) -> None:
    """CR, LF and CR LF end a line; a chunk may end within a character or between CR and LF."""
    ends = data.draw(st.lists(st.sampled_from(["\n", "\r\n", "\r"]), min_size=len(lines), max_size=len(lines)))
    if any(end == "\r" and nxt == "" for end, nxt in zip(ends, lines[1:], strict=False)):
        ends = ["\n"] * len(lines)  # CR, then an empty line ended by LF, is CR LF: one line
    raw = "".join(line + end for line, end in zip(lines, ends, strict=True)).encode()
    cutter = LineCutter("utf-8")
    cut: list[Line] = []
    while raw:
        size = data.draw(st.integers(1, len(raw)))
        cut += cutter.feed(raw[:size])
        raw = raw[size:]
    assert [line.text for line in cut + cutter.feed(b"", final=True)] == lines


def test_an_endless_line_is_cut_and_marked() -> None:
    """A stuck scanner must not fill the memory, and its text is no answer."""
    (line,) = LineCutter("utf-8").feed(b"x" * (LONGEST_LINE * 3) + b"\n")
    assert line.cut
    assert len(line.text) == LONGEST_LINE


def test_wrong_bytes_are_no_end_of_the_program() -> None:
    """A scanner in another encoding gives replacement characters."""
    (line,) = LineCutter("utf-8").feed(b"C-\xff\xfe101\n")
    assert line.text == "C-\ufffd\ufffd101"


def test_the_reader_gives_lines_then_the_end_and_drops_what_was_typed_ahead() -> None:
    """A real pipe under the reader's thread; as a terminal its waiting lines are dropped, as a pipe they stay."""
    for piped in (False, True):
        readable, writable = os.pipe()
        lines = StreamLines(readable, encoding="utf-8", piped=piped)
        os.write(writable, b"one\ntwo\nthr")
        first = lines.next(5)
        assert first == Line("one")
        os.write(writable, b"ee\n")
        os.close(writable)
        assert lines.drop() == (0 if piped else 2)
        rest = [lines.next(5) for _ in range(3)]
        assert rest == ([Line("two"), Line("three"), End()] if piped else [End()] * 3)
        os.close(readable)


def test_lines_still_waiting_in_the_terminal_are_dropped_too() -> None:
    """A burst from a scanner or a paste: only its first line can be an answer, however slow the reader's thread is."""
    pty = pytest.importorskip("pty", reason="this system has no pseudo-terminals")
    own, other = pty.openpty()
    lines = StreamLines(other, encoding="utf-8", piped=False)
    for _ in range(30):
        os.write(own, b"one\ntwo\nthree\n")
        assert lines.next(5) == Line("one")
        assert lines.drop() == 2
    os.close(own)
    while lines.next(5) != End():
        pass
    os.close(other)


def test_asked_to_leave_nothing_more_is_taken() -> None:
    """After a signal the lines that were typed are not obeyed any more."""
    readable, writable = os.pipe()
    lines = StreamLines(readable, encoding="utf-8", piped=False)
    os.write(writable, b"one\n")
    lines.stop(End("Asked to leave.", 143))
    assert lines.next(5) == End("Asked to leave.", 143)
    assert lines.rest(0) == End("Asked to leave.", 143)
    os.close(writable)
