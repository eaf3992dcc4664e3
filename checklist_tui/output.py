"""Words on plain streams: what line mode and the command line print, on whatever the stream can carry.

Text from people and files is data: control characters never reach a terminal, where they could move the cursor or
change what was said before. Signs that the stream's encoding lacks are written out in ASCII.
"""

from __future__ import annotations

import json
import os
import re
import sys
import textwrap
from collections.abc import Iterable, Mapping
from contextlib import suppress
from typing import Any, Final, TextIO

from procedures.trouble import Trouble

# Exit codes. docs/command-line.md lists them for the people and programs that rely on them.
OK: Final = 0
NOT_AS_EXPECTED: Final = 1
BAD_INPUT: Final = 2
LOCKED_OUT: Final = 3
NOT_CHECKED: Final = 4
ABANDONED: Final = 5
PAUSED: Final = 6
OUTPUT_LOST: Final = 74
INTERRUPTED: Final = 130
BROKEN_PIPE: Final = 141

_NARROWEST: Final = 20
"""Columns. In fewer, breaking at spaces makes nothing easier to read."""

_SPELT_OUT: Final[Mapping[str, str]] = {
    "“": '"', "”": '"', "„": '"', "‘": "'", "’": "'", "…": "...", "−": "-", "–": "-", "—": "-", "\u2011": "-",
    "×": "x", "±": "+/-", "≤": "<=", "≥": ">=", "≠": "not ", "→": "->", "·": "*", "√": "sqrt ", "σ": "s", "χ": "chi",
    "µ": "u", "μ": "u", "°": "deg", "²": "2", "³": "3", "½": "1/2", "\u00a0": " ", "\u2009": " ", "✓": "ok",
    "\N{REPLACEMENT CHARACTER}": "?",
}  # fmt: skip


def clean(text: str) -> str:
    """One or more lines with every character that is not printable made visible as a replacement character."""
    kept = text.replace("\r\n", "\n").replace("\t", " ")
    return "".join(c if c.isprintable() or c == "\n" else "\N{REPLACEMENT CHARACTER}" for c in kept)


def fitted(text: str, encoding: str | None) -> str:
    """`text` in the characters that `encoding` can carry: signs it lacks are spelt out, the rest become "?"."""
    text = clean(text)
    codec = encoding or "ascii"
    try:
        text.encode(codec)
    except UnicodeEncodeError:
        return "".join(_fitted_character(c, codec) for c in text)
    return text


def _fitted_character(character: str, codec: str) -> str:
    try:
        character.encode(codec)
    except UnicodeEncodeError:
        return _SPELT_OUT.get(character, "?")
    return character


def wrapped(text: str, width: int) -> str:
    """`text` with its lines broken at spaces, so that a terminal `width` wide breaks no word.

    Numbered answers go on under their words. Blanks at the end of a line, such as behind a prompt, stay.
    """
    return "\n".join(_wrapped_line(line, width) for line in text.split("\n"))


def _wrapped_line(line: str, width: int) -> str:
    if len(line) < width or width < _NARROWEST:
        return line
    words = line.rstrip(" ")
    answer = re.match(r" +\w+  +", line)
    return (
        "\n".join(
            textwrap.wrap(
                words,
                width - 1,  # the last column stays free: some terminals begin a new line as soon as it is written
                subsequent_indent=" " * (answer.end() if answer else 0),
                break_long_words=False,
                break_on_hyphens=False,
            )
        )
        + line[len(words) :]
    )


def ring() -> None:
    """The terminal's bell on standard output. Apart from `write`, which lets no control character through."""
    if sys.stdout is not None:
        sys.stdout.write("\a")
        sys.stdout.flush()


def write(text: str, stream: TextIO | None = None, *, end: str = "\n") -> None:
    """Print `text` on `stream` (standard output by default) and flush, so that nothing waits to be read."""
    stream = sys.stdout if stream is None else stream
    if stream is None:  # a program started without standard output
        raise OSError("there is no standard output")
    stream.write(fitted(text, stream.encoding) + end)
    stream.flush()


def complain(lines: Iterable[str]) -> None:
    """Print lines on standard error. When nobody can read them there is nobody left to tell."""
    with suppress(OSError, ValueError, AttributeError):
        write("\n".join(lines), sys.stderr)


def complain_of(trouble: Trouble) -> None:
    """What is wrong, what is allowed, what to do: on standard error, a line each."""
    first, *rest = trouble.lines()
    complain([f"checklist-tui: {first}", *rest])


def trouble_to_json(trouble: Trouble) -> dict[str, str]:
    """One entry of `errors` in a JSON answer."""
    return {"message": trouble.what, "where": trouble.where, "allowed": trouble.allowed, "do": trouble.do}


def write_json(answer: Mapping[str, Any]) -> None:
    """One JSON object on standard output. ASCII only, so that every program reads it in every locale."""
    write(json.dumps(_sound(answer), indent=2, ensure_ascii=True, allow_nan=False))


def _sound(value: Any) -> Any:
    """Without lone surrogates (bytes of a file name that are no text), which strict readers of JSON refuse."""
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode("utf-8")
    if isinstance(value, Mapping):
        return {_sound(key): _sound(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_sound(each) for each in value]
    return value


def let_go_of_stdout() -> None:
    """Point standard output nowhere, so that the interpreter's last flush cannot fail a second time."""
    with suppress(OSError, ValueError, AttributeError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)
