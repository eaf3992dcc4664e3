"""Questions on plain lines before there is a site: one at a time, asked again until an answer can be used.

Line mode's own ear listens all the time, since waits run on; a PIN could then be overheard. Here nothing listens while
nothing is asked.
"""

from __future__ import annotations

import getpass
import re
import shutil
import sys
import warnings
from collections.abc import Callable, Mapping
from typing import Final, TypeVar

from checklist_tui import output
from checklist_tui.line_input import LONGEST_LINE
from checklist_tui.line_words import sentence
from procedures.trouble import Trouble

Answer = TypeVar("Answer")

MOST_TRIES: Final = 20
"""Of one question. A program that answers wrongly would be asked for ever."""


def is_terminal() -> bool:
    """Whether a person types, who can be asked for a PIN."""
    try:
        return sys.stdin is not None and sys.stdin.isatty()
    except ValueError:  # closed
        return False


def need_input() -> None:
    """Raises Trouble when nobody can be asked anything."""
    if sys.stdin is None:
        raise Trouble("standard input is closed", do="Start the program with it open.")


def tell(*lines: str) -> None:
    """Say lines, each on its own, broken at spaces where a terminal is narrower."""
    output.write(_fitted("\n".join(lines)))


def _fitted(text: str) -> str:
    terminal = sys.stdout is not None and sys.stdout.isatty()
    return output.wrapped(text, shutil.get_terminal_size().columns) if terminal else text


def agreed(question: str) -> bool:
    """Whether a person says yes; only yes and no are answers."""

    def read(typed: str) -> bool:
        if typed.casefold() not in ("yes", "y", "no", "n"):
            raise Trouble("that is neither yes nor no", allowed="yes, no", do="Type one of them.")
        return typed.casefold() in ("yes", "y")

    return ask(f"{question} yes or no", read)


def ask(prompt: str, read: Callable[[str], Answer], default: str = "") -> Answer:
    """What `read` makes of the line that a person types; `default` stands for an empty line.

    Trouble is told and the question asked again, with what was perhaps meant as its default. Raises Trouble when the
    input ends.
    """
    for _ in range(MOST_TRIES):
        output.write(_fitted(f"{prompt} [{default}]: " if default else f"{prompt}: "), end="")
        try:
            return read(_line() or default)
        except Trouble as trouble:
            if isinstance(trouble, InputEnded):
                raise
            _not_taken(trouble)
            default = _meant(trouble) or default
    raise InputEnded(f"“{prompt}” was answered wrongly {MOST_TRIES} times")


def _meant(trouble: Trouble) -> str:
    """The first thing that is offered instead, "" for none."""
    found = re.match(r"Did you mean (.+?)(?: or .+)?\?", trouble.do)
    return found[1] if found else ""


def choose(prompt: str, options: Mapping[str, str], default: str) -> str:
    """One of `options` (word → what it means), by its number or word."""
    words = list(options)
    tell(f"{prompt}:", *(f"  {number}  {word}: {options[word]}" for number, word in enumerate(words, 1)))

    def read(typed: str) -> str:
        if typed.isascii() and typed.isdigit() and 1 <= int(typed[:9]) <= len(words):
            return words[int(typed[:9]) - 1]
        if typed in options:
            return typed
        raise Trouble("that is none of them", allowed=f"1 to {len(words)}", do="Type its number.")

    return ask("Number", read, default)


def secret(prompt: str) -> str:
    """A line that is typed without being shown. Raises Trouble where no terminal can hide it."""
    if not is_terminal():
        raise Trouble(
            "a PIN is typed at a terminal, and standard input is none",
            allowed="a terminal, which does not show what is typed",
            do="Start the program from a terminal.",
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", getpass.GetPassWarning)
            return getpass.getpass(output.fitted(f"{prompt}: ", "ascii"))
    except EOFError:
        raise InputEnded("the input has ended") from None
    except (getpass.GetPassWarning, UnicodeDecodeError):
        raise Trouble("this terminal cannot hide what is typed, or sends what is no text", do="Use another.") from None


def new_pin(fits: Callable[[str], object]) -> str:
    """A new PIN, typed twice; what `fits` refuses is told and asked again."""
    for _ in range(MOST_TRIES):
        try:
            first = secret("New PIN (not shown)")
            fits(first)
            if secret("The same again") == first:
                return first
            raise Trouble("the two are not the same", do="Enter both again.")
        except InputEnded:
            raise
        except Trouble as trouble:
            if not is_terminal():
                raise
            _not_taken(trouble)
    raise InputEnded(f"no PIN could be used in {MOST_TRIES} tries")


class InputEnded(Trouble):
    """No answer will come any more."""

    def __init__(self, what: str) -> None:
        super().__init__(what, do="Start again. Nothing was changed.")


def _line() -> str:
    need_input()
    typed = _read()
    if not typed:
        output.write("")
        raise InputEnded("the input ended before every question was answered")
    if len(typed) > LONGEST_LINE:
        while typed and not typed.endswith("\n"):
            typed = _read()
        raise Trouble(f"that line is longer than {LONGEST_LINE} characters", do="Enter it again.")
    return output.clean(typed).strip()


def _read() -> str:
    """The next piece of standard input, a line at most; bytes that are no text are no reason to stop."""
    raw = getattr(sys.stdin, "buffer", None)
    if raw is None:
        return sys.stdin.readline(LONGEST_LINE + 2)
    return str(raw.readline(LONGEST_LINE + 2), sys.stdin.encoding or "utf-8", "replace")


def _not_taken(trouble: Trouble) -> None:
    first, *rest = trouble.lines()
    tell(*(sentence(each) for each in (f"Not taken: {first}", *rest)))
