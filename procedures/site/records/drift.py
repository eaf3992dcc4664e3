"""How an instrument's readings move over time: plots, and what stands out in them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from procedures.findings import Outcome
from procedures.sheets import Deed, Lines, Plot, PlotDot, PlotLine, PlotMark, Section, Sheet
from procedures.site import drift
from procedures.site.entries import thing
from procedures.site.found_words import OUTCOME_WORDS
from procedures.site.site_days import SiteDays

if TYPE_CHECKING:
    from procedures.site.drift_views import PlotPoint, SeriesView
    from procedures.site.opening import Site

QUANTITIES: Final = {
    "response": "Response: observed over expected",
    "zero": "Zero as found",
    "background": "Background as found",
    "battery": "Battery as found",
}

_ON_CONTROL: Final = "What is usual for it, mean and 3 sigma either way, is one thing; what it is allowed is another."


def drift_sheet(site: Site, about: str, _person: str) -> Sheet:
    """The drift of an instrument. `about` is its id; its id and the role of the source, the first role otherwise; these
    and the checkout before which older ones were."""
    instrument, role, before = (*about.split(","), "", "")[:3]
    thing(site, instrument, "instrument")
    shown = drift.drift(site, instrument, role, before=before)
    label = shown.label
    deeds = [
        Deed("The instrument", "sheet", "instrument", instrument),
        Deed("Its history", "sheet", "history", instrument),
    ]
    if not shown.roles:
        nothing = Lines(("No source was ever bound to it, so there is nothing to plot yet.",), tone="quiet")
        return Sheet("drift", f"Drift of {label}", (nothing,), about=about, deeds=tuple(deeds))
    days = SiteDays.of(site)
    sections: list[Section] = []
    for series in shown.series:
        sections += [_plot(days, series), _standing_out(series)]
    if not shown.series:
        sections.append(Lines(("It was not checked yet, so there is nothing to plot.",), tone="quiet"))
    if shown.left_out:
        sections.append(Lines((f"Not plotted: {shown.left_out}.",), tone="warn"))
    if shown.older:
        deeds.append(Deed("Older checks", "sheet", "drift", f"{instrument},{shown.role},{shown.older}"))
    others = [each for each in shown.roles if each != shown.role]
    deeds += [Deed(f"With the source of role {each}", "sheet", "drift", f"{instrument},{each}") for each in others]
    return Sheet(
        "drift",
        f"Drift of {label}",
        tuple(sections),
        about=f"{instrument},{shown.role},{before}".rstrip(","),
        line=f"source of role {shown.role}. {_ON_CONTROL}",
        deeds=tuple(deeds),
    )


def _plot(days: SiteDays, series: SeriesView) -> Plot:
    lines = [
        PlotLine(limit, words)
        for limit, words in ((series.allowed.lower, "lowest allowed"), (series.allowed.upper, "highest allowed"))
        if limit is not None
    ]
    if (band := series.control) is not None:
        lines += [
            PlotLine(band.lower, "lower control limit", "control"),
            PlotLine(band.center, f"mean of its first {band.count} readings", "centre"),
            PlotLine(band.upper, "upper control limit", "control"),
        ]
    return Plot(
        f"{QUANTITIES[series.quantity]}, step {series.title}",
        series.unit,
        tuple(_dot(days, point) for point in series.points),
        tuple(lines),
        tuple(PlotMark(days.local(mark.at), mark.say) for mark in series.marks),
        _notes(series),
    )


def _dot(days: SiteDays, point: PlotPoint) -> PlotDot:
    sign, say = _special(point)
    return PlotDot(days.local(point.at), point.value, sign, say)


def _special(point: PlotPoint) -> tuple[str, str]:
    """One character and words for what is special about a reading, the gravest first."""
    said = [
        ("w", "its checkout was withdrawn" if point.struck else ""),
        ("F", _OUTCOMES.get(point.outcome, "")),
        ("o", "beyond its control limits" if point.out else ""),
        ("r", "; ".join(point.rules)),
        ("h", "entered faster than it can be read" if point.hasty else ""),
    ]
    special = [(sign, words) for sign, words in said if words]
    return (special[0][0], "; ".join(words for _, words in special)) if special else ("", "")


_OUTCOMES: Final[dict[Outcome, str]] = {each: OUTCOME_WORDS[each] for each in ("fail", "could not check")}


def _notes(series: SeriesView) -> tuple[str, ...]:
    notes = []
    if series.control is None:
        notes.append(f"No control limits: {series.no_control or 'too few readings'}.")
    if series.since is not None:
        notes.append(f"Readings before “{series.since.say}” do not compare with those after it.")
    return tuple(notes)


def _standing_out(series: SeriesView) -> Lines:
    said = [
        f"{QUANTITIES[series.quantity]}: {series.forecast.say}.",
        *(f"Look at it: {each}." for each in series.notices),
    ]
    meets = series.forecast.earliest is not None
    return Lines(tuple(said), tone="warn" if series.notices or meets else "quiet")
