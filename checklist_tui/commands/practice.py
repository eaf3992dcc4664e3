"""`checklist-tui practice`: simulated instruments, with records of their own and no way to the real ones."""

from __future__ import annotations

import argparse
from pathlib import Path

from checklist_tui.commands.session import need_a_terminal
from checklist_tui.parsing import Parser
from procedures.site.system import SystemClock, default_folder, new_station_id


def configure(parser: Parser) -> None:
    """Add the options."""
    parser.set_example("checklist-tui practice\nchecklist-tui practice --data ./practice")
    parser.add_argument(
        "--data", metavar="DIR", default=argparse.SUPPRESS, help="folder of the records of practice (default: its own)"
    )
    parser.add_argument(
        "--plain", action="store_true", default=argparse.SUPPRESS, help="line mode: numbered questions, no screen"
    )
    for flag, about in (
        ("--light", "begin with the light screen, for glare"),
        ("--no-bell", "no bell when a wait ends"),
    ):
        parser.add_argument(flag, action="store_true", default=argparse.SUPPRESS, help=about)
    parser.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Open the room of practice, or begin one, and practise."""
    need_a_terminal(given)
    from checklist_tui.practice_cases import open_practice

    folder = Path(given.data) if given.data else default_folder() / "practice"
    use_cases = open_practice(folder, SystemClock(), new_station_id())
    with use_cases.site:
        if given.plain:
            from checklist_tui import line_practice

            return line_practice.run(use_cases, bell=not given.no_bell)
        from checklist_tui import practice_app, terminal_bytes

        terminal_bytes.forgive()
        return practice_app.run(use_cases, bell=not given.no_bell, light=given.light)
