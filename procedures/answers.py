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
    Selector,
    TextAsk,
)
from procedures.trouble import Trouble
from procedures.units import Quantity, canonical_unit, kind_of, number_in, read_number, read_quantity

LONGEST_SCAN: Final = 120
LONGEST_FIGURE: Final = 60
_BEYOND_WORDS: Final = {
    "below zero": ("below zero", "below", "negative"),
    "pegged": ("pegged", "off the end", "off scale", "over range", "overrange", "over"),
    "no response": ("no response", "no movement", "nothing", "does not move", "dead"),
}
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
        return _reading(ask, text, selector, unit, state)
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


def _reading(ask: ReadingAsk, text: str, selector: str, unit: str, state: str) -> tuple[Reading, str]:
    if len(text) > 20 * LONGEST_FIGURE or len(line := clean_line(text)) > LONGEST_FIGURE:
        raise Trouble("that is too long for a reading", allowed="a figure such as 1.62", do="Enter the figure again.")
    chosen, line = _selector(ask, line, selector)
    if ask.wanted and chosen.name != ask.wanted:
        raise Trouble(
            f"this reading is taken on {ask.wanted}, and the selector stands on {chosen.name}",
            allowed=f"selector on {ask.wanted}",
            do=f"Turn the selector to {ask.wanted}, let it settle, and read again.",
        )
    beyond = _beyond(ask, line, state)
    if beyond:
        figure = chosen.top if beyond == "pegged" and chosen.top is not None else Decimal(0)
        reading = Reading(chosen.name, figure, chosen.times, chosen.unit, beyond)  # type: ignore[arg-type]
        words = {"below zero": "the needle rests below zero", "pegged": "the reading is off the end of the scale"}
        return reading, words.get(beyond, "it does not respond")
    if not line:
        raise Trouble("no figure was entered", allowed="a figure such as 1.62", do="Enter what the scale shows.")
    return _on_scale(ask, chosen, line, unit)


def _selector(ask: ReadingAsk, line: str, name: str) -> tuple[Selector, str]:
    known = {each.name.casefold(): each for each in ask.selectors}
    if name:
        chosen = known.get(name.casefold())
        if chosen is None:
            raise Trouble(
                f"there is no selector position {name!r}",
                allowed=", ".join(each.name for each in ask.selectors),
                do="Choose the position that the selector stands on.",
            )
        return chosen, line
    for each in sorted(ask.selectors, key=lambda s: -len(s.name)):
        head, rest = line[: len(each.name)], line[len(each.name) :]
        if head.casefold() != each.name.casefold():
            continue
        if rest.startswith(" "):
            return each, rest.strip()
        if not rest and len(ask.selectors) > 1:
            return each, ""
    if len(ask.selectors) == 1:
        return ask.selectors[0], line
    raise Trouble(
        "the selector position is missing",
        allowed=", ".join(each.name for each in ask.selectors),
        do=f"Choose the position, or say it before the figure: {ask.wanted or ask.selectors[0].name} 0.00",
    )


def _beyond(ask: ReadingAsk, line: str, state: str) -> str:
    found = state if state and state != "on scale" else ""
    for name, words in _BEYOND_WORDS.items():
        if not found and line.casefold() in words:
            found = name
    if found and found not in ask.beyond:
        raise Trouble(f"'{found}' is no answer here", allowed="a figure on the scale", do="Enter what the scale shows.")
    return found


def _on_scale(ask: ReadingAsk, chosen: Selector, line: str, unit: str) -> tuple[Reading, str]:
    figure, shown = _figure(chosen, line, unit)
    if ask.whole and figure != figure.to_integral_value():
        raise Trouble(f"{line} is not a whole number of counts", allowed="a whole number", do="Enter the counts shown.")
    below = figure < 0
    if below and "below zero" not in ask.beyond:
        raise Trouble(
            f"a reading cannot be {figure} here", allowed="zero or more", do="Look again and enter what is shown."
        )
    if chosen.top is not None and abs(figure) > chosen.top:
        raise Trouble(
            f"the scale ends at {chosen.top}, and {figure} is beyond it",
            allowed=f"0 to {chosen.top}" + (", or: off the end" if "pegged" in ask.beyond else ""),
            do="Enter the figure as the scale prints it, before multiplying.",
        )
    reading = Reading(chosen.name, figure, chosen.times, chosen.unit, "below zero" if below else "on scale")
    total = Quantity(reading.value, chosen.unit)
    if chosen.times != 1:
        return reading, f"{figure:f} on {chosen.name} = {total}"
    return reading, f"{shown} = {total}" if shown else f"{total}"


def _figure(chosen: Selector, line: str, unit: str) -> tuple[Decimal, str]:
    """The figure as the scale prints it, and what was typed when that was in another unit of the same kind."""
    try:
        figure = read_number(line)
    except Trouble as trouble:
        if not any(c.isalpha() for c in line.lstrip("+-0123456789., ")):
            raise
        try:
            typed = read_quantity(line, like=chosen.unit or None)
        except Trouble as inner:
            raise (inner if any(c.isdigit() for c in line) else trouble) from None
        figure, unit = typed.value, typed.unit
    if not unit:
        return figure, ""
    unit = canonical_unit(unit)
    if unit == chosen.unit:
        return figure, ""
    if kind_of(unit) != kind_of(chosen.unit) or chosen.times != 1:
        raise Trouble(
            f"the reading is due in {chosen.unit}, and {unit} was given",
            allowed=chosen.unit,
            do="Look at the unit shown. If it really is another one, fail the step and say so.",
        )
    return number_in(Quantity(figure, unit), chosen.unit), f"{figure:f} {unit}"


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
