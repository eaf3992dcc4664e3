"""Sheets and listings as JSON for other programs. docs/records.md lists the keys; new ones may be added, none changes.

ASCII only, moments in UTC, in pieces: a listing of any length is written as it is read.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from procedures.reports.printed import Printed
from procedures.sheets import Column, Grid, Lines, Listing, Pairs, Plot, Row, Section, Sheet


def sheet_json(sheet: Sheet, printed: Printed) -> Iterator[str]:
    """A sheet as one JSON object. What can be done from it is left out: that is for who stands before a screen."""
    yield _text(
        {
            "ok": True,
            "sheet": sheet.name,
            "about": sheet.about,
            "title": sheet.title,
            "line": sheet.line,
            "printed": printed_object(printed),
            "breaks": list(sheet.breaks),
            "sections": [_section(section) for section in sheet.sections],
        }
    )
    yield "\n"


def listing_json(listing: Listing, rows: Iterable[Row], printed: Printed, narrowed: Mapping[str, str]) -> Iterator[str]:
    """A listing as one JSON object, a row a line. `narrowed` gives what it was narrowed by; "search" is the search."""
    head = {
        "ok": True,
        "listing": listing.name,
        "about": listing.about,
        "title": listing.title,
        "line": listing.line,
        "printed": printed_object(printed),
        "narrowed": dict(narrowed),
        "total": listing.total,
        "columns": _columns(listing.columns),
    }
    yield f'{_text(head)[:-1]}, "rows": ['
    between = "\n"
    for row in rows:
        yield f"{between}{_text(_row(row))}"
        between = ",\n"
    yield "\n]}\n"


def printed_object(printed: Printed) -> dict[str, Any]:
    """The circumstances of a report."""
    return {
        "site": printed.site,
        "station": printed.station,
        "station_name": printed.station_name,
        "marking": printed.marking,
        "made": _moment(printed.made),
        "zone": printed.zone,
        "heads": [{"station": head.station, "seq": head.seq, "hash": head.hash} for head in printed.heads],
    }


def _section(section: Section) -> dict[str, Any]:
    match section:
        case Lines():
            return {"kind": "lines", "title": section.title, "tone": section.tone, "lines": list(section.lines)}
        case Pairs():
            rows = [{"name": name, "value": value} for name, value in section.rows]
            return {"kind": "pairs", "title": section.title, "rows": rows}
        case Grid():
            return {
                "kind": "grid",
                "title": section.title,
                "columns": _columns(section.columns),
                "rows": [_row(row) for row in section.rows],
                "empty": section.empty,
            }
        case Plot():
            return _plot(section)


def _plot(plot: Plot) -> dict[str, Any]:
    return {
        "kind": "plot",
        "title": plot.title,
        "unit": plot.unit,
        "dots": [
            {"at": _moment(dot.at), "value": _number(dot.value), "sign": dot.sign, "say": dot.say} for dot in plot.dots
        ],
        "lines": [{"value": _number(line.value), "say": line.say, "kind": line.kind} for line in plot.lines],
        "marks": [{"at": _moment(mark.at), "say": mark.say} for mark in plot.marks],
        "notes": list(plot.notes),
    }


def _columns(columns: Sequence[Column]) -> list[dict[str, Any]]:
    return [{"heading": column.heading, "figures": column.figures} for column in columns]


def _row(row: Row) -> dict[str, Any]:
    opens = row.opens
    return {
        "key": row.key,
        "tone": row.tone,
        "cells": list(row.cells),
        "opens": {"goes": opens.goes, "name": opens.name, "about": opens.about} if opens else None,
    }


def _moment(at: datetime) -> str:
    return at.astimezone(UTC).isoformat()


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _text(value: Any) -> str:
    return json.dumps(_sound(value), ensure_ascii=True, allow_nan=False)


def _sound(value: Any) -> Any:
    """Without halves of characters (bytes of a file name that are no text), which strict readers of JSON refuse."""
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode("utf-8")
    if isinstance(value, dict):
        return {key: _sound(each) for key, each in value.items()}
    if isinstance(value, list):
        return [_sound(each) for each in value]
    return value
