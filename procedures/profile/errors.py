"""What is wrong with a profile, mistake by mistake, each with its place in the file.

A writer of profiles gets every mistake at once: file, line, key, what was found, what is allowed, and an example.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from procedures.trouble import Trouble
from procedures.units import shown


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileError:
    """One mistake. `line` and `column` count from 1, the column in characters; 0 when the file has no such place.

    The place is the value for a wrong value, the key for an unknown or doubled key, the head of the table for a
    missing key, the step's `id` for what only the whole profile shows. `key` is the path of the key, with steps,
    scales and reasons called by their id: `step[zero].within`. For what the proof finds, `path` is the way
    a checkout could go wrong, as step ids and outcomes.
    """

    message: str
    file: str = ""
    line: int = 0
    column: int = 0
    key: str = ""
    found: str = ""
    allowed: str = ""
    example: str = ""
    path: str = ""

    @property
    def place(self) -> str:
        """`file:line:column`, as far as known."""
        parts = [self.file or "profile"]
        if self.line:
            parts += [str(self.line), str(self.column)]
        return ":".join(parts)

    def __str__(self) -> str:
        lines = [f"{self.place}: {self.key}: {self.message}" if self.key else f"{self.place}: {self.message}"]
        for name, text in (
            ("path", self.path),
            ("found", self.found),
            ("allowed", self.allowed),
            ("example", self.example),
        ):
            if text:
                lines.append(f"    {name}: {text}")
        return "\n".join(lines)


class ProfileErrors(Trouble):
    """A profile that cannot be used, with every mistake found in it, in file order."""

    def __init__(self, errors: Iterable[ProfileError]) -> None:
        self.errors = tuple(sorted(errors, key=lambda error: (error.line, error.column)))
        first = self.errors[0]
        count = len(self.errors)
        super().__init__(
            first.message if count == 1 else f"{count} mistakes stand in this profile",
            where=first.place if count == 1 else first.file,
            allowed=first.allowed if count == 1 else "",
            do="Put right what is listed, then check the profile again.",
        )

    def lines(self) -> tuple[str, ...]:
        return tuple(line for error in self.errors for line in str(error).splitlines())


def nearest(name: str, known: Iterable[str]) -> str:
    """The one of `known` most like `name`, or ""."""
    pool = {each.lower(): each for each in known}
    found = get_close_matches(name.lower()[:80], list(pool), n=1, cutoff=0.6)
    return pool[found[0]] if found else ""


def listed(names: Sequence[str]) -> str:
    """Names in words: "a, b or c"."""
    if len(names) < 2:
        return "".join(names)
    return ", ".join(names[:-1]) + " or " + names[-1]


def as_written(value: Any) -> str:
    """A value much as TOML writes it, cut to one short line."""
    if isinstance(value, str):
        return f'"{shown(value)}"'
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        inner = ", ".join(as_written(each) for each in value[:4])
        return shown(f"[{inner}{', …' if len(value) > 4 else ''}]", 60)
    return shown(str(value))
