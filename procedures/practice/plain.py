"""Plain values read back strictly: every key there, none besides, each of its kind; Trouble says which is not."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from procedures.trouble import Trouble


class Plain:
    """A table of plain values (of JSON or TOML), and the place where it stands, to be named in troubles."""

    def __init__(self, body: Any, where: str, keys: Iterable[str]) -> None:
        if not isinstance(body, Mapping):
            raise Trouble("a table is wanted here", where=where, allowed="a table")
        wanted = tuple(keys)
        self.body, self.where = body, where
        for key in body:
            if key not in wanted:
                raise Trouble(f"there is no such key: {str(key)[:60]!r}", where=where, allowed=", ".join(wanted))
        for key in wanted:
            if key not in body:
                raise Trouble(f"“{key}” is missing", where=where, allowed=", ".join(wanted))

    def _wrong(self, key: str, allowed: str) -> Trouble:
        return Trouble(f"{str(self.body[key])[:60]!r} cannot be", where=f"{self.where}, {key}", allowed=allowed)

    def text(self, key: str, *, longest: int = 2_000, among: Iterable[str] | None = None) -> str:
        value = self.body[key]
        if not isinstance(value, str) or len(value) > longest:
            raise self._wrong(key, f"text of at most {longest} characters")
        if among is not None:
            names = tuple(among)
            if value not in names:
                raise self._wrong(key, ", ".join(names))
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        value = self.body[key]
        if not isinstance(value, list | tuple) or not all(isinstance(each, str) for each in value):
            raise self._wrong(key, "a list of texts")
        return tuple(value)

    def figure(self, key: str, low: float = -math.inf, high: float = math.inf) -> float:
        value = self.body[key]
        good = isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < math.inf
        if not good or not low <= value <= high:
            raise self._wrong(key, f"a number from {low:g} to {high:g}")
        return float(value)

    def whole(self, key: str, low: int, high: int) -> int:
        value = self.body[key]
        if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
            raise self._wrong(key, f"a whole number from {low} to {high}")
        return value

    def truth(self, key: str) -> bool:
        value = self.body[key]
        if not isinstance(value, bool):
            raise self._wrong(key, "true or false")
        return value

    def moment(self, key: str) -> datetime:
        """A moment with a time zone, as text."""
        value = self.body[key]
        try:
            moment = value if isinstance(value, datetime) else datetime.fromisoformat(value)
        except (TypeError, ValueError):
            moment = None
        if moment is None or moment.utcoffset() is None:
            raise self._wrong(key, "a moment with a time zone, such as 2031-05-06T06:12:00+00:00")
        return moment

    def rows(self, key: str, most: int) -> tuple[Any, ...]:
        value = self.body[key]
        if not isinstance(value, list | tuple) or len(value) > most:
            raise self._wrong(key, f"a list of at most {most:,}")
        return tuple(value)
