"""What an instrument of many years costs: its checks, hand-outs and sheets, with one checkout before it and thousands.

    python tests/benchmarks/bench_years.py [checkouts]

4,000 checkouts are eleven years of one a day, or two years of six. Nothing that a technician waits for may grow with
them. Prints the fastest and the median of each, for a new instrument and for the old one, on one site.
"""

from __future__ import annotations

import datetime as dt
import random
import statistics
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

from big_site import BEGINS, DAYS, _Copies, _flat_cells, _Worked
from desk_walk import sensible, walk

from procedures.clock import ManualClock
from procedures.journal import files, making
from procedures.site import handouts, records, status
from procedures.site.checkouts import Desk
from procedures.site.opening import Site, create_site

ROUNDS = 5
SHEETS = ("instrument", "history", "drift", "doubt")


@contextmanager
def years(folder: Path, checkouts: int) -> Iterator[tuple[Site, ManualClock]]:
    """A site with the instruments N-1000, checked so often, and N-1001, checked once, each with its own source."""
    clock = ManualClock(BEGINS)
    site = create_site(
        folder, clock, station="station-a", name="Years", zone="Etc/UTC", settings={"ready_ends": "profile"}
    )
    once = _Worked(site, clock)
    with files.transaction(site.journal._db, site.journal.path):
        copies = _Copies(site.journal, once, random.Random(1))
        person = copies._person(0)
        old, new = (copies._meter(n, copies._source(n)) for n in range(2))
        for at in range(checkouts):
            copies._round({**old, **person}, dt.timedelta(hours=2) + at * dt.timedelta(days=DAYS - 2) / checkouts)
        copies._again(once.good, {**new, **person}, dt.timedelta(days=DAYS - 1))
        making.make_anew(site.journal._db)
    clock.advance((site.journal.last_time() - clock.now().utc).total_seconds() + 3600)
    with site:
        yield site, clock


class Watch:
    """How long each thing that is done takes."""

    def __init__(self) -> None:
        self.times: defaultdict[str, list[float]] = defaultdict(list)

    def __call__(self, name: str, work: Callable[..., Any], *args: Any, **named: Any) -> Any:
        begun = time.perf_counter()
        done = work(*args, **named)
        self.times[name].append(time.perf_counter() - begun)
        return done


class WatchedDesk:
    """A desk whose every call is measured; the longest answer is that which ends a checkout."""

    def __init__(self, desk: Desk, watch: Watch) -> None:
        self._desk, self._watch = desk, watch

    def __getattr__(self, name: str) -> Any:
        work = getattr(self._desk, name)
        return lambda *args, **named: self._watch(f"desk: {name}", work, *args, **named)


def measure(site: Site, clock: ManualClock, label: str) -> dict[str, list[float]]:
    """Check, hand out, take back and look at one instrument, again and again; at last let it fail."""
    (row,) = status.home(site, search=label, limit=1).instruments
    lead, worker = (next(one.id for one in site.journal.people() if one.label == each) for each in ("P-1", "P-100"))
    source = site.journal.instrument_now(row.id).bindings["daily"].source
    watch, desk = Watch(), Desk(site)

    def check(answer: Any = sensible) -> None:
        begun = time.perf_counter()
        view = walk(WatchedDesk(desk, watch), desk.start(row.id, worker), clock, answer)  # type: ignore[arg-type]
        assert view.ending is not None
        watch.times[f"whole checkout, {view.ending.ending}"].append(time.perf_counter() - begun)

    for _ in range(ROUNDS):
        check()
        watch("hand out", handouts.hand_out, site, row.id, to=worker, job="survey", place="hall", person=lead)
        clock.advance(600)
        watch("take back", handouts.take_back, site, row.id, by="P-2", condition="good", person=lead)
        clock.advance(3600)
        watch("home", status.home, site, limit=15)
        watch("source", site.journal.source_now, source)
        for name in SHEETS:
            watch(f"sheet {name}", records.sheet, site, name, row.id)
    check(_flat_cells)
    return watch.times


def main() -> None:
    """Measure and print."""
    checkouts = int(sys.argv[1]) if len(sys.argv) > 1 else 4000
    with tempfile.TemporaryDirectory() as folder, years(Path(folder) / "site", checkouts) as (site, clock):
        measure(site, clock, "C-1")  # loads what has to be loaded
        new, old = measure(site, clock, "N-1001"), measure(site, clock, "N-1000")
        print(f"{'':32} {'after 1 checkout':>22} {f'after {checkouts:,}':>22}   fastest and median, ms")
        for name in new:
            told = [
                f"{min(each) * 1000:10.1f} {statistics.median(each) * 1000:11.1f}" for each in (new[name], old[name])
            ]
            print(f"{name:32} {told[0]:>22} {told[1]:>22}")


if __name__ == "__main__":
    main()
