"""Sessions of practice that are over, as they were written down: lists and the class are told from these."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from procedures.site.practising import keeping

if TYPE_CHECKING:
    from procedures.journal.envelope import Event
    from procedures.site.opening import Site

MOST: Final = 2_000
"""Sessions that the class is told from: the newest."""


@dataclass(frozen=True, slots=True)
class Done:
    """A session that is over, as it was written down."""

    event: Event

    @property
    def body(self) -> Mapping[str, Any]:
        return self.event.body

    @property
    def trainee(self) -> str:
        return str(self.body["trainee"])

    @property
    def passed(self) -> bool:
        return bool(self.body["score"]["passed"])

    @property
    def worst(self) -> bool:
        """Whether a faulty instrument was called fit for use."""
        return bool(self.body["score"]["worst"])

    @property
    def percent(self) -> float:
        return float(self.body["score"]["percent"])

    @property
    def missed(self) -> bool:
        """Whether its fault was there to be found and was not."""
        return any(
            line["name"] == "fault" and line["possible"] > line["gained"] for line in self.body["score"]["lines"]
        )

    def found(self, kind: str) -> bool | None:
        """Whether this kind of fault was found; None where it had none of it, or none that its checkout shows."""
        if kind not in self.body["faults"] or not self.body["first"]:
            return None
        return not self.missed


def done(site: Site, about: str = "", *, limit: int = MOST) -> tuple[Done, ...]:
    """Sessions that are over, newest first; those of one trainee or exam, or all."""
    if about:
        return tuple(Done(each) for each in site.journal.about(about, kinds=(keeping.ENDED,), limit=limit))
    found, _ = site.journal.happened((keeping.ENDED,), limit=limit)
    return tuple(Done(each) for each in found)
