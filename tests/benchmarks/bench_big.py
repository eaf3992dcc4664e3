"""What a big site costs beside the demo site: first paint, memory, every sheet and listing, verifying.

    python tests/big_site.py FOLDER                 # once: 2,000 instruments, 1,000,000 events, some minutes
    python tests/benchmarks/bench_big.py FOLDER [rounds]

The aims: home paints in at most 1.2 times the demo site's time, any sheet or listing within 150 ms, memory at most 1.5
times the demo site's, more than 15,000 events verified a second. Home of both sites starts by turns, each in a process
of its own; sheets and listings are made in this one, the first time with what has to be loaded for it.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from bench_start import HOME, environment, first_paint

from procedures.sheets import Query
from procedures.site import records
from procedures.site.demo import make_demo
from procedures.site.opening import Site, open_site
from procedures.site.system import SystemClock
from procedures.site.verification import to_spare, verify_site
from procedures.trouble import Trouble

PAINT, MEMORY, SCREEN, SPEED = 1.2, 1.5, 0.150, 15_000
ROUNDS = 9

LOOKS = """
import resource, sys
from contextlib import suppress
from pathlib import Path
from procedures.trouble import Trouble
from procedures.site import records, status
from procedures.site.opening import open_site
from procedures.site.system import SystemClock
sys.path.insert(0, sys.argv[3])
from bench_big import everything

with open_site(Path(sys.argv[1]), SystemClock(), marking=sys.argv[2]) as site:
    status.home(site, limit=15)
    for _, work in everything(site):
        with suppress(Trouble):  # a tag hangs on nothing, where nothing is locked out
            work()
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def everything(site: Site) -> Iterator[tuple[str, object]]:
    """Every sheet and listing about something of the site, by name."""
    from procedures.site import status

    row = status.home(site, limit=1, offset=1).instruments[0]
    found, _ = site.journal.checkouts_found(limit=1, offset=0)
    # The last of each: the first belongs to the small site that all others are copied from.
    named = {what: site.journal.things(what)[-1].id for what in ("source", "jig", "person")}
    calibration = site.journal.instrument_now(row.id).calibration
    reference = site.journal.instrument_now(row.id).references
    abouts = {
        "source": named["source"], "source-history": named["source"], "relied": named["source"],
        "jig": named["jig"], "person": named["person"], "checkout": found[0].checkout,
        "calibration": calibration.event if calibration else "", "reference": reference[0].hash if reference else "",
        "site": "", "settings": "", "exchange": "", "overdue": "", "day": "2026-11-10",
        "binder": "2026-11-01,2026-11-07",
    }  # fmt: skip

    def sheet(name: str) -> object:
        return records.sheet(site, name, abouts.get(name, row.id))

    def listing(name: str, **query: object) -> object:
        return records.listing(site, name, query=Query(limit=20, **query))  # type: ignore[arg-type]

    for name in records.SHEETS:
        yield f"sheet {name}", lambda name=name: sheet(name)
    for name in records.LISTINGS:
        yield f"listing {name}", lambda name=name: listing(name)
        yield f"listing {name}, searched", lambda name=name: listing(name, search="17")
        yield f"listing {name}, page 500", lambda name=name: listing(name, offset=10_000)


def memory(folder: Path, marking: str) -> float:
    """Peak memory in MB of a process that made home, every sheet and every listing."""
    here = str(Path(__file__).parent)
    ran = subprocess.run(
        [sys.executable, "-c", LOOKS, str(folder), marking, here],
        env=environment(folder), stdout=subprocess.PIPE, text=True, check=True,
    )  # fmt: skip
    return int(ran.stdout.split()[-1]) / 1024


def main() -> None:
    """Measure and print."""
    folder = Path(sys.argv[1])
    rounds = int(sys.argv[2]) if len(sys.argv) > 2 else ROUNDS
    with open_site(folder, SystemClock()) as site:
        print(f"{site.journal.count():,} events")
        slowest = 0.0
        for name, work in everything(site):
            times = []
            try:
                for _ in range(4):
                    begun = time.perf_counter()
                    work()  # type: ignore[operator]
                    times.append(time.perf_counter() - begun)
            except Trouble as trouble:
                print(f"{name:36} {trouble.what}")
                continue
            first, *again = times
            took = statistics.median(again)
            slowest = max(slowest, took)
            over = "  OVER" if took > SCREEN else "  first OVER" if first > SCREEN else ""
            told = f"first {first * 1000:7.1f}, then {min(again) * 1000:7.1f} to {max(again) * 1000:7.1f} ms"
            print(f"{name:36} {told}{over}")
        print(f"slowest {slowest * 1000:.0f} ms, median of three (aim: at most {SCREEN * 1000:.0f} ms)")
    with tempfile.TemporaryDirectory() as place:
        demo = Path(place) / "demo"
        make_demo(demo, SystemClock()).close()
        small, big = [], []
        for _ in range(rounds + 1):
            small.append(first_paint(HOME, demo))
            big.append(first_paint(HOME.replace('"demo"', '"real"'), folder))
        one, two = statistics.median(small[1:]), statistics.median(big[1:])
        print(f"home: demo {one * 1000:.0f} ms, big {two * 1000:.0f} ms, ratio {two / one:.2f} (aim: at most {PAINT})")
        one, two = memory(demo, "demo"), memory(folder, "real")
        print(f"memory: demo {one:.0f} MB, big {two:.0f} MB, ratio {two / one:.2f} (aim: at most {MEMORY})")
    begun = time.perf_counter()
    found = verify_site(folder, processes=to_spare())
    took = time.perf_counter() - begun
    with open_site(folder, SystemClock()) as site:
        speed = site.journal.count() / took
    print(f"verify: sound {found.sound}, {speed:,.0f} events a second (aim: more than {SPEED:,})")


if __name__ == "__main__":
    main()
