"""Uses in doubt: which hand-outs have to be looked at again when an instrument is found failing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from procedures.journal.envelope import Event
from procedures.journal.events import body_of, failed_as_found
from procedures.journal.lineage import UNFORKED, Lineage


@dataclass(frozen=True, slots=True)
class Doubt:
    """A failure, the last good check of its kind before it (None: there never was one), and the uses between."""

    cause: Event
    kind: str
    """Kind of step that failed, or "calibration"; "" where a person failed it and the record does not say."""
    since: Event | None
    uses: tuple[Event, ...]
    """`handed-out` events, oldest first."""


def uses_in_doubt(events: Iterable[Event], *, lineage: Lineage = UNFORKED) -> tuple[Doubt, ...]:
    """One Doubt for each failure among the events of one instrument that puts a use in doubt, oldest first.

    Wanted are its `opened`, `found`, `failed-by-judgement`, `withdrawn`, `handed-out` and `calibrated` events. A use is
    left out only where a good check is known to have begun after it, or its writer knew of the failure. Between
    stations "last" goes by the logical clock.
    """
    ordered = [
        (event, body)
        for event in sorted(set(events), key=lambda one: one.stamp)
        if (body := body_of(event)) is not None
    ]
    openings = {event.hash: event for event, _ in ordered if event.kind == "opened"}
    void = {body["checkout"] for event, body in ordered if event.kind == "withdrawn"}
    uses = [event for event, _ in ordered if event.kind == "handed-out"]
    doubts = []
    for cause, body in ordered:
        kind = _failed_kind(cause, body)
        if kind is None:
            continue
        spent = void if cause.kind == "calibrated" else void | {body["checkout"]}
        good = [
            event
            for event, said in ordered
            if event.stamp < cause.stamp and _good_kind(event, said) == kind and said.get("checkout") not in spent
        ]
        began = [openings.get(event.body.get("checkout", ""), event) for event in reversed(good)]
        in_doubt = tuple(use for use in uses if not _spared(use, cause, began, lineage))
        if in_doubt:
            doubts.append(Doubt(cause, kind, good[-1] if good else None, in_doubt))
    return tuple(doubts)


def _failed_kind(event: Event, body: Mapping[str, Any]) -> str | None:
    if event.kind == "found" and failed_as_found(body["finding"]):
        return str(body["finding"]["kind"])
    if event.kind == "failed-by-judgement":
        # Where it does not say of which kind, no good check is known to have spoken for it.
        return str(body.get("kind", ""))
    if event.kind == "calibrated" and body["as_found"] == "outside":
        return "calibration"
    return None


def _good_kind(event: Event, body: Mapping[str, Any]) -> str | None:
    if (
        event.kind == "found"
        and body["finding"]["outcome"] in ("pass", "warn")
        and not failed_as_found(body["finding"])
    ):
        return str(body["finding"]["kind"])
    if event.kind == "calibrated" and body["as_found"] == "within":
        return "calibration"
    return None


def _spared(use: Event, cause: Event, began: Sequence[Event], lineage: Lineage) -> bool:
    """Whether a use is not in doubt: a good check began after it, or it began knowing of the failure."""
    return lineage.saw(use, cause) or any(lineage.saw(check, use) for check in began)
