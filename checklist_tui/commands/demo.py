"""`checklist-tui demo`: the program on an invented site, marked as such on every screen."""

from __future__ import annotations

import argparse
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory

from checklist_tui import crash, output
from checklist_tui.commands.session import need_a_terminal, run_front_end
from checklist_tui.parsing import Parser
from procedures.site.opening import JOURNAL, Site, open_site
from procedures.site.system import SystemClock


def configure(parser: Parser) -> None:
    """Add the options; those of line mode are the same as without a command."""
    parser.set_example("checklist-tui demo\nchecklist-tui demo --keep ./try-out --plain")
    parser.add_argument("--keep", metavar="DIR", help="keep the demo's records in this folder, and go on with them")
    parser.add_argument(
        "--plain", action="store_true", default=argparse.SUPPRESS, help="line mode: numbered questions, no screen"
    )
    for flag, about in (
        ("--light", "begin with the light screen, for glare"),
        ("--no-bell", "no bell when a wait ends"),
    ):
        parser.add_argument(flag, action="store_true", default=argparse.SUPPRESS, help=about)
    for option, metavar, about in (
        ("--instrument", "LABEL", "line mode: begin with this instrument"),
        ("--person", "BADGE", "line mode: who does the checkout"),
    ):
        parser.add_argument(option, metavar=metavar, default=argparse.SUPPRESS, help=about)
    parser.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Make the demo site, or open the one that was kept, and go on as without a command."""
    need_a_terminal(given)
    if given.keep:
        with _site_in(Path(given.keep)) as site:
            return run_front_end(site, given)
    with TemporaryDirectory(prefix="checklist-tui-demo-", ignore_cleanup_errors=True) as folder:
        with _site_in(Path(folder)) as site:
            code = run_front_end(site, given, reports=crash.passing_folder())
        output.complain(["The demo's records are gone now. Keep them next time with --keep DIR."])
        return code


def _site_in(folder: Path) -> Site:
    from procedures.site.demo import make_demo

    clock = SystemClock()
    if (folder / JOURNAL["demo"]).exists():
        return open_site(folder, clock, marking="demo")
    try:
        return make_demo(folder, clock)
    except BaseException:
        # Half a demo would be opened as a whole one next time.
        for end in ("", "-wal", "-shm"):
            with suppress(OSError):
                (folder / f"{JOURNAL['demo']}{end}").unlink()
        raise
