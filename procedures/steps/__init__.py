"""The kinds of step, one file each, imported when a profile names them.

A new kind is one new file beside this one: its name is the file's name with hyphens for underscores, and it holds a
`KIND: StepKind`. Nothing else has to be told.
"""

from __future__ import annotations

import pkgutil
from functools import cache
from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from procedures.steps.base import StepKind

_NOT_KINDS = frozenset({"base", "common"})


@cache
def kind_names() -> tuple[str, ...]:
    """The names of all kinds of step, as profiles spell them, in alphabetical order. Imports none of them."""
    names = (module.name for module in pkgutil.iter_modules(__path__))
    return tuple(
        sorted(name.replace("_", "-") for name in names if name not in _NOT_KINDS and not name.startswith("_"))
    )


@cache
def kind(name: str) -> StepKind[Any]:
    """The kind of step of that name. KeyError when there is none."""
    if name not in kind_names():
        raise KeyError(name)
    found: StepKind[Any] = import_module(f"{__name__}.{name.replace('-', '_')}").KIND
    return found
