"""Opening and beginning a site: one folder with one journal. Light: home is painted with no more than this."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Final, Self

from procedures.clock import Clock
from procedures.journal.envelope import Draft, Event
from procedures.journal.store import Journal
from procedures.readiness import time_of_day, zone_of
from procedures.site.views import Mark
from procedures.trouble import Trouble

if TYPE_CHECKING:
    from procedures.procedure import Procedure

JOURNAL: Final = {"real": "site.journal", "demo": "demo.journal", "practice": "practice.journal"}

DEFAULTS: Final[Mapping[str, str]] = {
    "ready_ends": "shift",
    "air_reference": "iaea",
    "units": "SI",
    "calibration_warning_days": "30",
    "leak_test_warning_days": "30",
    "badge_is_enough": "yes",
    "pins": "on",
    "repairer_may_clear": "no",
    "two_people_for": "",
    "calibration_for": "",
    "calibration_interval_months": "12",
    "leak_test_interval_months": "6",
    "source_count_interval_months": "6",
    "highest_reference_age_months": "0",
    "reference_within_days": "30",
    "reference_cv_percent": "10",
    "reference_change_percent": "20",
    "exchange_limit_hours": "0",
    "back_by_hours": "12",
    "retention_years": "3",
    "leak_test_exempt": "",
    "tolerance_policy": "",
}
"""Settings of a site that has said nothing else; `procedures.site.settings` says what each means."""

UNGUARDED: Final[Mapping[str, str]] = {"pins": "off", "repairer_may_clear": "yes"}
"""What `create_site` states unless told otherwise: a program that begins a site has nobody to type a PIN."""


def _is_figure(name: str) -> bool:
    return DEFAULTS.get(name, "").isdecimal()


@dataclass(slots=True)
class Site:
    """An open site. `procedures` holds the procedures compiled so far, by the SHA-256 of their text; of those that
    are `proved` today's proof holds, so that they may open checkouts."""

    folder: Path
    marking: Mark
    clock: Clock
    journal: Journal
    procedures: dict[str, Procedure] = field(default_factory=dict)
    proved: set[str] = field(default_factory=set)

    def record(
        self,
        kind: str,
        body: Mapping[str, Any],
        *,
        about: Sequence[str] = (),
        person: str | None = None,
    ) -> Event:
        """Commit one event; it is in the journal when this returns."""
        draft = Draft(kind, dict(body), tuple(about), person=person or None)
        return self.journal.append((draft,), self.clock.now())[0]

    def settings(self) -> dict[str, str]:
        """The site's settings as they stand, zone, start of day and shifts among them."""
        from procedures.site.lookups import site_state

        state = site_state(self)
        said = {name: str(value) for name, value in state.settings.items()}
        # A figure that another program wrote and this one cannot read must not stop the site.
        unread = {name for name, value in said.items() if _is_figure(name) and not value.isdecimal()}
        said = {name: value for name, value in said.items() if name not in unread} | {
            # Where 0 stands for no limit, what cannot be read is the narrowest.
            name: "1"
            for name in unread
            if DEFAULTS[name] == "0"
        }
        begun_with = " — ".join(each for name in ("tolerance", "tolerance_source") if (each := said.get(name)))
        return {
            **DEFAULTS,
            **said,
            "tolerance_policy": said.get("tolerance_policy") or begun_with,
            "name": state.name,
            "zone": state.zone,
            "day_starts": state.day_starts,
            "shifts": " ".join(state.shifts),
        }

    def close(self) -> None:
        self.journal.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, at: TracebackType | None) -> None:
        self.close()


def open_site(folder: Path, clock: Clock, *, marking: Mark = "real", told: Callable[[int], None] | None = None) -> Site:
    """The site in this folder. `told` hears how many records have to be gone through after the program was updated.

    Raises Trouble when there is none, or when its journal cannot be opened, is damaged, newer, or of another marking.
    """
    path = folder / JOURNAL[marking]
    with suppress(OSError):
        if folder.is_file():
            raise Trouble(
                "this is a file, not a folder", where=str(folder), allowed="the folder of a site", do="Name a folder."
            )
        if not path.exists():
            others = [name for name, file in JOURNAL.items() if (folder / file).exists()]
            if others and marking == "real":
                raise Trouble(
                    f"this folder holds {' and '.join(others)} records, which are never real ones",
                    where=str(folder),
                    allowed="the folder of a real site",
                    do="Name another folder.",
                )
            raise Trouble(
                "there is no site here yet",
                where=str(folder),
                allowed="a folder in which a site was begun",
                do="Name the folder with --data, begin a site with: checklist-tui init, or look around first with: "
                "checklist-tui demo",
            )
    return Site(folder, marking, clock, Journal.open(path, marking=marking, told=told))


def create_site(
    folder: Path,
    clock: Clock,
    *,
    station: str,
    name: str,
    zone: str,
    day_starts: str = "06:00",
    shifts: Sequence[str] = ("06:00", "14:00", "22:00"),
    settings: Mapping[str, str] | None = None,
    marking: Mark = "real",
    station_name: str = "first laptop",
    also: Sequence[Draft] = (),
) -> Site:
    """Begin a site in `folder`, with `also` recorded in the same transaction as its beginning.

    Unless `settings` say otherwise it is begun UNGUARDED. Raises Trouble when there is a site already, no folder can be
    made, or no such zone.
    """
    zone_of(zone)
    for start in (day_starts, *shifts):
        time_of_day(start)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise Trouble(
            f"the folder cannot be made ({fault.strerror})", where=str(folder), do="Name a folder you may write to."
        ) from None
    body = {
        "name": name,
        "zone": zone,
        "day_starts": day_starts,
        "shifts": list(shifts),
        "settings": {**DEFAULTS, **UNGUARDED, **(settings or {})},
    }
    journal = Journal.create(
        folder / JOURNAL[marking],
        station=station,
        name=station_name,
        now=clock.now(),
        marking=marking,
        drafts=(Draft("site-begun", body, ("site",)), *also),
    )
    return Site(folder, marking, clock, journal)
