"""What a typed line means: a command, one of the options on offer, or an answer for the core to understand."""

from __future__ import annotations

from typing import Final

from checklist_tui.line_words import option_marks, options_of
from procedures.asks import Ask, Option, Scan, TextAsk
from procedures.site.views import Typed
from procedures.trouble import Trouble

COMMANDS: Final = frozenset(
    {"?", "again", "where", "left", "pause", "home", "fail", "numbers", "note", "abandon", "wrong"}
)
"""Words that are commands when they stand alone on a line, during a checkout."""


def command_in(text: str, ask: Ask | None = None) -> str:
    """The command that a line is, or "". A word that is one of the ask's own answers is that answer."""
    word = text.casefold()
    if word not in COMMANDS:
        return ""
    own = {answer.casefold() for option in (options_of(ask) if ask else ()) for answer in (option.value, option.say)}
    return "" if word in own else word


def typed_for(ask: Ask, text: str) -> Typed:
    """The answer that a line is to `ask`. Raises Trouble where an option has to be chosen and none was."""
    options = options_of(ask)
    if options:
        return Typed(chosen(options, text).value)
    quoted = len(text) > 2 and text[0] == text[-1] == '"'
    if isinstance(ask, TextAsk | Scan) and quoted and text[1:-1].casefold() in COMMANDS:
        return Typed(text[1:-1])
    return Typed(text)


def chosen(options: tuple[Option, ...], text: str) -> Option:
    """The option that a line names: by its mark, or in its words. Raises Trouble for anything else."""
    word = text.strip().rstrip(".").casefold()
    marks = option_marks(options)
    for mark, option in zip(marks, options, strict=True):
        if word in (mark, option.say.rstrip(".").casefold(), option.value.casefold()):
            return option
    raise Trouble(
        f"“{text[:60]}” is not one of the answers" if text else "nothing was typed",
        allowed="; ".join(f"{mark} {option.say}" for mark, option in zip(marks, options, strict=True)),
        do=f"Type {', '.join(marks[:-1])} or {marks[-1]}." if len(marks) > 1 else f"Type {marks[0]}.",
    )
