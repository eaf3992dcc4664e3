"""Line mode over a real site in a temporary folder: what it says and does is what the desk decides."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_walk import START, sensible, small_site

from checklist_tui import output
from checklist_tui.line_input import End, Line
from checklist_tui.line_mode import LineMode
from checklist_tui.use_cases import SiteUseCases
from procedures.asks import Hold, ReadingAsk
from procedures.clock import ManualClock
from procedures.site.opening import Site, open_site


class Technician:
    """Types what the instrument shows, and Enter to keep it. `reads` is what it shows with the source in place.

    `leave_after` is the number of lines after which the input ends.
    """

    piped = False

    def __init__(self, cases: SiteUseCases, clock: ManualClock, *, reads: str = "1.62", leave_after: int = 500) -> None:
        self.cases, self.clock, self.reads, self.left = cases, clock, reads, leave_after
        self.told: list[str] = []

    def next(self, seconds: float) -> Line | End | None:
        (row,) = self.cases.desk.open_checkouts() or (None,)
        if row is None:
            return Line("home")  # the ending is on the page
        view = self.cases.desk.view(row.checkout)
        if view.wait is not None:
            self.clock.advance(seconds)
            return None
        self.left -= 1
        if self.left < 0:
            return End()
        self.clock.advance(3)
        last = self.told[-1]
        if "Enter keeps it" in last or isinstance(view.ask, Hold):
            return Line("")
        if view.ask is None or view.remedy is not None:
            return Line("1")
        if isinstance(view.ask, ReadingAsk):
            return Line(self.reads if view.ask.part else "0.01")
        return Line(sensible(view.ask, view))

    def rest(self, seconds: float) -> End | None:
        self.clock.advance(seconds)
        return None

    def drop(self) -> int:
        return 0


@pytest.fixture
def clock() -> ManualClock:
    return ManualClock(START)


@pytest.fixture
def site(tmp_path: Path, clock: ManualClock) -> Iterator[Site]:
    """One instrument with an adopted profile, a source and a reference reading of 1.65 mR/h a minute ago."""
    with small_site(tmp_path, clock) as made:
        clock.advance(60)
        yield made


def check(site: Site, clock: ManualClock, reads: str = "1.62", leave_after: int = 500) -> tuple[int, str]:
    """One checkout of C-1 by P-2; the exit code and everything said."""
    cases = SiteUseCases(site)
    technician = Technician(cases, clock, reads=reads, leave_after=leave_after)
    code = LineMode(cases, technician, technician.told.append).run(instrument="C-1", person="P-2")
    return code, "".join(technician.told)


def fitness(site: Site) -> str:
    return SiteUseCases(site).home().instruments[0].fitness


def test_an_instrument_in_order_becomes_ready(site: Site, clock: ManualClock) -> None:
    """From look-over to ending; the journal says what the last line said, and no limit is told before the readings."""
    code, said = check(site, clock)
    assert (code, fitness(site)) == (0, "ready")
    assert "FIT FOR USE: C-1." in said
    before, _ = said.split("3 of 3.")
    assert "expected" not in before.casefold()
    assert "lowest allowed" in said


def test_a_reading_out_of_limits_locks_out(site: Site, clock: ManualClock) -> None:
    """1.10 mR/h of 1.65 expected is 33 % low: locked out, exit 3, and a second try is refused with exit 3."""
    code, said = check(site, clock, reads="1.10")
    assert (code, fitness(site)) == (output.LOCKED_OUT, "locked out")
    assert "LOCKED OUT: C-1." in said
    assert "Do now: " in said
    assert check(site, clock)[0] == output.LOCKED_OUT


def test_an_ending_can_be_heard_again(site: Site, clock: ManualClock) -> None:
    """Whoever missed it asks once more, and the program goes on."""
    cases = SiteUseCases(site)

    class Asking(Technician):
        at_the_ending = iter(("again", "home"))

        def next(self, seconds: float) -> Line | End | None:
            if self.cases.desk.open_checkouts():
                return super().next(seconds)
            return Line(next(self.at_the_ending, "home"))

    technician = Asking(cases, clock, reads="1.10")
    code = LineMode(cases, technician, technician.told.append).run(instrument="C-1", person="P-2")
    assert code == output.LOCKED_OUT
    assert "".join(technician.told).count("LOCKED OUT: C-1.") == 2


@pytest.mark.parametrize("after", range(1, 23, 5))
def test_left_at_any_line_it_is_paused_and_can_be_finished(site: Site, clock: ManualClock, after: int) -> None:
    """Exit 6 and not ready; the next session finds it, asks about the power, and goes on to the end."""
    code, said = check(site, clock, leave_after=after)
    assert (code, fitness(site)) == (output.PAUSED, "needs check")
    assert "C-1 is paused. Everything is kept." in said
    code, said = check(site, clock)
    assert "Was the instrument switched off since?" in said
    assert (code, fitness(site)) == (0, "ready")


def test_a_checkout_left_open_by_a_crash_is_gone_on_with(site: Site, clock: ManualClock, tmp_path: Path) -> None:
    """No pause was recorded: another start of the program finds it standing still."""
    cases = SiteUseCases(site)
    cases.desk.start(cases.find("C-1").id, cases.who("P-2").id)
    site.close()
    clock.restart("after the crash")
    with open_site(tmp_path, clock) as again:
        code, said = check(again, clock)
        assert "C-1 was left open when the program stopped." in said
        assert (code, fitness(again)) == (0, "ready")


class Scripted:
    """Lines typed one after another, three seconds apart; then the input ends."""

    piped = False

    def __init__(self, clock: ManualClock, *lines: str) -> None:
        self.clock, self.lines = clock, list(lines)

    def next(self, _seconds: float) -> Line | End | None:
        self.clock.advance(3)
        return Line(self.lines.pop(0)) if self.lines else End()

    def rest(self, seconds: float) -> End | None:
        self.clock.advance(seconds)
        return None

    def drop(self) -> int:
        return 0


def test_nobody_answers_in_anothers_name(site: Site, clock: ManualClock) -> None:
    """One terminal, two people: whoever goes on with another's checkout takes it over, and it begins anew."""
    cases = SiteUseCases(site)
    told: list[str] = []
    begun = ("P-2", "C-1", "C-1", "1", "", "home")
    leaves = ("P-1", "C-1", "2", "")
    takes_over = ("C-1", "1", "", "1", "", "C-1", "1", "")
    LineMode(cases, Scripted(clock, "person", *begun, *leaves, *takes_over), told.append).run()
    said = "".join(told)
    assert said.count("The checkout of C-1 is Tech Person's. Who goes on with it?") == 2
    assert "Another person took over." in said
    (row,) = cases.desk.open_checkouts()
    lead = cases.who("P-1").id
    events = site.journal.checkout_events(row.checkout)
    resumed = next(place for place, event in enumerate(events) if event.kind == "resumed")
    answered = [(event.kind, event.person) for event in events[resumed:] if event.kind in ("scanned", "answered")]
    assert answered == [("scanned", lead), ("answered", lead)]
    assert {event.person for event in events[:resumed]} == {cases.who("P-2").id}
