"""What a rehearsal says when an answer is missing: what is allowed, and the lines to add to the file."""

from __future__ import annotations

import json

from procedures.asks import Acknowledge, Ask, Choice, DateAsk, Place, QuantityAsk, ReadingAsk, TextAsk


def allowed_here(ask: Ask) -> str:
    """What an answers file may give to this ask, in words."""
    match ask:
        case Choice():
            return "; ".join(option.value for option in ask.options)
        case Place():
            return "; ".join(ask.places)
        case ReadingAsk():
            on = ask.wanted or ", ".join(each.name for each in ask.selectors)
            return "; ".join((f"the figure as printed, on {on}", *ask.beyond))
        case QuantityAsk():
            most = f"at most {ask.high} {ask.units[0]}" if ask.high is not None else ""
            least = f"at least {ask.low} {ask.units[0]}" if ask.low is not None else ""
            return "; ".join(part for part in (f"a figure in {' or '.join(ask.units)}", least, most) if part)
        case DateAsk():
            return f"year-month-day; {ask.absent}" if ask.absent else "year-month-day"
        case TextAsk():
            return f"1 to {ask.longest} characters"
        case Acknowledge():
            return ask.done
    return "a label as it is marked"


def lines_to_add(step: str, ask: Ask) -> str:
    """The lines of TOML that would answer this ask, one way of several."""
    lines = [f"step = {_quoted(step)}", f"ask = {_quoted(ask.key)}", f"give = {_quoted(_example(ask))}"]
    return "\n".join(["[[answer]]", *lines])


def lines_to_add_for_remedy(step: str) -> str:
    """The lines of TOML that say that the remedy on offer was carried out."""
    return "\n".join(["[[answer]]", f"step = {_quoted(step)}", "done = true", 'after = "2 min"'])


def _example(ask: Ask) -> str:
    match ask:
        case Choice():
            return ask.options[0].value
        case Place():
            return ask.places[0]
        case ReadingAsk():
            return "0"
        case QuantityAsk():
            return f"{ask.low if ask.low is not None else 1} {ask.units[0]}"
        case DateAsk():
            return "2031-05-06"
        case Acknowledge():
            return ask.done
    return "as it is marked"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
