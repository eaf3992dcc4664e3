"""Drift: how an instrument's readings move over time, seen before it becomes a failure.

Every quantity is charted as it was first found in each checkout. A calibration, a repair, a new reference reading or a
changed part begins a new baseline: its first twenty readings set the control limits, and all later ones are held
against these, so that a slow drift cannot widen its own limits. Nothing here passes or fails an instrument.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from procedures.charts import FEWEST, NoLimits, individuals, scatter_of
from procedures.findings import COUNTS_AS_PASS
from procedures.readiness import zone_of
from procedures.run_rules import RuleSet
from procedures.site import lookups
from procedures.site.drift_readings import Found, Reader, Readings, hasty_steps
from procedures.site.drift_views import Allowed, Band, DriftView, Forecast, PlotPoint, SeriesView, Watched
from procedures.trends import NoTrend, alike, forecast
from procedures.trouble import Trouble
from procedures.units import number_in, read_quantity

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from procedures.journal.envelope import Event
    from procedures.journal.states import InstrumentState
    from procedures.site.drift_readings import Break
    from procedures.site.opening import Site

HORIZON: Final = timedelta(days=3652)
"""A straight line says nothing about the time beyond some ten years. Common practice, no source."""

HASTE_LOOKED_AT: Final = 40
"""Newest readings of each quantity whose checkouts are looked through for hasty answers."""

_ORDER: Final[tuple[Watched, ...]] = ("response", "zero", "background", "battery")


def roles(site: Site, instrument: str) -> tuple[str, ...]:
    """The roles of sources that were ever bound to this instrument, by name."""
    return _roles(site.journal.instrument_now(instrument), Reader(site, instrument).newest())


def drift(
    site: Site, instrument: str, role: str = "", rules: RuleSet = "western-electric", *, before: str = ""
) -> DriftView:
    """The drift of an instrument, its response with the source of this role first; of its first role for "".

    Only the newest checkouts are read; older ones are those `before` the opening that the view names. `roles` may be
    empty where no source was ever bound to it. Raises Trouble for what is no instrument here, and for a role that no
    source plays for it.
    """
    state = site.journal.instrument_now(instrument)
    if not state.registered:
        raise Trouble("this is no instrument of the site", do="Look at the label again.")
    label = str(state.fields.get("label", ""))
    reader = Reader(site, instrument)
    found = reader.newest(_opening(site, instrument, before))
    known = _roles(state, found)
    if not role and known:
        role = known[0]
    elif role and role not in known:
        raise Trouble(
            f"no source plays the role “{role}” for {label}",
            allowed=", ".join(known) or "a role that a source was bound to",
            do="Bind a source, or name another role.",
        )
    zone = zone_of(lookups.site_state(site).zone)
    groups: dict[tuple[Watched, str, str], list[Found]] = {}
    for each in found.found:
        if each.quantity != "response" or each.step_table.get("source") == role:
            groups.setdefault((each.quantity, each.step, each.unit), []).append(each)
    ordered = sorted(groups, key=lambda key: _ORDER.index(key[0]))
    asked = _Asked(site, reader, found, role, rules, zone)
    series = tuple(_series(asked, groups[key]) for key in ordered)
    older = "" if found.oldest is None else found.oldest.hash
    return DriftView(instrument, label, role, series, _left_out(found, zone), known, older)


def _opening(site: Site, instrument: str, checkout: str) -> Event | None:
    """The opening of a checkout of this instrument that older ones are asked before."""
    if not checkout:
        return None
    opened = site.journal.by_hash(checkout)
    if opened is None or opened.kind != "opened" or opened.body.get("instrument") != instrument:
        raise Trouble("this is no checkout of that instrument", do="Open its drift again.")
    return opened


def _roles(state: InstrumentState, found: Readings) -> tuple[str, ...]:
    used = {str(each.step_table["source"]) for each in found.found if "source" in each.step_table}
    return tuple(sorted(used | found.roles | set(state.bindings)))


def _left_out(found: Readings, zone: ZoneInfo) -> str:
    lost = sum(each.quantity == "response" and "source" not in each.step_table for each in found.found)
    parts = []
    if found.oldest is not None:
        parts.append(f"checks before {_day(found.oldest.utc, zone).isoformat()}")
    if found.unread:
        parts.append(f"records that this program cannot read: {found.unread}")
    if lost:
        parts.append(f"responses whose profile is not in this journal: {lost}")
    return "; ".join(parts)


@dataclass(frozen=True, slots=True)
class _Asked:
    """What all series of one view have in common."""

    site: Site
    reader: Reader
    found: Readings
    role: str
    rules: RuleSet
    zone: ZoneInfo
    haste: dict[str, frozenset[str]] = field(default_factory=dict)
    """Checkout → its hasty steps, as far as they were looked through."""

    def counts(self, each: Found, since: Break | None) -> bool:
        """Whether a reading is held against the control limits."""
        after = since is None or each.stamp > since.stamp
        return after and each.checkout not in self.found.withdrawn and each.outcome != "could not check"

    def first(self, of: Found, since: Break | None) -> list[Found]:
        """The first good readings like this one since a mark, where they are older than all that was read."""
        oldest = self.found.oldest
        if oldest is None or (since is not None and since.stamp > oldest.stamp):
            return []

        def wanted(each: Found) -> bool:
            same = (each.quantity, each.step, each.unit) == (of.quantity, of.step, of.unit)
            right = each.quantity != "response" or each.step_table.get("source") == self.role
            return same and right and self.counts(each, since) and each.outcome in COUNTS_AS_PASS

        return self.reader.first(since, oldest, wanted, FEWEST)


def _series(asked: _Asked, readings: list[Found]) -> SeriesView:
    newest = readings[-1]
    only = ("", asked.role) if newest.quantity == "response" else ("",)
    breaks = [each for each in asked.found.breaks if each.only in only]
    since = breaks[-1] if breaks else None
    charted = [each for each in readings if asked.counts(each, since)]
    band, no_control, points = _charted(asked.first(newest, since), charted, asked.rules)
    if since is not None and no_control:
        no_control += f"; the baseline began on {_day(since.mark.at, asked.zone).isoformat()}: {since.mark.say}"
    points = _with_haste(asked, charted, points)
    allowed = _allowed(newest)
    shown = {each.checkout: each for each in points}
    return SeriesView(
        quantity=newest.quantity,
        step=newest.step,
        title=newest.step.replace("-", " ").capitalize(),
        unit=newest.unit,
        points=tuple(shown.get(each.checkout) or _aside(each, asked.found.withdrawn) for each in readings),
        marks=tuple(each.mark for each in breaks),
        since=since.mark if since else None,
        control=band,
        no_control=no_control,
        allowed=allowed,
        forecast=_forecast(charted, allowed, asked.zone),
        notices=tuple(_notices(charted, points, asked.zone)),
    )


def _aside(each: Found, withdrawn: set[str]) -> PlotPoint:
    return PlotPoint(each.at, each.value, each.checkout, each.outcome, struck=each.checkout in withdrawn)


def _charted(
    first: Sequence[Found], charted: Sequence[Found], rules: RuleSet
) -> tuple[Band | None, str, tuple[PlotPoint, ...]]:
    """Control limits from the first good readings, or why there are none, and the readings held against them.

    `first` are good ones before those that are charted.
    """
    points = tuple(PlotPoint(each.at, each.value, each.checkout, each.outcome, charted=True) for each in charted)
    good = [each.value for each in (*first, *charted) if each.outcome in COUNTS_AS_PASS][:FEWEST]
    scatter = scatter_of(good) if good else NoLimits(f"0 of the {FEWEST} readings that control limits need")
    if isinstance(scatter, NoLimits):
        return None, scatter.say, points
    chart = individuals([each.value for each in charted], scatter, rules)
    lower = chart.center if chart.lower is None else chart.lower
    judged = tuple(replace(point, out=by.out, rules=by.rules) for point, by in zip(points, chart.points, strict=True))
    return Band(chart.center, lower, chart.upper, scatter.count), "", judged


def _with_haste(asked: _Asked, charted: Sequence[Found], points: tuple[PlotPoint, ...]) -> tuple[PlotPoint, ...]:
    known = asked.haste
    first = max(0, len(points) - HASTE_LOOKED_AT)
    looked = []
    for each, point in zip(charted[first:], points[first:], strict=True):
        if each.checkout not in known:
            known[each.checkout] = hasty_steps(asked.site, each.checkout)
        looked.append(replace(point, hasty=each.step in known[each.checkout]))
    return (*points[:first], *looked)


def _allowed(newest: Found) -> Allowed:
    """What the newest reading was held against: as its finding says, or as its step of the profile does."""
    table, unit = newest.step_table, newest.unit
    match newest.quantity:
        case "response":
            return Allowed(_share(newest, "low"), _share(newest, "high"))
        case "battery":
            return Allowed(_in_unit(table.get("minimum"), unit), _in_unit(table.get("maximum"), unit))
        case "zero":
            most = _in_unit(table.get("as_found_within", table.get("within")), unit)
            return Allowed(None if most is None else -most, most)
        case "background":
            return Allowed(None, _in_unit(table.get("highest"), unit))


def _share(newest: Found, name: str) -> float | None:
    """A limit of a response over what was expected."""
    limit, expected = newest.finding.number(name), newest.finding.number("expected")
    if limit is None or expected is None or not Decimal(expected.value):
        return None
    # Both are floats written out, and their last figures are noise: 0.7999999999999999 is 0.8.
    return round(float(Decimal(limit.value) / Decimal(expected.value)), 12)


def _in_unit(text: Any, unit: str) -> float | None:
    if not isinstance(text, str):
        return None
    try:
        return float(number_in(read_quantity(text), unit))
    except Trouble:
        return None


def _forecast(charted: Sequence[Found], allowed: Allowed, zone: ZoneInfo) -> Forecast:
    if not charted:
        return Forecast("no reading is plotted yet that could show a trend")
    start, last = charted[0].at, max(each.at for each in charted)
    days = [(each.at - start) / timedelta(days=1) for each in charted]
    found = forecast(days, [each.value for each in charted], lower=allowed.lower, upper=allowed.upper)
    if isinstance(found, NoTrend):
        return Forecast(found.say)
    newest = (last - start) / timedelta(days=1)
    if found.expected <= newest:
        return Forecast("the line through the readings is at the limit already", found.limit, _day(last, zone))
    end = newest + HORIZON / timedelta(days=1)
    if found.earliest > end:
        return Forecast("a trend, but no limit within ten years", found.limit)
    earliest = _day(start + timedelta(days=max(found.earliest, newest)), zone)
    latest = None if found.latest > end else _day(start + timedelta(days=found.latest), zone)
    until = f"and {latest.isoformat()}" if latest else "and more than ten years from now"
    say = f"meets {found.limit:.4g} between {earliest.isoformat()} {until}, if it goes on like this"
    return Forecast(say, found.limit, earliest, latest)


def _day(at: datetime, zone: ZoneInfo) -> date:
    return at.astimezone(zone).date()


def _notices(charted: Sequence[Found], points: Sequence[PlotPoint], zone: ZoneInfo) -> list[str]:
    """What stands out: the newest reading, readings too much alike, and hasty ones."""
    notices = []
    if points and points[-1].rules:
        notices.append(f"the newest reading: {'; '.join(points[-1].rules)}")
    if points and points[-1].out and not points[-1].rules:
        notices.append("the newest reading is beyond its control limits")
    if charted and charted[-1].quantity == "response":
        notices += [
            f"{run.count} checks running from {_day(charted[run.first].at, zone).isoformat()} show the same figures: "
            "too regular, ask how they were taken"
            for run in alike([each.readings or (str(each.value),) for each in charted])
        ]
    hasty = sum(point.hasty for point in points)
    if hasty:
        newest = f"the newest {HASTE_LOOKED_AT}" if len(points) > HASTE_LOOKED_AT else f"{len(points)}"
        notices.append(f"{hasty} of {newest} readings came faster than they can be read")
    return notices
