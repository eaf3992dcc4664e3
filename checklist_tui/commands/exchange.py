"""`checklist-tui exchange`: records of several laptops brought together by a file on a stick."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from checklist_tui import output
from checklist_tui.at_site import folder_named, open_named
from checklist_tui.parsing import Parser

if TYPE_CHECKING:
    from procedures.site.exchange import Given, Received

Run = Callable[[argparse.Namespace], int]

TOLD: Final[Mapping[str, tuple[str, str]]] = {
    "opened": ("checkout", "checkouts"),
    "locked-out": ("lockout by hand", "lockouts by hand"),
    "cleared": ("clearing", "clearings"),
    "readiness-ended": ("readiness ended", "readinesses ended"),
    "handed-out": ("hand-out", "hand-outs"),
    "calibrated": ("calibration", "calibrations"),
    "reference-recorded": ("reference reading", "reference readings"),
    "profile-adopted": ("adoption of a profile", "adoptions of profiles"),
    "registered": ("thing or person registered", "things and people registered"),
}
"""Kinds of record that are counted by name; the others are in the sum."""


def configure(parser: Parser) -> None:
    """Add what can be done with an exchange file."""
    parser.set_example(
        "checklist-tui exchange out stick/north.exchange\nchecklist-tui exchange in stick/north.exchange\n"
        "checklist-tui exchange join stick/north.exchange --data site --name 'second laptop'"
    )
    kinds = parser.add_subparsers(title="actions", metavar="ACTION", dest="action", required=True, parser_class=Parser)

    def add(name: str, about: str, example: str, run: Run) -> argparse.ArgumentParser:
        one: argparse.ArgumentParser = kinds.add_parser(name, help=about, description=about, example=example)
        one.add_argument("file", metavar="FILE", help="the exchange file")
        one.add_argument(
            "--data",
            metavar="DIR",
            default=argparse.SUPPRESS,
            help="folder of the site's records (default: this user's own)",
        )
        one.add_argument("--json", action="store_true", help="one JSON object on standard output")
        one.set_defaults(run=run)
        return one

    out = add(
        "out",
        "write the records that another laptop has not",
        "checklist-tui exchange out north.exchange --since south.exchange",
        run_out,
    )
    out.add_argument(
        "--since", metavar="FILE", help="any exchange file of the other laptop: what it had is left out (default: all)"
    )
    about = "write what this laptop has, in few words, for --since on the other one"
    add("heads", about, "checklist-tui exchange heads south.exchange", run_heads)
    add("in", "take the records of another laptop in", "checklist-tui exchange in north.exchange", run_in)
    join = add(
        "join",
        "begin a new laptop of a site from its exchange file",
        "checklist-tui exchange join north.exchange --data site --name 'second laptop'",
        run_join,
    )
    join.add_argument("--name", metavar="NAME", required=True, help="what people call this laptop")


def run_out(given: argparse.Namespace) -> int:
    """Write the file and say how much is in it."""
    from procedures.site import exchange

    since = Path(given.since) if given.since is not None else None
    with open_named(given.data) as site:
        return _tell_given(exchange.exchange_out(site, Path(given.file), since=since), as_json=given.json)


def run_heads(given: argparse.Namespace) -> int:
    """Write a file without records."""
    from procedures.site import exchange

    with open_named(given.data) as site:
        return _tell_given(exchange.exchange_heads(site, Path(given.file)), as_json=given.json)


def run_in(given: argparse.Namespace) -> int:
    """Take the file in and say what came of it."""
    from procedures.site import exchange

    with open_named(given.data) as site:
        received = exchange.exchange_in(site, Path(given.file))
    return _tell_received(received, [], as_json=given.json)


def run_join(given: argparse.Namespace) -> int:
    """Begin this laptop with the records of the file."""
    from procedures.site import exchange
    from procedures.site.system import SystemClock, new_station_id

    folder = folder_named(given.data)
    received = exchange.join(
        Path(given.file), folder, SystemClock(), station=new_station_id(), name=output.clean(given.name).strip()
    )
    return _tell_received(received, [f"Joined: {folder} holds the records of the site now."], as_json=given.json)


def _tell_given(made: Given, *, as_json: bool) -> int:
    if as_json:
        output.write_json({"ok": True, "file": str(made.path), "events": made.events, "whole": made.whole})
        return output.OK
    what = "all records: " if made.whole else ""
    output.write(f"Written: {made.path}, {what}{_number(made.events, 'record', 'records')}. Let the stick finish.")
    return output.OK


def _tell_received(received: Received, first: list[str], *, as_json: bool) -> int:
    if as_json:
        output.write_json(to_json(received))
    else:
        output.write("\n".join([*first, *lines(received)]))
    return output.OK


def lines(received: Received) -> Iterator[str]:
    """What came of a file that was taken in, in words."""
    who = received.station_name or received.station
    yield f"From {who}, as of {received.written:%Y-%m-%d %H:%M} UTC."
    yield f"New: {_number(received.added, 'record', 'records')}. Here already: {received.known:,}."
    named = [_number(received.kinds[kind], *words) for kind, words in TOLD.items() if received.kinds.get(kind)]
    if named:
        yield f"Among the new: {', '.join(named)}."
    if received.locked:
        yield f"LOCKED OUT now: {', '.join(received.locked)}."
    yield from (each.words for each in received.call_back)
    yield from (f"WITHDRAWN now: {each}." for each in received.withdrawn)
    for doubt in received.doubts:
        yield f"IN DOUBT now: {_number(doubt.uses, 'use', 'uses')} of {doubt.label}."
    yield from _waiting_lines(received)
    for fork in received.forks:
        yield (
            f"COPIED: a copy of the records of station {fork.station} was used beside them from event {fork.seq} on. "
            "Both parts are kept. Tell the site lead."
        )
    for label in received.shared:
        yield (
            f"LABEL TWICE: {label.label} is on {len(label.what)} things ({', '.join(label.what)}). None of them may be "
            "used by it until the site lead has given all but one another label."
        )
    for profile in received.apart:
        yield f"ADOPTED APART: {profile.profile}. None is in force until the site lead adopts the one that counts:"
        yield from (f"  {revision}" for revision in profile.revisions)
    if received.lacking:
        yield (
            f"That laptop had not {_number(received.lacking, 'record', 'records')} of those here when it wrote: give "
            "it a file too."
        )


def _waiting_lines(received: Received) -> Iterator[str]:
    gaps = [one for one in received.waiting if one.why == "gap"]
    future = [one for one in received.waiting if one.why == "future"]
    if gaps:
        stations = ", ".join(sorted({one.station for one in gaps}))
        yield (
            f"WAITING: {_number(len(gaps), 'record', 'records')} of {stations} for others that have not arrived. What "
            "they are about is not fit for use meanwhile. Take the missing file in."
        )
    if future:
        yield (
            f"WAITING: {_number(len(future), 'record is', 'records are')} of a time that has not come by the clock of "
            "this laptop. Look which clock is wrong."
        )


def _number(count: int, one: str, more: str) -> str:
    return f"{count:,} {one if count == 1 else more}"


def to_json(received: Received) -> dict[str, Any]:
    """What came of a file as JSON. Moments are UTC."""
    return {
        "ok": True,
        "station": received.station,
        "station_name": received.station_name,
        "written": received.written.isoformat(),
        "added": received.added,
        "known": received.known,
        "kinds": dict(received.kinds),
        "locked_out": list(received.locked),
        "call_back": [each.words for each in received.call_back],
        "withdrawn": list(received.withdrawn),
        "in_doubt": [{"label": one.label, "uses": one.uses} for one in received.doubts],
        "waiting": [{"station": one.station, "seq": one.seq, "why": one.why} for one in received.waiting],
        "forks": [{"station": one.station, "seq": one.seq} for one in received.forks],
        "labels_twice": [{"label": one.label, "what": list(one.what)} for one in received.shared],
        "adopted_apart": [{"profile": one.profile, "revisions": list(one.revisions)} for one in received.apart],
        "lacking_there": received.lacking,
    }
