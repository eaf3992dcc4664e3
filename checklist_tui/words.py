"""Times, dates and figures as a person reads them. No rule of the trade: only the way things are written."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import datetime
from math import ceil
from typing import TYPE_CHECKING, Final

from procedures.figures import SHOWN

if TYPE_CHECKING:
    from procedures.site.views import InstrumentRow

BEYOND: Final[Mapping[str, str]] = {"below zero": "below zero", "pegged": "off the end", "no response": "no movement"}
"""What a needle does that no figure can say, in a technician's words."""

LEFT_OPEN: Final = "left open"
"""What the site says of a checkout that nobody paused before the program stopped."""


def clock_time(moment: datetime) -> str:
    """`moment` as "06:05" in the zone it is in: the site hands moments out in its own."""
    return f"{moment:%H:%M}"


def day_time(moment: datetime, now: datetime) -> str:
    """As `clock_time`, with the day in front when it is not the day of `now` there."""
    today = now.astimezone(moment.tzinfo).date()
    return clock_time(moment) if moment.date() == today else f"{moment.day} {moment:%b %H:%M}"


def ends_readiness(row: InstrumentRow, now: datetime) -> str:
    """What a new checkout of this instrument ends, "" when there is nothing to end."""
    if row.fitness != "ready" or row.checkout:
        return ""
    until = f" until {day_time(row.until, now)}" if row.until is not None else ""
    return f"{row.label} is ready{until}. A new checkout ends that."


def minutes(seconds: float) -> str:
    """Time gone by, as "2:41"; hours as "1:02:41"."""
    whole = max(0, int(seconds))
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02}:{rest % 60:02}" if hours else f"{rest // 60}:{rest % 60:02}"


def left(seconds: float) -> str:
    """Time still to go: never 0 before it is over."""
    whole = max(0, ceil(seconds - 1e-9))
    return minutes(whole) if whole >= 60 else str(whole)


def wait_left(seconds: float) -> str:
    """Time still to go, with its unit where it stands in a line: "58 s", "1:20"."""
    said = left(seconds)
    return said if ":" in said else f"{said} s"


def shorten(text: str, width: int) -> str:
    """`text` cut to `width` characters, with a mark that something was cut."""
    return text if len(text) <= width else text[: max(0, width - 1)] + "…"


def capital(text: str) -> str:
    """The text as the beginning of a sentence."""
    return text[:1].upper() + text[1:]


def scales_shown(scales: Iterable[tuple[str, str]]) -> list[str]:
    """How the scales were shown to work, those together that were shown alike: "x10, x100 NOT SHOWN by …"."""
    alike: dict[str, list[str]] = {}
    for scale, how in scales:
        alike.setdefault(SHOWN.get(how, how), []).append(scale)
    return [f"{', '.join(names)} {said}" for said, names in alike.items()]


def paused_words(label: str, why: str) -> str:
    """Why the checkout of this instrument stands still."""
    if why == LEFT_OPEN:
        return f"{label} was left open when the program stopped."
    return f"{label} is paused." if why == "paused" else f"{label} is paused: {why}"


def says_figure(text: str, said: str) -> bool:
    """Whether this very figure stands in `text`, and not only as part of a longer one."""
    return re.search(rf"(?<![\d.]){re.escape(said)}(?!\.?\d)", text) is not None


def plural(count: int, one: str, many: str = "") -> str:
    return f"{count} {one if count == 1 else many or one + 's'}"
