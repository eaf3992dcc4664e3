"""A synthetic site of any size: invented instruments, people and sources, and two years of their checkouts.

One small site is really worked: registered, calibrated, checked, handed out, failed, cleared. What it recorded is then
written again for other instruments, people and sources, moved in time, with every id and label exchanged: so each
copy is a record that the program could have made, and judging it again comes to what it says.

    python tests/big_site.py FOLDER [instruments] [events]
"""

from __future__ import annotations

import datetime as dt
import random
import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

sys.path.insert(0, str(Path(__file__).parent))

from bulk_records import _Writer
from desk_walk import MINI, sensible, walk

from procedures.asks import Ask, Place
from procedures.clock import ManualClock
from procedures.journal import files, log, making
from procedures.journal.envelope import Draft, Event
from procedures.journal.store import Journal
from procedures.site import clearing, doubtful, emergency, handouts, inventory, profiles, references
from procedures.site.checkouts import Desk
from procedures.site.opening import Site, create_site
from procedures.site.views import CheckoutView

BEGINS: Final = dt.datetime(2024, 11, 25, 6, 5, tzinfo=dt.UTC)
DAYS: Final = 725
SOURCES, PEOPLE = 20, 40
REGISTERED: Final = dt.timedelta(hours=1)
"""After the beginning: when all others are taken into the inventory."""
_MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)")
_DAY = re.compile(r"\d{4}-\d\d-\d\d")


def make(folder: Path, *, instruments: int, events: int, seed: int = 1) -> Site:
    """A real site of about this many events. It stands still at the end of its last day, on a clock moved by hand."""
    clock = ManualClock(BEGINS)
    # A check counts as long as its profile says, not to the end of a shift: so it holds wherever it is moved.
    lasts = {"ready_ends": "profile"}
    site = create_site(folder, clock, station="station-a", name="Synthetic site", zone="Etc/UTC", settings=lasts)
    once = _Worked(site, clock)
    with files.transaction(site.journal._db, site.journal.path):
        _Copies(site.journal, once, random.Random(seed)).write(instruments, events)
        making.make_anew(site.journal._db)
    clock.advance((DAYS - 1) * 86400.0)
    return site


class _Worked:
    """What one small site recorded, part by part."""

    def __init__(self, site: Site, clock: ManualClock) -> None:
        self._site = site
        lead = inventory.register_person(site, label="P-1", name="Lead Person", initials="LP", roles=["lead"])
        before = self._count()
        worker = inventory.register_person(site, label="P-2", name="Person P-2", initials="P2", roles=["technician"])
        self.person = self._since(before)
        profiles.adopt(site, MINI, lead)
        before = self._count()
        source = inventory.register_source(
            site,
            label="S-1",
            serial="source serial",
            nuclide="Cs-137",
            activity="37 kBq",
            activity_on=dt.date(2024, 1, 1),
            emits="gamma",
        )
        jig = inventory.register_jig(site, label="J-1")
        self.source = self._since(before)
        before = self._count()
        meter = inventory.register_instrument(site, label="C-1", serial="meter serial", type="Vent one", profile="mini")
        inventory.bind_source(site, meter, "daily", source, jig, person=lead)
        calibration = references.calibrated(
            site, meter, on=dt.date(2024, 11, 1), due=dt.date(2027, 5, 1), by="bench", certificate="K-1", person=lead
        )
        references.reference_reading(
            site,
            meter,
            source=source,
            jig=jig,
            role="daily",
            scale="x1",
            readings=["1.60", "1.65", "1.70"],
            unit="mR/h",
            calibration=calibration,
            person=lead,
        )
        self.instrument = self._since(before)
        self.ids = {"C-1": meter, "S-1": source, "J-1": jig, "P-2": worker}
        desk = Desk(site)

        def check(answer: Any = sensible) -> CheckoutView:
            view = walk(desk, desk.start(meter, worker), clock, answer)
            clock.advance(60)
            return view

        before = self._count()
        emergency.record_use(
            site, meter, lead, to=worker, job="rescue", place="hall 1", authority="shift lead", why="no time to check",
            turn_back="0.1 mSv/h",
        )  # fmt: skip
        clock.advance(120)
        handouts.take_back(site, meter, by="P-2", condition="as it went out", person=lead)
        self.emergency = self._since(before)
        before = self._count()
        assert check().ending.ending == "fit for use"  # type: ignore[union-attr]
        self.good = self._since(before)
        before = self._count()
        handouts.hand_out(site, meter, to=worker, job="survey", place="hall 2", person=lead)
        clock.advance(600)
        handouts.take_back(site, meter, by="P-2", condition="as it went out", person=lead)
        self.out = self._since(before)
        before = self._count()
        assert check(_flat_cells).ending.ending == "locked out"  # type: ignore[union-attr]
        locked = [each.id for each in site.journal.instrument_now(meter).lockouts if each.status == "open"]
        clearing.clear(
            site, meter, lead, lockouts=locked, cause="flat cells", action="contacts cleaned", parts="",
            calibration_needed=False,
        )  # fmt: skip
        assert check().ending.ending == "fit for use"  # type: ignore[union-attr]
        self.failed = self._since(before)
        before = self._count()
        for doubt in site.journal.doubts_open(limit=-1)[0]:
            doubtful.review(
                site, meter, lead, causes=[doubt.cause], use=doubt.use, note="surveyed again, nothing missed"
            )
        self.review = self._since(before)

    def _count(self) -> int:
        return self._site.journal.count()

    def _since(self, number: int) -> tuple[Event, ...]:
        return tuple(event for at, event in log.everything(self._site.journal._db) if at > number)


def _flat_cells(ask: Ask, view: CheckoutView) -> str:
    return ask.places[0] if isinstance(ask, Place) and "below the band" in ask.places else sensible(ask, view)


class _Copies:
    """Writes the parts again for other things on other days, in the order of time."""

    def __init__(self, journal: Journal, once: _Worked, chance: random.Random) -> None:
        self._once, self._chance = once, chance
        self._writer = _Writer(journal)
        self._used: dict[str, dict[str, str]] = {}
        """Label → the ids of the last hand-out of that instrument."""

    def write(self, instruments: int, events: int) -> None:
        people = [self._person(n) for n in range(PEOPLE)]
        sources = [self._source(n) for n in range(SOURCES)]
        meters = [self._meter(n, sources[n % SOURCES]) for n in range(instruments)]
        if not meters:
            return
        left = events - self._writer.seq
        each = len(self._once.good) + len(self._once.out)
        rounds = max(0, left // each)
        # One after the other, so that no record stands before one that its station had written.
        apart = dt.timedelta(days=DAYS - 2) / max(1, rounds)
        for at in range(rounds):
            later = dt.timedelta(hours=2) + at * apart
            change = {**meters[at % instruments], **self._chance.choice(people)}
            self._round(change, later)

    def _round(self, change: Mapping[str, str], later: dt.timedelta) -> None:
        """One day of one instrument: seldom a failed check, now and then reviewed, or an emergency use before it."""
        if self._chance.random() < 0.03:
            failed = self._again(self._once.failed, change, later)
            used = self._used.get(change["C-1"])
            if used is not None and self._chance.random() < 0.5:
                self._again(self._once.review, {**change, **used, **failed}, later)
            return
        if self._chance.random() < 0.01:
            self._again(self._once.emergency, change, later)
        self._again(self._once.good, change, later)
        self._used[change["C-1"]] = self._again(self._once.out, change, later)

    def _person(self, n: int) -> dict[str, str]:
        label = f"P-{100 + n}"
        change = {"P-2": label, "P2": f"X{n}", "Person P-2": f"Person {label}"}
        return change | self._again(self._once.person, change)

    def _source(self, n: int) -> dict[str, str]:
        change = {"S-1": f"S-{100 + n}", "J-1": f"J-{100 + n}", "source serial": f"source {n}"}
        return change | self._again(self._once.source, change)

    def _meter(self, n: int, source: Mapping[str, str]) -> dict[str, str]:
        change = {**source, "C-1": f"N-{1000 + n}", "meter serial": f"meter {n}"}
        return change | self._again(self._once.instrument, change)

    def _again(
        self, events: Sequence[Event], change: Mapping[str, str], later: dt.timedelta = REGISTERED
    ) -> dict[str, str]:
        """Write these events once more; the ids that took the place of the old ones come back."""
        ids: dict[str, str] = {}
        for event in events:
            known = {**change, **ids}
            body = _changed(dict(event.body), known, later)
            about = tuple(known.get(one, one) for one in event.about)
            person = known.get(event.person, event.person) if event.person else None
            draft = Draft(event.kind, body, about, event.ends_fitness, person)
            moved = replace(event, utc=event.utc + later)
            written = self._writer.write(draft, moved)
            ids[event.hash] = written.hash
            ids[_tag(event.hash)] = _tag(written.hash)
        # What was entered is kept for tables that follow; here they are made anew at the end.
        self._writer.entered.clear()
        return ids


def _tag(checkout: str) -> str:
    """The number of the tag that a checkout of this id hangs on an instrument."""
    return f"T-{checkout[:8].upper()}"


def _changed(value: Any, change: Mapping[str, str], later: dt.timedelta) -> Any:
    """A body with ids and labels exchanged, every moment moved, and every day by the whole days in it."""
    match value:
        case dict():
            return {key: _changed(each, change, later) for key, each in value.items()}
        case list():
            return [_changed(each, change, later) for each in value]
        case str() if value in change:
            return change[value]
        case str() if later and _MOMENT.fullmatch(value):
            moved = dt.datetime.fromisoformat(value) + later
            return moved.strftime("%Y-%m-%dT%H:%M:%S.%fZ") if value.endswith("Z") else moved.isoformat()
        case str() if later and _DAY.fullmatch(value):
            return (dt.date.fromisoformat(value) + later).isoformat()
        case _:
            return value


def _arguments() -> Iterator[Any]:
    yield Path(sys.argv[1])
    yield from (int(each) for each in sys.argv[2:])


if __name__ == "__main__":
    at, *sizes = _arguments()
    how_many, how_long = [*sizes, *(2000, 1_000_000)[len(sizes) :]]
    with make(at, instruments=how_many, events=how_long) as made:
        print(f"{made.journal.count():,} events of {how_many:,} instruments in {at}")
