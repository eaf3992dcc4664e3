"""`checklist-tui` without a command: the terminal interface, or line mode with --plain."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from checklist_tui.at_site import open_named
from procedures.site.opening import Site
from procedures.trouble import Trouble


def run(given: argparse.Namespace) -> int:
    """Open the site and the front end that was asked for; the exit code."""
    need_a_terminal(given)
    with open_named(given.data) as site:
        return run_front_end(site, given)


def need_a_terminal(given: argparse.Namespace) -> None:
    """Raises Trouble where the terminal interface was asked for and there is no terminal to draw it on."""
    missing = [name for name, stream in (("input", sys.stdin), ("output", sys.stdout)) if not _is_terminal(stream)]
    if given.plain:
        if sys.stdin is None or sys.stdout is None:
            raise Trouble("standard input or output is closed", do="Start the program with both open.")
        return
    if missing:
        raise Trouble(
            f"standard {' and '.join(missing)} is no terminal, and the terminal interface needs one",
            allowed="a terminal; or line mode, which asks the same questions on plain streams",
            do="Add --plain.",
        )
    if not _draws(sys.stdout.encoding):
        raise Trouble(
            f"the terminal takes {sys.stdout.encoding}, which lacks the signs that the screens are drawn with",
            allowed="a terminal that takes UTF-8; or line mode, which needs none of them",
            do="Set the locale to one with UTF-8, such as C.UTF-8, or add --plain.",
        )
    if given.instrument or given.person:
        raise Trouble("--instrument and --person belong to line mode", do="Add --plain, or leave them out.")


def run_front_end(site: Site, given: argparse.Namespace, *, reports: Path | None = None) -> int:
    """Line mode or the terminal interface on an open site; `reports`: where the latter writes a fault down."""
    if given.plain:
        from checklist_tui import line_mode

        return line_mode.run(site, instrument=given.instrument or "", person=given.person or "", bell=not given.no_bell)
    from checklist_tui import app, terminal_bytes

    terminal_bytes.forgive()
    return app.run(site, bell=not given.no_bell, light=given.light, reports=reports)


def _draws(encoding: str | None) -> bool:
    """Whether text in this encoding can hold the lines and symbols of the screens."""
    try:
        "─▸✓µ".encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def _is_terminal(stream: object) -> bool:
    try:
        return bool(stream is not None and stream.isatty())  # type: ignore[attr-defined]
    except ValueError:  # closed
        return False
