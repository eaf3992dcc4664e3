"""Whether failed checks point at the source and not at the instruments: a source in common, and no other failing so.

One instrument that reads low is a bad instrument. Two that read low with one source, and with no other, are more likely
one bad source: it slipped in its jig, was damaged, or is not the one it is taken for. Every instrument stays locked out
until it was looked at: this only says where to look first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Any, Final, Literal

from procedures.site.source_relied import uses_of

if TYPE_CHECKING:
    from procedures.journal.envelope import Event
    from procedures.journal.states import InstrumentState
    from procedures.site.opening import Site

WITHIN: Final = timedelta(days=7)
"""How near in time the failures lie. Common practice, no source."""

FEWEST: Final = 2
"""Different instruments that have to fail alike. Common practice, no source."""

MOST_LOOKED_AT: Final = 100
"""Newest failed checkouts that are looked through."""

Side = Literal["low", "high"]


@dataclass(frozen=True, slots=True)
class Failure:
    """A response outside its limits: with which source, on which side, of which instrument."""

    source: str
    side: Side
    instrument: str
    event: Event


def suspect(site: Site, source: str) -> str:
    """What points at this source, in words; "" for nothing."""
    return _suspects(site).get(source, "")


def suspects_of(site: Site, state: InstrumentState) -> tuple[str, ...]:
    """What points at one of the sources that are bound to an instrument: to be said where it is locked out."""
    found = _suspects(site)
    return tuple(dict.fromkeys(found[each.source] for each in state.bindings.values() if each.source in found))


def notices(site: Site) -> tuple[str, ...]:
    """What points at any source, for the list of instruments. Looks through the checkouts that failed of late only."""
    return tuple(_suspects(site).values())


def _suspects(site: Site) -> dict[str, str]:
    failures = tuple(each for each in _failures(site) if not _said_good_since(site, each))
    alike: dict[tuple[str, Side], set[str]] = {}
    for each in failures:
        alike.setdefault((each.source, each.side), set()).add(each.instrument)
    said: dict[str, str] = {}
    for (source, side), instruments in alike.items():
        others = [found for (other, its), found in alike.items() if other != source and its == side]
        # An instrument that fails with another source as well speaks for itself, not against this one.
        alone = instruments.difference(*others)
        if len(alone) >= FEWEST and not any(len(each.difference(instruments)) >= FEWEST for each in others):
            said[source] = _words(site, source, side, alone)
    return said


def _words(site: Site, source: str, side: Side, instruments: set[str]) -> str:
    labels = sorted(str(site.journal.thing_now(each).fields.get("label", "")) for each in instruments)
    label = site.journal.thing_now(source).fields.get("label", "")
    return (
        f"{', '.join(labels)} read {side} with source {label} within {WITHIN.days} days, and with no other source. "
        f"That points at the source: look at {label} and its jig first. Tell the site lead."
    )


def _failures(site: Site) -> Iterator[Failure]:
    since = site.clock.now().utc - WITHIN
    ended, _ = site.journal.checkouts_found(since=since, ending="locked out", limit=MOST_LOOKED_AT)
    going = [row for row in site.journal.open_checkouts() if row.failed and row.last_utc >= since]
    failed = {row.checkout: row.instrument for row in ended if not row.withdrawn}
    failed |= {row.checkout: row.instrument for row in going}
    for checkout, instrument in failed.items():
        for source, event in uses_of(site, checkout):
            side = _side(event.body["finding"])
            if side is not None:
                yield Failure(source, side, instrument, event)


def _side(finding: dict[str, Any]) -> Side | None:
    """On which side of its limits a failed response was; None for any other finding, and where that cannot be said."""
    if finding.get("outcome") != "fail" or finding.get("kind") != "response":
        return None
    if finding.get("code") == "no-response":
        return "low"
    try:
        figures = {each["name"]: float(each["value"]) for each in finding.get("numbers", ())}
    except (KeyError, TypeError, ValueError):
        return None
    observed = figures.get("observed")
    low, high = (figures.get(f"accept_{side}", figures.get(side)) for side in ("low", "high"))
    if observed is None:
        return "high"  # off the end of the scale: no figure could be read
    if low is None or high is None:
        return None
    return "low" if observed < low else "high" if observed > high else None


def _said_good_since(site: Site, failure: Failure) -> bool:
    said = site.journal.about(failure.source, kinds=("source-condition",), limit=1)
    return bool(said) and said[0].body.get("condition") == "good" and said[0].stamp > failure.event.stamp
