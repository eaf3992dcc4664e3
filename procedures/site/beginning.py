"""Beginning a site: what has to be decided, how each answer is read, and the one call that does it.

Everything is decided before anything is written; whatever fails while it is written leaves nothing behind.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from difflib import get_close_matches
from importlib.resources import files
from pathlib import Path
from typing import Final
from zoneinfo import available_timezones

from procedures.answers import clean_line
from procedures.clock import Clock
from procedures.readiness import time_of_day, zone_of
from procedures.site import demo_things, people, profiles, secrets, secrets_file
from procedures.site.opening import JOURNAL, Site, create_site
from procedures.trouble import Trouble

LONGEST_LINE: Final = 300

GUARDED: Final[Mapping[str, str]] = {"pins": "on", "repairer_may_clear": "no"}
"""What a site that people begin is begun with, unless they say otherwise."""

UNITS: Final[Mapping[str, str]] = {"SI": "Sv, Gy, Bq", "conventional": "R, rem, rad, Ci"}
AIR: Final[Mapping[str, str]] = {"iaea": "20 °C and 101.325 kPa", "aapm": "22 °C and 101.33 kPa"}
READY_ENDS: Final[Mapping[str, str]] = {
    "shift": "with the shift",
    "day": "with the site's day",
    "profile": "when the profile says",
}


@dataclass(frozen=True, slots=True)
class Lead:
    """The first site lead. `label` is what the badge carries."""

    label: str
    name: str
    initials: str
    trained_until: date | None = None


@dataclass(frozen=True, slots=True)
class Beginning:
    """All that is decided about a site before it is begun. `profiles` are ids of shipped ones, adopted as a start."""

    name: str
    zone: str
    day_starts: str
    shifts: tuple[str, ...]
    lead: Lead
    settings: Mapping[str, str] = field(default_factory=dict)
    profiles: tuple[str, ...] = ()
    station_name: str = "first laptop"


@dataclass(frozen=True, slots=True)
class Shipped:
    """A profile that comes with the program: an example with invented values."""

    id: str
    title: str
    text: str


def begin(folder: Path, clock: Clock, plan: Beginning, *, station: str, salt: bytes, pin: str | None = None) -> Site:
    """Begin the site, with its first lead and their PIN; `station` and `salt` are random, from outside.

    Without a `pin` the lead sets one later. Raises Trouble when there is a site in the folder already, or for anything
    in the plan that cannot be; then nothing was begun.
    """
    lead = plan.lead
    if pin is not None:
        secrets.well_chosen(pin, (lead.label, lead.name, lead.initials))
    known = {each.id: each for each in shipped()}
    adopted = [known[_one_of("profile", each, known)] for each in dict.fromkeys(plan.profiles)]
    first = people.draft(
        label=lead.label, name=lead.name, initials=lead.initials, roles=["lead"], trained_until=lead.trained_until
    )
    site = create_site(
        folder,
        clock,
        station=station,
        name=line("name", plan.name),
        zone=zone_named(plan.zone),
        day_starts=time_named(plan.day_starts),
        shifts=shifts_named(" ".join(plan.shifts)),
        settings={**GUARDED, **plan.settings},
        station_name=line("name", plan.station_name),
        also=(first,),
    )
    try:
        (person,) = (row.id for row in site.journal.people())
        for each in adopted:
            profiles.adopt(site, each.text, person)
        if pin is not None:
            secrets.set_pin(site, person, pin, salt=salt)
    except BaseException:
        site.close()
        _take_back(folder)
        raise
    return site


def _take_back(folder: Path) -> None:
    """Half a site would be opened as a whole one next time."""
    for name in (JOURNAL["real"], secrets_file.NAMES["real"]):
        for end in ("", "-wal", "-shm", ".lock", ".new"):
            with suppress(OSError):
                (folder / f"{name}{end}").unlink()


def shipped() -> tuple[Shipped, ...]:
    """The profiles that come with the program, by id."""
    from procedures.profile.load import read_profile

    folder = files("demo_profiles")
    texts = [(folder / kind.file).read_bytes().decode() for kind in demo_things.KINDS]
    made = [(read_profile(text).procedure, text) for text in texts]
    return tuple(sorted((Shipped(one.id, one.title, text) for one, text in made), key=lambda each: each.id))


# --- reading one answer each ---------------------------------------------------------------------------------------


def line(what: str, text: str) -> str:
    """One line of text. Raises Trouble when it is empty or too long."""
    found = clean_line(text)
    if not found or len(found) > LONGEST_LINE:
        raise Trouble(f"that is no {what}", allowed=f"1 to {LONGEST_LINE} characters", do="Enter it again.")
    return found


def zone_named(text: str) -> str:
    """The name of a time zone as the tz database writes it. Raises Trouble that offers the nearest names."""
    wanted = clean_line(text).replace(" ", "_")
    names = available_timezones()
    for name in names:
        if name.casefold() == wanted.casefold():
            zone_of(name)
            return name
    raise Trouble(
        f"there is no time zone {wanted[:60]!r}",
        allowed="a name of the tz database, such as Etc/UTC",
        do=f"Did you mean {' or '.join(near)}?" if (near := _near(wanted, names)) else "Name the zone of the site.",
    )


def _near(wanted: str, names: set[str]) -> list[str]:
    """Up to three names like this one: those whose place is named so first."""
    place = wanted.casefold().rsplit("/", 1)[-1][:80]
    by_place = {name.casefold().rsplit("/", 1)[-1]: name for name in sorted(names, reverse=True)}
    whole = {name.casefold(): name for name in names}
    found = [by_place[each] for each in get_close_matches(place, list(by_place), n=3, cutoff=0.75)]
    found += [whole[each] for each in get_close_matches(wanted.casefold()[:80], list(whole), n=2, cutoff=0.75)]
    return list(dict.fromkeys(found))[:3]


def time_named(text: str) -> str:
    """A local time of day as "06:00". Raises Trouble when it is none."""
    wanted = clean_line(text)
    found = re.fullmatch(r"([0-9]{1,2}):([0-9]{2})", wanted)
    moment = f"{found[1]:0>2}:{found[2]}" if found else wanted[:20] + "?"
    return f"{time_of_day(moment):%H:%M}"


def shifts_named(text: str) -> tuple[str, ...]:
    """When shifts begin, apart by commas or spaces, in the order of the day. Raises Trouble when there are none."""
    found = {time_named(each) for each in clean_line(text).replace(",", " ").split()}
    if not found:
        raise Trouble("no shift begins", allowed="one time of day or more, such as 06:00, 14:00, 22:00")
    return tuple(sorted(found))


def codes_named(codes: Sequence[str]) -> str:
    """Reason codes as a setting holds them."""
    return ", ".join(dict.fromkeys(codes))


def date_named(text: str) -> date | None:
    """A date, or None for nothing entered."""
    wanted = clean_line(text)
    if not wanted:
        return None
    try:
        return date.fromisoformat(wanted)
    except ValueError:
        raise Trouble(f"{wanted[:40]!r} is no date", allowed="year-month-day such as 2031-05-06, or nothing") from None


def _one_of(what: str, text: str, known: Mapping[str, object]) -> str:
    if text in known:
        return text
    near = get_close_matches(text[:80], list(known), n=1)
    raise Trouble(
        f"there is no {what} {text[:60]!r}",
        allowed=", ".join(known),
        do=f"Did you mean {near[0]}?" if near else "Name one of these.",
    )


def among(what: str, known: Mapping[str, object]) -> Callable[[str], str]:
    """A reader that takes one of these words."""
    return lambda text: _one_of(what, clean_line(text), known)
