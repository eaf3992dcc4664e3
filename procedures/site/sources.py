"""Check sources going back into their store, from home: after a failed check the source may still be out."""

from __future__ import annotations

from procedures.answers import LONGEST_SCAN, clean_line
from procedures.asks import SOURCE_BACK
from procedures.site import lookups
from procedures.site.opening import Site
from procedures.trouble import Trouble


def source_back(site: Site, text: str, person: str | None = None) -> str:
    """Record that the source with this label is back in its store; the label comes back.

    Raises Trouble when no source that is out carries the label.
    """
    line = clean_line(text)[:LONGEST_SCAN]
    out = lookups.sources_out(site)
    row = next((each for each in out if each.label.casefold() == line.casefold()), None)
    if row is None:
        raise Trouble(
            f"no source with the label {line!r} is out",
            allowed=", ".join(each.label for each in out) or "no source is out",
            do="Scan the label on the source.",
        )
    now = site.clock.now()
    body = {
        "checkout": row.checkout,
        "step": "",
        "visit": 0,
        "ask": "source-back",
        "text": line,
        "is": row.id,
        "mark": SOURCE_BACK,
        "took": None,
        "ticks": now.ticks,
        "session": now.session,
    }
    site.record("scanned", body, about=(row.checkout, row.id), person=person)
    return row.label
