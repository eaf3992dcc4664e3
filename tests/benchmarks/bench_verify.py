"""How fast a journal is verified: its parts, each in events a second, and the whole with processes beside.

    python tests/benchmarks/bench_verify.py [checkouts]
    python tests/benchmarks/bench_verify.py FOLDER    # of a site, which is only read

Records one real checkout again and again and verifies the file. The aim is more than 15,000 events a second for the
whole on two processors. Of the parts the seconds are those of the processor, so that whatever else the machine does
changes little; of the whole they are given by the clock on the wall too.

A synthetic site (tests/big_site.py) of 1,010,956 events took 184 s of two busy processors on 2026-11-25, 108 s of them
in the process that looks through chains and tables (one run): the aim is not reached.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from bulk_records import checkout_events, record_again
from desk_walk import START, id_of, small_site, walk

from procedures.clock import ManualClock
from procedures.journal import verify, verify_chains, verify_tables
from procedures.site.checkouts import Desk
from procedures.site.judged_again import Again, every_version, occasions
from procedures.site.verification import to_spare, verify_site


def main() -> None:
    """Measure and print."""
    given = sys.argv[1] if len(sys.argv) > 1 else "2000"
    if not given.isdigit():
        measure(Path(given))
        return
    with tempfile.TemporaryDirectory() as folder:
        record(Path(folder), int(given))
        measure(Path(folder))


def record(folder: Path, checkouts: int) -> None:
    """A site with one checkout, so many times."""
    clock = ManualClock(START)
    with small_site(folder, clock) as site:
        desk = Desk(site)
        walk(desk, desk.start(id_of(site, "C-1"), id_of(site, "P-1")), clock)
        record_again(site.journal, checkout_events(site.journal, "fit for use"), checkouts, keep_up=False)


def measure(folder: Path) -> None:
    """Verify part by part in this process, then as a whole."""
    path = folder / "site.journal"
    with verify.reading(path) as db:
        events = db.execute("SELECT count(*) FROM kept.events").fetchone()[0]
        print(f"{events:,} events, {path.stat().st_size / events:.0f} bytes each with index and tables")

        def timed(what: str, work: Callable[[], object]) -> None:
            begun = time.process_time()
            assert not work(), what
            taken = time.process_time() - begun
            print(f"{what:20} {taken:7.2f} s {events / taken:10,.0f} events a second")

        def chains() -> object:
            return verify_chains.look_through(db, anew.enter).changed

        timed("file", lambda: verify.faults_of_file(db))
        anew = verify_tables.Anew(db)
        timed("chains and index", chains)
        timed("tables", anew.finish)
        timed("compared", lambda: verify_tables.differences(db))
        timed("judging", lambda: Again(db, every_version()).outcome(occasions(db)).said)
    begun, spent = time.perf_counter(), processor_seconds()
    assert verify_site(folder, processes=to_spare()).sound
    taken, spent = time.perf_counter() - begun, processor_seconds() - spent
    print(f"{'whole':20} {taken:7.2f} s {events / taken:10,.0f} events a second, {spent:.1f} s of the processors")


def processor_seconds() -> float:
    """Of this process and of those that it started and that have ended."""
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


if __name__ == "__main__":
    main()
