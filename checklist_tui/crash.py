"""A fault of the program, written to a file for whoever mends it; local variables hold people's names and stay out."""

from __future__ import annotations

import os
import platform
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


def crash_words(path: Path | None) -> str:
    """The one short message a person gets."""
    kept = "Every answer given before is in the record; the checkout goes on where it stood when you start again."
    where = f"Details for whoever mends it: {path}" if path else "The details could not be written to a file."
    return f"A fault in the program stopped it. {kept}\n{where}"
