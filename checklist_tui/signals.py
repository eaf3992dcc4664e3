"""A clean end when the system or a lost terminal asks for it: without this the terminal stays in mouse mode."""

from __future__ import annotations

import asyncio
import contextlib
import signal
from collections.abc import Callable
from functools import partial
from types import FrameType
from typing import Final

NAMES: Final = ("SIGINT", "SIGTERM", "SIGHUP")
"""SIGINT comes from outside alone: Ctrl-C in the terminal interface is a key like any other."""


def listen(stop: Callable[[int], None]) -> Callable[[], None]:
    """Calls `stop` with 128 + the number of the signal that asks for the end. Hands back what undoes it."""
    loop = asyncio.get_running_loop()
    undo: list[Callable[[], object]] = []
    for number in (getattr(signal, name, None) for name in NAMES):
        if number is None:
            continue
        try:
            loop.add_signal_handler(number, stop, 128 + number)
            undo.append(partial(loop.remove_signal_handler, number))
        except (NotImplementedError, RuntimeError, ValueError):
            # No loop handlers on this system, or not the main thread: the plain kind, handed over to the loop.
            with contextlib.suppress(ValueError, OSError):
                undo.append(partial(signal.signal, number, signal.signal(number, _handing_over(loop, stop))))

    def quiet() -> None:
        for each in undo:
            with contextlib.suppress(ValueError, OSError, RuntimeError):
                each()

    return quiet


def _handing_over(
    loop: asyncio.AbstractEventLoop, stop: Callable[[int], None]
) -> Callable[[int, FrameType | None], None]:
    def handler(number: int, _frame: FrameType | None) -> None:
        loop.call_soon_threadsafe(stop, 128 + number)

    return handler
