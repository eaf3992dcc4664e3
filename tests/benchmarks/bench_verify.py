"""How fast a journal is verified: chains, tables, and judging again, each in events a second.

    python tests/benchmarks/bench_verify.py [checkouts]

Records one real checkout again and again and verifies the file. The aim is more than 15,000 events a second for each.
Seconds are those of the processor, so that whatever else the machine does changes little.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from bulk_records import checkout_events, record_again
from desk_walk import START, id_of, small_site, walk

from procedures.clock import ManualClock
from procedures.journal import log, verify, verify_chains, verify_tables
from procedures.site.checkouts import Desk
from procedures.site.verification import ByThisProgram


def main() -> None:
    """Measure and print."""
    checkouts = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    folder = Path(tempfile.mkdtemp())
    clock = ManualClock(START)
    with small_site(folder, clock) as site:
        desk = Desk(site)
        walk(desk, desk.start(id_of(site, "C-1"), id_of(site, "P-1")), clock)
        record_again(site.journal, checkout_events(site.journal, "fit for use"), checkouts, keep_up=False)
        events = site.journal.count()
    path = folder / "site.journal"
    print(f"{events:,} events, {path.stat().st_size / events:.0f} bytes each with index and tables")
    with verify.reading(path) as db:

        def timed(what: str, work: Callable[[], object]) -> None:
            begun = time.process_time()
            assert not work(), what
            taken = time.process_time() - begun
            print(f"{what:8} {taken:7.2f} s {events / taken:10,.0f} events a second")

        def tables() -> object:
            verify_tables.make_anew(db)
            return verify_tables.differences(db)

        def judge() -> object:
            by_this_program = ByThisProgram()
            text = ""
            for checkout in verify_tables.openings(db):
                found = log.about(db, checkout)
                named = found[0].body["profile"]
                text = text or verify_tables.profile_text(db, named["id"], named["sha256"]) or ""
                if by_this_program(text, found):
                    return checkout
            return None

        timed("file", lambda: verify.faults_of_file(db))
        timed("chains", lambda: verify_chains.look_through(db).changed)
        timed("tables", tables)
        timed("judging", judge)


if __name__ == "__main__":
    main()
