"""Checkouts of one instrument, the lockouts they and people made, and the passes that close them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from procedures.journal.envelope import Event, local_day
from procedures.journal.events import CHECKOUT_KINDS, clock_suspect, failed
from procedures.journal.lineage import Lineage
from procedures.journal.moments import utc_moment
from procedures.journal.states import Lockout, Pass, Reason, Status

Readable = tuple[Event, Mapping[str, Any]]
"""An event with its body in the form this program knows."""


@dataclass(slots=True)
class Checkout:
    """The weighty events of one checkout while a fold reads them."""

    id: str
    opened: Event | None = None
    clearings: tuple[str, ...] = ()
    failures: list[Readable] = field(default_factory=list)
    judgements: list[Readable] = field(default_factory=list)
    ended: list[Readable] = field(default_factory=list)
    withdrawn: bool = False
    spoilt: bool = False
    """Something of it cannot be read, or was written under a clock that is not believed."""
    events: set[Event] = field(default_factory=set)

    @property
    def over(self) -> bool:
        return bool(self.ended) or self.withdrawn

    def standing_failures(self, lineage: Lineage) -> list[Readable]:
        """What locks the instrument out: a failed finding is excused only by an ending that had seen it and was fit.

        A failure by judgement is never excused, nor anything in a checkout that was withdrawn: its passes, which could
        have shown that a remedy helped, belong to another instrument.
        """
        fit = [event for event, body in self.ended if body["ending"] == "fit for use"]
        found = [
            one for one in self.failures if self.withdrawn or not any(lineage.saw(ending, one[0]) for ending in fit)
        ]
        return found + self.judgements + [one for one in self.ended if one[1]["ending"] == "locked out"]


def checkouts_of(instrument: str, readable: Iterable[Readable], unreadable: Iterable[Event]) -> dict[str, Checkout]:
    """The checkouts that these events belong to, by id."""
    found: dict[str, Checkout] = {}
    for event, body in readable:
        if event.kind == "opened" and body["instrument"] == instrument:
            one = found.setdefault(event.hash, Checkout(event.hash))
            one.opened, one.clearings = event, tuple(body["clearings"])
        elif event.kind in CHECKOUT_KINDS:
            one = found.setdefault(body["checkout"], Checkout(body["checkout"]))
            _enter(one, event, body)
        else:
            continue
        one.events.add(event)
        one.spoilt = one.spoilt or clock_suspect(event)
    for event in unreadable:
        for name in {*event.about, event.hash, str(event.body.get("checkout"))} & found.keys():
            found[name].spoilt = True
    return found


def _enter(checkout: Checkout, event: Event, body: Mapping[str, Any]) -> None:
    match event.kind:
        case "found" if failed(body["finding"]):
            checkout.failures.append((event, body))
        case "failed-by-judgement":
            checkout.judgements.append((event, body))
        case "ended":
            checkout.ended.append((event, body))
        case "withdrawn":
            checkout.withdrawn = True


def passes_of(checkouts: Mapping[str, Checkout], lineage: Lineage) -> dict[str, Pass]:
    """Checkouts that are good as a pass by themselves: one ending, fit for use, nothing spoilt, no failure standing."""
    found = {}
    for one in checkouts.values():
        if one.opened is None or one.withdrawn or one.spoilt or len(one.ended) != 1 or one.standing_failures(lineage):
            continue
        event, body = one.ended[0]
        if body["ending"] != "fit for use" or not lineage.saw(event, one.opened):
            continue
        until = body["ready_until"]
        found[one.id] = Pass(
            checkout=one.id,
            ended=event.hash,
            when=event.utc,
            person=event.person,
            fit_for=body["fit_for"],
            ready_until=None if until is None else utc_moment(until),
            warnings=tuple(body["warnings"]),
            factor=body["factor"],
        )
    return found


@dataclass(frozen=True, slots=True)
class _Made:
    """A lockout as it was made, before it is asked whether it was closed."""

    id: str
    by: Sequence[Readable]


def lockouts_of(
    readable: Sequence[Readable], checkouts: Mapping[str, Checkout], passes: Mapping[str, Pass], lineage: Lineage
) -> tuple[Lockout, ...]:
    """Every lockout there ever was, oldest first, each with what became of it."""
    made = [_Made(event.hash, [(event, body)]) for event, body in readable if event.kind == "locked-out"]
    for one in checkouts.values():
        standing = one.standing_failures(lineage)
        if standing:
            made.append(_Made(one.id, sorted(standing, key=lambda each: each[0].stamp)))
    made.sort(key=lambda each: each.by[0][0].stamp)
    cleared = [(event, body) for event, body in readable if event.kind == "cleared"]
    calibrated = [(event, str(body["on"])) for event, body in readable if event.kind == "calibrated"]
    goods = [checkouts[name] for name in passes]
    return tuple(_judged(one, checkouts, cleared, calibrated, goods, lineage) for one in made)


def _judged(
    made: _Made,
    checkouts: Mapping[str, Checkout],
    cleared: Sequence[Readable],
    calibrated: Sequence[tuple[Event, str]],
    goods: Sequence[Checkout],
    lineage: Lineage,
) -> Lockout:
    """A clearing must name the lockout and have seen all of it; a pass must name that clearing and have seen both."""
    naming = [
        one
        for one in cleared
        if made.id in one[1]["lockouts"] and all(lineage.saw(one[0], each) for each, _ in made.by)
    ]
    closed_by = next(
        (
            good.id
            for good in goods
            for clearing in naming
            if clearing[0].hash in good.clearings
            and _closes(good.opened, clearing, calibrated, lineage)
            and all(good.opened is not None and lineage.saw(good.opened, each) for each, _ in made.by)
        ),
        None,
    )
    status: Status = "closed" if closed_by else "awaiting check" if naming else "open"
    first = _since(made, checkouts.get(made.id))
    return Lockout(
        id=made.id,
        reasons=_reasons(made, checkouts.get(made.id)),
        when=first.utc,
        by=first.person,
        tag=next((body["tag"] for _, body in made.by if body.get("tag")), ""),
        status=status,
        clearings=tuple(event.hash for event, _ in naming),
        closed_by=closed_by,
    )


def _since(made: _Made, checkout: Checkout | None) -> Event:
    """What locked it out: the ending that says so where there is one. A failure before it may have been put right."""
    endings = [] if checkout is None else [event for event, body in checkout.ended if body["ending"] == "locked out"]
    return endings[0] if endings else made.by[0][0]


def _closes(
    opening: Event | None, clearing: Readable, calibrated: Sequence[tuple[Event, str]], lineage: Lineage
) -> bool:
    """Whether a checkout opened thus may make good on a clearing: after its waiting time, and calibrated if need be.

    A certificate that was recorded by somebody who had not heard of the clearing counts by its day.
    """
    event, body = clearing
    if opening is None or not lineage.saw(opening, event):
        return False
    if body["not_before"] is not None and opening.utc < utc_moment(body["not_before"]):
        return False
    return not body["calibration_needed"] or any(
        lineage.saw(opening, one)
        and not lineage.saw(event, one)
        and (lineage.saw(one, event) or on >= local_day(event))
        for one, on in calibrated
    )


def _reasons(made: _Made, checkout: Checkout | None) -> tuple[Reason, ...]:
    """The codes of the ending where there is one, of the failures themselves otherwise."""
    endings = [] if checkout is None else [body for _, body in checkout.ended if body["ending"] != "fit for use"]
    listed = [reason for body in endings for reason in body["reasons"]]
    for event, body in () if listed else made.by:
        if event.kind == "found":
            finding = body["finding"]
            listed.append({"code": finding["code"] or finding["step"], "say": str(finding.get("say", ""))})
        elif event.kind == "failed-by-judgement":
            listed.append(body)
        else:
            listed.extend(body["reasons"])
    found = tuple(dict.fromkeys(Reason(each["code"], each["say"]) for each in listed))
    return found or (Reason("locked-out", ""),)
