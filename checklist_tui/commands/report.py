"""`checklist-tui report`: a sheet or a listing as a document to print, or as a table or JSON for other programs."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal

from checklist_tui import output
from checklist_tui.at_site import open_named
from checklist_tui.parsing import Parser
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.opening import Site

STDOUT: Final = "-"
FROM_TO: Final = "binder"
"""The sheet that is about some days."""


def configure(parser: Parser) -> None:
    """Add the options."""
    parser.set_example(
        "checklist-tui report --list\nchecklist-tui report instrument C-101\n"
        "checklist-tui report binder --from 2026-10-01 --to 2026-12-31 --html binder.html\n"
        "checklist-tui report checkouts --filter ending='locked out' --csv locked-out.csv"
    )
    parser.add_argument("name", metavar="NAME", nargs="?", help="which report; --list names them")
    parser.add_argument("about", metavar="ABOUT", nargs="?", default="", help="the label of what it is about, or an id")
    parser.add_argument("--list", action="store_true", help="every report there is, a line each")
    parser.add_argument(
        "--data",
        metavar="DIR",
        default=argparse.SUPPRESS,
        help="folder of the site's records (default: this user's own)",
    )
    written = parser.add_mutually_exclusive_group()
    written.add_argument(
        "--html", metavar="FILE", help="write the document here, - for standard output (default: the site's reports)"
    )
    written.add_argument("--csv", metavar="FILE", help="write the tables of it here, - for standard output")
    written.add_argument("--json", action="store_true", help="one JSON object on standard output")
    parser.add_argument("--from", metavar="DAY", dest="since", help="from this day on, such as 2026-11-25")
    parser.add_argument("--to", metavar="DAY", dest="until", help="up to this day, it included")
    parser.add_argument("--search", metavar="TEXT", default="", help="a listing: only rows that fit")
    parser.add_argument(
        "--filter", metavar="ID=VALUE", action="append", default=[], help="a listing: narrow it; may be given again"
    )
    parser.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Write the report and say where it is."""
    if given.list:
        return _list(as_json=given.json)
    if not given.name:
        raise Trouble("no report is named", allowed="its name", do="“checklist-tui report --list” names them all.")
    from procedures.site.printing_names import kind_of

    goes = kind_of(given.name)
    with open_named(given.data) as site:
        return _report(site, given, goes)


def _report(site: Site, given: argparse.Namespace, goes: Literal["sheet", "listing"]) -> int:
    from procedures.sheets import Query
    from procedures.site import printing, printing_names

    filters = _filters(given)
    about = output.clean(given.about)
    if goes == "sheet":
        if filters or given.search:
            raise Trouble(f"{given.name} is no listing: it cannot be searched or narrowed", do="Leave that out.")
        about = _with_days(given, about)
    else:
        filters |= {name: day for name, day in _days(given).items() if day}
    what = printing_names.resolve(site, given.name, about)
    query = Query(search=given.search, filters=filters)
    kind: Literal["html", "csv", "json"] = "json" if given.json else "csv" if given.csv is not None else "html"
    to = given.csv if given.csv is not None else given.html
    if kind == "json" or to == STDOUT:
        printing.copy(site, given.name, what, _to_stdout, goes=goes, kind=kind, query=query)
        return output.OK
    path = None if to is None else Path(to)
    made = printing.write(site, given.name, what, goes=goes, kind=kind, query=query, path=path)
    output.write(f"Written: {made}")
    return output.OK


def _to_stdout(block: bytes) -> None:
    """UTF-8 whatever the locale says: that is what the document says it is."""
    if sys.stdout is None:  # a program started without standard output
        raise OSError("there is no standard output")
    sys.stdout.flush()
    sys.stdout.buffer.write(block)
    sys.stdout.buffer.flush()


def _filters(given: argparse.Namespace) -> dict[str, str]:
    filters: dict[str, str] = {}
    for text in given.filter:
        name, equals, value = output.clean(text).partition("=")
        if not (equals and name.strip()):
            raise Trouble(
                f"{text[:60]!r} narrows nothing",
                where="--filter",
                allowed="what to narrow by, an equals sign, and its value: ending=abandoned",
                do="Enter it again.",
            )
        if name.strip() in filters:
            raise Trouble(f"{name.strip()[:40]!r} is given twice", where="--filter", do="Give each once.")
        filters[name.strip()] = value.strip()
    return filters


def _days(given: argparse.Namespace) -> Mapping[str, str]:
    """The days that were given, by the filter that listings have for them."""
    days = {"from": _day(given.since, "--from"), "to": _day(given.until, "--to")}
    if days["from"] and days["to"] and days["from"] > days["to"]:
        raise Trouble(
            f"{days['from']} is after {days['to']}", where="--from", allowed="a day up to that of --to", do="Swap them."
        )
    return days


def _with_days(given: argparse.Namespace, about: str) -> str:
    days = _days(given)
    if not any(days.values()):
        return about
    if given.name != FROM_TO or about:
        raise Trouble(
            f"{given.name} is not about days from one to another",
            where="--from, --to",
            allowed=f"{FROM_TO}, and listings that can be narrowed by days",
            do="Leave the days out.",
        )
    if not all(days.values()):
        raise Trouble("one of the two days is missing", where="--from, --to", do="Give both.")
    return f"{days['from']},{days['to']}"


def _day(text: str | None, option: str) -> str:
    if text is None:
        return ""
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise Trouble(
            f"{text[:40]!r} is no date",
            where=option,
            allowed="year-month-day, such as 2026-11-25",
            do="Enter it again.",
        ) from None


def _list(*, as_json: bool) -> int:
    from procedures.site.printing_names import ABOUT, kind_of

    if as_json:
        reports: list[dict[str, Any]] = [
            {"name": name, "kind": kind_of(name), "say": about.say, "about": about.wants}
            for name, about in ABOUT.items()
        ]
        output.write_json({"ok": True, "reports": reports})
        return output.OK
    width = max(map(len, ABOUT))
    for kind, title in (("sheet", "Sheets, each about one thing:"), ("listing", "Listings, all rows of them:")):
        output.write(title)
        for name, about in ABOUT.items():
            if kind_of(name) == kind:
                wants = f" (ABOUT: {about.wants})" if about.wants else ""
                output.write(f"  {name.ljust(width)}  {about.say}{wants}")
    return output.OK
