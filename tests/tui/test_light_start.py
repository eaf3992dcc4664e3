"""The start is light, the end is clean: tried in fresh processes, since imports and signals belong to a process."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent

FIRST_PAINT = """
import asyncio, sys
sys.path.insert(0, sys.argv[1])
from pathlib import Path
from fake_site import FakeSite
from checklist_tui.app import ChecklistApp

async def main():
    app = ChecklistApp(FakeSite(Path(sys.argv[2])))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        heavy = ["pydantic", "pint", "tree_sitter", "procedures.profile", "procedures.steps"]
        heavy += ["checklist_tui.screens.checkout", "checklist_tui.widgets.reading_form"]
        heavy += [f"checklist_tui.screens.{each}" for each in ("form", "sheet", "listing")]
        heavy += ["checklist_tui.widgets.reader", "checklist_tui.plotting", "procedures.site.records"]
        heavy += ["procedures.site.forms"]
        print(",".join(each for each in heavy if each in sys.modules))

asyncio.run(main())
"""

HANG_UP = """
import asyncio, os, signal, sys
sys.path.insert(0, sys.argv[1])
from pathlib import Path
from fake_site import FakeSite
from checklist_tui.app import ChecklistApp

async def main(number):
    app = ChecklistApp(FakeSite(Path(sys.argv[2])))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        os.kill(os.getpid(), number)
        await pilot.pause()
    return app.return_code

codes = [asyncio.run(main(number)) for number in (signal.SIGTERM, signal.SIGHUP, signal.SIGINT)]
print(codes)
"""


def run(code: str, folder: Path) -> str:
    done = subprocess.run(
        [sys.executable, "-c", code, str(HERE), str(folder)], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_first_paint_loads_nothing_heavy(tmp_path: Path) -> None:
    """One pydantic model costs a quarter of the start, so nothing of it is loaded before a checkout is."""
    assert run(FIRST_PAINT, tmp_path) == ""


def test_signals_end_cleanly(tmp_path: Path) -> None:
    """Each unmounts the screen, so that no terminal is left in mouse mode, and exits with 128 + its number."""
    assert run(HANG_UP, tmp_path) == "[143, 129, 130]"
