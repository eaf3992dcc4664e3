"""What an event had seen: the one order between stations that the folds trust.

A station's events follow each other by sequence; what it knew of other stations stands in `seen`. Only where the chain
of a station has forked (a file was copied and both copies wrote on) does a sequence number mean two events: there the
branches are told apart by hash.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from procedures.journal.envelope import Event


@dataclass(frozen=True, slots=True)
class Branch:
    """One branch of a forked station: where it left which other branch."""

    parent: int | None
    begins: int


@dataclass(frozen=True, slots=True)
class Lineage:
    """The branches of forked stations, and where on them the events lie that a fold asks about.

    The store only takes an event in when all that it had seen is there, so outside forked stations a sequence number
    names one event.
    """

    forked: frozenset[str] = frozenset()
    branches: Mapping[int, Branch] = field(default_factory=dict)
    places: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    """Hash → branch and sequence, for events of forked stations and for heads of theirs that were seen."""

    def saw(self, later: Event, earlier: Event) -> bool:
        """Whether the writer of `later` had `earlier` before them. In doubt: no.

        An event that carries no `seen` vouches for its own station alone.
        """
        if later == earlier:
            return False
        if earlier.station not in self.forked:
            if later.station == earlier.station:
                return earlier.seq < later.seq
            head = (later.seen or {}).get(earlier.station)
            return head is not None and head[0] >= earlier.seq
        tips = [later.hash] if later.station == earlier.station else []
        seen = later.seen or {}
        tips += [hashed for name, (_, hashed) in seen.items() if name.partition("#")[0] == earlier.station]
        return any(self._holds(tip, earlier.hash) for tip in tips)

    def _holds(self, tip: str, hashed: str) -> bool:
        """Whether the branch that ends at `tip` holds the event with this hash."""
        if tip not in self.places or hashed not in self.places:
            return False
        branch, last = self.places[tip]
        wanted, seq = self.places[hashed]
        at: int | None = branch
        while at is not None:
            if at == wanted:
                return seq <= last
            last = min(last, self.branches[at].begins - 1)
            at = self.branches[at].parent
        return False


UNFORKED = Lineage()
"""No station forked: the usual case."""
