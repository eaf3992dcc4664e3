"""The use cases of an invented site, in a few lines: instruments, people, what is found, what was done."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

from fake_asks import START, every_ask
from fake_desk import FakeDesk
from fake_pages import FakePages

from procedures.asks import (
    Ask,
    Option,
)
from procedures.clock import ManualClock
from procedures.site.views import (
    Found,
    Home,
    InstrumentRow,
    Mark,
    PersonView,
    SourceOut,
)
from procedures.trouble import Trouble

ZONE = timezone(timedelta(minutes=60))
UNTIL = (START + timedelta(hours=9)).astimezone(ZONE)


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
            self._row(
                "i2",
                f"{prefix}C-102",
                kind,
                "ready",
                until=UNTIL,
                holder=f"{prefix}Ben",
            ),
            self._row("i3", f"{prefix}G-201", f"{prefix}counter, end window", "locked out", why="window-damaged"),
            *(self._row(f"m{n}", f"M-{n:03}", kind, "needs check", why="no check today") for n in range(many)),
        ]
        self.desk = FakeDesk(self)
        self.done: list[tuple[str, ...]] = []
        self.reads = 0
        self.in_the_way: tuple[str, ...] = ()
        self.exchanged: tuple[str, ...] = ()
        self.loaded = 0
        self.pin = ""
        """The PIN of everybody; "" where a badge is enough."""
        self.pages = FakePages(self)
        self.sheet, self.listing, self.form = self.pages.sheet, self.pages.listing, self.pages.form
        self.look, self.keep, self.write_report = self.pages.look, self.pages.keep, self.pages.write_report

    def last_exchange(self) -> tuple[str, ...]:
        return self.exchanged

    def loading(self) -> Iterator[None]:
        for _ in range(3):
            self.loaded += 1
            yield

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
            now=now.utc.astimezone(ZONE),
            instruments=tuple(fitting[offset : offset + limit]),
            total=len(fitting),
            checkouts=open_ones,
            sources_out=(SourceOut("s7", f"{self.prefix}S-7", "x", f"{self.prefix}C-104", START.astimezone(ZONE)),),
            due=(f"{self.prefix}leak test of S-9 in 3 days",),
            notices=(),
        )

    def instrument(self, instrument: str) -> InstrumentRow | None:
        return next((each for each in self.home(limit=len(self.rows)).instruments if each.id == instrument), None)

    def obstacles(self, _instrument: str) -> tuple[str, ...]:
        return self.in_the_way

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

    def check_takes_pin(self, person: str, whose: str = "") -> bool:
        return self.pin != "" and person != whose

    def check_pin(self, person: str, whose: str, pin: str | None) -> None:
        """What the desk does with a PIN, where a badge is not enough."""
        if self.check_takes_pin(person, whose) and pin != self.pin:
            raise Trouble("that is not the PIN", allowed="the PIN of this laptop", do="Wait, then enter it again.")

    def causes(self) -> tuple[Option, ...]:
        return (
            Option("dropped", f"{self.prefix}dropped or knocked"),
            Option("cells", "cells changed"),
            Option("wet", "got wet"),
        )

    def end_readiness(self, instrument: str, person: str, cause: str, say: str) -> None:
        self.done.append(("end-readiness", instrument, person, cause, say))

    def source_back(self, text: str, person: str) -> str:
        self.done.append(("source-back", text, person))
        return text
