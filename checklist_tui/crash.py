"""A fault of the program, written to a file for whoever mends it; local variables hold people's names and stay out."""

from __future__ import annotations

import os
import platform
import tempfile
import traceback
from datetime import datetime
from pathlib import Path

from checklist_tui import __version__

EXIT_CODE = 70
"""EX_SOFTWARE of BSD's sysexits.h."""


def write_crash(folder: Path, error: BaseException, now: datetime) -> Path | None:
    """Writes the traceback of `error` under `folder`/crash; None when not even that is possible."""
    try:
        crash = folder / "crash"
        crash.mkdir(parents=True, exist_ok=True)
        path = crash / f"{now.strftime('%Y%m%dT%H%M%S')}-{os.getpid()}.txt"
        told = "".join(traceback.format_exception(error))
        about = f"checklist-tui {__version__}, Python {platform.python_version()}, {platform.system()}"
        path.write_text(f"{about}\n{now.isoformat()}\n\n{told}", encoding="utf-8")
    except OSError:
        return None
    return path


def passing_folder() -> Path:
    """Where a report goes when the records' own folder takes none, or will be gone in a moment."""
    return Path(tempfile.gettempdir()) / "checklist-tui"


def report(folder: Path, error: BaseException, now: datetime) -> Path | None:
    """Writes the report under `folder`, or, where that is not possible, where the system keeps what passes."""
    return write_crash(folder, error, now) or write_crash(passing_folder(), error, now)


def crash_words(path: Path | None, *, checkout_open: bool = False) -> str:
    """What a person is told, in two lines: is anything lost, and where the report is."""
    kept = "Every answer is kept; go on with the checkout." if checkout_open else "What was recorded is kept."
    where = f"Report for whoever mends it: {path}" if path else "The report of it could not be written to a file."
    return f"A fault stopped the program. {kept}\n{where}"
