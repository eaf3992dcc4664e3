"""`checklist-tui status`: every instrument, its fitness, where it is, why, until when, and what is due."""

from __future__ import annotations

import argparse
from datetime import UTC
from typing import Any

from checklist_tui import line_words, output
from checklist_tui.at_site import open_named
from checklist_tui.parsing import Parser
from procedures.site.views import Home, InstrumentRow


def configure(parser: Parser) -> None:
    """Add the options."""
    parser.set_example("checklist-tui status\nchecklist-tui status --data /srv/site --json")
    parser.add_argument(
        "--data",
        metavar="DIR",
        default=argparse.SUPPRESS,
        help="folder of the site's records (default: this user's own)",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object on standard output")
    parser.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Print the status; 0 whatever it is."""
    from procedures.site import status
    from procedures.site.next_steps import next_steps

    with open_named(given.data) as site:
        home = status.home(site, limit=-1)
        todo = next_steps(site)
    if given.json:
        output.write_json({**to_json(home), "next": list(todo)})
    else:
        output.write("\n".join([*lines(home), *todo]))
    return output.OK


def lines(home: Home) -> list[str]:
    """The status in words, an instrument a line."""
    told = [line_words.instrument_line(row, home.now) for row in home.instruments]
    return [*line_words.home_head(home), *(told or ["No instrument is registered."])]


def to_json(home: Home) -> dict[str, Any]:
    """The status as JSON. Moments are UTC, dates are local days."""
    return {
        "ok": True,
        "site": home.site,
        "station": home.station,
        "marking": home.marking,
        "now": home.now.astimezone(UTC).isoformat(),
        "due": list(home.due),
        "notices": list(home.notices),
        "waiting": list(home.waiting),
        "exchanged": home.exchanged,
        "sources_out": [out.label for out in home.sources_out],
        "instruments": [_instrument(row) for row in home.instruments],
    }


def _instrument(row: InstrumentRow) -> dict[str, Any]:
    return {
        "id": row.id,
        "label": row.label,
        "serial": row.serial,
        "type": row.type,
        "fitness": row.fitness,
        "why": row.why,
        "reasons": list(row.reasons),
        "ready_until": row.until.astimezone(UTC).isoformat() if row.until else None,
        "whereabouts": row.whereabouts,
        "holder": row.holder,
        "contaminated": row.contaminated,
        "calibration_due": row.calibration_due.isoformat() if row.calibration_due else None,
        "due": list(row.due),
        "checkout": row.checkout,
        "awaiting_check": row.awaiting,
        "may_begin": row.may_begin,
    }
