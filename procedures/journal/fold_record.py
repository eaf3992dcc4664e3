"""From the events of one checkout to its line in the records: who checked what, when, and how it ended."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from procedures.journal.envelope import Event
from procedures.journal.events import body_of, failed
from procedures.journal.states import CheckoutRecord

RECORDED_BY: Final = ("opened", "resumed", "found", "failed-by-judgement", "ended", "withdrawn")
"""Kinds that decide what stands in the line."""

_WORST_FIRST: Final = ("locked out", "not checked", "abandoned", "fit for use")


def fold_record(events: Iterable[Event]) -> CheckoutRecord | None:
    """One checkout, ended or not; None where its opening is not among the events or cannot be read.

    Where two programs ended it, the worse ending stands. Its codes are those of its endings; of its failures while it
    has none. Its person is who took it over last.
    """
    known = [
        (event, body)
        for event in sorted(set(events), key=lambda one: one.stamp)
        if event.kind in RECORDED_BY and (body := body_of(event)) is not None
    ]
    opening = next(((event, body) for event, body in known if event.kind == "opened"), None)
    if opening is None:
        return None
    opened, said = opening
    mine = [(event, body) for event, body in known if body.get("checkout") == opened.hash]
    endings = [(event, body) for event, body in mine if event.kind == "ended"]
    ended = min(endings, key=lambda one: _WORST_FIRST.index(one[1]["ending"]), default=None)
    taken_over = [event.person for event, body in mine if event.kind == "resumed" and not body["same_person"]]
    return CheckoutRecord(
        checkout=opened.hash,
        instrument=said["instrument"],
        person=taken_over[-1] if taken_over else opened.person,
        station=opened.station,
        opened=opened.utc,
        ended=None if ended is None else ended[0].utc,
        ending="" if ended is None else ended[1]["ending"],
        codes=tuple(dict.fromkeys(code for event, body in endings or mine for code in _codes(event, body))),
        withdrawn=any(event.kind == "withdrawn" for event, _ in mine),
    )


def _codes(event: Event, body: Mapping[str, Any]) -> list[str]:
    match event.kind:
        case "ended":
            return [reason["code"] for reason in body["reasons"]]
        case "failed-by-judgement":
            return [body["code"]]
        case "found" if failed(body["finding"]):
            return [body["finding"]["code"] or body["finding"]["step"]]
    return []
