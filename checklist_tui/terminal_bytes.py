"""Bytes from a terminal that are no text: a paste in another encoding, old mouse codes, noise on a line.

Textual's driver decodes them strictly, in a thread of its own, and one bad byte ends the program with a traceback. Here
they become the replacement character, which every field takes for what it is: something to be typed again.
"""

from __future__ import annotations

import sys
from codecs import getincrementaldecoder
from functools import partial
from typing import Any


def forgive() -> None:
    """Have the driver replace what it cannot decode. Nothing to do on systems whose driver hands over text."""
    if sys.platform == "win32":
        return
    from textual.drivers import linux_driver

    def forgiving(encoding: str) -> Any:
        return partial(getincrementaldecoder(encoding), errors="replace")

    # The driver offers no way in but the name it looks the decoder up by.
    linux_driver.getincrementaldecoder = forgiving  # type: ignore[assignment]
