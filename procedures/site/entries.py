"""What people enter about things: one line of words, and the ids of what is meant, looked at before they are kept."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from procedures.answers import clean_line
from procedures.journal.fields import is_hash
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.states import ThingState
    from procedures.site.opening import Site

LONGEST_WORDS: Final = 300
"""Characters of a remark, a reason, a place. A pasted page belongs in a file."""


def words(what: str, text: str, longest: int = LONGEST_WORDS, *, needed: bool = True) -> str:
    """One line of words, cleaned. Raises Trouble when it is too long, or is `needed` and empty; `what` names it."""
    line = clean_line(text)
    if len(line) > longest or (needed and not line):
        verb = "are" if what.endswith("s") and not what.endswith("ss") else "is"
        raise Trouble(
            f"the {what} {verb} {'too long' if line else 'missing'}",
            allowed=f"{1 if needed else 0} to {longest} characters",
            do="Enter it again.",
        )
    return line


def thing(site: Site, thing_id: str, *sorts: str) -> ThingState:
    """The registered thing of this id, retired or not. Raises Trouble for none, or one of another sort."""
    known = site.journal.thing_now(thing_id) if is_hash(thing_id) else None
    if known is None or not known.registered or known.what not in sorts:
        wanted = " or ".join(sorts)
        raise Trouble(f"that is no {wanted} of this site", allowed=f"a registered {wanted}", do="Scan its label.")
    return known
