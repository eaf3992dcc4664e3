"""The start is light, the end is clean: tried in fresh processes, since imports and signals belong to a process."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from fake_site import FakeSite

from checklist_tui.app import ChecklistApp
from procedures.site import warming

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


async def test_what_is_needed_next_is_loaded_while_nobody_types(tmp_path: Path) -> None:
    """The first sheet opens at once; and whoever types is not kept waiting for it."""
    site = FakeSite(tmp_path)
    app = ChecklistApp(site)
    async with app.run_test(size=(80, 24)) as pilot:
        app.look_at_waits()
        assert site.loaded == 0, "home has only just been painted"
        site.clock.advance(5)
        app.look_at_waits()
        assert site.loaded == 1
        await pilot.press("down")
        app.look_at_waits()
        assert site.loaded == 1, "somebody types"
        for _ in range(5):
            site.clock.advance(5)
            app.look_at_waits()
        assert site.loaded == 3


def test_every_piece_that_is_loaded_beforehand_is_there() -> None:
    """A name that was changed would be missed only by whoever waits."""
    assert len(list(warming.pieces())) == len(warming.PIECES) + 1
