"""Loading what the first sheet and the first checkout need, piece by piece, while nobody is waiting for anything.

Home is painted with none of it. Each piece takes a tenth of a second or so: whoever asks for the next one chooses a
moment in which nobody types.
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib import import_module
from typing import Final

PIECES: Final = (
    "pydantic",
    "pint",
    "procedures.steps",
    "procedures.profile.schema",
    "procedures.profile.load",
    "procedures.site.checkouts",
    "procedures.site.records.instrument",
    "procedures.site.records.source",
)


def pieces() -> Iterator[None]:
    """Each step loads one piece."""
    for name in PIECES:
        import_module(name)
        yield
    from procedures.units import convert, read_quantity

    convert(read_quantity("1 min"), "s")
    yield
