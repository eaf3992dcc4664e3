"""Every sheet and listing there is, by name. A module is imported when somebody opens what it makes.

A sheet is a function `(site, about, person) -> Sheet`, a listing a function `(site, about, person, query) -> Listing`;
`person` is the id of who looks, "" for nobody yet, and decides only what is dimmed.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

from procedures.sheets import Listing, Query, Sheet
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.opening import Site

SHEETS: Final[Mapping[str, str]] = {
    "site": "site:site",
    "instrument": "instrument:instrument",
    "history": "history:instrument_history",
    "drift": "drift:drift_sheet",
    "source": "source:source",
    "source-history": "history:source_history",
    "relied": "source:relied",
    "jig": "things:jig",
    "person": "things:person",
    "settings": "settings:settings",
    "calibration": "calibration:calibration",
    "reference": "reference:reference",
    "lockout": "lockout:lockout",
    "tag": "tag:tag",
    "doubt": "doubts:doubt",
    "exchange": "exchange:exchange",
    "checkout": "checkout:checkout",
    "day": "day:day",
    "binder": "binder:binder",
    "overdue": "overdue:overdue",
    "paper-form": "paper:form",
    "paper-expected": "paper:expected",
    "paper-entry": "paper_entries:entry",
}
"""Name → "module:function" in this package."""

LISTINGS: Final[Mapping[str, str]] = {
    "instruments": "instrument:instruments",
    "sources": "source:sources",
    "jigs": "things:jigs",
    "people": "things:people",
    "lockouts": "lockout:lockouts",
    "uses": "uses:uses",
    "doubts": "doubts:doubts",
    "checkouts": "checkouts:checkouts",
    "papers": "paper_entries:papers",
}
"""Name → "module:function" in this package."""


def sheet(site: Site, name: str, about: str = "", person: str = "") -> Sheet:
    """The sheet of this name about a thing. Raises Trouble for none."""
    made: Sheet = _made(SHEETS, name, "sheet")(site, about, person)
    return made


def listing(site: Site, name: str, about: str = "", person: str = "", query: Query | None = None) -> Listing:
    """One page of the listing of this name. Raises Trouble for none."""
    made: Listing = _made(LISTINGS, name, "listing")(site, about, person, query or Query())
    return made


def _made(known: Mapping[str, str], name: str, what: str) -> Any:
    if name not in known:
        raise Trouble(f"there is no {what} called {name[:40]!r}", allowed=", ".join(sorted(known)))
    module, _, function = known[name].partition(":")
    return getattr(import_module(f"{__name__}.{module}"), function)
