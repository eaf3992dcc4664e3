"""A file that says how to begin a site: TOML, all its mistakes at once, each with its line."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import date
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationError

from procedures.answers import LONGEST_SCAN
from procedures.profile.errors import ProfileError, ProfileErrors, nearest
from procedures.profile.load import as_tuples
from procedures.profile.spots import Part, Places
from procedures.profile.text import read_bytes, read_values
from procedures.profile.words import Page, told
from procedures.site import beginning, people
from procedures.site.beginning import Beginning, Lead
from procedures.steps.base import Identifier, Line, Strict
from procedures.trouble import Trouble

Time = Annotated[str, Field(examples=["06:00"])]


class LeadRow(Strict):
    """The first site lead."""

    badge: Annotated[str, Field(max_length=LONGEST_SCAN, examples=["N-001"], description="As scanned. Required.")]
    name: Annotated[Line, Field(examples=["Runa Feldmire"], description="Required.")]
    initials: Annotated[str, Field(max_length=people.LONGEST_INITIALS, examples=["RF"], description="Required.")]
    trained_until: Annotated[date | None, Field(description="Last day of their training. Default: no end.")] = None


class PolicyRow(Strict):
    """What the site goes by. Texts are kept as settings, for people."""

    tolerance: Annotated[Line, Field(examples=["20 % of the reference reading"], description="Required.")]
    source: Annotated[Line, Field(examples=["our licence, condition 7"], description="Whose rule it is. Required.")]
    units: Annotated[Literal["SI", "conventional"], Field(description="Default: SI.")] = "SI"
    air_reference: Annotated[Literal["iaea", "aapm"], Field(description="Air practice. Default: iaea.")] = "iaea"


class SettingsRow(Strict):
    """Who may restore trust, and until when it lasts."""

    pins: Annotated[Literal["on", "off"], Field(description="Default: on.")] = "on"
    badge_is_enough: Annotated[
        Literal["yes", "no"], Field(description="To run a checkout, where PINs are on. Default: yes.")
    ] = "yes"
    repairer_may_clear: Annotated[Literal["yes", "no"], Field(description="Default: no.")] = "no"
    two_people_for: Annotated[tuple[Identifier, ...], Field(description="Reason codes. Default: none.")] = ()
    calibration_for: Annotated[tuple[Identifier, ...], Field(description="Reason codes. Default: none.")] = ()
    ready_ends: Annotated[Literal["shift", "day", "profile"], Field(description="Default: shift.")] = "shift"


class Begin(Strict):
    """The file."""

    format: Annotated[Literal[1], Field(examples=[1], description="Format of the file: 1. Required.")]
    name: Annotated[Line, Field(examples=["North store"], description="Name of the site. Required.")]
    zone: Annotated[str, Field(examples=["Etc/UTC"], description="Name in the tz database. Required.")]
    day_starts: Annotated[Time, Field(description="Default: 06:00.")] = "06:00"
    shifts: Annotated[tuple[str, ...], Field(min_length=1, max_length=24)] = ("06:00", "14:00", "22:00")
    station: Annotated[Line, Field(description="What people call this laptop.")] = "first laptop"
    profiles: Annotated[tuple[str, ...], Field(max_length=50, description="Shipped ones to adopt. Default: none.")] = ()
    lead: Annotated[LeadRow, Field(description="Required.")]
    policy: Annotated[PolicyRow, Field(description="Required.")]
    settings: SettingsRow = SettingsRow()


class BeginningErrors(ProfileErrors):
    """A file that no site can be begun from, with every mistake found in it, in file order."""

    def __init__(self, errors: Iterable[ProfileError]) -> None:
        super().__init__(errors)
        if len(self.errors) > 1:
            self.what = f"{len(self.errors)} mistakes stand in this file"
        self.do = "Put right what is listed, then begin again. Nothing was begun."


def read_beginning(path: Path) -> Beginning:
    """What the file decides. Raises BeginningErrors with all its mistakes."""
    text, errors = read_bytes(path)
    if errors:
        raise BeginningErrors(errors)
    values = read_values(text, path.name)
    if values.data is None or values.errors:
        raise BeginningErrors(values.errors)
    page = Page(path.name, values.data, Places(values.text).root)
    mistakes = list(_unknown(page))
    made = None
    try:
        made = Begin.model_validate(as_tuples({k: v for k, v in page.data.items() if k in Begin.model_fields}))
    except ValidationError as refused:
        mistakes += told(page, refused, Begin, ())
    if made is not None:
        mistakes += _refused(page, made)
    if made is None or mistakes:
        raise BeginningErrors(mistakes)
    return _plan(made)


def _unknown(page: Page) -> Iterator[ProfileError]:
    for key in page.data:
        if key not in Begin.model_fields:
            near = nearest(key, Begin.model_fields)
            message = f"there is no such key; did you mean {near}?" if near else "there is no such key"
            yield page.error((key,), message, at="key", found=key, allowed=", ".join(Begin.model_fields))


def _refused(page: Page, made: Begin) -> Iterator[ProfileError]:
    """What only the reader of an answer knows, at the key that holds the answer."""
    known = {each.id: each for each in beginning.shipped()}
    lead, profile = made.lead, beginning.among("profile", known)
    readers: list[tuple[tuple[Part, ...], Callable[[], object]]] = [
        (("name",), lambda: beginning.line("name", made.name)),
        (("station",), lambda: beginning.line("name", made.station)),
        (("zone",), lambda: beginning.zone_named(made.zone)),
        (("day_starts",), lambda: beginning.time_named(made.day_starts)),
        (("lead", "badge"), lambda: people.draft(label=lead.badge, name="-", initials="-", roles=["lead"])),
        (("lead", "name"), lambda: people.draft(label="-", name=lead.name, initials="-", roles=["lead"])),
        (("lead", "initials"), lambda: people.draft(label="-", name="-", initials=lead.initials, roles=["lead"])),
        (("policy", "tolerance"), lambda: beginning.line("tolerance", made.policy.tolerance)),
        (("policy", "source"), lambda: beginning.line("source", made.policy.source)),
    ]
    readers += [
        (("shifts", place), lambda each=each: beginning.time_named(each))  # type: ignore[misc]
        for place, each in enumerate(made.shifts)
    ]
    readers += [
        (("profiles", place), lambda each=each: profile(each))  # type: ignore[misc]
        for place, each in enumerate(made.profiles)
    ]
    for path, read in readers:
        try:
            read()
        except Trouble as trouble:
            yield page.error(path, f"{trouble.what}. {trouble.do}".strip(), allowed=trouble.allowed)


def _plan(made: Begin) -> Beginning:
    lead, policy, settings = made.lead, made.policy, made.settings
    return Beginning(
        name=made.name,
        zone=made.zone,
        day_starts=made.day_starts,
        shifts=made.shifts,
        lead=Lead(lead.badge, lead.name, lead.initials, lead.trained_until),
        settings={
            "tolerance": beginning.line("tolerance", policy.tolerance),
            "tolerance_source": beginning.line("source", policy.source),
            "units": policy.units,
            "air_reference": policy.air_reference,
            "pins": settings.pins,
            "badge_is_enough": settings.badge_is_enough,
            "repairer_may_clear": settings.repairer_may_clear,
            "two_people_for": beginning.codes_named(settings.two_people_for),
            "calibration_for": beginning.codes_named(settings.calibration_for),
            "ready_ends": settings.ready_ends,
        },
        profiles=made.profiles,
        station_name=made.station,
    )
