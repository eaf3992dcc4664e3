"""`checklist-tui restore`: begin in an empty folder with the records of a backup, as a new station of the site."""

from __future__ import annotations

import argparse
from pathlib import Path

from checklist_tui import output
from checklist_tui.commands.backup import lines, to_json
from checklist_tui.parsing import Parser
from procedures.trouble import Trouble


def configure(parser: Parser) -> None:
    """Add the options."""
    parser.set_example("checklist-tui restore stick/site-2031-05-06.backup --data site --name 'bench laptop'")
    parser.add_argument("file", metavar="FILE", help="a backup")
    # Named each time: where records are begun is not left to a default.
    parser.add_argument("--data", metavar="DIR", required=True, help="an empty folder for the records")
    parser.add_argument(
        "--name", metavar="NAME", default="restored laptop", help="what people call this laptop (default: %(default)s)"
    )
    parser.add_argument("--json", action="store_true", help="one JSON object on standard output")
    parser.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Begin from the backup and say what is there now."""
    from procedures.site import backup
    from procedures.site.system import SystemClock, new_station_id

    if not given.data.strip():
        raise Trouble("the folder is empty text", where="--data", allowed="a folder", do="Name an empty folder.")
    made = backup.restore(
        Path(given.file),
        Path(given.data),
        SystemClock(),
        station=new_station_id(),
        name=output.clean(given.name).strip(),
    )
    if given.json:
        output.write_json(to_json(made))
        return output.OK
    first = (
        f"Restored: {made.path}, {made.events:,} events. What was recorded after the backup is not here: fetch it from "
        "the other laptops with “checklist-tui exchange in”."
    )
    output.write("\n".join(lines(first, made)))
    return output.OK
