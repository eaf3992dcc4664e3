"""The readings of one instrument from its journal, as each was first found, with what makes older ones incomparable."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from procedures.findings import Finding, Number, Outcome, finding_from_json
from procedures.site.drift_views import Mark, MarkKind, Watched

if TYPE_CHECKING:
    from procedures.journal.envelope import Event
    from procedures.site.opening import Site

Stamp = tuple[tuple[int, int], str, str]

_CHECKS: Final = ("opened", "found")
_BEGINS_ANEW: Final = ("calibrated", "cleared", "repaired", "reference-recorded", "source-bound", "described")
_PARTS: Final = frozenset({"detector", "cable"})
LOOKED_AT: Final = 1500
"""Openings and findings that are read for one chart: some hundred and fifty checkouts."""
_PAGE: Final = 200

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
    """A mark with the event that set it. `only` is the role it concerns, "" for the whole instrument."""

    event: Event
    mark: Mark
    only: str = ""

    @property
    def stamp(self) -> Stamp:
        return self.event.stamp


@dataclass(slots=True)
class Readings:
    """What is charted of one instrument, in the journal's order."""

    found: list[Found] = field(default_factory=list)
    breaks: list[Break] = field(default_factory=list)
    withdrawn: set[str] = field(default_factory=set)
    roles: set[str] = field(default_factory=set)
    """Of the sources that were ever bound to it."""
    unread: int = 0
    """Findings that this program cannot read."""
    oldest: Event | None = None
    """The opening that was read last, where older checkouts were left out."""


class Reader:
    """Reads the checkouts of one instrument, whatever part of them is asked for, and each profile once."""

    def __init__(self, site: Site, instrument: str) -> None:
        self._site, self._instrument = site, instrument
        self._texts: dict[tuple[str, str], Mapping[str, Mapping[str, Any]]] = {}

    def newest(self, before: Event | None = None) -> Readings:
        """The newest readings, those older than `before`, and every mark before them."""
        into = Readings()
        journal = self._site.journal
        page = journal.about(self._instrument, kinds=_CHECKS, limit=LOOKED_AT, before=before)
        openings = [place for place, event in enumerate(page) if event.kind == "opened"]
        if len(page) == LOOKED_AT and openings:
            page = page[: openings[-1] + 1]
            into.oldest = page[-1]
        for event in journal.about(self._instrument, kinds=("withdrawn",), limit=-1):
            into.withdrawn.add(str(event.body.get("checkout")))
        for event in reversed(journal.about(self._instrument, kinds=_BEGINS_ANEW, limit=-1, before=before)):
            try:
                into.breaks.extend(_breaks(event))
                into.roles |= {str(event.body["role"])} if event.kind == "source-bound" else set()
            except (KeyError, TypeError, ValueError, AttributeError):
                into.unread += 1
        self._read(reversed(page), into)
        return into

    def first(self, since: Break | None, until: Event, wanted: Callable[[Found], bool], most: int) -> list[Found]:
        """The first readings that are `wanted` after a mark, or of all, and before `until`; at most so many."""
        into = Readings()
        after = None if since is None else since.event
        kept: list[Found] = []
        while len(kept) < most and (
            page := self._site.journal.about(
                self._instrument, kinds=_CHECKS, limit=_PAGE, after=after, oldest_first=True
            )
        ):
            into.found.clear()
            self._read((event for event in page if event.stamp < until.stamp), into)
            kept += [each for each in into.found if wanted(each)]
            after = page[-1]
            if after.stamp >= until.stamp:
                break
        return kept[:most]

    def _read(self, events: Iterable[Event], into: Readings) -> None:
        """Figures of checkouts, oldest first; of each step its first visit, as it was found."""
        steps: dict[str, Mapping[str, Mapping[str, Any]]] = {}
        seen: set[tuple[str, str]] = set()
        for event in events:
            body = event.body
            try:
                if event.kind == "opened":
                    steps[event.hash] = self._steps(body["profile"])
                elif (body["checkout"], body["step"]) not in seen:
                    seen.add((body["checkout"], body["step"]))
                    into.found.extend(_figures(event, self._steps_of(body["checkout"], steps)))
            except (KeyError, TypeError, ValueError, AttributeError):
                into.unread += 1

    def _steps_of(
        self, checkout: str, known: dict[str, Mapping[str, Mapping[str, Any]]]
    ) -> Mapping[str, Mapping[str, Any]]:
        """The steps that a checkout ran by, also of one that was opened before what was read."""
        if checkout not in known:
            opened = self._site.journal.by_hash(checkout)
            known[checkout] = {} if opened is None else self._steps(opened.body["profile"])
        return known[checkout]

    def _steps(self, profile: Mapping[str, Any]) -> Mapping[str, Mapping[str, Any]]:
        """The steps by id of the profile that a checkout ran by, as its adopted text says; none when it is not here.

        The text was proved when it was adopted, so plain TOML is enough, and no schema has to be loaded.
        """
        key = (profile["id"], profile["sha256"])
        if key not in self._texts:
            texts = {each.sha256: each.text for each in self._site.journal.profile_now(key[0]).adoptions}
            tables = tomllib.loads(texts.get(key[1], "")).get("step", [])
            self._texts[key] = {table["id"]: table for table in tables}
        return self._texts[key]


def hasty_steps(site: Site, checkout: str) -> frozenset[str]:
    """The steps of a checkout in which an answer came faster than it can be read."""
    answered = site.journal.about(checkout, kinds=("answered",), limit=-1)
    return frozenset(event.body["step"] for event in answered if event.body.get("hasty") is True)


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
        return Break(event, Mark(event.utc, kind, say), only)

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
