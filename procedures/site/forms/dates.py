"""Which days are meant: for the daily log, and for the inspection binder. Nothing is recorded."""
# ruff: noqa: ARG002  what a form is asked is the same for all of them: forms.Task

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import TYPE_CHECKING

from procedures.sheets import Deed, Done, Form, FormField, Look
from procedures.site.forms.common import Taken
from procedures.site.site_days import SiteDays, day_meant, named
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.site.opening import Site


class DayDate:
    """The day whose log is opened."""

    def form(self, site: Site, about: str, person: str, entered: Mapping[str, str], page: int) -> Form:
        today = _today(site).isoformat()
        days = FormField("day", "day", "date", entered.get("day", "") or today, example="2026-11-25")
        return Form("day-date", "Daily log", "Which day?", (days,), about=about, keep="Open its log")

    def look(self, site: Site, about: str, person: str, entered: Mapping[str, str]) -> Look:
        taken = Taken(entered)
        day = taken.read("day", day_meant)
        return taken.look(*(_said(site, day) if day else ()))

    def keep(self, site: Site, about: str, person: str, entered: Mapping[str, str]) -> Done:
        day = day_meant(entered.get("day", ""))
        return Done(f"The log of {named(day)}.", opens=Deed("Its log", "sheet", "day", day.isoformat()))


class BinderDates:
    """The first and the last day of the inspection binder."""

    def form(self, site: Site, about: str, person: str, entered: Mapping[str, str], page: int) -> Form:
        today = _today(site)
        first = entered.get("from", "") or today.replace(month=1, day=1).isoformat()
        last = entered.get("to", "") or today.isoformat()
        return Form(
            "binder-dates",
            "Inspection binder",
            "Which days does the inspector ask for?",
            (
                FormField("from", "from this day on", "date", first, example="2026-01-01"),
                FormField("to", "up to this day", "date", last, example="2026-03-31"),
            ),
            about=about,
            says=("Uses in doubt come first in it, then instruments, checkouts, lockouts, sources, people.",),
            keep="Open the binder",
        )

    def look(self, site: Site, about: str, person: str, entered: Mapping[str, str]) -> Look:
        taken = Taken(entered)
        first, last = taken.read("from", day_meant), taken.read("to", day_meant)
        if first is None or last is None:
            return taken.look()
        taken.check("to", lambda: _in_order(first, last))
        count = (last - first) // timedelta(days=1) + 1
        return taken.look(f"{named(first)} to {named(last)}: {count} days of {site.settings()['name']}.")

    def keep(self, site: Site, about: str, person: str, entered: Mapping[str, str]) -> Done:
        first, last = day_meant(entered.get("from", "")), day_meant(entered.get("to", ""))
        _in_order(first, last)
        about = f"{first.isoformat()},{last.isoformat()}"
        return Done(
            f"The binder of {named(first)} to {named(last)}.", opens=Deed("The binder", "sheet", "binder", about)
        )


def _today(site: Site) -> date:
    return SiteDays.of(site).day_of(site.clock.now().utc)


def _said(site: Site, day: date) -> tuple[str, ...]:
    days = SiteDays.of(site)
    begin, end = days.bounds(day)
    return (f"{named(day)}: {days.written(begin)} to {days.written(end)}.",)


def _in_order(first: date, last: date) -> None:
    if last < first:
        raise Trouble(
            f"{last.isoformat()} comes before {first.isoformat()}",
            allowed="a last day that is not before the first",
            do="Change the two.",
        )
