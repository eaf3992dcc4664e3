"""Check sources going back into their store, from home: after a failed check the source may still be out."""

from __future__ import annotations

from procedures.answers import LONGEST_SCAN, clean_line
from procedures.asks import SOURCE_BACK, SOURCE_OUT
from procedures.site import lookups
from procedures.site.entries import thing
from procedures.site.opening import Site
from procedures.site.views import SourceOut
from procedures.trouble import Trouble


def source_back(site: Site, text: str, person: str | None = None) -> str:
    """Record that the source with this label is back in its store; the label comes back.

    Raises Trouble when no source that is out carries the label, and while a checkout that is open on this station is
    reading it: another checkout could take it then, and what the first one reads would be of no source.
    """
    if person:
        thing(site, person, "person")
    line = clean_line(text)[:LONGEST_SCAN]
    out = lookups.sources_out(site)
    row = next((each for each in out if each.label.casefold() == line.casefold()), None)
    if row is None:
        raise Trouble(
            f"no source with the label {line!r} is out",
            allowed=", ".join(each.label for each in out) or "no source is out",
            do="Scan the label on the source.",
        )
    if _being_read(site, row):
        raise Trouble(
            f"{row.label} is in use: the checkout of {row.instrument} is open and has it in place",
            allowed="scanning it back in that checkout, or here after its ending",
            do="Go on with it there.",
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
    site.record("scanned", body, about=(row.checkout, row.id), person=person or None)
    return row.label


def _being_read(site: Site, row: SourceOut) -> bool:
    """Whether a checkout open here took the source for the visit of a step that it is in, and so counts on it."""
    if not any(each.checkout == row.checkout for each in lookups.open_checkouts(site)):
        return False
    from procedures.checkout import fold
    from procedures.site.profiles import adopted_procedure

    events = site.journal.checkout_events(row.checkout)
    ran = events[0].body["profile"]
    state = fold(adopted_procedure(site, ran["id"], ran["sha256"]), events)
    taken = {"step": state.track.step, "visit": state.visit, "is": row.id, "mark": SOURCE_OUT}
    return not state.over and any(
        event.kind == "scanned" and taken.items() <= event.body.items() for event in reversed(events)
    )
