"""What people call things and each other: labels and names by id, in words that are never empty."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING

from procedures.journal.fields import is_hash
from procedures.site.opening import Site

if TYPE_CHECKING:
    from procedures.journal.states import ThingState

_known: ContextVar[dict[str, ThingState] | None] = ContextVar("known", default=None)


@contextmanager
def of_one_moment() -> Iterator[None]:
    """Within this every thing is looked up once: for a page that names the same people and things a thousand times."""
    token = _known.set({})
    try:
        yield
    finally:
        _known.reset(token)


def thing(site: Site, thing_id: str) -> ThingState:
    """What is known of a thing by its id."""
    known = _known.get()
    if known is None:
        return site.journal.thing_now(thing_id)
    if thing_id not in known:
        known[thing_id] = site.journal.thing_now(thing_id)
    return known[thing_id]


def name(site: Site, person: str | None) -> str:
    """The name of a person; words where none is known."""
    if not person:
        return "nobody named"
    if not is_hash(person):
        return person
    known = thing(site, person)
    return str(known.fields.get("name") or known.fields.get("label") or "somebody unknown")


def label(site: Site, thing_id: str | None) -> str:
    """The label of a thing; words where none is known."""
    fields = thing(site, thing_id).fields if is_hash(thing_id) and thing_id else {}
    return str(fields.get("label") or "something unknown")
