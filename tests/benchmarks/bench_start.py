"""How long the first screen takes, against a bare Textual app with one widget: fresh processes on a pseudo-terminal.

    python tests/benchmarks/bench_start.py [rounds]

Home of the demo site and the bare app start by turns; each is timed from the start of its process to its first paint.
Prints the medians and their ratio. The aim is a ratio of at most 1.6.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import pty
import statistics
import struct
import subprocess
import sys
import tempfile
import termios
import threading
import time
from pathlib import Path

AIM = 1.6
ROUNDS = 11

BARE = """
import os, sys
from textual.app import App
from textual.widgets import Static

class Bare(App):
    def compose(self):
        yield Static("one widget")

    def on_mount(self):
        self.call_after_refresh(self.painted)

    def painted(self):
        os.write(int(sys.argv[1]), b"x")
        self.exit()

Bare().run()
"""

HOME = """
import os, sys
from pathlib import Path
from checklist_tui.app import ChecklistApp
from checklist_tui.use_cases import SiteUseCases
from procedures.site.opening import open_site
from procedures.site.system import SystemClock

class Timed(ChecklistApp):
    def on_mount(self):
        self.call_after_refresh(self.painted)

    def painted(self):
        if self.screen._home is None:
            self.call_after_refresh(self.painted)
            return
        os.write(int(sys.argv[1]), b"x")
        self.exit()

with open_site(Path(sys.argv[2]), SystemClock(), marking="demo") as site:
    Timed(SiteUseCases(site)).run()
"""


def first_paint(code: str, folder: Path) -> float:
    """Seconds from the start of a process that runs `code` to its first paint on an 80 × 24 terminal."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    told, tell = os.pipe()
    begun = time.perf_counter()
    child = subprocess.Popen(
        [sys.executable, "-c", code, str(tell), str(folder)],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        pass_fds=(tell,),
        env=environment(folder),
    )
    os.close(theirs)
    os.close(tell)
    drain = threading.Thread(target=_drain, args=(ours,), daemon=True)
    drain.start()
    painted = os.read(told, 1)
    took = time.perf_counter() - begun
    child.wait(timeout=30)
    os.close(told)
    drain.join(timeout=5)
    os.close(ours)
    if not painted:
        raise SystemExit("the process ended before it had painted")
    return took


def environment(folder: Path) -> dict[str, str]:
    """As an installed program starts: with compiled modules kept, in a folder of their own."""
    plain = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return {**plain, "TERM": "xterm-256color", "PYTHONPYCACHEPREFIX": str(folder.with_name("compiled"))}


def _drain(terminal: int) -> None:
    with contextlib.suppress(OSError):
        while os.read(terminal, 65536):
            pass


def main() -> None:
    """Both by turns, the first round of each thrown away."""
    from procedures.site.demo import make_demo
    from procedures.site.system import SystemClock

    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "demo"
        make_demo(folder, SystemClock()).close()
        bare, home = [], []
        for _ in range(rounds + 1):
            bare.append(first_paint(BARE, folder))
            home.append(first_paint(HOME, folder))
    one, two = statistics.median(bare[1:]), statistics.median(home[1:])
    least = min(home[1:]) / min(bare[1:])
    print(f"ratio of the fastest starts, least disturbed by whatever else runs: {least:.2f}")
    print(f"bare app {one * 1000:.0f} ms, home {two * 1000:.0f} ms, ratio {two / one:.2f} (aim: at most {AIM})")


if __name__ == "__main__":
    main()
