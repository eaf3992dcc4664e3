"""Why a check source may not be used now, and when its next leak test and count are due."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Any, Final

from procedures.months import months_after
from procedures.readiness import end_of_day, zone_of
from procedures.site.source_facts import tested_all_the_same

if TYPE_CHECKING:
    from procedures.journal.rows import SourceRow
    from procedures.journal.states import SourceState

LEAKS_FROM_BQ: Final = Decimal(185)
"""10 CFR 35.67 (read): 185 Bq or more of removable activity withdraws a source from use."""

GONE: Final = frozenset({"transferred", "disposed"})
"""Whereabouts of a source that somebody else answers for now."""
TELL: Final = "tell the radiation safety officer"
COUNT_MONTHS: Final = "6"
"""Months from one physical inventory of sources to the next, where the site says nothing: 10 CFR 35.67(g) (read in
part)."""
LEAK_MONTHS: Final = "6"
"""Months from one leak test to the next, where the site says nothing: 10 CFR 35.67 (read)."""


def source_trouble(source: SourceState, now: datetime, settings: Mapping[str, str]) -> str:
    """Why this source may not be used now, in words that say what to do; "" when it may."""
    if not source.registered:
        return "the source that is bound to it is not in these records"
    label = source.fields.get("label", "")
    if source.retired:
        return f"source {label} is out of use"
    if source.whereabouts not in ("here", "missing"):
        return f"source {label} is recorded as {source.whereabouts}: {TELL}"
    return withdrawn_why(source) or _overdue(source, now, settings)


def withdrawn_why(source: SourceState) -> str:
    """What was found of a source that takes it out of use at once, in words; "" for nothing.

    It is missing, leaks, is damaged or has slipped in its jig: of whatever is not the site's any more nothing is said.
    """
    label = source.fields.get("label", "")
    if source.retired or source.whereabouts in GONE:
        return ""
    if source.whereabouts == "missing":
        return f"source {label} is missing: {TELL} now"
    if leaks(source.leak_result):
        return f"source {label} leaks: it is withdrawn. Do not touch it; {TELL}"
    why = f" ({source.condition_say})" if source.condition_say else ""
    if source.condition == "damaged":
        return f"source {label} is damaged{why}: leave it in its store and {TELL}"
    if source.condition == "slipped":
        return f"source {label} has slipped in its jig{why}: the site lead has it seated and says that it is good again"
    return ""


def _overdue(source: SourceState, now: datetime, settings: Mapping[str, str]) -> str:
    label, zone = source.fields.get("label", ""), zone_of(settings["zone"])
    tested, counted = leak_test_due(source), count_due(source, settings)
    if tested is not None and now >= end_of_day(tested, zone):
        return f"the leak test of source {label} was due on {tested.isoformat()}: have it tested"
    if counted is not None and now >= end_of_day(counted, zone):
        return f"source {label} was to be counted by {counted.isoformat()}: count the sources"
    return ""


def leaks(result_bq: Any) -> bool:
    """Whether a leak test found 185 Bq or more (10 CFR 35.67), or what it found cannot be read."""
    if result_bq is None:
        return False
    try:
        return not Decimal(str(result_bq)) < LEAKS_FROM_BQ
    except InvalidOperation:
        return True


def leak_test_due(source: SourceState) -> date | None:
    """Until when its last leak test counts; None when none is recorded, or a lead claimed that it needs none."""
    return day(source.leak_due) if tested_all_the_same(source.fields) else None


def next_leak_test(on: date, settings: Mapping[str, str]) -> date | None:
    """When a source tested on this day is to be tested again; None where the site says never."""
    months = whole(settings, "leak_test_interval_months", LEAK_MONTHS)
    return months_after(on, months) if months else None


def count_due(source: SourceState | SourceRow, settings: Mapping[str, str]) -> date | None:
    """Until when its last count counts; None when it was never counted, or the site asks for no counts."""
    months = whole(settings, "source_count_interval_months", COUNT_MONTHS)
    counted = day(source.counted_on)
    return months_after(counted, months) if counted and months else None


def day(text: Any) -> date | None:
    """A date as the journal keeps it; None for none."""
    return date.fromisoformat(text) if text else None


def whole(settings: Mapping[str, str], name: str, otherwise: str = "0") -> int:
    """A setting that is a whole number, 0 or above; `otherwise` where it is none."""
    text = str(settings.get(name, otherwise)).strip()
    return int(text) if text.isascii() and text.isdigit() and len(text) < 6 else int(otherwise)
