"""`checklist-tui inventory`: people, jigs, sources, instruments and their bindings as tables, out and in."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Final

from checklist_tui import output, plain_talk
from checklist_tui.at_site import open_named
from checklist_tui.parsing import Parser
from checklist_tui.words import plural
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.inventory_csv import BadRows

SAME: Final = "the same is recorded here already."
NOT_CARRIED: Final = "NOT IN THESE TABLES: what stands against things now. Whoever takes them in does not learn that"
NOTHING_AGAINST: Final = (
    "These tables say nothing of lockouts, leaks, damage or what is missing: "
    "ask whoever wrote them, and record that here."
)

Run = Callable[[argparse.Namespace], int]


def configure(parser: Parser) -> None:
    """Add both directions."""
    parser.set_example("checklist-tui inventory export lists\nchecklist-tui inventory import lists --person N-001")
    kinds = parser.add_subparsers(title="actions", metavar="ACTION", dest="action", required=True, parser_class=Parser)

    def add(name: str, about: str, example: str, folder: str, run: Run) -> argparse.ArgumentParser:
        one: argparse.ArgumentParser = kinds.add_parser(name, help=about, description=about, example=example)
        one.add_argument("folder", metavar="DIR", help=folder)
        one.add_argument(
            "--data",
            metavar="DIR",
            default=argparse.SUPPRESS,
            help="folder of the site's records (default: this user's own)",
        )
        one.add_argument("--json", action="store_true", help="one JSON object on standard output")
        one.set_defaults(run=run)
        return one

    about = "write people, jigs, sources, instruments and bindings as CSV"
    add("export", about, "checklist-tui inventory export lists", "an empty folder for the tables", run_export)
    about = "take in tables as export writes them: all of them, or nothing where one row is bad"
    taken = add("import", about, "checklist-tui inventory import lists --person N-001", "the tables", run_import)
    taken.add_argument("--person", metavar="BADGE", help="the lead who takes them in (default: asked for)")


def run_export(given: argparse.Namespace) -> int:
    """Write the tables and say how many rows each has."""
    from procedures.site import inventory_csv

    with open_named(given.data) as site:
        rows = inventory_csv.export(site, Path(given.folder))
        against = inventory_csv.not_carried(site)
    if given.json:
        output.write_json({"ok": True, "rows": dict(rows), "not_carried": list(against)})
        return output.OK
    left = [NOT_CARRIED, *(f"  {each}." for each in against)] if against else []
    output.write("\n".join([*_counts("Written", rows), *left]))
    return output.OK


def run_import(given: argparse.Namespace) -> int:
    """Take the tables in, or say everything that is wrong in them."""
    from procedures.site import inventory_csv, secrets, status

    with open_named(given.data) as site:
        if not given.person and not plain_talk.is_terminal():
            raise Trouble("nobody is named who takes them in", where="--person", do="Name a lead by their badge.")
        lead = (
            status.who(site, given.person)
            if given.person
            else plain_talk.ask("Badge of the lead who takes them in", lambda typed: status.who(site, typed))
        )
        # Tables are looked at first: a PIN is not asked for in vain.
        try:
            plan = inventory_csv.read(site, Path(given.folder), lead.id)
        except inventory_csv.BadRows as refused:
            return _refuse(refused, given)
        pin = plain_talk.secret(f"PIN of {lead.name} (not shown)") if secrets.pins_wanted(site) else None
        rows = inventory_csv.take(site, plan, pin=pin)
    if given.json:
        output.write_json({"ok": True, "rows": dict(rows), "same": dict(plan.same)})
        return output.OK
    same = [f"Passed over: {name}.csv, {plural(count, 'row')}: {SAME}" for name, count in plan.same.items()]
    output.write("\n".join([*_counts("Taken in", rows), *same, NOTHING_AGAINST]))
    return output.OK


def _counts(done: str, rows: Mapping[str, int]) -> list[str]:
    return [f"{done}: {name}.csv, {plural(count, 'row')}." for name, count in rows.items()]


def _refuse(refused: BadRows, given: argparse.Namespace) -> int:
    output.complain(refused.lines())
    if given.json:
        errors = [
            {"file": row.file, "line": row.line, "column": row.column, "message": row.why} for row in refused.rows
        ]
        output.write_json({"ok": False, "errors": errors})
    return output.BAD_INPUT
