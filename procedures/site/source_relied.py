"""Which checks relied on a check source: every finding made with it while it was out for that step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Final

from procedures.asks import SOURCE_OUT

if TYPE_CHECKING:
    from procedures.journal.envelope import Event
    from procedures.site.opening import Site

_PAGE: Final = 500
_SAYS_NOTHING: Final = frozenset({"could not check", "not applicable"})


@dataclass(frozen=True, slots=True)
class Span:
    """The time after one confirmation that the source is good, up to another. None: from the beginning, until now."""

    after: Event | None
    until: Event | None

    def holds(self, event: Event) -> bool:
        return (self.after is None or event.stamp > self.after.stamp) and (
            self.until is None or event.stamp < self.until.stamp
        )

    def is_past(self, event: Event) -> bool:
        """Whether an event comes before this time, so that none older has to be looked at."""
        return self.after is not None and event.stamp < self.after.stamp


@dataclass(frozen=True, slots=True)
class Relied:
    """One check that relied on the source. `ending` is "" while it has none; a withdrawn one says so."""

    checkout: str
    instrument: str
    label: str
    person: str
    when: datetime
    outcome: str
    ending: str


def spans(site: Site, source: str) -> tuple[Span, ...]:
    """The times whose checks are in question: since the source was last said to be good, newest first.

    Where that ended a time in which it was not good, the time before it is in question too, back to the confirmation
    before: nobody knows since when the source had been as it was found.
    """
    said = site.journal.about(source, kinds=("source-condition",), limit=_PAGE)
    good = [place for place, event in enumerate(said) if event.body.get("condition") == "good"]
    if not good:
        return (Span(None, None),)
    newest = said[good[0]]
    if good[0] + 1 >= len(said) or good[0] + 1 in good:
        return (Span(newest, None),)
    before = said[good[1]] if len(good) > 1 else None
    return Span(newest, None), Span(before, newest)


def relied(site: Site, source: str, span: Span, *, limit: int, offset: int = 0) -> tuple[tuple[Relied, ...], bool]:
    """One page of the checks within a span that relied on the source, newest first, and whether there are more.

    A check relied on it when it was scanned out for a step that then came to a finding. Pages are of the checks that
    took it out, so that those before a page need not be looked into.
    """
    rows: list[Relied] = []
    for place, (checkout, event) in enumerate(_taken(site, source, span)):
        if place >= offset + limit:
            return tuple(rows), True
        row = _relied(site, source, checkout, event) if place >= offset else None
        if row is not None:
            rows.append(row)
    return tuple(rows), False


def _taken(site: Site, source: str, span: Span) -> Iterator[tuple[str, Event]]:
    """Every checkout that took the source out within a span, once, with the newest scan of it; newest first."""
    seen: set[str] = set()
    before: Event | None = None
    while page := site.journal.about(source, kinds=("scanned",), limit=_PAGE, before=before):
        for event in page:
            if span.is_past(event):
                return
            checkout = str(event.body.get("checkout"))
            if event.body.get("mark") == SOURCE_OUT and span.holds(event) and checkout not in seen:
                seen.add(checkout)
                yield checkout, event
        before = page[-1]


def uses_of(site: Site, checkout: str) -> tuple[tuple[str, Event], ...]:
    """Each finding of a checkout that a source was taken out for, with that source, in order."""
    events = site.journal.about(checkout, kinds=("scanned", "found"), limit=-1)
    out: dict[tuple[object, object], str] = {}
    found = []
    for event in reversed(events):
        body = event.body
        visit = (body.get("step"), body.get("visit"))
        if event.kind == "scanned" and body.get("mark") == SOURCE_OUT and body.get("is"):
            out[visit] = str(body["is"])
        elif event.kind == "found" and visit in out:
            found.append((out[visit], event))
    return tuple(found)


def _relied(site: Site, source: str, checkout: str, scan: Event) -> Relied | None:
    outcomes = [str(event.body["finding"].get("outcome")) for used, event in uses_of(site, checkout) if used == source]
    counting = [outcome for outcome in outcomes if outcome not in _SAYS_NOTHING]
    opened = site.journal.by_hash(checkout)
    if not counting or opened is None:
        return None
    ended = site.journal.about(checkout, kinds=("ended", "withdrawn"), limit=2)
    endings = {event.kind: event for event in ended}
    ending = str(endings["ended"].body.get("ending", "")) if "ended" in endings else ""
    if "withdrawn" in endings:
        ending = f"{ending}, withdrawn" if ending else "withdrawn"
    instrument = str(opened.body.get("instrument", ""))
    label = str(site.journal.thing_now(instrument).fields.get("label", ""))
    person = str(site.journal.thing_now(scan.person).fields.get("name", "")) if scan.person else ""
    return Relied(checkout, instrument, label, person, scan.utc, counting[-1], ending)
