"""From what a person typed, scanned or chose to an answer that can be recorded, and back from the record.

Understanding comes before keeping: `understand` gives the answer and an echo in words ("4.2 on x10 = 42 mR/h"), so that
a slip of typing is seen while it can still be mended. Whatever is not understood raises Trouble and nothing is kept.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final

from procedures.asks import (
    Acknowledge,
    Ask,
    Choice,
    DateAsk,
    Place,
    QuantityAsk,
    Reading,
    ReadingAsk,
    Scan,
    TextAsk,
)
from procedures.readings import understand_reading
from procedures.trouble import Trouble
from procedures.units import Quantity, number_in, read_number, read_quantity

LONGEST_SCAN: Final = 120
LONGEST_FIGURE: Final = 60
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff\ud800-\udfff]")
_DATE_FORMS: Final = ("%Y-%m-%d", "%d %b %Y", "%d %B %Y", "%b %d %Y", "%B %d %Y")


def clean_line(text: str) -> str:
    """One line of text as a scanner or keyboard meant it: no control or invisible characters, single spaces."""
    return " ".join(_CONTROL.sub(" ", text).split())


def understand(ask: Ask, text: str, *, selector: str = "", unit: str = "", state: str = "") -> tuple[Any, str]:
    """The answer to `ask` and its echo in words.

    Raises Trouble with what is wrong, what is allowed and what to do. A Wait or Hold is measured, never typed.
    """
    try:
        return _understand(ask, text, selector, unit, state)
    except Trouble as trouble:
        if trouble.do:
            raise
        raise Trouble(trouble.what, allowed=trouble.allowed, do="Look again, and enter what is shown.") from None


def _understand(ask: Ask, text: str, selector: str, unit: str, state: str) -> tuple[Any, str]:
    if isinstance(ask, ReadingAsk):
        if len(text) > 20 * LONGEST_FIGURE or len(line := clean_line(text)) > LONGEST_FIGURE:
            raise Trouble(
                "that is too long for a reading", allowed="a figure such as 1.62", do="Enter the figure again."
            )
        return understand_reading(ask, line, selector, unit, state)
    reader = _READERS.get(type(ask))
    if reader is None:
        raise Trouble("this ends by itself and takes no answer", do="Wait until the time has passed.")
    return reader(ask, text)


def _limited(text: str, longest: int, of: str) -> str:
    if len(text) > 20 * longest:
        raise Trouble(
            f"{len(text):,} characters came in for {of}",
            allowed=f"at most {longest}",
            do="Scan one label, once. If the scanner repeats, type what is marked.",
        )
    line = clean_line(text)
    if not line:
        raise Trouble("nothing was entered", do=f"Enter {of}.")
    if len(line) > longest:
        raise Trouble(
            f"{len(line):,} characters came in for {of}", allowed=f"at most {longest}", do="Enter it again, shorter."
        )
    return line


def _choice(ask: Choice, text: str) -> tuple[str, str]:
    line = _limited(text, LONGEST_SCAN, "one of the answers")
    for option in ask.options:
        if line.casefold() in (option.value.casefold(), option.say.casefold()):
            return option.value, option.say
    raise Trouble(
        f"{line!r} is not one of the answers",
        allowed="; ".join(option.say for option in ask.options),
        do="Choose one of them.",
    )


def _place(ask: Place, text: str) -> tuple[str, str]:
    line = _limited(text, LONGEST_SCAN, "a place on the scale")
    for place in ask.places:
        if line.casefold() == place.casefold():
            return place, f"the needle rests {place}"
    raise Trouble(
        f"{line!r} is not a place on this scale", allowed="; ".join(ask.places), do="Choose where the needle rests."
    )


def _text(ask: TextAsk, text: str) -> tuple[str, str]:
    line = _limited(text, ask.longest, "a few words")
    return line, line


def _scan(_ask: Scan, text: str) -> tuple[str, str]:
    line = _limited(text, LONGEST_SCAN, "the label as it is marked")
    return line, line


def _acknowledge(ask: Acknowledge, text: str) -> tuple[bool, str]:
    line = _limited(text, LONGEST_SCAN, "yes, when it is done")
    if line.casefold() not in ("yes", "y", "done", ask.done.casefold()):
        raise Trouble(
            f"{line!r} does not say that it is done", allowed=f"yes, or: {ask.done}", do="Do it, then say yes."
        )
    return True, ask.done


def _date(ask: DateAsk, text: str) -> tuple[date | None, str]:
    line = _limited(text, LONGEST_SCAN, "the date on the label")
    if ask.absent and line.casefold() in (ask.absent.casefold(), "none"):
        return None, ask.absent
    plain = line.replace(",", " ").replace(".", " ") if any(c.isalpha() for c in line) else line
    for form in _DATE_FORMS:
        try:
            found = datetime.strptime(" ".join(plain.split()), form).date()
        except ValueError:
            continue
        return found, f"{found.day} {found:%b %Y}"
    raise Trouble(
        f"{line!r} is not a date that can be read in one way only",
        allowed="year-month-day such as 2027-03-12, or 12 Mar 2027" + (f", or: {ask.absent}" if ask.absent else ""),
        do="Enter the date as year-month-day.",
    )


def _quantity(ask: QuantityAsk, text: str) -> tuple[tuple[Decimal, str], str]:
    line = _limited(text, LONGEST_FIGURE, "a number")
    first = ask.units[0]
    try:
        found = Quantity(read_number(line), first)
    except Trouble:
        found = read_quantity(line, like=first)
    if found.unit not in ask.units and found.unit != first:
        raise Trouble(
            f"{found.unit} is not a unit taken here", allowed=", ".join(ask.units), do="Enter it in one of them."
        )
    size = number_in(found, first)
    if (ask.low is not None and size < ask.low) or (ask.high is not None and size > ask.high):
        low = f"{ask.low} " if ask.low is not None else ""
        raise Trouble(
            f"{found} cannot be right here",
            allowed=f"{low}to {ask.high} {first}" if ask.high is not None else f"{low}{first} or more",
            do="Look again and enter what is shown.",
        )
    return (found.value, found.unit), str(found)


_READERS: Final[Mapping[type[Ask], Callable[[Any, str], tuple[Any, str]]]] = {
    Choice: _choice,
    Place: _place,
    TextAsk: _text,
    Scan: _scan,
    Acknowledge: _acknowledge,
    DateAsk: _date,
    QuantityAsk: _quantity,
}


def value_to_json(value: Any) -> Any:
    """An answer's value as the journal keeps it: figures as text, so that none is changed by being written down."""
    if isinstance(value, Reading):
        return {
            "is": "reading",
            "selector": value.selector,
            "figure": str(value.figure),
            "times": str(value.times),
            "unit": value.unit,
            "state": value.state,
        }
    if isinstance(value, tuple):
        return {"is": "quantity", "figure": str(value[0]), "unit": value[1]}
    if isinstance(value, date) or value is None:
        return {"is": "date", "date": None if value is None else value.isoformat()}
    return value


def value_from_json(body: Any) -> Any:
    """The value an event keeps. KeyError and ValueError mean that the event is malformed."""
    if not isinstance(body, Mapping):
        return body
    if body["is"] == "reading":
        return Reading(body["selector"], Decimal(body["figure"]), Decimal(body["times"]), body["unit"], body["state"])
    if body["is"] == "quantity":
        return Decimal(body["figure"]), body["unit"]
    return None if body["date"] is None else date.fromisoformat(body["date"])
