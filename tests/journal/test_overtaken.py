"""What is overtaken, on real files that are copied, exchanged in part, told of out of order, and whose clocks jump."""

from __future__ import annotations

import os
import random
import shutil
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import journal_drafts as d
import pytest
from journal_histories import CHOICES, START
from test_long_histories import agree, routine

from procedures.clock import ManualClock
from procedures.journal import log, making, tables
from procedures.journal.moments import utc_text
from procedures.journal.store import Journal

LIVES = int(os.environ.get("CHECKLIST_OVERTAKEN", "20"))
"""How many lives are played; the campaign plays thousands."""
DEEDS = (
    *("open", "pass", "end fit", "end again", "hand out", "return", "scan", "fail", "fail as found", "withdraw"),
    *("clear", "judge", "lock out", "rename", "emergency", "return bad"),
)
SEEN = "SELECT entity, kind, event, weighs FROM about ORDER BY 1, 2, 3"


class _Site:
    """Laptops of one site; some of them copies of the file of another that write on under its name."""

    def __init__(self, folder: Path, chance: random.Random, stack: ExitStack) -> None:
        self.folder, self.chance, self.stack = folder, chance, stack
        self.clock = ManualClock(START)
        names = ("north", "south", "west")
        self.laptops = [
            stack.enter_context(Journal.create(folder / name, station=name, name=name, now=self.clock.now()))
            for name in names
        ]
        self.first = self.laptops[0].append([d.instrument(), d.source(), d.person()], self.clock.now())
        self.meter = self.first[0].hash
        for other in self.laptops[1:]:
            self.tell(self.laptops[0], other)

    def tell(self, one: Journal, other: Journal) -> None:
        """All that the other does not have, in any order."""
        with one.outgoing(other.milestones()) as (_, found):
            raws = list(found)
        self.chance.shuffle(raws)
        other.take(raws, self.clock.advance(1))

    def copy(self, one: Journal) -> None:
        """Somebody copies the file and uses both."""
        one._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        path = self.folder / f"copy-{len(self.laptops)}"
        shutil.copy(one.path, path)
        self.laptops.append(self.stack.enter_context(Journal.open(path)))

    def deed(self, one: Journal) -> None:
        """Anything that a program may write, now and then naming a thing that it is not about."""
        known = [event for _, event in log.everything(one._db)]
        draft = CHOICES[self.chance.choice(DEEDS)](known, self.chance)
        if draft is None:
            return
        if self.chance.random() < 0.2:
            named = self.chance.choice([event.hash for event in known if event.kind in ("opened", "registered")])
            draft = replace(draft, about=tuple(dict.fromkeys((*draft.about, named))))
        one.append([draft], self.clock.advance(1))

    def put_right(self, one: Journal) -> None:
        """Locked out, cleared, and a whole check that names the clearing: it has to be remembered for good."""
        meter = self.meter
        (lockout,) = one.append([d.locked_out(meter)], self.clock.advance(1))
        (clearing,) = one.append([d.cleared(meter, lockout.hash)], self.clock.advance(1))
        (opened,) = one.append([d.opened(meter, clearings=(clearing.hash,))], self.clock.advance(1))
        until = utc_text(self.clock.now().utc + timedelta(hours=12))
        one.append([d.ended(opened.hash, meter, until=until)], self.clock.advance(1))

    def live(self, day: int) -> None:
        one, what = self.chance.choice(self.laptops), self.chance.random()
        if self.clock.now().utc < one.last_time():
            self.clock.set_wall(one.last_time())
        if what < 0.16:
            routine(one, list(self.first), self.clock, day)
        elif what < 0.2:
            self.put_right(one)
        elif what < 0.4:
            other = self.chance.choice(self.laptops)
            if other is not one:
                self.tell(other, one)
        elif what < 0.44 and len(self.laptops) < 6:
            self.copy(one)
        elif what < 0.5:
            # One laptop's clock is behind: what it then learns of others lies a little in its future.
            by = self.chance.choice([-60, -30, -1, 30, 60, 600])
            self.clock.set_wall(self.clock.now().utc + timedelta(seconds=by))
        else:
            self.deed(one)
        if not one.held():
            agree(one, self.meter)


def _rows(journal: Journal, names: Sequence[str]) -> list[list[tuple[object, ...]]]:
    return [sorted(journal._db.execute(f"SELECT * FROM {name}").fetchall(), key=repr) for name in names]


def _worked_out(journal: Journal) -> tuple[list[tuple[object, ...]], list[list[tuple[object, ...]]]]:
    return journal._db.execute(SEEN).fetchall(), _rows(journal, tables.NAMES)


def _made_in_any_order(journal: Journal, chance: random.Random) -> object:
    numbered = list(log.everything(journal._db))
    chance.shuffle(numbered)
    journal._db.execute("BEGIN")
    for name in ("about", *tables.NAMES):
        journal._db.execute(f"DELETE FROM {name}")
    made = making.Making(journal._db)
    for number, event in numbered:
        made.enter(number, event)
    made.finish()
    found = _worked_out(journal)
    journal._db.execute("ROLLBACK")
    return found


@pytest.mark.parametrize("seed", range(LIVES))
def test_it_is_what_all_records_say_on_every_laptop(tmp_path: Path, seed: int) -> None:
    """At every moment a fold of what was not overtaken is the fold of everything; at last all laptops agree, and
    what each of them worked out as records came in is what it would work out anew, in whatever order."""
    chance = random.Random(seed)
    with ExitStack() as stack:
        site = _Site(tmp_path, chance, stack)
        for day in range(chance.randrange(5, 40)):
            site.live(day)
        site.clock.set_wall(START + timedelta(days=90))
        for _ in range(3):
            for one in site.laptops:
                for other in site.laptops:
                    if one is not other:
                        site.tell(one, other)
        states = []
        for laptop in site.laptops:
            assert laptop.held() == ()
            agree(laptop, site.meter)
            kept = _worked_out(laptop)
            laptop.rebuild()
            assert _worked_out(laptop) == kept
            assert _made_in_any_order(laptop, chance) == kept
            states.append(laptop.instrument_now(site.meter))
        assert all(replace(one, standing=replace(one.standing, newest=None)) == _undated(states[0]) for one in states)


def _undated(state: tables.InstrumentState) -> tables.InstrumentState:
    return replace(state, standing=replace(state.standing, newest=None))
