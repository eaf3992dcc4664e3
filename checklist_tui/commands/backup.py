"""`checklist-tui backup`: a verified copy of the records in one file, made while the program may be in use."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from checklist_tui import output
from checklist_tui.at_site import records_named
from checklist_tui.parsing import Parser
from checklist_tui.words import plural

if TYPE_CHECKING:
    from procedures.site.backup import Kept


MOST: Final = 10
"""Lines about damaged lists that are printed."""
LISTS_DO: Final = (
    "Do: trust no list on that laptop, and use nothing because it says READY there. “checklist-tui restore” of this "
    "backup into a new folder makes the lists anew from the records: go on with that folder."
)


def configure(parser: Parser) -> None:
    """Add the options."""
    parser.set_example("checklist-tui backup stick/site-2031-05-06.backup")
    parser.add_argument("file", metavar="FILE", help="the file to write; never over another one")
    parser.add_argument(
        "--data",
        metavar="DIR",
        default=argparse.SUPPRESS,
        help="folder of the site's records (default: this user's own)",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object on standard output")
    parser.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Write the copy and say what is in it."""
    from procedures.site import backup

    folder, marking = records_named(given.data)
    made = backup.backup(folder, Path(given.file), marking)
    if given.json:
        output.write_json(to_json(made))
    else:
        output.write("\n".join(lines(f"Backed up and verified: {made.path}, {made.events:,} events.", made)))
    return output.OK


def lines(first: str, made: Kept) -> Iterator[str]:
    """What was made, and the heads to keep elsewhere."""
    yield first
    if made.marking != "real":
        yield f"These are {made.marking} records."
    if made.attached:
        beside = made.path.with_name(f"{made.path.name}.attachments").name
        yield f"{plural(made.attached, 'attached file')}, in {beside} beside a backup: the two belong together."
    for hashed in made.unsound:
        yield f"LEFT OUT: an attached file is not what was attached any more (SHA-256 {hashed}). Tell the site lead."
    if made.damaged:
        yield from damaged_lines(made.damaged)
    yield "Keep these heads elsewhere; “checklist-tui verify --head” holds the records against them:"
    yield from (f"  {station}:{seq}:{hashed}" for station, (seq, hashed) in made.heads.items())


def damaged_lines(damaged: Sequence[str]) -> Iterator[str]:
    """That the records are whole and lists drawn from them are not, and what to do."""
    yield f"LISTS ARE DAMAGED ({len(damaged)}). The records are whole; what is drawn from them, and shown, is not:"
    yield from (f"  {each}" for each in damaged[:MOST])
    if len(damaged) > MOST:
        yield f"  and {len(damaged) - MOST} more: “checklist-tui verify --json” lists all."
    yield LISTS_DO


def to_json(made: Kept) -> dict[str, Any]:
    """What was made as JSON."""
    return {
        "ok": True,
        "file": str(made.path),
        "marking": made.marking,
        "events": made.events,
        "attached": made.attached,
        "unsound": list(made.unsound),
        "damaged_lists": list(made.damaged),
        "heads": [{"station": station, "seq": seq, "hash": hashed} for station, (seq, hashed) in made.heads.items()],
    }
