"""What one committed answer costs, against a bare insert and commit of the same bytes with the same pragmas.

    python tests/benchmarks/bench_append.py [folder] [answers] [journal]

Runs the two by turns and prints the fastest and the median of each and the ratio of the medians. The aim is a ratio of
at most 2. The folder decides which disk is measured. A journal that is named is copied there and added to: so a site of
many years can be measured as well.
"""

from __future__ import annotations

import shutil
import sqlite3
import statistics
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from procedures.clock import ManualClock
from procedures.journal.envelope import Draft
from procedures.journal.store import Journal

SHA = "0" * 64


def checkout(journal: Journal, clock: ManualClock) -> str:
    """An instrument with a checkout open, as there is in use."""
    fields = {"serial": "1", "type": "ion chamber", "profile": "chamber", "detector": "", "cable": ""}
    (meter,) = journal.append(
        [Draft("registered", {"what": "instrument", "label": "C-101 measured", **fields})], clock.now()
    )
    profile = {"id": "chamber", "revision": 1, "sha256": SHA}
    body = {"instrument": meter.hash, "profile": profile, "rules": "1", "clearings": [], "facts": {}}
    (opening,) = journal.append([Draft("opened", body, (meter.hash,))], clock.now())
    return opening.hash


def answer(checkout: str, number: int) -> Draft:
    body = {"checkout": checkout, "step": "response", "visit": 1, "ask": f"reading-{number % 3}"}
    value = {"selector": "x1", "figure": "1.62", "unit": "mR/h"}
    return Draft("answered", {**body, "value": value, "took": 3.25, "hasty": False, "mark": None}, (checkout,))


def bare(path: Path) -> sqlite3.Connection:
    db = sqlite3.connect(path, isolation_level=None)
    for pragma in ("journal_mode = WAL", "synchronous = FULL", "fullfsync = ON"):
        db.execute(f"PRAGMA {pragma}")
    db.execute("CREATE TABLE events (id INTEGER PRIMARY KEY, raw BLOB NOT NULL)")
    return db


def opened(path: Path, clock: ManualClock) -> Journal:
    if len(sys.argv) > 3:
        shutil.copyfile(sys.argv[3], path)
        return Journal.open(path)
    return Journal.create(path, station="north", name="North", now=clock.now())


def main() -> None:
    """Measure and print."""
    folder = Path(tempfile.mkdtemp(dir=sys.argv[1] if len(sys.argv) > 1 else None))
    answers = int(sys.argv[2]) if len(sys.argv) > 2 else 2000
    clock = ManualClock(datetime(2031, 4, 5, 6, tzinfo=UTC))
    db = bare(folder / "bare.db")
    ours: list[float] = []
    theirs: list[float] = []
    with opened(folder / "site.journal", clock) as journal:
        clock.advance(max(0.0, (journal.last_time() - clock.now().utc).total_seconds()))
        open_now = checkout(journal, clock)
        last = journal.last_about(open_now)
        for number in range(answers):
            draft = answer(open_now, number)
            now = clock.advance(3.25)
            begun = time.perf_counter()
            (event,) = journal.append([draft], now, expect=(open_now, last))
            ours.append(time.perf_counter() - begun)
            last = event.hash
            if number % 60 == 59:
                open_now = checkout(journal, clock)
                last = journal.last_about(open_now)
            begun = time.perf_counter()
            db.execute("BEGIN IMMEDIATE")
            db.execute("INSERT INTO events (raw) VALUES (?)", (event.raw,))
            db.execute("COMMIT")
            theirs.append(time.perf_counter() - begun)
    appended, inserted = statistics.median(ours), statistics.median(theirs)
    print(f"append   {appended * 1e6:8.0f} µs, fastest {min(ours) * 1e6:.0f} ({answers} of {len(event.raw)} bytes)")
    print(f"bare     {inserted * 1e6:8.0f} µs, fastest {min(theirs) * 1e6:.0f}")
    print(f"ratio    {appended / inserted:8.2f}")


if __name__ == "__main__":
    main()
