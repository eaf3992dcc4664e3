"""A reading as a person types it: selector position, figure as the scale prints it, unit; or what no figure can say.

The program multiplies, and says what it made of it: "4.2 on x10 = 42 mR/h".
"""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from procedures.asks import Reading, ReadingAsk, Selector
from procedures.trouble import Trouble
from procedures.units import Quantity, canonical_unit, kind_of, number_in, read_number, read_quantity

_BEYOND_WORDS: Final = {
    "below zero": ("below zero", "below", "negative"),
    "pegged": ("pegged", "off the end", "off scale", "over range", "overrange", "over"),
    "no response": ("no response", "no movement", "nothing", "does not move", "dead"),
}


def understand_reading(ask: ReadingAsk, line: str, selector: str, unit: str, state: str) -> tuple[Reading, str]:
    """The reading that a line of text is, and its echo. Parts that are not given apart are read from the line."""
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
