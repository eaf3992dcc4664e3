"""From the bytes of a profile's file to plain values: what makes the file no TOML, and every place where.

Whatever the bytes are, the outcome is values or errors in words. Line ends may be those of any system.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from procedures.profile.errors import ProfileError
from procedures.profile.spots import Places, parse
from procedures.units import shown

LARGEST_FILE: Final = 1_000_000
"""Bytes. The longest profile allowed is a tenth of this."""

LONGEST_LINE: Final = 2_000
MOST_DOTS_IN_A_LINE: Final = 100
DEEPEST: Final = 12
MOST_ERRORS: Final = 100

_AT = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")

_WORDS: Final = (
    (re.compile(r"^Invalid value"), "this is no value; text stands in quotes", 'title = "Vented ion chamber"'),
    (re.compile(r"^Invalid statement"), "a line is a key with a value, a table or a comment", 'id = "zero"'),
    (re.compile(r"^Expected '=' after a key"), "a key is followed by = and a value", 'id = "zero"'),
    (
        re.compile(r"^Invalid initial character for a key"),
        "a key is a word of letters, figures, - and _",
        'id = "zero"',
    ),
    (re.compile(r"^Expected newline or end of document"), "something stands after the value", 'id = "zero"'),
    (re.compile(r"^Unclosed inline table"), "a table in braces is not closed with }", 'limits = { low = "-20 %" }'),
    (re.compile(r"^Expected '\]\]?'"), "the name of a table is not closed with its brackets", "[instrument]"),
    (
        re.compile(r"^Unterminated string|^Expected '['\"]|^Illegal character '\\n'"),
        "a quote is not closed",
        'id = "zero"',
    ),
    (
        re.compile(r"^Unescaped '\\'"),
        "a backslash in quotes begins a code; use \\\\ for the backslash itself",
        'say = "a\\\\b"',
    ),
    (re.compile(r"^Cannot (overwrite|declare|mutate|redefine|define)|^Duplicate"), "this is defined twice", ""),
    (re.compile(r"^(Illegal|Found invalid) character"), "a character that does not belong into text", ""),
)


_ALLOWED: Final = "key = value, [table], [[table]], # comment"
_OPEN_LIST: Final = ("a list is not closed with ]", 'good = ["in the band"]')


@dataclass(frozen=True, slots=True)
class Values:
    """What a file holds, with what is wrong so far. `data` is None when nothing more can be said.

    `text` is what `data` was read from: where lines were left out to get on, it differs from the file, and a key that
    seems to be missing may only stand in one of those.
    """

    data: dict[str, Any] | None
    errors: tuple[ProfileError, ...] = ()
    text: str = ""


def read_bytes(path: Path) -> tuple[str, tuple[ProfileError, ...]]:
    """The text of a file, and why it is none. Line ends stay as they are, so that the hash is of the file's bytes."""
    name = path.name or str(path)
    try:
        if path.is_dir():
            return "", (_whole(name, "this is a folder, not a file", "the path of a .toml file"),)
        with path.open("rb") as file:
            raw = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        return "", (_whole(name, "there is no such file", "the path of a .toml file"),)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        return "", (_whole(name, f"this file cannot be read: {why}", "a file that you may read"),)
    if len(raw) > LARGEST_FILE:
        return "", (_too_large(name),)
    if _is_utf16(raw):
        return "", (_whole(name, "this text is UTF-16", "UTF-8 text", "save it again as UTF-8"),)
    try:
        return raw.decode(), ()
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        line = before.count(b"\n") + 1
        column = len(before.rsplit(b"\n", 1)[-1].decode(errors="replace")) + 1
        byte = f"byte 0x{raw[error.start]:02x}"
        return "", (
            ProfileError(
                message="this text is not UTF-8", file=name, line=line, column=column, found=byte, allowed="UTF-8 text"
            ),
        )


def _is_utf16(raw: bytes) -> bool:
    """Whether these are the bytes of UTF-16: with its mark, or with a zero in every other byte of a text of its own."""
    return raw.startswith((b"\xff\xfe", b"\xfe\xff")) or any(
        raw[first::2].count(0) > len(raw) / 4 and not raw[1 - first :: 2].count(0) for first in (0, 1)
    )


def read_values(text: str, file: str) -> Values:
    """The values of a TOML text, with every mistake that keeps it from being TOML."""
    errors = tuple(_unfit(text, file))
    if errors:
        return Values(None, errors)
    try:
        data = tomllib.loads(text)
    except RecursionError:
        return Values(None, (_too_deep(file),))
    except ValueError as error:
        return _repaired(text, file, error)
    return Values(None, (_too_deep(file),)) if _deeper_than(data, DEEPEST) else Values(data, text=text)


def _whole(file: str, message: str, allowed: str, example: str = "") -> ProfileError:
    return ProfileError(message=message, file=file, allowed=allowed, example=example)


def _too_large(file: str) -> ProfileError:
    return _whole(file, "this file is too large", f"at most {LARGEST_FILE:,} bytes")


def _too_deep(file: str) -> ProfileError:
    return _whole(file, "tables and lists are nested too deep", f"at most {DEEPEST} levels")


def _unfit(text: str, file: str) -> Iterator[ProfileError]:
    """What no profile may hold, whatever it says: looked at before any reader gets the text."""
    if len(text) > LARGEST_FILE or len(text.encode(errors="replace")) > LARGEST_FILE:
        yield _too_large(file)
        return
    if text.startswith("\ufeff"):
        yield ProfileError(
            message="the file begins with a byte order mark",
            file=file,
            line=1,
            column=1,
            found="U+FEFF",
            allowed="UTF-8 text without one",
            example="save it again as UTF-8 without BOM",
        )
        return
    count = 0
    for number, line in enumerate(text.split("\n"), 1):
        for error in _unfit_line(line.removesuffix("\r"), file, number):
            count += 1
            if count > MOST_ERRORS:
                return
            yield error


def _unfit_line(line: str, file: str, number: int) -> Iterator[ProfileError]:
    if len(line) > LONGEST_LINE:
        yield ProfileError(
            message="this line is too long",
            file=file,
            line=number,
            column=LONGEST_LINE + 1,
            found=f"{len(line)} characters",
            allowed=f"at most {LONGEST_LINE} characters in a line",
        )
        return
    if line.count(".") > MOST_DOTS_IN_A_LINE:
        yield ProfileError(
            message="too many dots in one line",
            file=file,
            line=number,
            column=1,
            found=f"{line.count('.')} dots",
            allowed=f"at most {MOST_DOTS_IN_A_LINE} dots in a line",
        )
    bad = next((place for place, c in enumerate(line) if not _printable(c) and c != "\t"), None)
    if bad is not None:
        name = unicodedata.name(line[bad], "a control character")
        yield ProfileError(
            message="a character that cannot be seen",
            file=file,
            line=number,
            column=bad + 1,
            found=f"U+{ord(line[bad]):04X} ({name.lower()})",
            allowed="characters that can be printed, spaces, tabs and line ends",
        )


def _printable(character: str) -> bool:
    return character.isprintable() or unicodedata.category(character) == "Zs"


def unseen(text: str) -> str:
    """The first character of a value that nobody could see on a screen or on paper, or ""."""
    return next((c for c in text if not _printable(c)), "")


def _deeper_than(value: Any, levels: int) -> bool:
    if not isinstance(value, dict | list):
        return False
    if levels == 0:
        return True
    inner = value.values() if isinstance(value, dict) else value
    return any(_deeper_than(each, levels - 1) for each in inner)


def _repaired(text: str, file: str, error: ValueError) -> Values:
    """All mistakes of a text that is no TOML, and the values of the rest where they can still be read."""
    places = Places(text)
    errors: dict[int, ProfileError] = {}
    lines = text.replace("\r\n", "\n").split("\n")
    for twice in places.twice:
        errors[twice.at[0]] = ProfileError(
            message="this table stands twice" if twice.is_table else "this key stands twice",
            file=file,
            line=twice.at[0],
            column=twice.at[1],
            key=twice.key,
            found=f"the first is in line {twice.first[0]}",
            allowed="each once",
        )
    for found in _syntax(text, lines, file):
        errors.setdefault(found.line, found)
    first = _from_reader(error, lines, file)
    if not errors or first.line < min(errors):
        errors[first.line] = first
    kept = tuple(sorted(errors.values(), key=lambda each: each.line))[:MOST_ERRORS]
    if any(lines[each.line - 1].lstrip().startswith("[") for each in kept):
        return Values(None, kept)  # without the head of a table its keys would seem to belong to another
    rest = _without(lines, places, kept)
    try:
        data = tomllib.loads(rest)
    except (ValueError, RecursionError):
        return Values(None, kept)
    return Values(None if _deeper_than(data, DEEPEST) else data, kept, rest)


def _without(lines: list[str], places: Places, errors: tuple[ProfileError, ...]) -> str:
    """The text without the lines at fault; a doubled key goes with all its lines."""
    gone = {error.line for error in errors}
    for twice in places.twice:
        gone.update(range(twice.lines[0], twice.lines[1] + 1))
    return "\n".join("" if number in gone else line for number, line in enumerate(lines, 1))


def _syntax(text: str, lines: list[str], file: str) -> Iterator[ProfileError]:
    """Each line that the grammar stumbles over. The grammar's own ranges run on, so lines are tried one by one."""
    waiting = [parse(text).root_node]
    while waiting:
        node = waiting.pop()
        if node.is_error or node.is_missing:
            yield from _lines_at_fault(node.start_point[0], node.end_point[0], lines, file)
        elif node.has_error:
            waiting.extend(reversed(node.children))


def _lines_at_fault(first: int, last: int, lines: list[str], file: str) -> Iterator[ProfileError]:
    for row in range(first, min(last + 1, len(lines), first + MOST_ERRORS)):
        try:
            tomllib.loads(lines[row])
        except RecursionError:
            yield ProfileError(message="nested too deep", file=file, line=row + 1, column=1)
            return
        except ValueError as error:
            complaint = _from_reader(error, lines, file, row)
            if _open_list(lines[row]):
                yield replace(complaint, message=_OPEN_LIST[0], example=_OPEN_LIST[1])
                return
            yield complaint
            if '"""' in str(error) or "'''" in str(error):
                return


def _open_list(line: str) -> bool:
    """Whether the line opens a list that only a later line may close: those lines cannot be tried alone."""
    value = line.partition("=")[2]
    return value.lstrip().startswith("[") and value.count("[") > value.count("]")


def _from_reader(error: ValueError, lines: list[str], file: str, row: int | None = None) -> ProfileError:
    """The standard reader's complaint in words; `row` when it was given that line alone."""
    said = str(error)
    match = _AT.search(said)
    line, column = (len(lines), 1) if match is None or match[1] is None else (int(match[1]), int(match[2]))
    if row is not None:
        at_end = match is None or match[1] is None
        line, column = row + 1, len(lines[row].rstrip()) + 1 if at_end else column
    plain = _AT.sub("", said)
    words, example = next(((w, e) for pattern, w, e in _WORDS if pattern.search(plain)), (plain, ""))
    shown_line = lines[line - 1] if 0 < line <= len(lines) else ""
    return ProfileError(
        message=words, file=file, line=line, column=column, found=as_line(shown_line), allowed=_ALLOWED, example=example
    )


def as_line(line: str) -> str:
    """A line of the file, cut to be shown inside another."""
    return shown(line.strip(), 60)
