"""Opening the site that the command line names."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from checklist_tui import output
from procedures.site.opening import JOURNAL, Site, open_site
from procedures.site.system import SystemClock, default_folder
from procedures.site.views import Mark
from procedures.trouble import Trouble

_MANY: Final = 20_000
_IN_A_MINUTE: Final = 500_000
"""How many records are gone through in a minute at least, by a slow computer (measured: 800,000)."""


def folder_named(data: str | None) -> Path:
    """The folder of the site: the one that --data names, or this person's own."""
    if data is not None and not data.strip():
        raise Trouble("the folder is empty text", where="--data", allowed="a folder", do="Name the site's folder.")
    return Path(data) if data else default_folder()


def records_named(data: str | None) -> tuple[Path, Mark]:
    """The folder of the site and which records in it are meant: the real ones, or a demo that was kept there alone."""
    folder = folder_named(data)
    kept = (folder / JOURNAL["demo"]).is_file() and not (folder / JOURNAL["real"]).is_file()
    return folder, "demo" if kept else "real"


def open_named(data: str | None) -> Site:
    """The site in that folder: the real one, or the demo that was kept there, which says so on every screen.

    Raises Trouble when there is none, offering the demo.
    """
    folder, marking = records_named(data)
    return open_site(folder, SystemClock(), marking=marking, told=_tell)


def _tell(records: int) -> None:
    """Say why the program does not answer yet, where that takes more than a moment."""
    if records >= _MANY:
        minutes = -(-records // _IN_A_MINUTE)
        how_long = "less than a minute" if minutes == 1 else f"about {minutes} minutes"
        output.complain([f"Bringing the records up to date: {records:,} of them, {how_long}. Once after an update."])
