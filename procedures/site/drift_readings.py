"""The readings of one instrument from its journal, as each was first found, with what makes older ones incomparable."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from procedures.findings import Finding, Number, Outcome, finding_from_json
from procedures.site.drift_views import Mark, MarkKind, Watched

if TYPE_CHECKING:
    from procedures.journal.envelope import Event
    from procedures.site.opening import Site

Stamp = tuple[tuple[int, int], str, str]

KINDS: Final = (
    "opened",
    "found",
    "withdrawn",
    "calibrated",
    "cleared",
    "repaired",
    "reference-recorded",
    "source-bound",
    "described",
)
_PARTS: Final = frozenset({"detector", "cable"})
_PAGE: Final = 1000

_FIGURES: Final[Mapping[str, tuple[Watched, str]]] = {
    "response": ("response", "ratio"),
    "battery": ("battery", "battery"),
    "zero": ("zero", "as-found"),
    "background": ("background", "background"),
}
"""For each kind of step that has a figure worth watching: what it is, and the name of its number."""


@dataclass(frozen=True, slots=True)
class Found:
    """One figure as found. `step_table` is its step as the profile of that day had it, `readings` what was typed."""

    stamp: Stamp
    at: datetime
    quantity: Watched
    step: str
    checkout: str
    value: float
    unit: str
    outcome: Outcome
    readings: tuple[str, ...]
    step_table: Mapping[str, Any]
    finding: Finding


@dataclass(frozen=True, slots=True)
class Break:
    """A mark with its place in the journal. `only` is the role it concerns, "" for the whole instrument."""

    stamp: Stamp
    mark: Mark
    only: str = ""


@dataclass(slots=True)
class Readings:
    """Everything that is charted of one instrument, in the journal's order."""

    found: list[Found] = field(default_factory=list)
    breaks: list[Break] = field(default_factory=list)
    withdrawn: set[str] = field(default_factory=set)
    unread: int = 0
    """Findings that this program cannot read."""


def readings_of(site: Site, instrument: str) -> Readings:
    """All readings and marks of an instrument."""
    into = Readings()
    steps: dict[str, Mapping[str, Mapping[str, Any]]] = {}
    seen: set[tuple[str, str]] = set()
    texts: dict[tuple[str, str], Mapping[str, Mapping[str, Any]]] = {}
    for event in reversed(list(_events(site, instrument))):
        body = event.body
        try:
            if event.kind == "opened":
                steps[event.hash] = _steps(site, body["profile"], texts)
            elif event.kind == "withdrawn":
                into.withdrawn.add(body["checkout"])
            elif event.kind != "found":
                into.breaks.extend(_breaks(event))
            elif (body["checkout"], body["step"]) not in seen:
                seen.add((body["checkout"], body["step"]))
                into.found.extend(_figures(event, steps.get(body["checkout"], {})))
        except (KeyError, TypeError, ValueError, AttributeError):
            into.unread += 1
    return into


def hasty_steps(site: Site, checkout: str) -> frozenset[str]:
    """The steps of a checkout in which an answer came faster than it can be read."""
    answered = site.journal.about(checkout, kinds=("answered",), limit=_PAGE)
    return frozenset(event.body["step"] for event in answered if event.body.get("hasty") is True)


def _events(site: Site, instrument: str) -> Iterator[Event]:
    """Newest first, a page at a time."""
    before: Event | None = None
    while page := site.journal.about(instrument, kinds=KINDS, limit=_PAGE, before=before):
        yield from page
        before = page[-1]


def _steps(
    site: Site, profile: Mapping[str, Any], known: dict[tuple[str, str], Mapping[str, Mapping[str, Any]]]
) -> Mapping[str, Mapping[str, Any]]:
    """The steps by id of the profile that a checkout ran by, as its adopted text says; none when it is not here.

    The text was proved when it was adopted, so plain TOML is enough, and no schema has to be loaded.
    """
    key = (profile["id"], profile["sha256"])
    if key not in known:
        texts = {each.sha256: each.text for each in site.journal.profile_now(key[0]).adoptions}
        tables = tomllib.loads(texts.get(key[1], "")).get("step", [])
        known[key] = {table["id"]: table for table in tables}
    return known[key]


def _figures(event: Event, steps: Mapping[str, Mapping[str, Any]]) -> Iterator[Found]:
    if event.version != 1:
        raise ValueError("a newer version of found")
    finding = finding_from_json(event.body["finding"])
    if finding.kind not in _FIGURES:
        return
    quantity, name = _FIGURES[finding.kind]
    figure = _number(finding, name)
    if figure is None:
        return
    value = float(figure.value)
    if not math.isfinite(value):
        raise ValueError(figure.value)
    yield Found(
        stamp=event.stamp,
        at=event.utc,
        quantity=quantity,
        step=finding.step,
        checkout=event.body["checkout"],
        value=value,
        unit=figure.unit,
        outcome=finding.outcome if finding.as_found is None else finding.as_found.outcome,
        readings=tuple(each.value for each in finding.numbers if each.name.startswith("reading_")),
        step_table=steps.get(finding.step, {}),
        finding=finding,
    )


def _number(finding: Finding, name: str) -> Number | None:
    """A number as found before anything was adjusted, else as the finding has it."""
    as_found = () if finding.as_found is None else finding.as_found.numbers
    return next((each for each in as_found if each.name == name), None) or finding.number(name)


def _breaks(event: Event) -> Iterator[Break]:
    """The mark that an event sets, if it sets one."""
    body = event.body

    def mark(kind: MarkKind, say: str, only: str = "") -> Break:
        return Break(event.stamp, Mark(event.utc, kind, say), only)

    match event.kind:
        case "calibrated":
            yield mark("calibrated", f"Calibrated on {body['on']}")
        case "repaired":
            yield mark("repaired", str(body["what"]))
        case "cleared":
            yield mark("repaired", str(body["action"]) or str(body["cause"]))
        case "reference-recorded":
            yield mark("new reference", f"Reference reading {body['value']}", str(body["role"]))
        case "source-bound":
            yield mark("new source", "Another source or jig", str(body["role"]))
        case "described" if not _PARTS.isdisjoint(body["set"]):
            yield mark("parts changed", "Detector or cable changed")
