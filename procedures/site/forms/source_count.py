"""The form that goes through all sources, one a page: found or not, and where (10 CFR 35.67(g), read in part)."""
# ruff: noqa: ARG002  what a form is asked is the same for all of them: forms.Task

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from procedures.sheets import Deed, Done, Form, FormField, Look
from procedures.site import source_keeping
from procedures.site.entries import words
from procedures.site.forms.common import Taken, meant, pin_field, yes
from procedures.site.source_keeping import Counted
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.journal.rows import SourceRow
    from procedures.site.forms import Entered
    from procedures.site.opening import Site

ELSEWHERE: Final = frozenset({"at calibration", "lent", "transferred", "disposed"})
"""Whereabouts of a source that is not looked for here."""
_PIN: Final = "Needed where a source was found; a missing one anybody may report."
TELL: Final = "Tell the radiation safety officer now."


class CountSources:
    """Looks for every source that should be here. What was not answered is left for another time."""

    def form(self, site: Site, about: str, person: str, entered: Entered, page: int) -> Form:
        rows = to_count(site)
        if not rows:
            raise Trouble("there is no source to count", allowed="a source in the inventory", do="Take one in first.")
        page = min(max(page, 1), len(rows))
        row = rows[page - 1]
        scan, found, where = _ids(row)
        last = page == len(rows)
        missing = _missing(rows, entered)
        return Form(
            "source-count",
            f"Count the sources: {row.label}",
            f"Go to source {row.label} and scan the label on it.",
            (
                FormField(scan, f"scan {row.label}", "scan", entered.get(scan, ""), needed=False),
                FormField(
                    found,
                    "is it there",
                    "yes-no",
                    entered.get(found, ""),
                    needed=False,
                    more="Yes takes the scan. Left empty it is not counted this time.",
                ),
                FormField(
                    where,
                    "where",
                    value=entered.get(where, ""),
                    needed=False,
                    more=f"Recorded: {row.whereabouts}{f', {row.where}' if row.where else ''}.",
                ),
                *((replace(each, needed=False, more=_PIN) for each in pin_field(site)) if last else ()),
            ),
            says=(f"{row.nuclide}{f', serial {row.serial}' if row.serial else ''}",),
            caution="Look for the label, do not handle the source for it. Use the tool for a strong one.",
            keep="Keep the count" if last else "Go on",
            page=page,
            pages=len(rows),
            dangerous=f"{', '.join(missing)} will be recorded as missing. {TELL}" if last and missing else "",
        )

    def look(self, site: Site, about: str, person: str, entered: Entered) -> Look:
        rows = to_count(site)
        taken, counted = _taken(site, rows, entered)
        missing = _missing(rows, entered)
        lines = [f"{len(counted)} of {len(rows)} counted."]
        if missing:
            lines.append(f"Not found: {', '.join(missing)}. {TELL}")
        return Look(tuple(lines), dict(taken.troubles), "bad" if missing else "")

    def keep(self, site: Site, about: str, person: str, entered: Entered) -> Done:
        rows = to_count(site)
        taken, counted = _taken(site, rows, entered)
        taken.whole()
        source_keeping.count(site, person, counted, pin=entered.get("pin"))
        missing = _missing(rows, entered)
        left = len(rows) - len(counted)
        rest = f" {left} left to count." if left else ""
        opens = Deed("the sources", "listing", "sources")
        if missing:
            return Done(f"{', '.join(missing)} missing.{rest}", f"{', '.join(missing)}: {TELL}", opens)
        return Done(f"{len(counted)} sources counted, all found.{rest}", opens=opens)


def to_count(site: Site) -> tuple[SourceRow, ...]:
    """The sources that should be here, those recorded as missing too, by label."""
    return tuple(row for row in site.journal.sources(limit=-1) if row.whereabouts not in ELSEWHERE)


def _ids(row: SourceRow) -> tuple[str, str, str]:
    return f"scan-{row.id}", f"found-{row.id}", f"where-{row.id}"


def _missing(rows: tuple[SourceRow, ...], entered: Entered) -> list[str]:
    return [row.label for row in rows if entered.get(_ids(row)[1], "").strip().casefold() == "no"]


def _taken(site: Site, rows: tuple[SourceRow, ...], entered: Entered) -> tuple[Taken, list[Counted]]:
    """What was answered. A source is there only when its own label was scanned."""
    taken = Taken(entered)
    counted = []
    for row in rows:
        scan, found, where = _ids(row)
        said = taken.optional(found, yes)
        if said is None and not taken.text(scan):
            continue
        if said is not False:
            taken.check(scan, lambda row=row, scan=scan: _is_it(site, row, taken.text(scan)))  # type: ignore[misc]
        place = taken.read(where, lambda text: words("place", text, needed=False))
        if found not in taken.troubles:
            counted.append(Counted(row.id, said is not False, place or ""))
    return taken, counted


def _is_it(site: Site, row: SourceRow, scanned: str) -> None:
    if not scanned or meant(site, scanned, "source", "instrument", "jig", "person") != row.id:
        raise Trouble(
            f"that is not the label of {row.label}" if scanned else f"{row.label} was not scanned",
            allowed=f"the label {row.label}",
            do=f"Scan the label on {row.label}, or say that it is not there.",
        )
