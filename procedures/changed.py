"""A frozen value with some of it otherwise: as `dataclasses.replace`, in less than half the time.

A checkout that is judged again goes through several such values for each event; with `replace` they take a third of it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields
from functools import cache
from operator import attrgetter
from typing import Any, TypeVar

T = TypeVar("T")


def changed(value: T, **what: Any) -> T:
    """The dataclass `value`, all of whose fields are given to its constructor in order, with these fields otherwise.

    KeyError when it has no such field.
    """
    kind: Any = type(value)
    read, places = _fields(kind)
    values = list(read(value))
    for name, each in what.items():
        values[places[name]] = each
    made: T = kind(*values)
    return made


@cache
def _fields(kind: Any) -> tuple[Callable[[Any], tuple[Any, ...]], Mapping[str, int]]:
    places = {each.name: place for place, each in enumerate(fields(kind))}
    return attrgetter(*places), places
