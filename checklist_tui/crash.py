"""The last resort: a fault of the program itself becomes one line for the person and a file for whoever mends it."""

from __future__ import annotations

import os
import sys
import tempfile
import traceback
from contextlib import suppress
from pathlib import Path

from checklist_tui import __version__


def record(error: BaseException, folder: Path | None = None) -> Path | None:
    """Write the traceback, without any local variables, to a new file and return its path; None if nowhere will do.

    `folder` is tried first, then the system's folder for temporary files.
    """
    lines = [f"checklist-tui {__version__}, Python {sys.version.split()[0]}, {sys.platform}\n"]
    lines += traceback.format_exception(error)
    for place in (folder, Path(tempfile.gettempdir())):
        if place is None:
            continue
        with suppress(OSError):
            handle, path = tempfile.mkstemp(prefix="checklist-tui-crash-", suffix=".txt", dir=place)
            with os.fdopen(handle, "w", encoding="utf-8", errors="backslashreplace") as file:
                file.writelines(lines)
            return Path(path)
    return None


def words(error: BaseException, path: Path | None) -> str:
    """The one line that is shown."""
    where = f"what happened is written in {path}" if path else "and the report could not be written either"
    return f"checklist-tui: a fault of the program ({type(error).__name__}); {where}. What was recorded stays recorded."
