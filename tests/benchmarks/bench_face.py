"""What the face of a simulated instrument costs while it is on the screen: the share of one core that it takes.

    python tests/benchmarks/bench_face.py [seconds]

The screen runs headless at 80x24 with a needle that moves (counting noise) and a source in its jig, looked at ten times
a second, as long as it takes; the aim is less than 15 % of one core. The floor is the same program at its beginning.
"""

from __future__ import annotations

import asyncio
import sys
import tempfile
import time
from pathlib import Path

from checklist_tui.practice_app import PracticeApp
from checklist_tui.practice_cases import open_practice
from procedures.site.system import SystemClock

SHARE = 0.15
KIND = "pancake-ratemeter"


async def measured(seconds: float) -> tuple[float, float]:
    """Shares of a core: at the beginning, and with the face on the screen."""
    with tempfile.TemporaryDirectory() as folder:
        cases = open_practice(Path(folder) / "practice", SystemClock(), "bench")
        person = cases.enrol("Tila Novice")
        app = PracticeApp(cases)
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause(1)
            floor = await _share(seconds)
            app.person = person
            session = cases.begin(person.id, KIND, free=True, speed=1)
            app.show_checkout(session)
            cases.desk.work(session, "power", "on")
            cases.desk.work(session, "source", "daily")
            await pilot.pause(1)
            face = await _share(seconds)
        cases.site.close()
    return floor, face


async def _share(seconds: float) -> float:
    begun, used = time.perf_counter(), time.process_time()
    await asyncio.sleep(seconds)
    return (time.process_time() - used) / (time.perf_counter() - begun)


if __name__ == "__main__":
    floor, face = asyncio.run(measured(float(sys.argv[1]) if len(sys.argv) > 1 else 20.0))
    print(f"at the beginning {100 * floor:.1f} %, with the face {100 * face:.1f} % of a core (aim: less than 15 %)")
    sys.exit(face >= SHARE)
