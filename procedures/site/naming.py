"""What people call things and each other: labels and names by id, in words that are never empty."""

from __future__ import annotations

from procedures.journal.fields import is_hash
from procedures.site.opening import Site


def name(site: Site, person: str | None) -> str:
    """The name of a person; words where none is known."""
    if not person:
        return "nobody named"
    if not is_hash(person):
        return person
    known = site.journal.thing_now(person)
    return str(known.fields.get("name") or known.fields.get("label") or "somebody unknown")


def label(site: Site, thing: str | None) -> str:
    """The label of a thing; words where none is known."""
    fields = site.journal.thing_now(thing).fields if is_hash(thing) and thing else {}
    return str(fields.get("label") or "something unknown")
