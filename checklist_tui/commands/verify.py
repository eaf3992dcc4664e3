"""`checklist-tui verify`: are the records as they were written, do the tables say the same, does each checkout hold."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final

from checklist_tui import output
from checklist_tui.at_site import records_named
from checklist_tui.parsing import Parser

if TYPE_CHECKING:
    from procedures.site.verification import Judged, Verification

MOST: Final = 25
"""Lines of one sort that are printed; --json gives all."""

ONLY_ELSEWHERE: Final = (
    "Only a head that was kept elsewhere (on paper, on another laptop) shows that the end of a chain was cut off,",
    "or that everything was written anew. Keep these, and give one later with --head:",
)


def configure(parser: Parser) -> None:
    """Add the options."""
    parser.set_example(
        "checklist-tui verify\nchecklist-tui verify --data /srv/site --json\n"
        f"checklist-tui verify --head 4f2a90c1d7e8b355:1031:{'0123456789abcdef' * 4}"
    )
    parser.add_argument(
        "--data",
        metavar="DIR",
        default=argparse.SUPPRESS,
        help="folder of the site's records (default: this user's own)",
    )
    parser.add_argument(
        "--head",
        metavar="STATION:SEQ:HASH",
        action="append",
        default=[],
        help="a head that was kept elsewhere; may be given more than once",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object on standard output")
    parser.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Print what was found. Exit 0 when the records are sound, else 1."""
    from procedures.site import verification

    folder, marking = records_named(given.data)
    kept = [verification.read_head(each) for each in given.head]
    found = verification.verify_site(folder, marking, kept=kept, processes=verification.to_spare())
    if given.json:
        output.write_json(to_json(found))
    else:
        output.write("\n".join(lines(found)))
    return output.OK if found.sound else output.NOT_AS_EXPECTED


def lines(found: Verification) -> Iterator[str]:
    """The verification in words."""
    yield from _first_lines(found)
    if found.marking != "real":
        yield f"These are {found.marking} records."
    yield from _listed("Faults of the file", found.file)
    yield from _chain_lines(found)
    yield from _table_lines(found)
    yield from _checkout_lines(found)
    if found.waiting:
        yield f"{_number(found.waiting, 'event waits', 'events wait')} for others that have not arrived."
    for fork in found.forks:
        yield f"A copied file was used beside its original: the chain of station {fork} divides. Both parts are kept."
    yield from ONLY_ELSEWHERE
    for station, (seq, hashed) in found.heads.items():
        yield f"  {station}:{seq}:{hashed}"


def _first_lines(found: Verification) -> Iterator[str]:
    """Whether all is well, and whether it is the records that are damaged or only what is drawn from them."""
    if found.sound:
        yield "SOUND."
    elif found.only_lists:
        yield "NOT SOUND. THE RECORDS ARE WHOLE: none was altered or lost. LISTS DRAWN FROM THEM ARE DAMAGED."
        yield "Do: trust no list on this laptop, and use nothing because it says READY here. Tell the site lead."
        yield "“checklist-tui backup FILE”, then “checklist-tui restore FILE” into a new folder, makes the lists anew."
    else:
        yield "NOT SOUND. Keep the file as it is and tell the site lead."
        if found.file or found.changed:
            yield "RECORDS ARE DAMAGED. Do: keep every older backup; use nothing before the site lead has decided."


def _chain_lines(found: Verification) -> Iterator[str]:
    said = f"Chains: {_number(found.events, 'event')} of {_number(len(found.heads), 'chain')}"
    if found.against:
        said += f", held against {_number(found.against, 'head')} kept elsewhere"
    if not found.changed:
        yield f"{said}: none altered, none missing before the newest."
        return
    yield f"{said}."
    events = [
        f"station {one.station}, event {one.seq}{f', {one.kind}' if one.kind else ''}"
        f"{f', {one.when}' if one.when else ''}: {one.what}"
        for one in found.changed
    ]
    yield from _listed("ALTERED", events)


def _table_lines(found: Verification) -> Iterator[str]:
    if found.tables:
        yield from _listed("LISTS (tables) that are not as the records say", found.tables)
    elif found.compared:
        yield "Lists (tables and index): as the records say."
    else:
        yield f"Lists (tables and index): not compared; {found.not_compared or 'the file could not be read so far'}."


def _checkout_lines(found: Verification) -> Iterator[str]:
    judged = f"Judged again: {_number(found.judged, 'checkout')}"
    if found.judged_on_paper:
        judged += f", {found.judged_on_paper:,} on paper"
    if not (found.own or found.today or found.unjudged):
        if found.judged or found.judged_on_paper or found.compared:
            yield f"{judged}, each as recorded."
        else:
            yield "Judged again: none; that needs events that can be read."
        return
    yield f"{judged}."
    yield from _listed("NOT WHAT ITS OWN VERSION FINDS", _judged(found.own))
    yield from _listed("WOULD COME OUT OTHERWISE TODAY", _judged(found.today))
    yield from _listed("COULD NOT BE JUDGED AGAIN", _judged(found.unjudged))


def _judged(rows: Sequence[Judged]) -> list[str]:
    return [f"{row.instrument or 'unknown instrument'}, {_which(row)}: {what}" for row in rows for what in row.what]


def _which(row: Judged) -> str:
    if row.on_paper:
        return f"check on paper of {row.when}, typed in as event {row.seq} of station {row.station}"
    return f"checkout opened {row.when} as event {row.seq} of station {row.station}"


def _listed(title: str, said: Sequence[str]) -> Iterator[str]:
    if not said:
        return
    yield f"{title} ({len(said)}):"
    yield from (f"  {line}" for line in said[:MOST])
    if len(said) > MOST:
        yield f"  and {len(said) - MOST} more; --json lists all."


def _number(count: int, one: str, more: str = "") -> str:
    return f"{count:,} {one if count == 1 else more or one + 's'}"


def to_json(found: Verification) -> dict[str, Any]:
    """The verification as JSON. Moments are UTC."""
    return {
        "ok": True,
        "sound": found.sound,
        "marking": found.marking,
        "events": found.events,
        "file": list(found.file),
        "altered": [
            {"station": one.station, "seq": one.seq, "kind": one.kind, "when": one.when or None, "what": one.what}
            for one in found.changed
        ],
        "tables": list(found.tables),
        "tables_compared": found.compared,
        "judged": found.judged,
        "judged_on_paper": found.judged_on_paper,
        "not_what_its_own_version_finds": [_row(row) for row in found.own],
        "otherwise_today": [_row(row) for row in found.today],
        "not_judged": [_row(row) for row in found.unjudged],
        "waiting": found.waiting,
        "forks": list(found.forks),
        "heads_given": found.against,
        "heads": [{"station": station, "seq": seq, "hash": hashed} for station, (seq, hashed) in found.heads.items()],
    }


def _row(row: Judged) -> dict[str, Any]:
    return {
        "checkout": row.checkout,
        "instrument": row.instrument,
        "station": row.station,
        "seq": row.seq,
        "opened": row.when,
        "on_paper": row.on_paper,
        "what": list(row.what),
    }
