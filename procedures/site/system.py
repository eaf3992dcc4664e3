"""The only place that reads the system's clocks, its random numbers and its folders."""

from __future__ import annotations

import secrets
import time
from datetime import UTC, datetime
from pathlib import Path

from procedures.clock import Instant

_BOOT_CLOCK = getattr(time, "CLOCK_BOOTTIME", None)


class SystemClock:
    """The station's clocks. Ticks count suspend where the system has such a clock (CLOCK_BOOTTIME).

    Elsewhere `time.monotonic` may stand still in suspend: a wait then takes longer, never shorter.
    """

    def __init__(self) -> None:
        self._session = secrets.token_hex(8)

    def now(self) -> Instant:
        utc = datetime.now(UTC)
        local = utc.astimezone().utcoffset()
        offset = 0 if local is None else round(local.total_seconds() / 60)
        ticks = time.monotonic() if _BOOT_CLOCK is None else time.clock_gettime(_BOOT_CLOCK)
        return Instant(utc, offset, ticks, self._session)


def new_station_id() -> str:
    """A random id for a station that begins here."""
    return secrets.token_hex(8)


def new_seed() -> str:
    """A random seed for something that is practised."""
    return secrets.token_hex(8)


def new_salt() -> bytes:
    """Random bytes that make the hash of one PIN unlike that of any other."""
    return secrets.token_bytes(16)


def default_folder() -> Path:
    """Where this person's site is kept when no folder is named."""
    from platformdirs import user_data_path

    return user_data_path("checklist-tui", appauthor=False)
